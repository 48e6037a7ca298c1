"""Files that a person wrote are changed with their comments and order kept, and put in place whole or not at all.

Works without the `desk` extra: ruamel.yaml comes with timerd itself.
"""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Final

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import CommentMark, YAMLError
from ruamel.yaml.tokens import CommentToken

from timerd import inplace
from timerd.sheet.profile.faults import Place, written_place
from timerd.sheet.profile.text import read_text

GONE: Final = object()
"""A change to this takes a key out, with the comment behind it on its line."""

_WIDE = 1_000_000
_WIDE_ITEM = 10  # items of a list: with more than that a list of such lists has a line for each of them
# The loader forgets comment lines between a map in one line and an item with a comment behind it, unless the first has
# one behind it too: it is given one for the while.
_MARK = "  #~"
_MARKED = re.compile(rf" *{_MARK.strip()}$", re.M)
_BARE = re.compile(r"([}\]])[ ]*(\n(?:[ ]*\n)*[ ]*#)")
_DASH = re.compile(r"( *)-(?: |$)")
_COMMENT = re.compile(r"(?:^|(?<=\s))#.*$", re.M)


def edited(text: str, changes: Mapping[Place, object]) -> str:
    """A YAML text with the values at some places replaced, added or taken out (`GONE`), and all else as it was.

    A place is keys and list positions (from 0) from the top. The maps above a new key are made where they are
    missing; a new key stands behind the plain values at the head of its map, else at its end. Values are text,
    numbers, or lists and maps of them, written in one line. The result is held against the text: every other value
    and every comment must still be there, else ValueError; ValueError also for a text that cannot be read,
    LookupError for a place in a list that is not there. The caller reads the result by the strict loader before it
    is put in place.

    >>> text = "paper: mine\\ndry_down: 8 %  # by eye\\n"
    >>> print(edited(text, {("dry_down",): "6 %", ("safelight_s",): 180.0}), end="")
    paper: mine
    dry_down: 6 %  # by eye
    safelight_s: 180
    """
    mark = "\ufeff" if text.startswith("\ufeff") else ""
    plain = text.removeprefix(mark).replace("\r\n", "\n")
    tool = _tool()
    try:
        whole: Any = tool.load(_BARE.sub(rf"\1{_MARK}\2", plain))
    except (YAMLError, ValueError) as error:
        raise ValueError(f"cannot be read as YAML: {_first_line(error)}") from None
    if not isinstance(whole, CommentedMap):
        raise ValueError("is not keys and values")
    expected: Any = read_text(plain.encode(), "").data
    for place, value in changes.items():
        _change(whole, place, value)
        _expect(expected, place, value)
    told = io.StringIO()
    tool.dump(whole, told)
    result = _MARKED.sub("", told.getvalue())
    _nothing_else_changed(plain, result, expected, [place for place, value in changes.items() if value is GONE])
    return mark + (result.replace("\n", "\r\n") if "\r\n" in text else result)


def without(text: str, *places: Place) -> str:
    """A YAML text without some items of its block lists, and all else as it was.

    The comments on an item's own lines go with it; lines of comment above and below it stay. ValueError for an item
    that has no lines to itself, LookupError for one that is not there.

    >>> without("x:\\n- {a: 1}\\n# and\\n- b: 2\\n  c: 3\\n", ("x", 1))
    'x:\\n- {a: 1}\\n# and\\n'
    """
    found = read_text(text.encode(), "")
    expected: Any = found.data
    lines = text.splitlines(keepends=True)
    gone: list[str] = []
    for place in sorted(places, key=lambda place: place[-1], reverse=True):
        if place not in found.lines:
            raise LookupError(f"{written_place(place)} is not there")
        begin, end = _item_lines(lines, found.lines[place] - 1)
        if begin == end:
            raise ValueError(f"{written_place(place)} has no lines to itself: take it out by hand")
        gone += lines[begin:end]
        del lines[begin:end]
        _expect(expected, place, GONE)
    result = "".join(lines)
    source = read_text(result.encode(), "")
    lost = Counter(_comments(text)) - Counter(_comments(result)) - Counter(_comments("".join(gone)))
    if not source.whole or source.data != expected or lost:
        raise ValueError("cannot be changed without changing more than was asked: change it by hand")
    return result


