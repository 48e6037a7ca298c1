"""What a daemon finds when it starts: the book's sheets, their plans, and what nobody was left to write down."""

from __future__ import annotations

import contextlib
import time
from pathlib import Path
from typing import NamedTuple

from timerd.bench.lastoff import TOLD
from timerd.book import trays as book_trays
from timerd.book.reading import DamagedRecord, Reader
from timerd.book.unfit import fits
from timerd.daemon.keeping import AT_START_S, NoKeeper, last_off_elsewhere
from timerd.daemon.recovery import note_of, recovered
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record


class Found(NamedTuple):
    """`first` is to be written down before anything else; the trays are as of before that. `batch` is the plan of
    which so many more sheets were to be done when timerd was not stopped but ended."""

    progress: Progress
    plans: dict[int, Plan]
    first: list[Record]
    trays: book_trays.Past
    batch: tuple[Plan, int] | None


def see_dark(run: Path) -> None:
    """If a bench was served from here before, see its lines dark before anything is made of its note."""
    if (run / TOLD).exists():
        _, high = last_off_elsewhere(run, AT_START_S)
        if high:
            raise NoKeeper(f"{', '.join(high)} does not go low: switch the lamps off at the wall, mend the line")


def found(home: Path, run: Path, book: str, now: float) -> Found:
    """What the book in a home, and the keeper's note in a run folder, tell at `now`, this boot's monotonic time.

    A sheet of which something is damaged is left out of all of it, and told by `progress.damaged`.
    """
    with contextlib.closing(Reader(home)) as reader:
        progress = reader.present()
        plans = _plans(reader, progress)
        at_trays = book_trays.TraysReader(reader, now, time.time())
        trays = at_trays.past(progress.sheets_in_hand)
        for damage in at_trays.damaged:
            progress.leave_out(damage.sheet, damage.words, may_be_out=damage.sheet in progress.sheets_out)
        last, left = reader.batch() or (0, 0)
    batch = (plans[last], left) if last in plans else None
    return Found(progress, trays.plans | plans, recovered(progress, plans, note_of(run, book), now), trays, batch)


def _plans(reader: Reader, progress: Progress) -> dict[int, Plan]:
    """The plans of the sheets that may be gone on with: a sheet without one that fits it is left out."""
    plans = {}
    for number, sheet in list(progress.sheets.items()):
        try:
            plan = reader.plan(number)
        except DamagedRecord as error:
            plan, words = None, error.damage.words
        else:
            words = f"sheet {number}: its plan does not have the steps that it was armed with"
        if plan is None or not fits(plan, sheet):
            progress.leave_out(number, words, may_be_out=sheet.out)
        else:
            plans[number] = plan
    return plans
