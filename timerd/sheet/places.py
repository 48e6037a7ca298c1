"""What reaches a place on the image, and how much of an area gets the same: by the outlines, not by names.

A place is told by the areas that lie over it, as `area_words` has them; `all` lies over every place. The outlines cut
the image into such places (`places`); an area is told by what the largest part of it gets (`parts`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from timerd.printing.outlines import pieces
from timerd.sheet.map import outline_of
from timerd.sheet.plan.prompts import NEGATIVE
from timerd.sheet.plan.value import LIGHTS, Sheet, Step
from timerd.sheet.words import area_words

ALL = "all"
IMAGE = ("base", "burn")
"""Kinds of step whose light makes the image."""
_WHOLE = 1 - 1e-6
_DIGITS = 9
"""Doses that are the same to so many digits are the same."""

Spot = tuple[str, float | None]
"""An area by its name and, for a strip along the edge, its width in mm."""
Inside = frozenset[str]
"""The areas that lie over a place."""
OUTSIDE: Inside = frozenset({ALL})
"""A place outside of all areas."""
Amounts = tuple[float | None, ...]


class Place(NamedTuple):
    """A part of the image: the areas that lie over all of it, and its share of the image, over 0."""

    inside: Inside
    share: float


class AreaPart(NamedTuple):
    """What a part of an area gets, how much of the area that is (over 0, 1 for all), and under what most of it lies."""

    amounts: Amounts
    reach: float
    inside: Inside


def places(sheet: Sheet | None, steps: Iterable[Step], others: Iterable[Step] = ()) -> tuple[Place, ...]:
    """The places into which all areas that some steps name cut the image, the largest first; and those that `others`
    name, steps of another print, as far as this sheet has them.

    None at all where it cannot be told: an outline is not known, or they cross too often. Without a sheet, as in a book
    of the first versions, one area by itself is still known: nothing else lies over it.
    """
    more = {area: spot for area, spot in named(others).items() if sheet is None or outline_of(sheet, *spot) is not None}
    spots = named(steps) | more
    spots.pop(ALL, None)
    names = (ALL, *spots)
    if sheet is None:
        return tuple(Place(OUTSIDE | {*names[:k]}, 0.5) for k in (1, 2)) if len(names) < 3 else ()
    outlines = [outline_of(sheet, *spot) for spot in ((ALL, None), *spots.values())]
    if None in outlines:
        return ()
    try:
        found = pieces(tuple(outline.rings for outline in outlines if outline is not None))
    except ValueError:
        return ()
    whole = sum(size for _, size in found)
    return tuple(Place(OUTSIDE.union(names[k] for k in over), size / whole) for over, size in found)


def parts(area: str, where: Sequence[Place], amounts: Callable[[Inside], Amounts]) -> list[AreaPart]:
    """What the parts of an area get, of what `amounts` says each place does, the largest part first.

    What gets the same is one part. None at all where no place lies in the area.
    """
    found: dict[Amounts, list[Place]] = {}
    for place in where:
        if area in place.inside:
            alike = tuple(None if one is None else float(f"{one:.{_DIGITS}g}") for one in amounts(place.inside))
            found.setdefault(alike, []).append(place)
    whole = sum(place.share for of_it in found.values() for place in of_it)
    told = []
    for of_it in found.values():
        inside = of_it[0].inside  # they come the largest first
        told.append(AreaPart(amounts(inside), sum(place.share for place in of_it) / whole, inside))
    told.sort(key=lambda part: -part.reach)
    return [told[0]._replace(reach=1.0)] if told and told[0].reach > _WHOLE else told


def named(steps: Iterable[Step]) -> dict[str, Spot]:
    """The areas that are burned, flashed, held back or left, as `area_words` has them, in the order of the steps."""
    return {area_words(*spot): spot for step in steps for spot in _spots(step)}


def reaches(step: Step, inside: Inside) -> bool:
    """Whether a step lights this place, cards aside; a base lights all."""
    return step.kind == "base" or step.area is None or area_words(step.area, step.mm) in {ALL, *inside}


def passed(step: Step, inside: Inside, dose: float) -> float:
    """How much of a step's dose comes to a place past the cards, as at the print's aperture without a density."""
    return (dose - _covered(step, inside, dose)) / step.scale if reaches(step, inside) else 0.0


def held_back(step: Step, inside: Inside, dose: float) -> float:
    """How much of a step's dose cards hold back from a place that it lights; counted as in `passed`."""
    return _covered(step, inside, dose) / step.scale if reaches(step, inside) else 0.0


def _covered(step: Step, inside: Inside, dose: float) -> float:
    """For how much of the dose any card is over the place: where two are in at once light passes neither."""
    held, until = 0.0, 0.0
    for cue in sorted(step.dodges, key=lambda cue: cue.start):
        if area_words(cue.area, cue.mm) in inside:
            held += max(0.0, min(cue.stop, dose) - max(cue.start, until))
            until = max(until, min(cue.stop, dose))
    return held


def negatives(steps: Iterable[Step]) -> list[tuple[str | None, tuple[Step, ...]]]:
    """The steps that make an image, by the negative it is of; where there is but one it has no name here."""
    found: dict[str, list[Step]] = {}
    current = "the print's own negative"
    for step in steps:
        known = dict(step.set_up).get(NEGATIVE)
        if known is not None:
            current = known
        elif step.kind == "negative":
            current = f"negative {len(found) + 1}"
        if step.kind in IMAGE:
            found.setdefault(current, []).append(step)
    return [(name if len(found) > 1 else None, tuple(lit)) for name, lit in found.items()]


def _spots(step: Step) -> list[Spot]:
    if step.kind not in LIGHTS:
        return []
    own = [(step.area or ALL, step.mm)] if step.kind != "base" else []
    return own + [(cue.area, cue.mm) for cue in step.dodges]
