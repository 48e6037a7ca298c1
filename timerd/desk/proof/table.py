"""What was done to each area: its density and local contrast in the straight print and in the worked one, and what
dodges, burns and flash did to them, in the order in which they are taken here."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from timerd.desk.proof.cards import Field
from timerd.desk.proof.ground import GridLight, GridValues, Ground
from timerd.desk.proof.lights import StepLit
from timerd.desk.proof.negative import Negative
from timerd.desk.proof.tones import contrasts, densities
from timerd.printing.deviation import Pair, deviations
from timerd.printing.paper import Curve
from timerd.sheet.map import MapArea

_ENOUGH = 500_000
"""A mean over so many pixels is as good as one over all: a larger picture is looked at in every k-th row and column."""

_ENOUGH_TO_DIFFER = 20_000
"""How far off the paper's curve puts a mean is as well told by so many: some thirty curves are gone through."""

_STAGES: tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...] = (
    ("straight", (), ("base",)),
    ("dodges", ("base",), ("base",)),
    ("burns", ("base", "burn"), ("base", "burn")),
    ("flash", ("base", "burn"), ("base", "burn", "flash")),
)
"""What is added at each stage: the kinds of step whose cards are held, and those that give light."""


@dataclass(frozen=True, slots=True)
class AreaTones:
    """One area: mean density and mean local contrast (density per decade of image light), straight and worked.

    `dodges`, `burns` and `flash` are what each added to the density and to the contrast, one after the other. All are
    means over the area, its soft edges counted by how far they lie in it; None where no pixel does. `within` is one
    standard deviation of the worked print's two, as the paper's curve leaves them open; None where that is not known.
    """

    area: str
    straight: tuple[float, float] | None
    worked: tuple[float, float] | None
    dodges: tuple[float, float] | None
    burns: tuple[float, float] | None
    flash: tuple[float, float] | None
    within: tuple[float, float] | None = None


def area_tones(
    areas: Sequence[MapArea], ground: Ground, lit: Sequence[StepLit], reciprocity: float, negative: Negative,
    curve: Curve, pairs: Sequence[Pair] = (), lit_on: Callable[[Curve], Sequence[StepLit]] | None = None,
) -> tuple[AreaTones, ...]:  # fmt: skip
    """The table, a row an area. `pairs` are those of the curve's deviations, and `lit_on` tells what light falls where
    the curve is another one: that of a flash may be told by the curve. Unless said it is the same."""
    every = math.ceil(math.sqrt(negative.width * negative.height / _ENOUGH))
    values = negative.rows(0, negative.height, every)
    through = np.power(10.0, -negative.densities.astype(float))[values]
    lights = [ground.light(lit, reciprocity, cards, kinds) for _, cards, kinds in _STAGES]
    stages = [_tones(curve, light, through, negative, every) for light in lights]

    def worked(one: Curve) -> GridLight:
        return ground.light(lit_on(one), reciprocity, *_STAGES[-1][1:]) if lit_on is not None else lights[-1]

    open_ = _within(areas, ground, worked, negative, curve, pairs)
    found = []
    for area, within in zip(areas, open_, strict=True):
        weight = _picked(ground.area((area.name, area.mm)), negative, every)
        total = float(weight.sum())
        if total <= 0.0:
            found.append(AreaTones(area.words, None, None, None, None, None))
            continue
        means = [tuple(float((weight * tone).sum()) / total for tone in tones) for tones in stages]
        dodges, burns, flash = ((after[0] - before[0], after[1] - before[1]) for before, after in pairwise(means))
        first, last = means[0], means[-1]
        found.append(AreaTones(area.words, (first[0], first[1]), (last[0], last[1]), dodges, burns, flash, within))
    return tuple(found)


def _within(
    areas: Sequence[MapArea], ground: Ground, light: Callable[[Curve], GridLight], negative: Negative, curve: Curve,
    pairs: Sequence[Pair],
) -> list[tuple[float, float] | None]:  # fmt: skip
    """For each area how far off its mean density and contrast may be in the light that falls on such a curve."""
    every = math.ceil(math.sqrt(negative.width * negative.height / _ENOUGH_TO_DIFFER))
    values = negative.rows(0, negative.height, every)
    through = np.power(10.0, -negative.densities.astype(float))[values]
    weights = [_picked(ground.area((area.name, area.mm)), negative, every) for area in areas]

    def means(one: Curve) -> list[float | None]:
        tones = _tones(one, light(one), through, negative, every)
        return [
            float((weight * tone).sum() / weight.sum()) if weight.sum() > 0.0 else None
            for weight in weights for tone in tones
        ]  # fmt: skip

    told = deviations(means, curve, pairs) if pairs else (None,) * (2 * len(areas))
    ends = zip(told[::2], told[1::2], strict=True)
    return [(first, second) if first is not None and second is not None else None for first, second in ends]


def _tones(
    curve: Curve, light: GridLight, through: NDArray[np.float64], negative: Negative, every: int
) -> tuple[Field, Field]:  # fmt: skip
    """Density and local contrast at the pixels looked at."""
    image, flash = (
        [_picked(field, negative, every) for field in fields] for fields in light.of_parts(curve)
    )  # fmt: skip
    own = [through * field for field in image]
    whole = [one + fog for one, fog in zip(own, flash, strict=True)]
    contrast = contrasts(curve, own, whole)
    return densities(curve, whole).astype(float), contrast.astype(float)


def _picked(field: Field, negative: Negative, every: int) -> Field:
    """A field of nodes at the pixels looked at."""
    return GridValues(field, negative.width, negative.height).grid(every)
