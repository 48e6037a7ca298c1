"""What a light gave that was burning, or may have been, when nobody was left to write it down. Pure.

Two witnesses: the book, as far as it is on disk, and the keeper's note, which outlives every kill but not a power cut.
"""

from __future__ import annotations

from collections.abc import Mapping

from timerd.bench.note import Noted
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.record import Burning, Progress, Record, SheetProgress

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


def recovered(progress: Progress, plans: Mapping[int, Plan], noted: Noted | None, at: float) -> list[Record]:
    """The records to write before anything else is done: what each unfinished burst gave, exactly where the keeper's
    note tells (`noted`, None where it is of another boot or book, or gone), else between `given_lo` and `given`.

    Progress is a fold over what the book has; the records are not yet applied to it. `at` is now.
    """
    records = []
    # A note without an end, which the last off could not complete, says no more than that there was a burst.
    in_the_dark = noted is None or (noted.dark is None and noted.burst > progress.last_burst)
    for number, sheet in progress.sheets.items():
        step = plans[number].steps[sheet.at_hand - 1] if sheet.burning or sheet.may_light else None
        if step is None:
            continue
        found = _noted(sheet, step, noted, progress.last_burst, at)
        if found is None and (in_the_dark or sheet.burning is not None):
            found = _between(sheet, step, progress.last_burst, at)
        if found is not None:
            records.append(found)
    last = max([progress.last_burst, *(record.burst for record in records)])
    if noted is not None and noted.burst > last:
        records.append(Record("called off", at, burst=noted.burst, facts={"why": noted.why}))
    return records


def _noted(sheet: SheetProgress, step: Step, noted: Noted | None, last_burst: int, at: float) -> Record | None:
    """By the keeper's note: exact."""
    if noted is None or noted.dark is None:
        return None
    burning = sheet.burning
    if noted.burst != (burning.burst if burning is not None else noted.burst):
        return None
    if burning is None and noted.burst <= last_burst:
        return None
    if noted.lit is None:
        return Record("called off", at, sheet.sheet, step.n, noted.burst, {"why": noted.why})
    given = step.response.dose(max(0.0, noted.dark - noted.lit))
    facts = {"lit": noted.lit, "dark": noted.dark, "given": given, "given_lo": given, "why": noted.why}
    return Record("recovered", at, sheet.sheet, step.n, noted.burst, facts)


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
    hi = min(burning.seconds, next_instant(burning.so_far) + SLACK_S)
    lo = min(burning.so_far, hi)
    facts = {
        "lit": lit, "dark": None if lit is None else lit + hi, "given": step.response.dose(hi),
        "given_lo": step.response.dose(lo), "why": "power",
    }  # fmt: skip
    return Record("recovered", at, sheet.sheet, step.n, burning.burst, facts)
