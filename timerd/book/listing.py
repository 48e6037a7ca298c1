"""The sheets of a book as a list, the newest last: fast however many there are, since no sheet is folded for it.

Nothing derived is kept anywhere, so nothing can be out of date: numbers, prints and times come from the `armed`
records, how a sheet ended from the kinds of a few others, which an index of the book has. A short list is looked
through for damage, record by record; of a long one only what is read for it is.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from timerd.book.reading import DamagedRecord, Reader, unix_seconds
from timerd.book.store import BookError
from timerd.sheet.record import Progress, Record

_ODD = ("abandoned", "fault", "cleared", "set aside", "taken up", "given up", "owed again")
"""Kinds that tell of a sheet that was not simply printed."""
_ENDINGS = (
    "sheet out", "done", "to trays", "out of the box", "stop bath", "in the fixer", "safe in white light",
    "out of the baths", *_ODD,
)  # fmt: skip
"""All that says how a sheet stands, but for its doses."""
_BOXED = "to trays, boxed"
_ANY = {"why": "", "stack": (), "come_from": 1}
"""What some of them say that has no part in how a sheet stands."""
_AT_ONCE = 500
LOOKED_THROUGH = 60
"""Every record of the sheets in a list that is no longer is held against its checksum."""


_FACT = "json_extract(r.facts, '{}')"
"""One fact of a record. What SQLite cannot make out fails; then each record is read by itself."""


class Listed(NamedTuple):
    """A sheet in the list. `armed_wall` is Unix seconds, None where the clock was not known; `out` while white light
    would spoil it. `damaged` says which record of it is not what was written: then the rest of it is a guess."""

    sheet: int
    armed_wall: float | None
    print: str
    outcome: str
    out: bool
    given_up: bool
    rating: int | None
    notes: int
    damaged: str | None = None


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
        rating = {sheet: told for sheet, _, told in _facts(reader, "rated", "$.rating", within)}
        notes = dict(
            reader.each(f"SELECT sheet, count(*) FROM records WHERE kind = 'note' AND {within} GROUP BY sheet")
        )
        unread = {sheet for sheet, print_, _ in armed if not isinstance(print_, str)}
        unread |= {sheet for sheet, told in rating.items() if not isinstance(told, int)}
        damaged = _damaged(reader, sheets if len(sheets) <= LOOKED_THROUGH else unread.intersection(sheets))
    return [
        Listed(
            sheet, wall, str(print_ or ""), *outcomes[sheet], rating.get(sheet), notes.get(sheet, 0), damaged.get(sheet)
        )
        for sheet, print_, wall in armed
    ]


def _damaged(reader: Reader, sheets: Iterable[int]) -> dict[int, str]:
    """Those of some sheets that are damaged, each with what is wrong with it."""
    found = {}
    for sheet in sheets:
        try:
            reader.look_through(sheet)
        except DamagedRecord as error:
            found[sheet] = error.damage.words
    return found


def _facts(reader: Reader, kind: str, path: str, within: str) -> list[tuple[int, int, Any]]:
    """One fact of every record of a kind, with its sheet and number, in order; None where it cannot be read."""
    of = f"FROM records r WHERE kind = '{kind}' AND {within} ORDER BY number"
    try:
        return list(reader.each(f"SELECT sheet, number, {_FACT.format(path)} {of}"))
    except BookError:  # one of them cannot be read by SQLite itself: each by itself, then
        return [
            (sheet, number, _one(reader, number, _FACT.format(path))[0])
            for sheet, number in list(reader.each(f"SELECT sheet, number {of}"))
        ]


def _one(reader: Reader, number: int, *what: str) -> tuple[Any, ...]:
    """What a record has to tell, by itself: each None that cannot be read."""
    found: list[Any] = []
    for one in what:
        found.append(None)
        with contextlib.suppress(BookError):
            for (told,) in reader.each(f"SELECT {one} FROM records r WHERE number = ?", (number,)):
                found[-1] = told
    return tuple(found)


def _armed(reader: Reader, selection: Selection, last: int | None) -> list[tuple[int, str | None, float | None]]:
    """Number, print and time of the sheets selected, in order; looked for from the newest on."""
    what = (_FACT.format("$.print"), _FACT.format("$.wall"), "r.boot", "r.at_ns")
    of = "FROM records r WHERE r.kind = 'armed' ORDER BY r.sheet DESC"
    try:
        return _selected(reader, reader.each(f"SELECT r.sheet, {', '.join(what)} {of}"), selection, last)
    except BookError:
        numbers = list(reader.each(f"SELECT r.sheet, r.number {of}"))
    rows = ((sheet, *_one(reader, number, *what)) for sheet, number in numbers)
    return _selected(reader, rows, selection, last)


def _selected(
    reader: Reader, rows: Iterable[Any], selection: Selection, last: int | None
) -> list[tuple[int, str | None, float | None]]:
    found: list[tuple[int, str | None, float | None]] = []
    for sheet, print_, told, boot, at_ns in rows:
        wall = unix_seconds(told)
        if wall is None and type(at_ns) is int:
            opened, at_opening = reader.clocks(boot)
            wall = None if opened is None else opened + at_ns / 1e9 - at_opening
        if selection.takes(str(print_ or ""), wall):
            found.append((sheet, print_, wall))
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
    if others:
        boxed = {number for _, number, told in _facts(reader, "to trays", "$.boxed", within) if told}
        for sheet, number, kind in reader.each(
            f"SELECT sheet, number, kind FROM records WHERE kind IN ({marks}) AND {within}"
        ):
            if sheet in kinds:
                kinds[sheet].append((number, _BOXED if number in boxed else kind))
    return found | {sheet: _outcome(tuple(kind for _, kind in sorted(told))) for sheet, told in kinds.items()}


@lru_cache(maxsize=1024)
def _outcome(endings: tuple[str, ...]) -> Outcome:
    """How a sheet ended and where it is, by the one fold there is: any step will do for that."""
    told = [
        Record.read("armed", 0.0, 1, facts={"steps": [(1, "base", 1.0, True)]}),
        *(
            Record.read(kind.removesuffix(", boxed"), 0.0, 1, 1, facts={**_ANY, "boxed": kind == _BOXED})
            for kind in endings
        ),
    ]
    sheet = Progress(told).sheets[1]
    return sheet.outcome, sheet.sensitive, sheet.given_up
