"""The sheets of a book as a list, the newest last: fast however many there are, since no sheet is folded for it.

Nothing derived is kept anywhere, so nothing can be out of date: numbers, prints and times come from the `armed`
records, how a sheet ended from the kinds of a few others, which an index of the book has.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from timerd.book.reading import Reader, unix_seconds
from timerd.sheet.record import Progress, Record

_ENDINGS = ("sheet out", "done", "stop bath", "abandoned", "fault", "cleared", "taken up", "given up")
"""All that says how a sheet stands, but for its doses."""
_AT_ONCE = 500


class Listed(NamedTuple):
    """A sheet in the list. `armed_wall` is Unix seconds, None where the clock was not known; `out` while white light
    would spoil it."""

    sheet: int
    armed_wall: float | None
    print: str
    outcome: str
    out: bool
    given_up: bool
    rating: int | None
    notes: int


class Selection(NamedTuple):
    """Which sheets: of prints whose name has `print` in it (in whatever case) or is one of `names`, armed at or after
    `since` (Unix seconds). A sheet whose time is not known is in none that has `since`."""

    print: str | None = None
    names: tuple[str, ...] = ()
    since: float | None = None

    def takes(self, print_: str, wall: float | None) -> bool:
        """Whether a sheet is one of them."""
        if self.since is not None and (wall is None or wall < self.since):
            return False
        return self.print is None or print_ in self.names or self.print.casefold() in print_.casefold()


EVERY = Selection()


def listing(reader: Reader, selection: Selection = EVERY, last: int | None = None) -> list[Listed]:
    """The sheets selected, in order, or only the `last` so many of them."""
    armed = _armed(reader, selection, last)
    told = _told(reader, [sheet for sheet, _, _ in armed])
    return [
        Listed(
            sheet,
            wall,
            print_,
            *_outcome(told.endings.get(sheet, ())),
            told.rating.get(sheet),
            told.notes.get(sheet, 0),
        )
        for sheet, print_, wall in armed
    ]


def _armed(reader: Reader, selection: Selection, last: int | None) -> list[tuple[int, str, float | None]]:
    """Number, print and time of the sheets selected, in order; looked for from the newest on."""
    found = []
    query = (
        "SELECT r.sheet, json_extract(r.facts, '$.print'), json_extract(r.facts, '$.wall'), r.boot, r.at_ns "
        "FROM records r WHERE r.kind = 'armed' ORDER BY r.sheet DESC"
    )
    clocks = {
        boot: (unix_seconds(wall), at_ns) for boot, wall, at_ns in reader.each("SELECT boot, wall, at_ns FROM boots")
    }
    for sheet, print_, told, boot, at_ns in reader.each(query):
        wall = unix_seconds(told)
        if wall is None and boot in clocks and clocks[boot][0] is not None:
            wall = clocks[boot][0] + (at_ns - clocks[boot][1]) / 1e9
        if selection.takes(str(print_), wall):
            found.append((sheet, str(print_), wall))
            if len(found) == last:
                break
    return found[::-1]


class _Told(NamedTuple):
    endings: dict[int, tuple[str, ...]]
    rating: dict[int, int]
    notes: dict[int, int]


def _told(reader: Reader, sheets: Sequence[int]) -> _Told:
    """What is told of these sheets beside their being armed: the kinds of what ended them in order, ratings, notes."""
    if not sheets:
        return _Told({}, {}, {})
    within = f"sheet IN ({','.join(map(str, sheets))})" if len(sheets) <= _AT_ONCE else f"sheet >= {sheets[0]}"
    kinds = ",".join(f"'{kind}'" for kind in _ENDINGS)
    endings: dict[int, list[tuple[int, str]]] = {}
    for sheet, number, kind in reader.each(
        f"SELECT sheet, number, kind FROM records WHERE kind IN ({kinds}) AND {within}"
    ):
        if sheet in endings:
            endings[sheet].append((number, kind))
        else:
            endings[sheet] = [(number, kind)]
    ordered = {sheet: tuple(kind for _, kind in sorted(found)) for sheet, found in endings.items()}
    rated = reader.each(f"SELECT sheet, facts FROM records WHERE kind = 'rated' AND {within} ORDER BY number")
    rating = {sheet: json.loads(facts)["rating"] for sheet, facts in rated}
    noted = reader.each(f"SELECT sheet, count(*) FROM records WHERE kind = 'note' AND {within} GROUP BY sheet")
    return _Told(ordered, rating, dict(noted))


@lru_cache(maxsize=1024)
def _outcome(endings: tuple[str, ...]) -> tuple[str, bool, bool]:
    """How a sheet ended and where it is, by the one fold there is: it needs no step for that."""
    told = [
        Record("armed", 0.0, 1, facts={"steps": ()}),
        *(Record(kind, 0.0, 1, facts={"why": ""}) for kind in endings),
    ]
    sheet = Progress(told).sheets[1]
    return sheet.outcome, sheet.out, sheet.given_up
