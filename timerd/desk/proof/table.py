"""What was done to each area: its density and local contrast in the straight print and in the worked one, and what
dodges, burns and flash did to them, in the order in which they are taken here."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from timerd.desk.proof.cards import Field
from timerd.desk.proof.ground import Ground, Light, Spread
from timerd.desk.proof.lights import Lit
from timerd.desk.proof.negative import Negative
from timerd.desk.proof.tones import contrasts, densities
from timerd.printing.paper import Curve
from timerd.sheet.map import MapArea

_ENOUGH = 500_000
"""A mean over so many pixels is as good as one over all: a larger picture is looked at in every k-th row and column."""

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
    means over the area, its soft edges counted by how far they lie in it; None where no pixel does.
    """

    area: str
    straight: tuple[float, float] | None
    worked: tuple[float, float] | None
    dodges: tuple[float, float] | None
    burns: tuple[float, float] | None
    flash: tuple[float, float] | None


def area_tones(
    areas: Sequence[MapArea], ground: Ground, lit: Sequence[Lit], reciprocity: float, negative: Negative, curve: Curve
) -> tuple[AreaTones, ...]:  # fmt: skip
    """The table, a row an area."""
    every = math.ceil(math.sqrt(negative.width * negative.height / _ENOUGH))
    values = negative.rows(0, negative.height, every)
    through = np.power(10.0, -negative.densities.astype(float))[values]
    lights = [ground.light(lit, reciprocity, cards, kinds) for _, cards, kinds in _STAGES]
    stages = [_tones(curve, light, through, negative, every) for light in lights]
    found = []
    for area in areas:
        weight = _picked(ground.area((area.name, area.mm)), negative, every)
        total = float(weight.sum())
        if total <= 0.0:
            found.append(AreaTones(area.words, None, None, None, None, None))
            continue
        means = [tuple(float((weight * tone).sum()) / total for tone in tones) for tones in stages]
        steps = [(after[0] - before[0], after[1] - before[1]) for before, after in pairwise(means)]
        first, last = means[0], means[-1]
        found.append(AreaTones(area.words, (first[0], first[1]), (last[0], last[1]), *steps))
    return tuple(found)


def _tones(
    curve: Curve, light: Light, through: NDArray[np.float64], negative: Negative, every: int
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
    return Spread(field, negative.width, negative.height).grid(every)
