"""Invented papers that are no sum of logistic parts: five kinds of curve, each with its own arithmetic.

A paper's parts answer green and blue as they do everywhere: exposures of both lights add before the logarithm is taken.
Only what is made of that logarithm is another curve. Ranges are found by halving, not by the code that they check.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

Shape = Callable[[float], float]
"""From 0 to 1 over z, with a slope of 1/4 where it is steepest: as the logistic over its exponent."""

_MEASURED = (
    (-7.5, 0.0), (-6.0, 0.004), (-4.5, 0.015), (-3.0, 0.055), (-1.5, 0.19), (0.0, 0.5), (1.5, 0.78), (3.0, 0.92),
    (4.5, 0.975), (6.0, 0.994), (7.5, 1.0),
)  # fmt: skip


def _normal(z: float) -> float:
    return NormalDist().cdf(z / 4.0 * math.sqrt(2.0 * math.pi))


def _gompertz(z: float) -> float:
    """A short toe and a long shoulder."""
    return math.exp(-math.exp(min(700.0, -z * math.e / 4.0)))


def _weibull(z: float) -> float:
    """A long toe and a short shoulder: 1 - exp(-H^k), over log H."""
    return -math.expm1(-math.exp(min(700.0, z * math.e / 4.0)))


def _generalised(z: float) -> float:
    """Richards's curve with an exponent of 2.5; the logistic has 1."""
    return math.pow(1.0 + 0.4 * math.exp(min(700.0, -z)), -2.5)


def _measured(z: float) -> float:
    """Straight from point to point, as a curve is that somebody has read off."""
    if z <= _MEASURED[0][0]:
        return 0.0
    if z >= _MEASURED[-1][0]:
        return 1.0
    k = bisect_right([x for x, _ in _MEASURED], z)
    (x, y), (next_x, next_y) = _MEASURED[k - 1 : k + 1]
    return y + (next_y - y) * (z - x) / (next_x - x)


SHAPES: dict[str, Shape] = {
    "normal": _normal, "Gompertz": _gompertz, "Weibull": _weibull, "generalised logistic": _generalised,
    "measured": _measured,
}  # fmt: skip


@dataclass(frozen=True)
class OtherPaper:
    """Parts of (density, slope, speed in green, speed in blue) over a white, all of one shape."""

    shape: Shape
    dmin: float
    parts: tuple[tuple[float, float, float, float], ...]

    def density(self, green: float, blue: float) -> float:
        return self.dmin + sum(
            net * self.shape(slope * math.log10(g * green + b * blue)) for net, slope, g, b in self.parts
        )

    def log_of(self, density: float, green: float, blue: float) -> float:
        """log10 of both lights' exposure together at which this mix comes to a density."""
        low, high = -9.0, 9.0
        for _ in range(60):
            middle = (low + high) / 2.0
            if self.density(green * 10**middle, blue * 10**middle) < density:
                low = middle
            else:
                high = middle
        return low + math.log10(green + blue)

    def points(self, green: float, blue: float) -> tuple[float, float, float]:
        """log H at 0.04 and 0.60 over white and at 90 % of the net density (ISO 6846, as in printing/paper)."""
        net = sum(part[0] for part in self.parts)
        low, speed, high = (self.log_of(self.dmin + d, green, blue) for d in (0.04, 0.60, 0.90 * net))
        return low, speed, high

    def r(self, green: float, blue: float) -> float:
        low, _, high = self.points(green, blue)
        return 100.0 * (high - low)


def other_paper(shape: str, chance: random.Random) -> OtherPaper:
    """1 to 3 parts of one slope and one speed in blue, up to 0.6 decades apart in green."""
    many = chance.randint(1, 3)
    slope, blue = chance.uniform(7.0, 12.0), 10 ** chance.uniform(-1.0, 0.5)
    shares = [chance.uniform(0.5, 1.0) for _ in range(many)]
    net = chance.uniform(1.5, 2.2) / sum(shares)
    fastest, apart = blue * 10 ** chance.uniform(-0.3, 0.3), chance.uniform(0.35, 0.6)
    parts = tuple((net * share, slope, fastest * 10 ** (-apart * i), blue) for i, share in enumerate(shares))
    return OtherPaper(SHAPES[shape], chance.uniform(0.04, 0.10), parts)


def wedge_of(
    paper: OtherPaper, chance: random.Random, noise: float = 0.02, light: float = 0.0,
    ratios: tuple[tuple[float, float], ...] = ((0.0, 1.0), (1.0, 1.0), (3.0, 1.0), (10.0, 1.0), (1.0, 0.0)),
) -> list[tuple[float, float, float]]:  # fmt: skip
    """Green, blue and density of 21 patches 0.15 apart in each mix, from 0.6 under its low point on.

    `light` is by how many decades the light really differed from mix to mix (one deviation), which nobody knew.
    """
    found = []
    for green, blue in ratios:
        start = paper.points(green, blue)[0] - math.log10(green + blue) - 0.6
        off = 10 ** chance.gauss(0.0, light)
        for k in range(21):
            times = 10 ** (start + 0.15 * k)
            density = paper.density(green * times * off, blue * times * off) + chance.gauss(0.0, noise)
            found.append((green * times, blue * times, round(max(0.0, density), 2)))
    return found
