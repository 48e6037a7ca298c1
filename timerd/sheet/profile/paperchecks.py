"""What is wrong within a paper's file: numbers of its curve that are told twice, not at all, or cannot be."""

from __future__ import annotations

from timerd.sheet.profile.curvefile import MOST_DENSITY, CurveMix, PaperCurve
from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.given import Found, WrittenLines
from timerd.sheet.profile.paperfile import Paper

_SAME_RATIO = 0.01
_ORDER = ("dmin", "slope", "blue", "density", "green", "bend")


def paper_faults(paper: Paper, given: WrittenLines) -> Found:
    """All that is wrong with a paper's curve; what has no usable value is None and is passed over."""
    if paper.curve is not None:
        yield from _parts(paper.curve, ("curve",), given)
        for i, mix in enumerate(paper.curve.mixes or ()):
            if mix is not None:
                yield from _mix(mix, ("curve", "mixes", i))
        yield from _deviations(paper.curve, ("curve", "deviations"))


def _parts(curve: PaperCurve, here: Place, given: WrittenLines) -> Found:
    for i, part in enumerate(curve.parts or ()):
        place = (*here, "parts", i)
        for key in ("slope", "blue"):
            if given.written(place, key) and given.written(here, key):
                line = given.line_of((*here, key))
                yield (*place, key), f"is told for the whole curve too, on line {line}: leave one out"
            elif given.lacks(place, key) and given.lacks(here, key):
                yield place, f"needs '{key}', here or for the whole curve"
        if part is not None and part.green == 0 and 0 in (part.blue, curve.blue):
            yield place, "answers no light: green and blue are both 0"
    densities = [part.density if part is not None else None for part in curve.parts or ()]
    known = [density for density in [curve.dmin, *densities] if density is not None]
    if len(known) == len(densities) + 1 and sum(known) > MOST_DENSITY:
        yield (*here, "parts"), f"come to density {sum(known):.2f} with dmin: no paper has more than {MOST_DENSITY:g}"


def _deviations(curve: PaperCurve, here: Place) -> Found:
    if not curve.parts:
        return
    wanted = sum(curve.counts)
    for i, changes in enumerate(curve.deviations or ()):
        if changes is not None and len(changes) != wanted:
            told = ", ".join(f"{n} of {key}" for n, key in zip(curve.counts, _ORDER, strict=True))
            yield (*here, i), f"has {len(changes)} numbers, {wanted} are wanted: {told}"


def _mix(mix: CurveMix, here: Place) -> Found:
    ends = []
    for key in ("green", "blue"):
        pair = getattr(mix, key)
        if pair is None or len(pair) != 2 or None in pair:
            return
        if pair[0] > pair[1]:
            yield (*here, key), f"must be the least exposure, then the most; found {pair[0]:g}, {pair[1]:g}"
            return
        ends.append(pair)
    green, blue = ends
    if green[1] == 0 and blue[1] == 0:
        yield here, "has no exposure in either light"
    elif abs(green[0] * blue[1] - green[1] * blue[0]) > _SAME_RATIO * green[1] * blue[1]:
        yield here, "least and most are not in one ratio of green to blue: write each mix by itself"
