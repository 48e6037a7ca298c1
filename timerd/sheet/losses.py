"""What a step that was not given its whole dose, or more, took from the tone of its area, or added to it, in stops."""

from __future__ import annotations

from collections.abc import Sequence

from timerd.printing.exposure import stops_apart
from timerd.sheet.places import ALL, OUTSIDE, Amounts, Inside, Place, negatives, parts, passed, places, reaches
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.progress import SheetProgress
from timerd.sheet.words import area_words


def tones_off(plan: Plan, sheet: SheetProgress) -> dict[int, float]:
    """By how many stops each base and burn put its area off, by the step's number: all else given as it was planned.

    Of a burn it is what most of its area gets of the light in all, of a base, or a burn of `all`, the image outside of
    all areas. A step is missing where nothing can be said: it is not over, plans no dose, or one that plans none lights
    the place too.
    """
    found: dict[int, float] = {}
    where = places(plan.sheet, plan.steps)
    for _, lit in negatives(plan.steps):
        for step in lit:
            progress = sheet.steps[step.n]
            if step.dose is None or (progress.most <= 0.0 and progress.ended_by is None):
                continue
            of_light = [other for other in lit if other.light == step.light]
            planned, without, given = _amounts(step, of_light, where, progress.most)
            after = None if without is None or given is None else without + given
            off = stops_apart(planned, after, plan.reciprocity)
            if off is not None:
                found[step.n] = off
    return found


def _amounts(step: Step, of_light: Sequence[Step], where: Sequence[Place], given: float) -> Amounts:
    """Where a step's light falls: all that is planned of it there, that without the step, and what the step gave."""

    def amounts(inside: Inside) -> Amounts:
        there = [other for other in of_light if reaches(other, inside)]
        if any(other.dose is None for other in there):
            return None, None, None
        doses = [(other.n, passed(other, inside, other.dose or 0.0)) for other in there]
        return (
            sum(dose for _, dose in doses), sum(dose for n, dose in doses if n != step.n), passed(step, inside, given)
        )  # fmt: skip

    area = area_words(step.area, step.mm)
    if step.kind == "base" or area == ALL:
        return amounts(OUTSIDE)
    found = parts(area, where, amounts)
    return found[0].amounts if found else (None, None, None)
