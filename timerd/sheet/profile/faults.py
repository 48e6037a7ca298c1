"""What is wrong with a file: every fault has its line and its place, in words that no terminal obeys."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

Place = tuple[str | int, ...]
"""Where a value stands in a file: keys and list positions (from 0) from the top."""

LONGEST_SHOWN = 60
"""A found value is shown in so many characters at most; what is left out is marked with an ellipsis."""

# What a terminal may obey or an eye cannot see: control, direction and format characters, line and paragraph
# marks, half pairs, private characters, and the letters and marks that show as nothing.
_HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u034f\u0600-\u0605\u061c\u06dd\u070f\u0890\u0891\u08e2\u115f\u1160\u17b4\u17b5"
    "\u180b-\u180f\u200b-\u200f\u2028-\u202e\u2060-\u206f\u2800\u3164\ud800-\udfff\ue000-\uf8ff\ufdd0-\ufdef"
    "\ufe00-\ufe0f\ufeff\uffa0\ufff0-\ufffb\ufffe\uffff\U000110bd\U000110cd\U00013430-\U0001345f"
    "\U0001bca0-\U0001bca3\U0001d173-\U0001d17a\U0001fffe\U0001ffff\U000e0000-\U0010ffff]"
)


def hidden(text: str) -> list[str]:
    """The characters of a text that a terminal may obey or an eye cannot see, in order."""
    return _HIDDEN.findall(text)


def printable(text: str) -> str:
    """The text with every hidden character written out as an escape."""
    return _HIDDEN.sub(lambda found: ascii(found[0])[1:-1], text)


def shown(value: object) -> str:
    """A found value in one line of 60 characters at most, as it may be printed."""
    text = _flow(value, LONGEST_SHOWN)
    return cut(text, text[-1] if text[0] in "'[{" else "")


def cut(text: str, end: str = "") -> str:
    """The text as it may be printed; beyond 60 characters an ellipsis stands, and the end that is wanted."""
    text = printable(text[: 2 * LONGEST_SHOWN]) + text[2 * LONGEST_SHOWN :]
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1 - len(end)]}…{end}"


def _flow(value: object, room: int) -> str:
    """A value as YAML could have it; what lies beyond the room is not looked at."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{printable(value[: room + 1])}'"
    if isinstance(value, list | tuple):
        parts: list[str] = []
        for item in value:
            parts.append(_flow(item, room))
            room -= len(parts[-1]) + 2
            if room < 0:
                break
        return f"[{', '.join(parts)}]"
    if isinstance(value, dict):
        parts = []
        for key, item in value.items():
            parts.append(f"{printable(str(key)[: room + 1])}: {_flow(item, room)}")
            room -= len(parts[-1]) + 2
            if room < 0:
                break
        return f"{{{', '.join(parts)}}}"
    return repr(value)


def near(found: str, names: Iterable[str]) -> str | None:
    """The name that was probably meant, if one is near enough; looked for among the first 200."""
    if len(found) > 2 * LONGEST_SHOWN:
        return None
    by_lower = {name.lower(): name for name in reversed(list(islice(names, 200)))}
    close = difflib.get_close_matches(found.lower(), by_lower, n=1, cutoff=0.6 if len(found) > 3 else 0.5)
    return by_lower[close[0]] if close else None


def did_you_mean(found: str, names: Iterable[str]) -> str:
    """The end of a message about a name that is not there: the near miss, or all there are."""
    names = list(names)
    if (close := near(found, names)) is not None:
        return f": did you mean {shown(close)}?"
    if not names:
        return ""
    there = ", ".join(printable(name) for name in names[:12])
    more = f" and {len(names) - 12} more" if len(names) > 12 else ""
    return f" (there: {there}{more})"


def quoted(names: Iterable[str], word: str) -> str:
    """Known names in a row, as in `'stops', 'seconds' or 'percent'`."""
    *first, last = [f"'{name}'" for name in names]
    return f"{', '.join(first)} {word} {last}" if first else last


_PLAIN_KEY = re.compile(r"[\w -]+")


def written_place(place: Place) -> str:
    """A place as it is printed: `steps[2].dodge[0].stops`, list positions from 0; odd keys in quotes."""
    text = ""
    for part in place:
        if isinstance(part, int):
            text += f"[{part}]"
        elif _PLAIN_KEY.fullmatch(part) and len(part) <= LONGEST_SHOWN and not hidden(part):
            text += f".{part}" if text else part
        else:
            text += f"[{shown(part)}]"
    return text


@dataclass(frozen=True, slots=True, order=True)
class FileFault:
    """One line for the printer: which file and line, where in it, what is wrong and what was found."""

    file: str
    line: int
    place: str
    message: str

    def __str__(self) -> str:
        where = f"{self.place}: " if self.place else ""
        return printable(f"{self.file}:{self.line}: {where}{self.message}")


class ProfileError(ValueError):
    """A file, or files together, cannot be used; `faults` holds all that was found, in the order of lines.

    `usable` is what could be read of the file all the same, with None where something does not fit. `more` says that
    not everything could be looked at: what files say together is seen only where each of them has a value.
    """

    def __init__(self, faults: list[FileFault], usable: object = None, more: bool = False) -> None:
        self.faults = sorted(set(faults))
        self.usable = usable
        self.more = more
        super().__init__("\n".join(str(fault) for fault in self.faults))
