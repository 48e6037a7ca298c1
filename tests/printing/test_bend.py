"""A bend, and a curve with one: by numeric integration and differences, and by a cubic that it should come near."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from printing.random_papers import THREE
from scipy.integrate import quad
from scipy.stats import norm

from timerd.desk.proof.tones import contrasts, densities
from timerd.printing.bend import NODES, PLACES, Bend
from timerd.printing.paper import Curve, Emulsion, iso_range

STRAIGHT = (1.0,) * len(PLACES)


def bend(seed: int) -> Bend:
    chance = random.Random(seed)
    return Bend(tuple(math.exp(chance.gauss(0.0, 0.8)) for _ in PLACES))


@pytest.mark.parametrize("seed", range(5))
def test_it_is_the_integral_of_slopes_that_are_straight_between_the_places(seed: int) -> None:
    one = bend(seed)
    slopes = (*one.times[:3], 1.0, *one.times[3:])
    for u in (-9.0, -5.0, -4.2, -1.0, 0.0, 0.7, 2.9, 5.0, 12.0):
        wanted = quad(
            lambda x: float(np.interp(x, NODES, slopes)), 0.0, u, points=[x for x in NODES if 0 < x / (u or 1) < 1]
        )[0]
        assert one.at(u) == pytest.approx(wanted, abs=1e-9)
        assert one.steep(u) == pytest.approx(float(np.interp(u, NODES, slopes)), abs=1e-12)
        assert one.back(one.at(u)) == pytest.approx(u, abs=1e-9)


@pytest.mark.parametrize("times", [(), STRAIGHT[1:], (0.0, *STRAIGHT[1:]), (-1.0, *STRAIGHT[1:]), (math.nan, *STRAIGHT[1:]), (math.inf, *STRAIGHT[1:])])  # fmt: skip  # noqa: E501
def test_what_is_no_bend_is_refused(times: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match="a bend has 6 slopes over 0"):
        Bend(times)


def test_a_curve_with_a_bend_of_nothing_is_the_one_without() -> None:
    bent = replace(THREE, bend=Bend(STRAIGHT))
    for green, blue in ((0.3, 0.1), (2.0, 0.0), (0.0, 0.7)):
        assert bent.density(green, blue) == pytest.approx(THREE.density(green, blue), abs=1e-12)
        assert bent.contrast(green, blue) == pytest.approx(THREE.contrast(green, blue), abs=1e-12)
        assert bent.multiple(1.1, green, blue) == pytest.approx(THREE.multiple(1.1, green, blue), rel=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_density_contrast_and_the_way_back_belong_together(seed: int) -> None:
    curve = replace(THREE, dmin=0.06, bend=bend(seed))
    for density in (0.061, 0.1, 0.66, 1.5, 2.1, 2.159):
        times = curve.multiple(density, 3.0, 1.0)
        assert curve.density(3.0 * times, times) == pytest.approx(density, abs=1e-9)
    h = 1e-5
    for log in (-1.3, -0.4, 0.1, 0.6):
        green, blue = 3 * 10**log, 10**log
        rise = curve.density(green * 10**h, blue * 10**h) - curve.density(green / 10**h, blue / 10**h)
        assert curve.contrast(green, blue) == pytest.approx(rise / (2 * h), rel=1e-5, abs=1e-6)


def test_a_bend_can_be_a_curve_of_normal_shape() -> None:
    """With the slopes that the normal distribution's logit has at the six places its densities come, to 0.01."""
    scale = 4.0 / math.sqrt(2.0 * math.pi)  # as steep as the logistic at half density

    def slope(u: float) -> float:
        share = norm.cdf(u / scale)
        return float(norm.pdf(u / scale) / scale / (share * (1.0 - share)))

    def worst(curve: Curve) -> float:
        places = np.linspace(-7.0, 7.0, 141)
        return max(abs(curve.density(10 ** (u / 8.0), 0.0) - 2.0 * float(norm.cdf(u / scale))) for u in places)

    straight = Curve(0.0, (Emulsion(2.0, 8.0, 1.0, 1.0),))
    assert worst(replace(straight, bend=Bend(tuple(slope(u) for u in PLACES)))) < 0.01
    assert worst(straight) > 0.03


@pytest.mark.parametrize("seed", range(3))
def test_whole_arrays_have_the_same_numbers(seed: int) -> None:
    """To 1e-7 in 64 bits; in 32 bits, which are for pictures, to a fifth of a picture's level."""
    curve = replace(THREE, dmin=0.06, bend=bend(seed))
    green, blue = 10 ** np.linspace(-4.0, 3.0, 60), 10 ** np.linspace(-2.0, 1.0, 60)
    exposures = [part.green * green + part.blue * blue for part in curve.parts]
    one_by_one = [curve.density(float(g), float(b)) for g, b in zip(green, blue, strict=True)]
    assert densities(curve, [one.copy() for one in exposures]) == pytest.approx(np.array(one_by_one), abs=1e-7)
    short = densities(curve, [one.astype(np.float32) for one in exposures])
    assert short == pytest.approx(np.array(one_by_one), abs=2e-4)
    flash = [one * 0.2 for one in exposures]
    wanted = [
        curve.contrast(float(g), float(b), 0.2 * float(g), 0.2 * float(b)) for g, b in zip(green, blue, strict=True)
    ]
    whole = [one + fog for one, fog in zip(exposures, flash, strict=True)]
    assert contrasts(curve, exposures, whole) == pytest.approx(np.array(wanted), abs=1e-5)
    assert densities(curve, [np.zeros(2) for _ in exposures]) == pytest.approx([curve.dmin] * 2, abs=1e-6)


def test_a_steeper_toe_makes_the_range_shorter() -> None:
    steep = replace(THREE, bend=Bend((2.0, 2.0, 1.0, 1.0, 1.0, 1.0)))
    assert iso_range(steep, 1.0, 1.0).r < iso_range(THREE, 1.0, 1.0).r - 5.0
    assert iso_range(steep, 1.0, 1.0).log_hs == pytest.approx(iso_range(THREE, 1.0, 1.0).log_hs, abs=0.01)
