"""How long each sheet has lain under the safelight: a fold over records, and when the printer is to be warned.

A sheet is counted while it is out: from `sheet out` until its development has ended (in the stop bath, or whatever bath
comes after the developer; without named baths until it is in the fixer), but for what it lies in its box. What the
safelight does to it after that no developer brings out any more (common practice, no source). The paper-safe light
counts as the safelight does.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from timerd.printing.safelight import NEAR, allowed_seconds, margin
from timerd.sheet.facts import DaemonStarted, FaultCame, LightShown, SafelightSum, SafelightTurned
from timerd.sheet.places import places, reaches
from timerd.sheet.plan.value import Plan
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Record


@dataclass(slots=True)
class Seen:
    """One sheet's seconds under the safelight; `at_most` where a daemon was not there to see it go dark or lit,
    `approximate` where a part of them was before the machine was restarted, by the wall clock."""

    seconds: float = 0.0
    out: bool = False
    at_most: bool = False
    approximate: bool = False
    warned: str = ""


def flashed(plan: Plan, sheet: SheetProgress) -> float:
    """Which fraction of its threshold a sheet was flashed by, where it was flashed most: as given, not as planned.

    Flashes add up where their outlines lie over each other; where that cannot be told they are taken to.
    """
    flashes = [step for step in plan.steps if step.kind == "flash" and step.threshold_dose]
    given = {step.n: sheet.steps[step.n].most / (step.threshold_dose or 1.0) for step in flashes}
    lit = [step for step in flashes if given[step.n] > 0.0]
    where = places(plan.sheet, lit) if len(lit) > 1 else ()
    sums = [sum(given[step.n] for step in lit if reaches(step, place.inside)) for place in where]
    return max(sums, default=sum(given.values()))


class UnderSafelight:
    """All sheets' sums. `take` each record in order, with the sheets that are out when it is done. `paper_safe` are the
    names of the lights that a sheet may see beside the safelight, counted as it is."""

    def __init__(
        self, plans: Mapping[int, Plan], sheets: Mapping[int, SheetProgress], paper_safe: frozenset[str]
    ) -> None:
        self._plans, self._sheets = plans, sheets
        self._paper_safe = paper_safe
        self._seen: dict[int, Seen] = {}
        self._lit = True
        self._safe_light = False
        self._at: float | None = None

    def take(self, record: Record, out: Collection[int]) -> None:
        """Take in one more fact. `out` are the sheets that lie open after it, and are not developed yet."""
        stopped = isinstance(record.fact, DaemonStarted) and not self._lit
        self._pass(record.at, stopped)
        match record.fact:
            case SafelightTurned(lit):
                self._lit = lit
            case FaultCame() | DaemonStarted():  # lit at rest, in a fault and without a daemon
                self._lit = True
                self._safe_light = False
            case LightShown(lit, light):
                self._safe_light = lit and light in self._paper_safe
        for number, seen in self._seen.items():
            seen.out = number in out
        for number in out:
            seen = self._seen.setdefault(number, Seen(out=True))
            seen.out = True
            seen.approximate = seen.approximate or record.approximate

    def _pass(self, now: float, not_seen: bool) -> None:
        """Time goes by until now; counted as lit where nobody saw it."""
        if self._at is not None and now > self._at:
            for seen in self._seen.values():
                if seen.out and (self._lit or self._safe_light or not_seen):
                    seen.seconds += now - self._at
                    seen.at_most = seen.at_most or not_seen
        self._at = now if self._at is None else max(now, self._at)

    @property
    def lit(self) -> bool:
        """Whether sheets that are out are being counted."""
        return self._lit or self._safe_light

    @property
    def counted(self) -> set[int]:
        """The sheets that were out when the last record was taken in."""
        return {sheet for sheet, seen in self._seen.items() if seen.out}

    def seconds(self, sheet: int, now: float) -> float:
        """What a sheet has seen by now."""
        seen = self._seen.get(sheet, Seen())
        more = now - self._at if self._at is not None and seen.out and self.lit else 0.0
        return seen.seconds + max(0.0, more)

    def allowed(self, sheet: int) -> float | None:
        """What it may see, by its paper's tested safe time and what it was flashed; None where that was not tested."""
        plan, progress = self._plans.get(sheet), self._sheets.get(sheet)
        if plan is None or progress is None or plan.safelight_s is None:
            return None
        return allowed_seconds(plan.safelight_s, flashed(plan, progress))

    def sum(self, sheet: int, now: float) -> SafelightSum:
        """A sheet's sum as it is recorded and told: seconds, what is allowed, and how it stands."""
        seconds, allowed = self.seconds(sheet, now), self.allowed(sheet)
        plan, seen = self._plans.get(sheet), self._seen.get(sheet, Seen())
        safe_s = plan.safelight_s if plan is not None else None
        stands = None if allowed is None else margin(seconds, allowed)
        return SafelightSum(seconds, safe_s, allowed, stands, seen.at_most, seen.approximate)

    # -- warnings --------------------------------------------------------------------------------------------------

    def warnings(self, now: float) -> list[tuple[int, str]]:
        """Sheets whose margin is nearly gone (`near`), gone (`over`), or was never there (`none`): each told once."""
        found: list[tuple[int, str]] = []
        for sheet, seen in self._seen.items():
            allowed = self.allowed(sheet) if seen.out else None
            if allowed is None:
                continue
            stands = margin(self.seconds(sheet, now) + 1e-6, allowed)
            if stands and _RANK[stands] > _RANK[seen.warned]:
                seen.warned = stands
                found.append((sheet, stands))
        return found

    @property
    def wake_at(self) -> float | None:
        """When the next warning is due, if the light stays as it is."""
        if not self.lit or self._at is None:
            return None
        times = []
        for sheet, seen in self._seen.items():
            allowed = self.allowed(sheet) if seen.out else None
            if allowed is not None and allowed > 0:
                for share, stands in ((NEAR, "near"), (1.0, "over")):
                    if _RANK[stands] > _RANK[seen.warned]:
                        times.append(self._at + max(0.0, share * allowed - seen.seconds))
                        break
        return min(times, default=None)


_RANK = {"": 0, "near": 1, "over": 2, "none": 2}
