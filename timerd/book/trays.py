"""What the book has of the trays: the sheets there, what the baths have taken, who lies under the safelight.

Times come on the clock of this boot. What was written in another boot is placed by the wall clock, to a second or so,
and marked `approximate`: a wall clock that was set meanwhile makes it worse than that.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import NamedTuple

from timerd.book.reading import DamagedRecord, Reader
from timerd.book.rows import Damage, Written, sheet_of
from timerd.book.store import BookError, boot_id
from timerd.sheet.facts import InBath
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record
from timerd.sheet.trays.stays import KINDS, Stays

_LIGHT = ("safelight", "viewing", "fault", "started")
"""Kinds that tell of the safelight whichever sheet was at hand."""


_SUMS = (
    "SELECT min(number), max(number), sum(json_extract(facts, '$.eights')) FROM records"
    " WHERE kind = 'in bath' AND json_valid(facts) GROUP BY json_extract(facts, '$.bath'),"
    " json_extract(facts, '$.batch'), json_extract(facts, '$.base')"
)
"""What went into each bath's batches, by the paper's base."""


class Past(NamedTuple):
    """`at_trays` are the records of sheets that are in their baths, `plans` theirs; `stock` those of the batches;
    `out` all since the first sheet went out that is still out, or lies in its box. Each list in order, on this boot's
    clock."""

    plans: dict[int, Plan]
    at_trays: list[Record]
    stock: list[Record]
    out: list[Record]


class TraysReader:
    """Reads all that from a book that is open; `now` is this boot's monotonic time, `wall_s` the wall clock's.

    `damaged` gathers what is not what was written: it is left out.
    """

    def __init__(self, reader: Reader, now: float, wall_s: float) -> None:
        self._reader = reader
        self._now, self._wall_s, self._boot = now, wall_s, boot_id()
        self.damaged: list[Damage] = []

    def past(self, out: Iterable[int]) -> Past:
        """All that matters to go on, where these sheets are out, or will be again."""
        there = self._sheets("to trays") - self._sheets("out of the baths") - self._sheets("given up")
        plans: dict[int, Plan] = {}
        at_trays: list[Written] = []
        for sheet in sorted(there):
            try:
                plan, written = self._reader.plan(sheet), self._reader.written(sheet)
                if plan is not None:
                    plans[sheet] = plan
                self._reader.made(written, lambda told: Stays(plans, False, [one.record for one in told]))
            except DamagedRecord as error:
                self.damaged.append(error.damage)
                plans.pop(sheet, None)
            else:
                at_trays += [one for one in written if isinstance(one.record.fact, KINDS)]
        at_trays.sort(key=lambda one: one.number)
        return Past(plans, list(map(self._placed, at_trays)), self.stock(), self._since_out(list(out)))

    def stock(self) -> list[Record]:
        """The batches and temperatures, and what went into each bath: one record `in bath` for each of its batches."""
        told = self._records("kind IN ('batch', 'temperature')", ())
        try:
            sums = list(self._reader.each(_SUMS))
        except BookError:
            return told + self._records("kind = 'in bath'", ())
        for first, last, eights in sums:
            if found := self._records("number IN (?, ?)", (first, last)):
                sheet = found[-1].fact
                assert isinstance(sheet, InBath)
                told.append(Record(replace(sheet, eights=eights or 0.0), self._now))
        return told

    def _since_out(self, out: Sequence[int]) -> list[Record]:
        if not out:
            return []
        marks = _marks(out)
        (first,) = self._reader.each(
            f"SELECT min(number) FROM records WHERE kind = 'armed' AND sheet IN ({marks})", out
        )
        where = f"number >= ? AND (sheet IN ({marks}) OR kind IN ({_marks(_LIGHT)}))"
        found = self._records(where, [first[0] or 0, *out, *_LIGHT])
        return [record for record in found if record.sheet in out or record.kind in _LIGHT]

    def _sheets(self, kind: str) -> set[int]:
        return {row[0] for row in self._reader.each("SELECT sheet FROM records WHERE kind = ?", (kind,))}

    def _records(self, where: str, values: Sequence[object]) -> list[Record]:
        """Those that are sound, in order."""
        found = []
        for row in self._reader.rows(where, values):
            try:
                found.append(self._placed(self._reader.read(row, sheet_of(row))))
            except DamagedRecord as error:
                self.damaged.append(error.damage)
        return found

    def _placed(self, written: Written) -> Record:
        """A record on this boot's clock; one of another boot is placed by the wall clock, never after now."""
        record = written.record
        if self._reader.opening(written.boot).boot_id == self._boot:
            return record
        opened, at_opening = self._reader.clocks(written.boot)
        wall_then = self._wall_s if opened is None else opened + record.at - at_opening
        at = min(self._now, self._now - (self._wall_s - wall_then))
        return record._replace(at=at, approximate=True)


def _marks(values: Iterable[object]) -> str:
    return ",".join("?" for _ in values)
