"""What a report is about: a print as it is planned, or a sheet with what it was given."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from timerd.sheet.plan.summing import totals
from timerd.sheet.plan.value import Cue, Plan, Step, Total
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.record import Record, SheetProgress


@dataclass(frozen=True)
class Subject:
    """A plan and, of a sheet, its progress, its records in order and when it was armed, by the wall clock.

    Paper and bench are None where their files are not found: a plan has only their names.
    """

    plan: Plan
    sheet: SheetProgress | None = None
    records: tuple[Record, ...] = ()
    armed: str | None = None
    paper: Paper | None = None
    bench: Bench | None = None

    @cached_property
    def steps(self) -> tuple[Step, ...]:
        """The plan's steps; of a sheet with the doses that it was given in place of the planned ones."""
        return self.plan.steps if self.sheet is None else tuple(given_steps(self.plan, self.sheet))

    @cached_property
    def totals(self) -> dict[tuple[str, str], Total]:
        """What each area got in all of each light, by (area, light); a light whose base was not given has no rows."""
        rows: list[Total] = []
        for light in dict.fromkeys(step.light for step in self.steps if step.kind == "base"):
            try:
                rows += totals([step for step in self.steps if step.light == light], self.plan.reciprocity)
            except ValueError:
                continue
        return {(row.area, row.light): row for row in rows}


def given_steps(plan: Plan, sheet: SheetProgress) -> Iterator[Step]:
    """The steps of a plan as a sheet was given them: doses as recorded, dodges so far as the dose went.

    Where a dose lies between two, it is the greater: paper can be given more, never less.
    """
    for step in plan.steps:
        progress = sheet.steps.get(step.n)
        if progress is None or not progress.light:
            yield step
            continue
        share = progress.given / step.dose if step.dose else 1.0
        yield step.model_copy(
            update={
                "dose": progress.given,
                "dodges": tuple(_held(cue, progress.given) for cue in step.dodges),
                "threshold": None if step.threshold is None else step.threshold * share,
            }
        )


def _held(cue: Cue, given: float) -> Cue:
    return cue.model_copy(update={"start": min(cue.start, given), "stop": min(cue.stop, given)})
