"""Where one sheet stands, step by step: what was planned, what it got and who ended it, and where the sheet is.

Doses are seconds of full light; times are the keeper's monotonic seconds.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, NamedTuple

SET_UPS = ("filter", "aperture", "density", "carry")
"""Prompts that are no more than a change of the bench."""
NEAR_ENOUGH = 1 - 2 ** (-1 / 1000)
"""Owed under 1/1000 stop of a step counts as given: this share of its dose."""


class Burning(NamedTuple):
    """A burst that the records saw begin and not end: when it was lit, for how long it was asked for, and for how long
    it is known to have burned."""

    burst: int
    step: int
    lit: float
    seconds: float
    so_far: float


@dataclass(slots=True)
class StepProgress:
    """What one step of a sheet was to get and has got. `planned` is None where no dose is planned (free)."""

    n: int
    kind: str
    planned: float | None
    light: bool
    given: float = 0.0
    given_lo: float = 0.0
    bursts: list[tuple[float, float]] = field(default_factory=list)
    ended_by: str | None = None
    under_way: float = 0.0

    @property
    def is_work(self) -> bool:
        """Whether something is done to the paper in it."""
        return self.light or self.kind == "safelight"

    @property
    def most(self) -> float:
        """What may have been given at the most: a burst that has begun counts whole until its end is known."""
        return self.given + self.under_way

    @property
    def owed(self) -> float:
        """Dose still to give, counted from the most that may have been given; 0 once ended or near enough."""
        if self.planned is None or self.ended_by in ("dose", "printer", "skipped"):
            return 0.0
        owed = self.planned - self.most
        return owed if owed > self.planned * NEAR_ENOUGH else 0.0

    def owed_until(self, part: float) -> float:
        """Dose still to give until `part` of the step's dose is reached; 0 when near enough."""
        owed = part - self.most
        return owed if self.planned is not None and owed > self.planned * NEAR_ENOUGH else 0.0

    @property
    def owed_slack(self) -> float:
        """How near to a dose counts as given."""
        return (self.planned or 0.0) * NEAR_ENOUGH

    @property
    def exact(self) -> bool:
        """Whether the dose given is known, or only lies between `given_lo` and `given`."""
        return math.isclose(self.most, self.given_lo, rel_tol=1e-9, abs_tol=1e-9)


@dataclass(slots=True)
class SheetProgress:
    """Where one sheet stands. `out` from `sheet out` until its development has ended (without named baths: until it is
    in the fixer), it is boxed or given up; `may_light` while a press may start a light, so that one may have begun of
    which nothing was written down.

    `sensitive` while white light would spoil it: from when it was armed or taken up, since the paper is in the hand
    from then on, until it has lain in its fixer for long enough, is boxed or given up.

    `boxed` says why the sheet is in its box, from when it was set aside until it is out again, and `boxed_at` since
    when. `set_for` is the step for which the bench was last set up, `furthest` the last that was ever reached.
    `flashed_at` is when it was last flashed, until an image is exposed. Both times are on the clock of all boots.
    `set_for` is -1 where nobody knows how the bench stands; `swung` is the filter of a paper-safe light that may be
    under the lens.
    `at_trays` once it is done and in the printer's hands for the baths, or in its box until all are developed; `bath`
    is the one it went into last there, not `confirmed` where only the clock said so, after nobody was there to tell.
    `in_fixer` once a press has said so.
    """

    sheet: int
    steps: dict[int, StepProgress]
    at_hand: int = 1
    outcome: str = "unfinished"
    out: bool = False
    sensitive: bool = False
    at_trays: bool = False
    bath: str | None = None
    confirmed: bool = True
    in_fixer: bool = False
    given_up: bool = False
    burning: Burning | None = None
    may_light: bool = False
    boxed: str | None = None
    boxed_at: float | None = None
    set_for: int = 0
    furthest: int = 0
    flashed_at: float | None = None
    swung: str | None = None

    @property
    def resumable(self) -> bool:
        """Whether the sheet is to be taken up before any other."""
        return self.outcome in ("unfinished", "abandoned", "fault") and not self.given_up

    def next_after(self, n: int) -> int:
        """The step that comes after this one: in the plan's order, but that what was left out, and is still owed, comes
        before the end. Prompts that have been passed by are not asked again."""
        last = max(self.steps)
        for k in range(n + 1, last + 1):
            step = self.steps[k]
            if step.kind == "develop":
                break
            if step.ended_by is None and (k > self.furthest or step.is_work):
                return k
        left_out = (k for k, step in self.steps.items() if step.is_work and step.ended_by is None and k != n)
        return next(left_out, last if self.steps[last].kind == "develop" else last + 1)

    @property
    def owed(self) -> float:
        """Dose still to give to the step at hand."""
        step = self.steps.get(self.at_hand)
        return step.owed if step is not None else 0.0

    def as_json(self) -> dict[str, Any]:
        """One element of `sheets`: every step with what was planned and given, its bursts and who ended it."""
        return {
            "sheet": self.sheet,
            "outcome": self.outcome,
            "steps": [_step_json(step) for step in self.steps.values()],
        }


def _step_json(step: StepProgress) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "n": step.n,
        "kind": step.kind,
        "planned": None if step.planned is None else round(step.planned, 9),
        "given": round(step.most, 9),
    }
    if not step.exact:
        facts |= {"given_lo": round(step.given_lo, 9), "given_hi": round(step.most, 9)}
    bursts = [[round(on, 6), round(off, 6)] for on, off in step.bursts]
    return facts | {"bursts": bursts, "ended_by": step.ended_by}
