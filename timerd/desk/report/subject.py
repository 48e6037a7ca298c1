"""What a report is about: a print as it is planned, or a sheet with what it was given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from timerd.sheet.history import Dated, History, StepHistory
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper

if TYPE_CHECKING:  # it needs numpy, a report does not
    from timerd.desk.proof.making import Proof


@dataclass(frozen=True)
class Subject:
    """A plan and, of a sheet, its history and the records behind it, in order.

    `armed` and `noted` are when the sheet was armed and when each of its notes was written, as the reader's clock has
    it. Paper and bench are None where their files are not found: a plan has only their names. `no_proof` says why there
    is no proof where one was wanted.
    """

    plan: Plan
    history: History | None = None
    dated: Sequence[Dated] = ()
    armed: str | None = None
    noted: tuple[str, ...] = ()
    paper: Paper | None = None
    bench: Bench | None = None
    proof: Proof | None = None
    no_proof: str | None = None

    def of_step(self, step: Step) -> StepHistory | None:
        """How a step was given; None for a print."""
        found = self.history.steps if self.history is not None else ()
        return next((one for one in found if one.step.n == step.n), None)

    def dose(self, step: Step) -> float | None:
        """What a step gives, through its own lens and density: of a sheet what it was given, and else as planned.

        None where no dose is planned. Where a dose lies between two it is the greater.
        """
        given = self.of_step(step)
        return step.dose if given is None else given.given

    def threshold(self, step: Step) -> float | None:
        """Which share of the threshold a flash gives; None where it is not known."""
        dose = self.dose(step)
        if not dose:
            return 0.0
        return None if step.threshold is None or not step.dose else step.threshold * dose / step.dose
