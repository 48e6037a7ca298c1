"""What a daemon finds when it starts: the book's sheets, their plans, and what nobody was left to write down."""

from __future__ import annotations

import time
from pathlib import Path
from typing import NamedTuple

from timerd.bench.lastoff import TOLD
from timerd.book import wetside
from timerd.book.reading import Reader
from timerd.daemon.keeping import AT_START_S, NoKeeper, last_off_elsewhere
from timerd.daemon.recovery import note_of, recovered
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record


class Found(NamedTuple):
    """`first` is to be written down before anything else; the wet side is as of before that. `batch` is the plan of
    which so many more sheets were to be done when timerd was not stopped but ended."""

    progress: Progress
    plans: dict[int, Plan]
    first: list[Record]
    wet: wetside.Past
    batch: tuple[Plan, int] | None


def see_dark(run: Path) -> None:
    """If a bench was served from here before, see its lines dark before anything is made of its note."""
    if (run / TOLD).exists():
        _, high = last_off_elsewhere(run, AT_START_S)
        if high:
            raise NoKeeper(f"{', '.join(high)} does not go low: switch the lamps off at the wall, mend the line")


def found(home: Path, run: Path, book: str, now: float) -> Found:
    """What the book in a home, and the keeper's note in a run folder, tell at `now`, this boot's monotonic time."""
    reader = Reader(home)
    progress = reader.present()
    wet = wetside.WetReader(reader, now, time.time()).past(progress.sheets_in_hand)
    plans = {n: plan for n in progress.sheets if (plan := reader.plan(n)) is not None}
    last, left = reader.batch() or (0, 0)
    reader.close()
    batch = (plans[last], left) if last in plans else None
    return Found(progress, wet.plans | plans, recovered(progress, plans, note_of(run, book), now), wet, batch)
