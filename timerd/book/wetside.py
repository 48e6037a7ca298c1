"""What the book has on the wet side: sheets at the trays, what the baths have taken, who lies under the safelight.

Times come on the clock of this boot. What was written in another boot is placed by the wall clock, to a second or so,
and marked `approximate`: a wall clock that was set meanwhile makes it worse than that.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from timerd.book.reading import Reader
from timerd.book.store import boot_id, record_of
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record
from timerd.sheet.trays.stays import KINDS

_ROWS = (
    "SELECT r.kind, r.at_ns, r.sheet, r.step, r.burst, r.facts, b.boot_id, b.wall, b.at_ns"
    " FROM records r JOIN boots b ON b.boot = r.boot"
)
_LIGHT = ("safelight", "viewing", "fault", "started")
"""Kinds that tell of the safelight whichever sheet was at hand."""


class Past(NamedTuple):
    """`at_trays` are the records of sheets that are in their baths, `plans` theirs; `stock` those of the batches;
    `out` all since the first sheet went out that is still out, or lies in its box. Each list in order, on this boot's
    clock."""

    plans: dict[int, Plan]
    at_trays: list[Record]
    stock: list[Record]
    out: list[Record]


class WetReader:
    """Reads the wet side from a book that is open; `now` is this boot's monotonic time, `wall_s` the wall clock's."""

    def __init__(self, reader: Reader, now: float, wall_s: float) -> None:
        self._reader = reader
        self._now, self._wall_s, self._boot = now, wall_s, boot_id()

    def past(self, out: Iterable[int]) -> Past:
        """All that matters to go on, where these sheets are out, or will be again."""
        there = self._sheets("to trays") - self._sheets("out of the baths") - self._sheets("given up")
        found = {sheet: self._reader.plan(sheet) for sheet in there}
        at_trays = self._records(f"r.sheet IN ({_marks(there)}) AND r.kind IN ({_marks(KINDS)})", [*there, *KINDS])
        plans = {sheet: plan for sheet, plan in found.items() if plan is not None}
        return Past(plans, at_trays, self.stock(), self._since_out(list(out)))

    def stock(self) -> list[Record]:
        """The batches and temperatures, and what went into each bath: one record `in bath` for each of its batches."""
        told = self._records("r.kind IN ('batch', 'temperature')", ())
        sums = self._reader.each(
            "SELECT max(number), facts, sum(json_extract(facts, '$.eights')) FROM records WHERE kind = 'in bath'"
            " GROUP BY json_extract(facts, '$.bath'), json_extract(facts, '$.batch'), json_extract(facts, '$.base')"
        )
        return told + [
            Record("in bath", self._now, facts={**json.loads(facts), "eights": eights}) for _, facts, eights in sums
        ]

    def _since_out(self, out: Sequence[int]) -> list[Record]:
        if not out:
            return []
        marks = _marks(out)
        (first,) = self._reader.each(
            f"SELECT min(number) FROM records WHERE kind = 'armed' AND sheet IN ({marks})", out
        )
        where = f"r.number >= ? AND (r.sheet IN ({marks}) OR r.kind IN ({_marks(_LIGHT)}))"
        return self._records(where, [first[0] or 0, *out, *_LIGHT])

    def _sheets(self, kind: str) -> set[int]:
        return {row[0] for row in self._reader.each("SELECT sheet FROM records WHERE kind = ?", (kind,))}

    def _records(self, where: str, values: Sequence[object]) -> list[Record]:
        return [self._placed(row) for row in self._reader.each(f"{_ROWS} WHERE {where} ORDER BY r.number", values)]

    def _placed(self, row: tuple[Any, ...]) -> Record:
        """A record on this boot's clock; one of another boot is placed by the wall clock, never after now."""
        record = record_of(row[:6])
        boot, wall, began_ns = row[6:]
        if boot == self._boot:
            return record
        wall_then = datetime.fromisoformat(wall).timestamp() + record.at - began_ns / 1e9
        at = min(self._now, self._now - (self._wall_s - wall_then))
        return record._replace(at=at, facts={**record.facts, "approximate": True})


def _marks(values: Iterable[object]) -> str:
    return ",".join("?" for _ in values)
