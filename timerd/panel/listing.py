"""The steps of a sheet as a list in words, a few at a time: what is over, what is at hand, what comes next."""

from __future__ import annotations

from collections.abc import Sequence

from timerd.panel.burst import owed_seconds
from timerd.panel.shown import ROWS, StepRow
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.status import StepStands
from timerd.sheet.words import area_words, step_words, to_a_tenth

_BESIDE_TOLD = 3


def listed(plan: Plan, steps: Sequence[StepStands], here: int | None) -> tuple[StepRow, ...]:
    """The rows round the step at hand: one before it where there is one, and what follows; at the end, and where
    every step is over (`here` is None), the last ones.

    `steps` are the daemon's, with what each was given and is owed.
    """
    rows = [_row(step, told, step.n == here) for step, told in zip(plan.steps, steps, strict=True)]
    return _window(rows, len(rows) if here is None else here)


def planned(plan: Plan) -> tuple[StepRow, ...]:
    """The first rows of a plan of which nothing is begun."""
    return _window([StepRow(step.n, False, False, _words(step), _planned(step)) for step in plan.steps], None)


def _window(rows: list[StepRow], here: int | None) -> tuple[StepRow, ...]:
    first = max(0, (here or 1) - 2)
    first = min(first, max(0, len(rows) - ROWS))
    return tuple(rows[first : first + ROWS])


def beside_told(rows: tuple[StepRow, ...]) -> tuple[StepRow, ...]:
    """As many of the rows as there is room for beside what was told at the trays: the one at hand among them."""
    here = next((i for i, row in enumerate(rows) if row.here), 0)
    first = max(0, min(here - 1, len(rows) - _BESIDE_TOLD))
    return rows[first : first + _BESIDE_TOLD]


def _words(step: Step) -> str:
    """A step in few words: without its stops, which stand in the heading when it is at hand."""
    if step.kind not in LIGHTS:
        return step_words(step)
    light = "" if step.light == step.kind else f", {step.light}"
    return f"{step.kind} {area_words(step.area, step.mm)}{light}"


def _row(step: Step, told: StepStands, here: bool) -> StepRow:
    ended = told.ended_by
    over = ended in ("printer", "dose", "skipped")
    return StepRow(step.n, over, here, _words(step), _amount(step, told, over))


def _amount(step: Step, told: StepStands, over: bool) -> str:
    """What a step was given and, where something is, what it is owed, in seconds that its light burns for it."""
    if step.kind not in LIGHTS:
        return ""
    given = told.given
    if told.ended_by == "skipped":
        return "skipped"
    if step.dose is None:
        return _seconds(given) if given else "free"
    if over:
        short = given < step.dose * 0.999
        return f"{_seconds(given)} of {_seconds(step.seconds)}" if short else _seconds(step.seconds)
    owed = None if told.owed is None else owed_seconds(step, given)
    return f"owed {_seconds(owed)}" if given else _planned(step)


def _seconds(seconds: float | None) -> str:
    return "" if seconds is None else to_a_tenth(seconds)


def _planned(step: Step) -> str:
    return "free" if step.kind in LIGHTS and step.dose is None else _seconds(step.seconds)
