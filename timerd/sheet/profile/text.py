"""YAML text to plain values, and the line of each; faults are gathered, not raised.

Only what a printer writes by hand is taken: keys, values, lists, comments. Anchors, aliases, tags, merges,
keys written twice, second documents and hidden characters are faults. Only `true` and `false` are yes or no,
only decimal numbers are numbers; `on`, `no`, `1:30`, `2024-05-01`, `0x1f`, `1_000` and `=` are text.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import chain

import yaml
from yaml import events as ev

from timerd.sheet.profile.faults import FileFault, Place, cut, hidden, printable, shown, written_place

MOST_BYTES = 256 * 1024
MOST_DEPTH = 20
MOST_VALUES = 20_000
MOST_DIGITS = 18
MOST_FAULTS = 200
"""So many are told: who has more mends these first."""

_LINE_END = re.compile(r"\r\n|\r|\n")
_LINE_END_BYTES = re.compile(rb"\r\n|\r|\n")
_INT = re.compile(r"[-+]?(?:0|[1-9][0-9]*)", re.ASCII)
_FLOAT = re.compile(r"[-+]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?", re.ASCII)
_NOT_FINITE = re.compile(r"[-+]?\.(?:inf|Inf|INF|nan|NaN|NAN)", re.ASCII)
_NOTHING = ("", "~", "null", "Null", "NULL")

_KEPT = "\t\n\r"
_NOT_FOR_THE_PARSER = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff]")


class Missing:
    """Stands where a value has a fault of its own, so that nobody looks at it again."""

    def __repr__(self) -> str:
        return "nothing"


MISSING = Missing()


@dataclass
class Source:
    """A text as read: its values, the line of each place, and all faults.

    `broken` are the places whose value has a fault already, `odd` the mappings with a key of no use.
    `whole` says that the end of the text was reached; if not, nothing may be judged by what is missing.
    """

    file: str
    data: object = None
    lines: dict[Place, int] = field(default_factory=dict)
    broken: set[Place] = field(default_factory=set)
    odd: set[Place] = field(default_factory=set)
    faults: list[FileFault] = field(default_factory=list)
    whole: bool = False
    more: bool = False

    def line_of(self, place: Place) -> int:
        """The line of a place, or of the nearest one around it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)

    def fault(self, place: Place, message: str, line: int | None = None) -> None:
        """Note what is wrong at a place; beyond what anybody reads, only that there is more."""
        if len(self.faults) >= 2 * MOST_FAULTS:
            self.more = True
            return
        at = self.line_of(place) if line is None else line
        self.faults.append(FileFault(self.file, at, written_place(place), printable(message)))


def read_text(raw: bytes, file: str) -> Source:
    """The values of a YAML text, with every fault of its writing."""
    source = Source(printable(file))
    text = _decoded(raw, source)
    if text is not None:
        builder = _Builder(source, text)
        builder.build()
        _hidden_elsewhere(builder.written, builder.told, source)
    return source


