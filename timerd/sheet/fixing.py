"""Since when each sheet lies in the bath from which on white light spoils it no more, and when it has done so for long
enough.

What was over before this began does not count: a sheet that was in its fixer when the daemon was started anew lies
there all its seconds once more. So nothing hangs on a wall clock.
"""

from __future__ import annotations

from collections.abc import Mapping

from timerd.sheet.facts import InBath, InTheFixer
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.bathfile import LEAST_FIXED_S
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record


def is_fixing(plan: Plan | None, sheet: SheetProgress) -> bool:
    """Whether a sheet lies where its seconds count: in the fixer, as a press said; or in its line's bath for that, or a
    later one of that kind, if it is known to have gone there."""
    line = plan.baths if plan is not None else None
    if sheet.in_fixer or line is None or line.white_from is None or sheet.bath is None:
        return sheet.in_fixer
    at = next(i for i, bath in enumerate(line.baths) if bath.name == sheet.bath)
    named = line.white_from.place
    return sheet.confirmed and at >= named and line.baths[at].kind == line.baths[named].kind


class Fixing:
    """All sheets that are being fixed. `progress` is the account of the sheets, which has each record before it is
    `take`n here; `plans` are theirs. Times are monotonic seconds, `now` when this begins."""

    def __init__(self, plans: Mapping[int, Plan], progress: Progress, now: float) -> None:
        self._plans, self._progress = plans, progress
        self._since: dict[int, float] = {}
        for number in progress.sensitive:
            if is_fixing(plans.get(number), progress.sheets[number]):
                self._since[number] = now

    def take(self, record: Record) -> None:
        """Take in one more fact."""
        sheet = self._progress.sheets.get(record.sheet)
        if sheet is None or not sheet.sensitive:
            self._since.pop(record.sheet, None)
        elif isinstance(record.fact, InTheFixer):
            self._since[record.sheet] = record.at
        elif isinstance(record.fact, InBath) and not sheet.in_fixer:
            self._in_bath(sheet, record.at)

    def _in_bath(self, sheet: SheetProgress, at: float) -> None:
        """Into the next bath: the time goes on there, unless it left its fixer too soon for one of another kind."""
        plan = self._plans.get(sheet.sheet)
        if is_fixing(plan, sheet):
            self._since.setdefault(sheet.sheet, at)
        elif sheet.sheet in self._since and plan is not None and plan.baths is not None:
            begins = plan.baths.white_from
            if begins is None or at - self._since[sheet.sheet] < begins.least_s:
                del self._since[sheet.sheet]

    @property
    def wake_at(self) -> float | None:
        """When the next sheet has lain there for long enough."""
        return min(map(self._safe_at, self._since), default=None)

    def over(self, now: float) -> list[int]:
        """The sheets that have lain there for long enough by now, until that is written down."""
        return [sheet for sheet in self._since if self._safe_at(sheet) <= now]

    def _safe_at(self, sheet: int) -> float:
        plan = self._plans.get(sheet)
        begins = plan.baths.white_from if plan is not None and plan.baths is not None else None
        return self._since[sheet] + (LEAST_FIXED_S if begins is None else begins.after_s)
