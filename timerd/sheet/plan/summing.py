"""What all steps come to: stops per area and light, time under the lamp, what the printer should mind."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache

from timerd.printing.exposure import stops_apart
from timerd.printing.stops import total_stops
from timerd.sheet.places import (
    ALL,
    IMAGE,
    OUTSIDE,
    Amounts,
    AreaPart,
    Inside,
    Place,
    held_back,
    named,
    negatives,
    parts,
    places,
    reaches,
)  # fmt: skip
from timerd.sheet.plan.hands import too_short
from timerd.sheet.plan.value import Sheet, Step, Total
from timerd.sheet.words import area_words, part_words, seconds_words

_NOTHING = 1e-9
"""Of the base: what is left by rounding where cards hold all of it back."""
_MOST = 0.5
"""An area that a light does not name is told where at least so much of it gets more or less than the base."""
_SEEN = 0.005
"""A part of an area smaller than this is not told: outlines are drawn by hand."""


def lamp_seconds(steps: Sequence[Step]) -> float:
    """How long lamps burn in all when nobody pauses; steps without a planned dose are not in it."""
    return sum(sum(burst_seconds(step)) for step in steps)


def burst_seconds(step: Step) -> list[float]:
    """How long each of a step's bursts is, from cold."""
    return [step.response.seconds(stop - start) for start, stop in zip((0.0, *step.parts), step.parts, strict=False)]


def totals(steps: Sequence[Step], reciprocity: float, sheet: Sheet | None) -> tuple[Total, ...]:
    """For each negative, area and light with a base: stops over that base in all, as most of the area gets them.

    The outlines say what reaches an area, and how much of it. Doses add up as doses, as at the print's aperture. There
    is no row where it cannot be told: most of the area gets a free step's light, or its outline is not known. Nor is
    there one for an area that no step in this light names, unless at least half of it gets the same, and not the base
    alone. An area that gets nothing at all has a row without stops.
    """
    rows = []
    where = places(sheet, steps)
    for negative, _, of_light in _lights(steps):
        own, got = named(of_light), _got(of_light)
        for area in own | named(steps):
            row = _total(parts(area, where, got), area, of_light, reciprocity)
            if row is not None and (row.area in own or (row.reach >= _MOST and (row.added or row.held_back))):
                rows.append(row.model_copy(update={"negative": negative}))
    return tuple(rows)


def left_bare(steps: Sequence[Step], sheet: Sheet | None) -> tuple[str, ...]:
    """Where cards of several areas together hold back all light of a base: a card by itself is meant to, if it does."""
    said = []
    where = places(sheet, steps)
    for _, light, of_light in _lights(steps):
        got = _got(of_light)

        def uncovered(inside: Inside, got: Callable[[Inside], Amounts] = got, lit: list[Step] = of_light) -> Amounts:
            return (1.0,) if _meant(lit, inside) else got(inside)

        for area in named(of_light):
            found = parts(area, where, uncovered)
            bare = sum(part.reach for part in found if part.amounts[0] is not None and not part.amounts[0] > 0.0)
            if bare >= _SEEN:
                said.append(f"{area}, {light}: cards together hold back all of it{part_words(bare)}")
    return tuple(said)


def _meant(steps: Sequence[Step], inside: Inside) -> bool:
    """Whether a place is covered throughout each step that would light it."""
    there = [step for step in steps if reaches(step, inside)]
    return all(any(cue.stops is None and area_words(cue.area, cue.mm) in inside for cue in s.dodges) for s in there)


def _lights(steps: Sequence[Step]) -> Iterator[tuple[str | None, str, list[Step]]]:
    """Each negative and light that has a base, with the steps in that light."""
    for negative, lit in negatives(steps):
        for light in dict.fromkeys(step.light for step in lit if step.kind == "base"):
            yield negative, light or "", [step for step in lit if step.light == light]


def _got(steps: Sequence[Step]) -> Callable[[Inside], Amounts]:
    """The dose that a place gets of the steps in one light; None where a step there has no planned dose."""

    @cache
    def amounts(inside: Inside) -> Amounts:
        if any(step.dose is None and reaches(step, inside) for step in steps):
            return (None,)
        base, added, held = _doses(steps, inside)
        left = base + added - held
        return (left if left > base * _NOTHING else 0.0,)

    return amounts


def _doses(steps: Sequence[Step], inside: Inside) -> tuple[float, float, float]:
    """What a place gets of the bases, what burns add, and what cards hold back of both."""
    there = [step for step in steps if reaches(step, inside)]
    base, added = (sum((step.dose or 0.0) / step.scale for step in there if step.kind == kind) for kind in IMAGE)
    return base, added, sum(held_back(step, inside, step.dose or 0.0) for step in there)


def _total(found: Sequence[AreaPart], area: str, steps: Sequence[Step], reciprocity: float) -> Total | None:
    """What most of an area gets of the steps in one light, from its parts; None where that cannot be told."""
    found = [part for part in found if part is found[0] or part.reach >= _SEEN]
    if not found or found[0].amounts[0] is None:
        return None
    base, added, held = _doses(steps, found[0].inside)
    stops = [stops_apart(base, part.amounts[0], reciprocity) for part in found]
    rest = [one for one in stops[1:] if one is not None]
    return Total(
        area=area, light=steps[0].light or "",
        stops=total_stops(base, added, held) * reciprocity if found[0].amounts[0] else None,
        base=base, added=added, held_back=held, reach=found[0].reach,
        rest=(min(rest), max(rest)) if rest and len(rest) == len(stops) - 1 else None,
    )  # fmt: skip


def cautions(
    steps: Sequence[Step], sheet: Sheet | None, aperture: float | None = None, reciprocity: float = 1.0,
    strip: bool = False,
) -> tuple[str, ...]:  # fmt: skip
    """What can be done, but not well, in the order of steps; the time under the lamp comes last.

    `aperture` is the print's own. A test strip is flashed over the threshold on purpose, to find it, and what its
    patches got is told for the aperture that it was made at.
    """
    said = list(too_short(steps, aperture, reciprocity, whole=not strip))
    if not strip:
        said += _over_threshold([step for step in steps if step.kind == "flash"], places(sheet, steps))
    free = ", steps without a planned dose not counted" if any(step.pedal == "free" for step in steps) else ""
    return (*said, f"time under the lamp: {seconds_words(lamp_seconds(steps))} in all{free}")


def _over_threshold(flashes: Sequence[Step], where: Sequence[Place]) -> list[str]:
    """Where flashes come to the threshold, alone or by lying over each other; by their names where no outline tells."""
    of_area = {area: sum(place.share for place in where if area in place.inside) for area in named(flashes)}
    over: dict[tuple[int, ...], float] = {}
    for place in where:
        lit = tuple(i for i, step in enumerate(flashes) if reaches(step, place.inside))
        over[lit] = over.get(lit, 0.0) + place.share
    together = [lit for lit, share in sorted(over.items()) if share >= _SEEN * min(of_area.values(), default=0.0)]
    if not where:
        insides = [OUTSIDE | {area} for area in named(flashes)]
        together = [tuple(i for i, step in enumerate(flashes) if reaches(step, inside)) for inside in insides]
    said = []
    for lit in together:
        share = sum(flashes[i].threshold or 0.0 for i in lit)
        if share >= 1 - 1e-9:
            areas = [area for area in named(flashes[i] for i in lit) if area != ALL] or [ALL]
            who = flashes[lit[0]].name if len(lit) == 1 else f"{' and '.join(areas)}, flashed {len(lit)} times"
            said.append(f"{who}: {share * 100:.0f} % of the threshold leaves a tone of its own: flash less")
    return said
