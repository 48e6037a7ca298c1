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

_ODD = ("abandoned", "fault", "cleared", "set aside", "taken up", "given up", "owed again")
"""Kinds that tell of a sheet that was not simply printed."""
_ENDINGS = (
    "sheet out", "done", "to trays", "out of the box", "stop bath", "in the fixer", "safe in white light",
    "out of the baths", *_ODD,
)  # fmt: skip
"""All that says how a sheet stands, but for its doses."""
_BOXED = "to trays, boxed"
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
    with reader.still():
        armed = _armed(reader, selection, last)
        if not armed:
            return []
        sheets = [sheet for sheet, _, _ in armed]
        within = f"sheet IN ({','.join(map(str, sheets))})" if len(sheets) <= _AT_ONCE else f"sheet >= {sheets[0]}"
        outcomes = _outcomes(reader, sheets, within)
        rated = reader.each(f"SELECT sheet, facts FROM records WHERE kind = 'rated' AND {within} ORDER BY number")
        rating = {sheet: json.loads(facts)["rating"] for sheet, facts in rated}
        notes = dict(
            reader.each(f"SELECT sheet, count(*) FROM records WHERE kind = 'note' AND {within} GROUP BY sheet")
        )
    return [
        Listed(sheet, wall, print_, *outcomes[sheet], rating.get(sheet), notes.get(sheet, 0))
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


Outcome = tuple[str, bool, bool]
"""How a sheet ended, whether white light would spoil it, whether it was given up."""


def _outcomes(reader: Reader, sheets: Sequence[int], within: str) -> dict[int, Outcome]:
    """How each sheet ended. Most were printed and fixed, no more: of those nothing else is read. (Until `in the fixer`
    was written, a `stop bath` without baths that were named was the last of a sheet.)"""

    def those(*kinds: str) -> set[int]:
        marks = ",".join(f"'{kind}'" for kind in kinds)
        return {sheet for (sheet,) in reader.each(f"SELECT sheet FROM records WHERE kind IN ({marks}) AND {within}")}

    fixed = those("safe in white light", "out of the baths") | (those("stop bath") - those("to trays"))
    found = dict.fromkeys(
        those("done") & fixed - those(*_ODD), _outcome(("sheet out", "done", "in the fixer", "safe in white light"))
    )
    others = [sheet for sheet in sheets if sheet not in found]
    if 0 < len(others) <= _AT_ONCE:
        within = f"sheet IN ({','.join(map(str, others))})"
    kinds: dict[int, list[tuple[int, str]]] = {sheet: [] for sheet in others}
    marks = ",".join(f"'{kind}'" for kind in _ENDINGS)
    kind = f"CASE WHEN kind = 'to trays' AND json_extract(facts, '$.boxed') THEN '{_BOXED}' ELSE kind END"
    rows = (
        reader.each(f"SELECT sheet, number, {kind} FROM records WHERE kind IN ({marks}) AND {within}") if others else ()
    )
    for sheet, number, kind in rows:
        if sheet in kinds:
            kinds[sheet].append((number, kind))
    return found | {sheet: _outcome(tuple(kind for _, kind in sorted(told))) for sheet, told in kinds.items()}


@lru_cache(maxsize=1024)
def _outcome(endings: tuple[str, ...]) -> Outcome:
    """How a sheet ended and where it is, by the one fold there is: any step will do for that."""
    told = [
        Record("armed", 0.0, 1, facts={"steps": [(1, "base", 1.0, True)]}),
        *(
            Record(kind.removesuffix(", boxed"), 0.0, 1, 1, facts={"why": "", "boxed": kind == _BOXED})
            for kind in endings
        ),
    ]
    sheet = Progress(told).sheets[1]
    return sheet.outcome, sheet.sensitive, sheet.given_up
