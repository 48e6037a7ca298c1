"""What a light gave that was burning, or may have been, when nobody was left to write it down.

Two witnesses: the book, as far as it is on disk, and the keeper's note, which outlives every kill but not a power cut.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from timerd.bench.note import Noted, read_note
from timerd.book.store import boot_id
from timerd.sheet.facts import BurstCalledOff, BurstRecovered
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.progress import Burning, SheetProgress
from timerd.sheet.record import Progress, Record

FIRST_S = 0.5
"""A burning light is first written down at this time from when it was lit."""
RATIO = 2 ** (1 / 6)
"""And then at every sixth of a stop."""
SLACK_S = 0.5
"""No light burns longer than this past an instant at which it should have been written down and was not."""


def next_instant(so_far: float) -> float:
    """The instant, in seconds from lit, at which a light that was last written down at `so_far` is to be again.

    >>> next_instant(0.0), round(next_instant(8.0), 3)
    (0.5, 8.98)
    """
    return so_far * RATIO if so_far > 0 else FIRST_S


def note_of(run: Path, book: str) -> Noted | None:
    """The keeper's note in a run folder, if it is of this book and of the present boot: else its times say nothing."""
    noted = read_note(run)
    return noted if noted is not None and (noted.book, noted.boot) == (book, boot_id()) else None


def recovered(progress: Progress, plans: Mapping[int, Plan], noted: Noted | None, at: float) -> list[Record]:
    """The records to write before anything else is done: what each unfinished burst gave, exactly where the keeper's
    note tells (`noted`, None where it is of another boot or book, or gone), else between `given_lo` and `given`.

    Progress is a fold over what the book has; the records are not yet applied to it. `at` is now.
    """
    records = []
    # A note without an end, which the last off could not complete, says no more than that there was a burst.
    in_the_dark = noted is None or (noted.dark is None and noted.burst > progress.last_burst)
    for number, sheet in progress.sheets.items():
        step = _lit_step(sheet, plans[number], noted, progress.last_burst)
        if step is None:
            continue
        found = _noted(sheet, step, noted, progress.last_burst, at)
        if found is None and (in_the_dark or sheet.burning is not None):
            found = _between(sheet, step, progress.last_burst, at)
        if found is not None:
            records.append(found)
    last = max([progress.last_burst, *(record.burst for record in records)])
    if noted is not None and noted.burst > last:
        records.append(Record(BurstCalledOff(noted.why), at, burst=noted.burst))
    return records


def _lit_step(sheet: SheetProgress, plan: Plan, noted: Noted | None, last_burst: int) -> Step | None:
    """The step whose light burned or may have: by the book the one at hand. A light that the keeper saw and the book
    knows nothing of was the next one's, if the sheet was out: no other light may be lit then."""
    if sheet.burning is not None or sheet.may_light:
        return plan.steps[sheet.at_hand - 1]
    unknown = noted is not None and noted.lit is not None and noted.burst > last_burst
    if not (unknown and sheet.out and sheet.resumable):
        return None
    return next((step for step in plan.steps[sheet.at_hand - 1 :] if sheet.steps[step.n].light), None)


def _noted(sheet: SheetProgress, step: Step, noted: Noted | None, last_burst: int, at: float) -> Record | None:
    """By the keeper's note: exact, or between two times where nobody saw the light go out."""
    if noted is None or noted.dark is None:
        return None
    burning = sheet.burning
    if noted.burst != (burning.burst if burning is not None else noted.burst):
        return None
    if burning is None and noted.burst <= last_burst:
        return None
    lit = noted.lit if noted.lit is not None or burning is None else burning.lit
    if lit is None:
        return Record(BurstCalledOff(noted.why), at, sheet.sheet, step.n, noted.burst)
    so_far = burning.so_far if burning is not None else 0.0
    hi = max(noted.dark - lit, so_far)
    lo = hi if noted.dark_lo is None else min(hi, max(noted.dark_lo - lit, so_far))
    fact = BurstRecovered(lit, lit + hi, step.response.dose(hi), step.response.dose(lo), noted.why or "")
    return Record(fact, at, sheet.sheet, step.n, noted.burst)


def _between(sheet: SheetProgress, step: Step, last_burst: int, at: float) -> Record:
    """By the book alone: between the last instant written down and the farthest that the keeper lets a light burn."""
    burning = sheet.burning
    owed = sheet.steps[step.n].planned
    if burning is None:
        longest = step.longest_s if owed is None else step.response.seconds(sheet.owed)
        burning = Burning(last_burst + 1, step.n, 0.0, longest, 0.0)
        lit = None
    else:
        lit = burning.lit
    lo = burning.so_far
    hi = next_instant(lo) + SLACK_S
    if lo <= burning.seconds + 1e-6:  # else it burned for longer than it was asked to, and nobody put it out
        hi = min(burning.seconds, hi)
        lo = min(lo, hi)
    dark = None if lit is None else lit + hi
    fact = BurstRecovered(lit, dark, step.response.dose(hi), step.response.dose(lo), "power")
    return Record(fact, at, sheet.sheet, step.n, burning.burst)