def with_items(text: str, place: Place, items: Sequence[Mapping[str, Any]]) -> str:
    """A YAML text with more items in a block list, behind the one at a place, and all else as it was.

    Each is written in one line. ValueError where the item has no lines to itself, LookupError where there is none.

    >>> with_items("x:\\n- {a: 1}  # one\\n- b: 2\\n", ("x", 0), [{"c": 3}])
    'x:\\n- {a: 1}  # one\\n- {c: 3}\\n- b: 2\\n'
    """
    found = read_text(text.encode(), "")
    expected: Any = found.data
    lines = text.splitlines(keepends=True)
    if place not in found.lines:
        raise LookupError(f"{written_place(place)} is not there")
    begin, end = _item_lines(lines, found.lines[place] - 1)
    dash = _DASH.match(lines[begin])
    if begin == end or dash is None:
        raise ValueError(f"{written_place(place)} has no lines to itself: change it by hand")
    new = []
    for item in items:
        told = io.StringIO()
        _tool().dump([_styled(item)], told)
        new.append(f"{dash[1]}{told.getvalue().strip()}\n")
    if not lines[end - 1].endswith("\n"):
        lines[end - 1] += "\n"
    lines[end:end] = new
    listed = expected
    for part in place[:-1]:
        listed = listed[part]
    at = int(place[-1]) + 1
    listed[at:at] = [_plain(item) for item in items]
    result = "".join(lines)
    source = read_text(result.encode(), "")
    if not source.whole or source.data != expected:
        raise ValueError("cannot be changed without changing more than was asked: change it by hand")
    return result


def _item_lines(lines: list[str], begin: int) -> tuple[int, int]:
    """From where to where an item of a block list reaches; two equal numbers where none begins there."""
    dash = _DASH.match(lines[begin])
    if dash is None:
        return begin, begin
    end = last = begin + 1
    while end < len(lines):
        plain = lines[end].strip()
        if plain and not plain.startswith("#"):
            if len(lines[end]) - len(lines[end].lstrip(" ")) <= len(dash[1]):
                break
            last = end + 1
        end += 1
    return begin, last


def written(value: Mapping[str, Any], notes: Mapping[Place, str] | None = None, head: str = "") -> str:
    """A new YAML text in the house's style, with a comment at its head and comments behind the values at some places.

    Maps and lists of plain values are written in one line, others as blocks.

    >>> print(written({"print": "Low tide", "sheet": [203, 254]}, {("sheet",): "mm"}, "A print."), end="")
    # A print.
    print: Low tide
    sheet: [203, 254]  # mm
    """
    made: Any = _styled(value, block=True)
    for place, note in (notes or {}).items():
        _into(made, place[:-1]).yaml_add_eol_comment(note, place[-1])
    if head:
        made.yaml_set_start_comment(head)
    told = io.StringIO()
    _tool().dump(made, told)
    return told.getvalue()


def write_new(path: Path, text: str, force: bool) -> None:
    """Write a file whole, as `placed` does."""
    with placed(path, force) as file:
        file.write(text.encode())


@contextmanager
def placed(path: Path, force: bool) -> Iterator[IO[bytes]]:
    """A file to write, put in place whole; one that is there already is refused unless `force`. OSError, in words."""
    with inplace.placed(path, force, f"{inplace.INSTEAD}, or add --force") as beside, beside.open("wb") as file:
        yield file


# -- changing ----------------------------------------------------------------------------------------------------


def _tool() -> YAML:
    tool = YAML(typ="rt")
    tool.indent(mapping=2, sequence=4, offset=2)
    tool.width = _WIDE
    tool.preserve_quotes = True
    return tool


def _first_line(error: BaseException) -> str:
    problem = getattr(error, "problem", None) or str(error) or type(error).__name__
    return str(problem).splitlines()[0]


def _into(node: Any, place: Place) -> Any:
    for part in place:
        node = node[part]
    return node


