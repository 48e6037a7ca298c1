"""What differs between two plans, or between what two sheets were given: in stops, step by step and area by area.

Doses add up as doses. A burn differs by the stops that it is counted in, over its own base; a base, a flash, and a
burn that is counted over no base, by their doses. On a paper with a reciprocity p, doses in the ratio r are p * log2(r)
stops apart.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import NamedTuple

from timerd.printing.exposure import exposure, stops_apart
from timerd.printing.paper import iso_range
from timerd.sheet.given import paper_dose
from timerd.sheet.places import (
    ALL,
    IMAGE,
    OUTSIDE,
    Amounts,
    AreaPart,
    Inside,
    Place,
    named,
    negatives,
    parts,
    passed,
    places,
    reaches,
)  # fmt: skip
from timerd.sheet.plan.value import LIGHTS, Cue, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.words import area_words, step_words

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
    """All that most of an area gets in one light for its image, as doses; `area` None for the rest of the image.

    `a` or `b` is None where a free step without a dose reaches it. `reach` is how much of the area that is, over 0 to
    1; `negative` says of which one's image, where there are several.
    """

    area: str | None
    light: str
    a: float | None
    b: float | None
    stops: float | None
    reach: float = 1.0
    negative: str | None = None


class RangeAt(NamedTuple):
    """The paper's ISO range R in the mix of lights that most of an area gets, and how much of the area that is."""

    r: float
    reach: float


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
    """Every area that either names, in every light of the image; the rest of the image first. The outlines say what
    reaches an area; where they cannot tell it, it has no row. Several negatives go by their order, each by itself."""
    p = reciprocity_of(a, b)
    areas = dict.fromkeys((*areas_of(a), *areas_of(b)))
    in_a, in_b = places(a.sheet, a.steps, b.steps), places(b.sheet, b.steps, a.steps)
    both = in_a if _outlines(a) == _outlines(b) else None
    rows = []
    nothing: tuple[str | None, tuple[Step, ...]] = (None, ())
    for (name, mine), (other, theirs) in zip_longest(negatives(a.steps), negatives(b.steps), fillvalue=nothing):
        for area in (None, *areas):
            for light in dict.fromkeys(step.light for step in (*mine, *theirs)):
                one, two = ([step for step in of if step.light == light] for of in (mine, theirs))
                found = _at_both(area, both, (one, in_a), (two, in_b))
                if found is not None and found.amounts != (0.0, 0.0):
                    doses = found.amounts[0], found.amounts[1]
                    rows.append(
                        AreaApart(area, light or "", *doses, stops_apart(*doses, p), found.reach, name or other)
                    )
    return rows


def areas_of(plan: Plan) -> list[str]:
    """The areas that are burned, held back or left, as `area_words` has them; not `all`."""
    return [area for area in named(step for step in plan.steps if step.kind in IMAGE) if area != ALL]


def range_at(plan: Plan, area: str | None, bench: Bench, paper: Paper) -> RangeAt:
    """R in the mix that most of an area gets, None for the rest of the image; ValueError, with why, where it is not
    known. On a paper with a reciprocity each light counts by its exposure."""
    if paper.curve is None:
        raise ValueError(f"paper '{paper.paper}' has no curve")
    if paper.curve.unit == "lux seconds":
        raise ValueError(f"paper '{paper.paper}' was read in lux seconds; those of each light here are not known")
    images = negatives(plan.steps)
    if len(images) > 1:
        raise ValueError("the print is of more negatives than one, and their light adds up")
    steps = images[0][1] if images else ()
    of_colour: dict[str, list[Step]] = {colour: [] for colour in COLOURS}
    for step in steps:
        known = bench.lights.get(step.light or "")
        if known is None or known.colour not in of_colour:
            raise ValueError(f"light '{step.light}' is neither green nor blue on the bench '{bench.bench}'")
        of_colour[known.colour].append(step)

    def amounts(inside: Inside) -> Amounts:
        return tuple(_dose(of_colour[colour], inside) for colour in COLOURS)

    found = AreaPart(amounts(OUTSIDE), 1.0, OUTSIDE)
    if area is not None:
        told = parts(area, places(plan.sheet, plan.steps), amounts)
        if not told:
            raise ValueError("the outlines do not tell what reaches the area")
        found = told[0]
    exposures = []
    for colour, dose in zip(COLOURS, found.amounts, strict=True):
        if dose is None:
            raise ValueError(f"a free step in {colour} has no planned dose")
        base = sum(paper_dose(step) for step in of_colour[colour] if step.kind == "base")
        exposures.append(exposure(dose, base, plan.reciprocity))
    return RangeAt(iso_range(paper.curve.curve, *exposures).r, found.reach)


# -- one area ----------------------------------------------------------------------------------------------------


def _dose(steps: Iterable[Step], inside: Inside) -> float | None:
    """What comes to a place of some steps past the cards; None where a free step without a dose reaches it."""
    there = [step for step in steps if reaches(step, inside)]
    if any(step.dose is None for step in there):
        return None
    return sum(passed(step, inside, step.dose or 0.0) for step in there)


Side = tuple[Sequence[Step], Sequence[Place]]
"""What lights an area, and the places of the image that it falls on."""


def _at_both(area: str | None, where: Sequence[Place] | None, a: Side, b: Side) -> AreaPart | None:
    """What the same part of an area gets in both, as much of it as gets the same; None where it cannot be told.

    Where the outlines are not the same in both (`where` is None) it is most of the area in either.
    """

    def both(inside: Inside) -> Amounts:
        return _dose(a[0], inside), _dose(b[0], inside)

    if area is None:
        return AreaPart(both(OUTSIDE), 1.0, OUTSIDE)
    if where is not None:
        told = parts(area, where, both)
        return told[0] if told else None
    one, two = (_most(area, side) for side in (a, b))
    if one is None or two is None:
        return None
    return AreaPart((*one.amounts, *two.amounts), min(one.reach, two.reach), one.inside)


def _most(area: str, side: Side) -> AreaPart | None:
    """What most of an area gets in one of them; None where that one has no such area."""
    steps, where = side

    def dose(inside: Inside) -> Amounts:
        return (_dose(steps, inside),)

    told = parts(area, where, dose)
    return told[0] if told else None


def _outlines(plan: Plan) -> object:
    return None if plan.sheet is None else (plan.sheet.image, plan.sheet.areas)


# -- one step ----------------------------------------------------------------------------------------------------


def _lights(plan: Plan) -> Mapping[str, Step]:
    return {step.name: step for step in plan.steps if step.kind in LIGHTS}


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
        covered = a is not None and b is not None and a.stops is None and b.stops is None
        yield StepApart(f"{name}/{key}", key, a, b, 0.0 if covered else _counted_apart(a, b), card=True)


def _cards(step: Step) -> Mapping[str, Amount]:
    found: dict[str, Amount] = {}
    times: Counter[str] = Counter()
    for cue in step.dodges:
        key = _card_words(cue)
        times[key] += 1
        found[key if times[key] == 1 else f"{key}, {times[key]}"] = Amount(cue.seconds / step.scale, cue.stops)
    return found


def _card_words(cue: Cue) -> str:
    return f"{'leave' if cue.leave else 'dodge'} {area_words(cue.area, cue.mm)}"
