"""The records of many random evenings as one book has them: stopped in good order, or cut off anywhere."""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import lru_cache

from records import wrote

from timerd.daemon.recovery import next_instant, recovered
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record
from walks.engine_walk import BOXED, PLAN, walk

EVENINGS = 40
"""How many different evenings there are to choose from; every third is a hostile one."""


@lru_cache(maxsize=EVENINGS)
def _evening(seed: int) -> tuple[Record, ...]:
    return tuple(walk(seed, 60 + 40 * (seed % 5)).bench.records)


class BookWalk:
    """One book's records, an evening at a time; `progress` is the full fold over all of them."""

    def __init__(self, seed: int) -> None:
        self._pick = random.Random(seed)
        self.records: list[Record] = []
        self.progress = Progress()
        self._at = 0.0

    @property
    def plans(self) -> dict[int, Plan]:
        """The plan of every sheet so far."""
        of = {len(plan.steps): plan for plan in (PLAN, BOXED)}
        return {number: of[len(sheet.steps)] for number, sheet in self.progress.sheets.items()}

    def evening(self, which: int, cut: float) -> list[Record]:
        """One more start, an evening's records after it up to the share `cut` of them, and a stop if that is all."""
        first = [*recovered(self.progress, self.plans, None, self._at), wrote("started", self._at)]
        there = list(self._so_far(self._moved(_evening(which % EVENINGS))))
        told = first + there[: round(cut * len(there))]
        if cut == 1.0 and self._pick.random() < 0.7:
            told.append(wrote("stopped", told[-1].at))
        for record in told:
            self.progress.apply(record)
        self.records += told
        self._at = told[-1].at + 60.0
        return told

    def _moved(self, records: tuple[Record, ...]) -> Iterator[Record]:
        """The records of an evening that began with nothing, as those of one that goes on from here."""
        sheets, bursts = max(self.progress.sheets, default=0), self.progress.last_burst
        for record in records:
            yield record._replace(
                at=record.at + self._at, sheet=record.sheet + sheets if record.sheet else 0,
                burst=record.burst + bursts if record.burst else 0,
            )  # fmt: skip

    def _so_far(self, records: Iterator[Record]) -> Iterator[Record]:
        """With the burning light written down while it burns, as the daemon does it."""
        lit: Record | None = None
        for record in records:
            while lit is not None and (so_far := next_instant(self._last)) <= record.at - lit.at:
                yield wrote("so far", lit.at + so_far, lit.sheet, lit.step, lit.burst, {"seconds": so_far})
                self._last = so_far
            if record.kind in ("lit", "dark", "fault"):
                lit = record if record.kind == "lit" and record.sheet else None
                self._last = 0.0
            yield record


def book_walk(seed: int, evenings: int) -> BookWalk:
    """A seeded book of so many evenings."""
    pick = random.Random(seed)
    book = BookWalk(seed)
    for _ in range(evenings):
        book.evening(pick.randrange(EVENINGS), 1.0 if pick.random() < 0.5 else pick.random())
    return book