def _change(whole: Any, place: Place, value: object) -> None:
    node = whole
    for i, part in enumerate(place[:-1]):
        node = _inside(node, part, place[: i + 1], make=value is not GONE)
    last = place[-1]
    if value is GONE:
        if not isinstance(node, CommentedMap) or last not in node:
            raise LookupError(f"{written_place(place)} is not there")
        _take_out(node, last)
    elif isinstance(node, CommentedMap):
        _put(node, last, _styled(value))
    else:
        _inside(node, last, place, make=False)
        node[last] = _styled(value)


def _inside(node: Any, part: str | int, place: Place, make: bool) -> Any:
    if isinstance(node, CommentedMap):
        if part not in node and make:
            _put(node, part, _styled({}))
        if part in node:
            return node[part]
    elif isinstance(node, CommentedSeq) and isinstance(part, int) and 0 <= part < len(node):
        return node[part]
    raise LookupError(f"{written_place(place)} is not there")


def _put(node: CommentedMap, key: str | int, value: object) -> None:
    if key in node:
        node[key] = value
        return
    behind = None
    for i, (other, there) in enumerate(node.items()):
        if isinstance(there, CommentedMap | CommentedSeq):
            break
        # Comment lines below a value belong to what follows: nothing may come between.
        if "\n" not in _behind(node, other).removesuffix("\n"):
            behind = i + 1
    node.insert(len(node) if behind is None else behind, key, value)


def _behind(node: CommentedMap, key: object) -> str:
    """The comment behind a key's value, with the lines below it."""
    tokens = node.ca.items.get(key)
    token = tokens[2] if tokens else None
    return token.value if token is not None else ""


def _take_out(node: CommentedMap, key: str | int) -> None:
    """A key goes with the comment on its line; comment lines below it go to the key before."""
    _, _, below = _behind(node, key).partition("\n")
    keys = list(node)
    at = keys.index(key)
    del node[key]
    node.ca.items.pop(key, None)
    if not below or at == 0:
        return
    before = keys[at - 1]
    tokens = node.ca.items.setdefault(before, [None, None, None, None])
    if tokens[2] is None:
        tokens[2] = CommentToken("\n" + below, CommentMark(0), None)
    else:
        tokens[2].value = tokens[2].value.removesuffix("\n") + "\n" + below


def _styled(value: object, block: bool = False) -> Any:
    """A value as it is to be written: in one line, or with `block` so far as it has maps and lists inside."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    if isinstance(value, Mapping):
        table = CommentedMap()
        for key, item in value.items():
            table[key] = _styled(item, block)
        if not block or not any(isinstance(item, Mapping | list | tuple) for item in value.values()):
            table.fa.set_flow_style()
        return table
    if isinstance(value, list | tuple):
        items = CommentedSeq(_styled(item, block) for item in value)
        if not block or not any(isinstance(item, Mapping) or _wide(item) for item in value):
            items.fa.set_flow_style()
        return items
    return value


def _wide(item: object) -> bool:
    """Whether a list is too long to stand in one line with others."""
    return isinstance(item, list | tuple) and len(item) > _WIDE_ITEM


# -- holding the result against what it was made of ---------------------------------------------------------------


def _expect(data: Any, place: Place, value: object) -> None:
    for part in place[:-1]:
        data = data.setdefault(part, {}) if isinstance(data, dict) else data[part]
    if value is GONE:
        del data[place[-1]]
    else:
        data[place[-1]] = _plain(value)


def _plain(value: object) -> object:
    if isinstance(value, Mapping):
        return {key: _plain(item) for key, item in value.items()}
    return [_plain(item) for item in value] if isinstance(value, list | tuple) else value


def _nothing_else_changed(before: str, after: str, expected: object, gone: list[Place]) -> None:
    source = read_text(after.encode(), "")
    if not source.whole or source.data != expected:
        raise ValueError("cannot be changed without changing more than was asked: change it by hand")
    lost = Counter(_comments(before)) - Counter(_comments(after))
    lines = before.split("\n")
    was = read_text(before.encode(), "").lines
    lost -= Counter(comment for place in gone for comment in _comments(lines[was[place] - 1]))
    if lost:
        comment = next(iter(lost))
        raise ValueError(f"cannot be changed without losing a comment: give {comment[:60]!r} a line of its own")


def _comments(text: str) -> list[str]:
    return [comment.rstrip() for comment in _COMMENT.findall(text)]
