"""Invented papers, targets that can be met on them, and readings of them: for the suite and the long forms."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import replace

from timerd.printing.contrast import Spot
from timerd.printing.paper import Curve, Emulsion, Mix, iso_range

THREE = Curve(0.0, tuple(Emulsion(0.7, 10.0, green, 1.0) for green in (1.0, 10**-0.5, 0.1)))
"""SOURCES: an invented paper. Three parts of density 0.7, slope 10, green speeds in half decades."""

RATIOS = ((0.0, 1.0), (1.0, 1.0), (3.0, 1.0), (10.0, 1.0), (1.0, 0.0))


def paper(chance: random.Random) -> Curve:
    """1 to 3 parts of one slope and one speed in blue, any speeds in green; a third of them with limits of readings."""
    slope, blue = chance.uniform(4.0, 14.0), 10 ** chance.uniform(-1.0, 1.0)
    shares = [chance.uniform(0.5, 1.0) for _ in range(chance.randint(1, 3))]
    net = chance.uniform(1.2, 2.3) / sum(shares)
    parts = tuple(Emulsion(net * share, slope, blue * 10 ** chance.uniform(-2.0, 0.3), blue) for share in shares)
    curve = Curve(chance.uniform(0.02, 0.12), parts)
    if chance.random() < 2 / 3:
        return curve
    places = sorted(chance.uniform(-2.0, 2.0) for _ in range(chance.randint(2, 5)))
    return replace(curve, mixes=tuple(_read(curve, 1.0, 10**place) for place in places))


def _read(curve: Curve, green: float, blue: float) -> Mix:
    """A mix that was read from well under the toe to well over the shoulder."""
    low = curve.multiple(curve.dmin + 0.005, green, blue)
    high = curve.multiple(curve.dmin + 0.98 * (curve.dmax - curve.dmin), green, blue)
    return Mix((low * green, high * green), (low * blue, high * blue))


def mix(chance: random.Random, curve: Curve) -> tuple[float, float]:
    """Seconds of green and blue within the readings; now and then one light alone where it was read."""
    if curve.mixes:
        first, *_, last = curve.mix_places()
        return 1.0, 10 ** chance.uniform(first, last)
    kind = chance.random()
    if kind < 0.2:
        return (1.0, 0.0) if kind < 0.1 else (0.0, 1.0)
    return 1.0, 10 ** chance.uniform(-3.0, 3.0)


def tones(chance: random.Random, curve: Curve) -> tuple[Spot, Spot] | None:
    """Two spots with the densities that some mix gives there; None where they fall off the curve."""
    green, blue = mix(chance, curve)
    shadow_light = 10 ** chance.uniform(-1.0, 1.0)
    highlight_light = shadow_light * 10 ** -chance.uniform(0.3, 1.8)
    own = chance.uniform(0.7, 1.4) if not curve.mixes and chance.random() < 0.3 else 1.0
    net = curve.dmax - curve.dmin
    try:
        times = curve.multiple(curve.dmin + chance.uniform(0.05, 0.98) * net, green * shadow_light, blue * shadow_light)
    except ValueError:
        return None
    green, blue = green * times, blue * times
    shadow = curve.density(green * shadow_light, blue * shadow_light)
    highlight = curve.density(green * highlight_light, blue * highlight_light * own)
    if not curve.dmin + 0.002 < highlight < shadow - 0.01 < curve.dmax - 0.01:
        return None
    return (
        Spot(highlight, highlight_light, highlight_light * own),
        Spot(shadow, shadow_light, shadow_light),
    )


def wedge_readings(
    curve: Curve, chance: random.Random, noise: float = 0.02, ratios: Sequence[tuple[float, float]] = RATIOS,
) -> list[tuple[float, float, float]]:  # fmt: skip
    """Green, blue and density of a 21-step wedge in steps of 0.15, in each ratio from 0.6 under HT on."""
    found = []
    for green, blue in ratios:
        start = iso_range(curve, green, blue).log_ht - math.log10(green + blue) - 0.6
        for k in range(21):
            times = 10 ** (start + 0.15 * k)
            density = curve.density(green * times, blue * times) + chance.gauss(0.0, noise)
            found.append((green * times, blue * times, round(max(0.0, density), 2)))
    return found


def garbage_readings(chance: random.Random) -> list[tuple[float, float, float]]:
    """Readings of a paper at odd exposures, of no paper, of one light, or of sizes that nobody gives."""
    curve, kind = paper(chance), chance.randrange(6)
    found = []
    for _ in range(chance.choice([8, 9, 12, 20, 40])):
        green, blue = (chance.choice([0.0, 1.0, 10 ** chance.uniform(-3.0, 3.0)]) for _ in range(2))
        density = curve.density(green, blue) + chance.gauss(0.0, 0.02)
        match kind:
            case 0:
                density = chance.uniform(0.0, 3.0)
            case 1:
                density = chance.choice([0.0, 2.0])
            case 2:
                green = 0.0
            case 3:
                green, blue = 10 ** chance.uniform(-9.0, 9.0), 0.0
            case 4:
                green, blue = 1e-9 * green, 1e5 * blue
        found.append((green, blue, round(max(0.0, density), 2)))
    return found