def _decoded(raw: bytes, source: Source) -> str | None:
    if len(raw) > MOST_BYTES:
        source.fault((), f"is larger than {MOST_BYTES // 1024} KiB: a profile is written by hand and small")
        return None
    try:
        return raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError:
        pass
    for number, line in enumerate(_LINE_END_BYTES.split(raw), start=1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            byte = line[error.start]
            source.fault((), f"is not UTF-8 (byte 0x{byte:02x} at {error.start + 1}): save the file as UTF-8", number)
    return None


def _carriers(text: str) -> dict[int, int]:
    """A private character, not in the text, for each one that the parser would stop at.

    It sees the carrier, and the character itself is told where that comes out. Not all private characters fit
    into a text of this size, so there is always a free one.
    """
    found = set(text)
    odd = sorted(c for c in found if _NOT_FOR_THE_PARSER.match(c))
    free = (c for c in chain(range(0xE000, 0xF900), range(0x100000, 0x10FFFE)) if chr(c) not in found)
    return {ord(c): next(free) for c in odd}


def _hidden_elsewhere(lines: list[str], told: set[int], source: Source) -> None:
    """Hidden characters in comments and between values; those in values have been told with their places."""
    for number, line in enumerate(lines, start=1):
        if source.more:
            return
        if number not in told and (found := [c for c in hidden(line) if c not in _KEPT]):
            source.fault((), f"has {_named(found[0])}: take it out", number)


def _named(c: str) -> str:
    names = {"\n": "a line break", "\r": "a line break", "\t": "a tab"}
    return names.get(c, f"a character that cannot be seen (U+{ord(c):04X})")


def _line(event: ev.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark is not None else 1


class _Stop(Exception):
    """The rest of the text cannot be made sense of."""


class _Builder:
    """The parser's events to values. It is asked for one event at a time, so that no bomb is unpacked."""

    def __init__(self, source: Source, text: str) -> None:
        carriers = _carriers(text)
        self.carried = {carrier: c for c, carrier in carriers.items()}
        self.source = source
        self.written = _LINE_END.split(text)
        self.told: set[int] = set()
        self.values = 0
        self.next_event = self._events(text.translate(carriers) if carriers else text)
        self.line = 1

    def _plain(self, value: str) -> str:
        return value.translate(self.carried) if self.carried else value

    def build(self) -> None:
        """Fill the source in as far as the text can be read."""
        try:
            self._document()
            self.source.whole = True
        except _Stop:
            pass

    def _events(self, text: str) -> Callable[[], ev.Event]:
        def events() -> Iterator[ev.Event]:
            try:
                loader = yaml.SafeLoader(text)
                while (event := loader.get_event()) is not None:  # type: ignore[no-untyped-call]
                    self.line = _line(event)
                    yield event
            except yaml.MarkedYAMLError as error:
                self._syntax(error)
            except (yaml.YAMLError, ValueError, OverflowError):
                # An escape beyond the last character, or a version of four thousand digits.
                self.source.fault((), "cannot be read as YAML: look for an escape or a directive", self.line)
            raise _Stop

        return events().__next__

    def _syntax(self, error: yaml.MarkedYAMLError) -> None:
        problem = self._plain(str(error.problem or error.context or "cannot be read"))
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark is not None else self.line
        if error.context_mark is not None and ("end of stream" in problem or "stream end" in problem):
            for where, opened in (("quoted scalar", "quote"), ("flow", "bracket")):
                if where in str(error.context):
                    line = error.context_mark.line + 1
                    problem = f"a {opened} that is opened here is never closed"
        for said, better in _PLAINER:
            if said in problem:
                problem = better
        if len(problem) > 100:
            problem = problem[:99] + "…"
        self.source.fault((), f"cannot be read: {problem}", line)

    def _document(self) -> None:
        self.next_event()  # the stream's start
        event = self.next_event()
        if isinstance(event, ev.StreamEndEvent):
            self.source.fault((), "is empty", 1)
            raise _Stop
        event = self.next_event()
        if isinstance(event, ev.ScalarEvent) and self._is_nothing(event):
            self.source.fault((), "is empty", 1)
            raise _Stop
        self.source.lines[()] = _line(event)
        if isinstance(event, ev.MappingStartEvent):
            self.source.data = self._value(event, (), 1)
        else:
            self.source.fault((), "is not a list of keys and values: it must begin with a key, as in 'print: …'")
            raise _Stop
        self.next_event()  # the document's end
        event = self.next_event()
        if not isinstance(event, ev.StreamEndEvent):
            self.source.fault((), "has a second document: one file holds one profile", _line(event))
            raise _Stop

    def _value(self, event: ev.Event, place: Place, depth: int) -> object:
        self.values += 1
        if self.values > MOST_VALUES:
            self.source.fault((), f"has more than {MOST_VALUES} values", _line(event))
            raise _Stop
        if depth > MOST_DEPTH:
            self.source.fault(place, f"is nested more than {MOST_DEPTH} deep", _line(event))
            raise _Stop
        if isinstance(event, ev.AliasEvent):
            return self._bad(place, event, "aliases (*) are not taken: write the value out")
        assert isinstance(event, ev.ScalarEvent | ev.SequenceStartEvent | ev.MappingStartEvent)
        tagged = self._marked(event, place)
        value: object
        if isinstance(event, ev.ScalarEvent):
            value = None if tagged else self._scalar(event, place)
        elif isinstance(event, ev.SequenceStartEvent):
            value = self._sequence(place, depth)
        else:
            value = self._mapping(place, depth)
        if not tagged:
            return value
        self.source.broken.add(place)
        return MISSING

    def _marked(self, event: ev.ScalarEvent | ev.CollectionStartEvent, place: Place) -> bool:
        """Whether a tag stands before a key or a value; an anchor alone leaves it as it is."""
        line = _line(event)
        if event.anchor is not None:
            name = shown("&" + self._plain(str(event.anchor)))
            self.source.fault(place, f"anchors ({name}) are not taken: write the value out each time", line)
        if event.tag is not None:
            tag = shown(self._plain(str(event.tag)).replace("tag:yaml.org,2002:", "!!"))
            self.source.fault(place, f"tags ({tag}) are not taken: write the value alone", line)
        return event.tag is not None

    def _bad(self, place: Place, event: ev.Event, message: str) -> Missing:
        self.source.fault(place, message, _line(event))
        self.source.broken.add(place)
        return MISSING

    def _sequence(self, place: Place, depth: int) -> list[object]:
        items: list[object] = []
        while not isinstance(event := self.next_event(), ev.SequenceEndEvent):
            here = (*place, len(items))
            self.source.lines[here] = _line(event)
            items.append(self._value(event, here, depth + 1))
        return items

    def _mapping(self, place: Place, depth: int) -> dict[str, object]:
        found: dict[str, object] = {}
        while not isinstance(event := self.next_event(), ev.MappingEndEvent):
            line = _line(event)
            key = self._key(event, place, depth)
            if key is not None and key in found:
                first = self.source.lines[(*place, key)]
                self.source.fault(place, f"key {shown(key)} is written twice, first on line {first}", line)
                key = None
            if key is None:
                self._skip(self.next_event(), depth + 1)
                continue
            here = (*place, key)
            self.source.lines[here] = line
            found[key] = self._value(self.next_event(), here, depth + 1)
        return found

    def _key(self, event: ev.Event, place: Place, depth: int) -> str | None:
        """A key's text; None where it cannot be one, with the fault told."""
        line = _line(event)
        if not isinstance(event, ev.ScalarEvent):
            self.source.fault(place, "a key must be plain text", line)
            self._skip(event, depth + 1)
        elif self._marked(event, place):
            pass
        elif event.implicit[0] and event.value == "<<":
            self.source.fault(place, "the merge key '<<' is not taken: write the keys out", line)
        elif event.implicit[0] and not isinstance(_number(event.value), str):
            bare = _bare(event.value)
            self.source.fault(place, f"a key must be text, is {bare}: put it in quotes", line)
        else:
            return self._key_text(event, place)
        self.source.odd.add(place)
        return None

    def _key_text(self, event: ev.ScalarEvent, place: Place) -> str:
        value = self._plain(event.value)
        if odd := hidden(value):
            self._tell(event, odd)
            self.source.fault(place, f"key {shown(value)} has {_named(odd[0])}: take it out", _line(event))
            value = value.translate(dict.fromkeys(map(ord, odd)))
            self.source.broken.add((*place, value))
        return value

    def _skip(self, event: ev.Event, depth: int) -> None:
        """Pass over a value that has no place; it counts towards the limits all the same."""
        level = 0
        while True:
            self.values += 1
            if self.values > MOST_VALUES or depth + level > MOST_DEPTH:
                self.source.fault((), "is too large or too deep", _line(event))
                raise _Stop
            if isinstance(event, ev.CollectionStartEvent):
                level += 1
            elif isinstance(event, ev.CollectionEndEvent):
                level -= 1
            if level == 0:
                return
            event = self.next_event()

    def _scalar(self, event: ev.ScalarEvent, place: Place) -> object:
        value = self._plain(event.value)
        if odd := hidden(value):
            self._tell(event, odd)
            fold = ": write it in one line, or fold it with >-" if odd[0] == "\n" else ": take it out"
            return self._bad(place, event, f"has {_named(odd[0])}{fold}")
        if not event.implicit[0]:
            return value
        if self._is_nothing(event):
            blank = bool(place) and isinstance(place[-1], str) and ":" in place[-1]
            what = "put a blank after the ':'" if blank else "write one, or leave the key out"
            return self._bad(place, event, f"has no value: {what}")
        if _NOT_FINITE.fullmatch(value):
            return self._bad(place, event, f"must be a number that ends, is {_bare(value)}")
        number = _number(value)
        if number is MISSING:
            return self._bad(place, event, f"is too large a number: {_bare(value)}")
        return number

    def _tell(self, event: ev.ScalarEvent, odd: list[str]) -> None:
        """The lines of this scalar need no second look for what it has in it, unless that was escaped."""
        meant = set(odd).difference(_KEPT)
        last = event.end_mark.line + 1 if event.end_mark is not None else _line(event)
        for number in range(_line(event), last + 1):
            if not meant.isdisjoint(hidden(self.written[number - 1])):
                self.told.add(number)

    @staticmethod
    def _is_nothing(event: ev.ScalarEvent) -> bool:
        return bool(event.implicit[0]) and event.tag is None and event.value in _NOTHING


def _number(text: str) -> object:
    """A plain scalar's value: true, false, a decimal number, or the text itself."""
    if text in ("true", "false"):
        return text == "true"
    if _INT.fullmatch(text):
        return int(text) if len(text) <= MOST_DIGITS else MISSING
    if _FLOAT.fullmatch(text):
        value = float(text)
        return value if math.isfinite(value) else MISSING
    return MISSING if text in _NOTHING else text


def _bare(text: str) -> str:
    """A plain scalar as it is shown: without the quotes that it has not got."""
    return cut(text or "nothing")


_PLAINER = (
    (
        "mapping values are not allowed here",
        "a ':' where no key can be: quote a text with ': ' in it, and indent alike",
    ),
    ("found character '\\t' that cannot start any token", "a tab; indent with spaces"),
    ("could not find expected ':'", "a ':' is missing after a key, or a line is indented wrongly"),
    ("found character '@'", "a text that begins with @ needs quotes"),
    ("found character '`'", "a text that begins with ` needs quotes"),
    ("found character '%'", "a text that begins with % needs quotes"),
    ("expected the node content, but found '<stream end>'", "the end of the file where a value should be"),
    ("expected <block end>, but found", "a line is indented wrongly, or a bracket or quote is closed too often"),
)
