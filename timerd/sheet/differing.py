"""What differs between two plans, or between what two sheets were given: in stops, step by step and area by area.

Doses add up as doses. A burn differs by the stops that it is counted in, over its own base; a base, a flash, and a
burn that is counted over no base, by their doses. On a paper with a reciprocity p, doses in the ratio r are p * log2(r)
stops apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from timerd.printing.paper import iso_range
from timerd.sheet.given import paper_dose
from timerd.sheet.plan.value import LIGHTS, Cue, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.words import area_words, step_words

IMAGE = ("base", "burn")
"""Kinds of step whose light makes the image."""
COLOURS = ("green", "blue")


class Amount(NamedTuple):
    """How much light: the dose in seconds of full light, as at the print's aperture, None where none is planned (free);
    `stops` over the base, or those of a card, where it is counted so."""

    dose: float | None
    stops: float | None = None


class StepApart(NamedTuple):
    """One step, or one card of it, in both. `a` or `b` is None where it is not in there, `stops` where nothing can be
    said: one side has none, or no planned dose. `card` for what is held back in the step before."""

    name: str
    words: str
    a: Amount | None
    b: Amount | None
    stops: float | None
    card: bool = False


class AreaApart(NamedTuple):
    """All that an area gets in one light for its image, as doses; `area` None for the rest of the image."""

    area: str | None
    light: str
    a: float | None
    b: float | None
    stops: float | None


def stops_apart(a: float | None, b: float | None, reciprocity: float = 1.0) -> float | None:
    """By how many stops dose `b` is more than `a`: p * log2(b / a); None where either is not known, or is nothing.

    >>> stops_apart(8.0, 16.0), stops_apart(8.0, 4.0, 0.9), stops_apart(8.0, 0.0)
    (1.0, -0.9, None)
    """
    return math.log2(b / a) * reciprocity if a and b else None


def reciprocity_of(a: Plan, b: Plan) -> float:
    """The exponent that counts for both: their paper's, or 1 where the two differ."""
    return a.reciprocity if a.reciprocity == b.reciprocity else 1.0


def steps_apart(a: Plan, b: Plan) -> list[StepApart]:
    """Every step that gives light, and every card of it, in the order of `a`, then what is in `b` alone.

    Steps go by their names (`burn/haze/green`), cards by their areas within a step.
    """
    p = reciprocity_of(a, b)
    mine, theirs = _lights(a), _lights(b)
    rows = []
    for name in dict.fromkeys((*mine, *theirs)):
        one, other = mine.get(name), theirs.get(name)
        rows.append(_step_apart(name, one, other, p))
        rows += _cards_apart(name, one, other)
    return rows


def areas_apart(a: Plan, b: Plan) -> list[AreaApart]:
    """Every area that either names, in every light of the image; the rest of the image first."""
    p = reciprocity_of(a, b)
    lights = dict.fromkeys(step.light for plan in (a, b) for step in plan.steps if step.kind in IMAGE)
    areas = dict.fromkeys(area for plan in (a, b) for area in areas_of(plan))
    rows = []
    for area in (None, *areas):
        for light in lights:
            doses = dose_at(a, area, light or ""), dose_at(b, area, light or "")
            if doses != (0.0, 0.0):
                rows.append(AreaApart(area, light or "", *doses, stops_apart(*doses, p)))
    return rows


def areas_of(plan: Plan) -> list[str]:
    """The areas that are burned, held back or left, as `area_words` has them; not `all`."""
    found: dict[str, None] = {}
    for step in plan.steps:
        if step.kind in IMAGE:
            found |= dict.fromkeys(_areas(step))
    return [area for area in found if area != "all"]


def dose_at(plan: Plan, area: str | None, light: str) -> float | None:
    """What an area gets of a light's bases and burns, past the cards; None where a free step without a dose reaches it.

    It lies in every base, in the burns that name it, hold it back or leave it at less, and in every burn of `all`.
    """
    total = 0.0
    for step in plan.steps:
        reaches = step.kind == "base" or step.area == "all" or (area is not None and area in _areas(step))
        if step.kind not in IMAGE or step.light != light or not reaches:
            continue
        if step.dose is None:
            return None
        held = sum(cue.seconds for cue in step.dodges if area_words(cue.area, cue.mm) in (area, "all"))
        total += paper_dose(step) * (1.0 - held / step.dose)
    return max(0.0, total)


def range_at(plan: Plan, area: str | None, bench: Bench, paper: Paper) -> float:
    """The paper's ISO range R in the mix of lights that an area gets; ValueError, with why, where none is known."""
    if paper.curve is None:
        raise ValueError(f"paper '{paper.paper}' has no curve")
    if paper.curve.unit == "lux seconds":
        raise ValueError(f"paper '{paper.paper}' was read in lux seconds; those of each light here are not known")
    doses = dict.fromkeys(COLOURS, 0.0)
    for light in dict.fromkeys(step.light for step in plan.steps if step.kind in IMAGE):
        known = bench.lights.get(light or "")
        dose = dose_at(plan, area, light or "")
        if known is None or known.colour not in doses:
            raise ValueError(f"light '{light}' is neither green nor blue on the bench '{bench.bench}'")
        if dose is None:
            raise ValueError(f"a free step in {light} has no planned dose")
        doses[known.colour] += dose
    return iso_range(paper.curve.curve, doses["green"], doses["blue"]).r


# -- one step ----------------------------------------------------------------------------------------------------


def _lights(plan: Plan) -> Mapping[str, Step]:
    return {step.name: step for step in plan.steps if step.kind in LIGHTS}


def _areas(step: Step) -> list[str]:
    own = [area_words(step.area, step.mm)] if step.kind == "burn" else []
    return own + [area_words(cue.area, cue.mm) for cue in step.dodges]


def _amount(step: Step | None) -> Amount | None:
    return None if step is None else Amount(None if step.dose is None else paper_dose(step), step.stops)


def _step_apart(name: str, one: Step | None, other: Step | None, reciprocity: float) -> StepApart:
    a, b = _amount(one), _amount(other)
    stops = _counted_apart(a, b)
    if stops is None and a is not None and b is not None:
        stops = stops_apart(a.dose, b.dose, reciprocity)
    step = one or other
    assert step is not None
    plain = step.model_copy(update={"stops": None, "stops_written": None})
    return StepApart(name, step_words(plain), a, b, stops)


def _counted_apart(a: Amount | None, b: Amount | None) -> float | None:
    """The difference of what both are counted in."""
    if a is None or b is None or a.stops is None or b.stops is None:
        return None
    return b.stops - a.stops


def _cards_apart(name: str, one: Step | None, other: Step | None) -> Iterable[StepApart]:
    if one is None or other is None:
        return
    mine, theirs = _cards(one), _cards(other)
    for key in dict.fromkeys((*mine, *theirs)):
        a, b = mine.get(key), theirs.get(key)
        yield StepApart(f"{name}/{key}", key, a, b, _counted_apart(a, b), card=True)


def _cards(step: Step) -> Mapping[str, Amount]:
    found: dict[str, Amount] = {}
    for cue in step.dodges:
        key = _card_words(cue)
        count = sum(other == key or other.startswith(f"{key}, ") for other in found)
        found[key if not count else f"{key}, {count + 1}"] = Amount(cue.seconds / step.scale, cue.stops)
    return found


def _card_words(cue: Cue) -> str:
    return f"{'leave' if cue.leave else 'dodge'} {area_words(cue.area, cue.mm)}"
