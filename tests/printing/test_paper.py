"""The paper's curve against published rules, worked examples and brute force; each source beside its check."""

from __future__ import annotations

import math
import random

import numpy as np
import pytest
from printing.random_papers import THREE, paper

from timerd.printing.paper import (
    HIGH_POINT,
    Curve,
    Emulsion,
    IsoRange,
    Mix,
    grade,
    iso_range,
)
from timerd.printing.search import least, root

# Trade reference, section 3: computed there from the model; blue : green, then log HT, log Hm and log HS of the common
# multiplier of the pair, and R.
TEST_SET = [
    ((1, 0), -0.3942, -0.0916, 0.2197, 61.4),
    ((1, 1), -0.6046, -0.2686, 0.1053, 71.0),
    ((1, 3), -0.8880, -0.5024, -0.0012, 88.7),
    ((1, 10), -1.3234, -0.9031, -0.2084, 111.5),
    ((1, 30), -1.7727, -1.3413, -0.5143, 125.8),
    ((1, 100), -2.2855, -1.8503, -0.9549, 133.1),
    ((0, 1), -0.2811, 0.1557, 1.0861, 136.7),
]

# Trade reference, section 2: the method of ISO 6846 worked through; the densities are invented.
WEDGE = (
    *(2.10, 2.10, 2.09, 2.08, 2.05, 1.99, 1.88, 1.70, 1.44, 1.13, 0.82, 0.55, 0.34, 0.20, 0.13, 0.09),
    *(0.07, 0.06, 0.06, 0.06, 0.06),
)


@pytest.mark.parametrize(("ratio", "log_ht", "log_hm", "log_hs", "r"), TEST_SET, ids=str)
def test_the_variable_contrast_test_set(
    ratio: tuple[int, int], log_ht: float, log_hm: float, log_hs: float, r: float
) -> None:
    blue, green = ratio
    found = iso_range(THREE, green, blue)
    both = math.log10(green + blue)  # our H is both lights together, the table's the multiplier of the pair
    assert [round(log - both, 4) for log in (found.log_ht, found.log_hm, found.log_hs)] == [log_ht, log_hm, log_hs]
    assert round(found.r, 1) == r


def test_blue_alone_has_a_closed_form() -> None:
    p = 0.04 / 2.1  # SOURCES: an invented paper. LER = [ln 9 + ln((1-p)/p)] / 10 = 0.613881
    closed = (math.log(9) + math.log((1 - p) / p)) / 10
    assert closed == pytest.approx(0.613881, abs=1e-6)
    assert iso_range(THREE, 0.0, 5.0).r == pytest.approx(100 * closed, abs=1e-9)


def test_the_worked_example_of_iso_6846() -> None:
    """SOURCES: ISO 6846."""
    logs, densities = [2.00 - (0.05 + 0.15 * k) for k in range(20, -1, -1)], WEDGE[::-1]
    low, high = min(WEDGE), max(WEDGE)
    points = (low + 0.04, low + 0.6, low + 0.9 * (high - low))  # ISO 6846's, read off straight between two patches
    found = IsoRange(*(float(np.interp(point, densities, logs)) for point in points))
    assert found.log_ht == pytest.approx(-0.2625, abs=1e-9)
    assert found.log_hs == pytest.approx(1.07182, abs=1e-5)
    assert found.log_hm == pytest.approx(0.36111, abs=1e-5)
    assert (round(found.r, 1), found.r_iso, grade(found.r)) == (133.4, 130, 1)
    assert (round(found.speed, 1), found.speed_iso) == (435.4, 400)


# Focal Encyclopedia p. 679 (the six bands); inner limits from memory; mid R of each as computed (SOURCES: grade bands).
@pytest.mark.parametrize(
    ("number", "low", "high", "middle"),
    [(0, 1.40, 1.70, 155), (1, 1.15, 1.40, 128), (2, 0.95, 1.15, 105), (3, 0.80, 0.95, 88), (4, 0.65, 0.80, 73),
     (5, 0.50, 0.65, 58), (6, 0.35, 0.50, 43)],
)  # fmt: skip
def test_grade_bands(number: int, low: float, high: float, middle: int) -> None:
    assert grade(middle) == grade(100 * low) == grade(100 * high - 0.01) == number


def test_outside_the_bands_there_is_no_grade() -> None:
    assert grade(34.9) is None and grade(170.1) is None and grade(170.0) == 0


def test_speeds_are_reported_in_thirds_of_a_stop() -> None:
    # ISO 6846's steps from memory: 435.4 is 400 at -0.12 stop, and not 500 at +0.20
    for speed, reported in ((435.4, 400), (460, 500), (100, 100), (89, 80), (1010, 1000), (12.6, 12), (3.1, 3.2)):
        assert IsoRange(0.0, 3.0 - math.log10(speed), 1.0).speed_iso == pytest.approx(reported, abs=0.51)


def test_the_inverse_is_the_inverse_and_agrees_with_brute_force() -> None:
    chance = random.Random(6846)
    for _ in range(300):
        curve = Curve(0.05, paper(chance).parts)
        green, blue = chance.choice([(1.0, 0.0), (0.0, 1.0), (1.0, 10 ** chance.uniform(-2, 2))])
        density = curve.dmin + chance.uniform(0.002, 0.998) * (curve.dmax - curve.dmin)
        times = curve.multiple(density, green, blue)
        assert curve.density(times * green, times * blue) == pytest.approx(density, abs=1e-10)
        low, high = -9.0, 9.0  # halving, of which nothing is known but the sign
        for _ in range(60):
            middle = (low + high) / 2
            too_much = curve.density(10**middle * green, 10**middle * blue) > density
            low, high = (low, middle) if too_much else (middle, high)
        assert math.log10(times) == pytest.approx(low, abs=1e-9)


def test_contrast_is_the_slope_of_the_curve() -> None:
    chance = random.Random(3)
    for _ in range(100):
        curve = paper(chance)
        green, blue, flash = 10 ** chance.uniform(-2, 1), 10 ** chance.uniform(-2, 1), chance.choice([0.0, 0.3])
        step = 1e-6
        up, down = (curve.density(green * 10**s + flash, blue * 10**s) for s in (step, -step))
        assert curve.contrast(green, blue, flash) == pytest.approx((up - down) / (2 * step), abs=1e-5)


def test_what_no_exposure_gives_is_refused() -> None:
    for density in (-1.0, 0.0, 2.1, 9.0):
        with pytest.raises(ValueError, match="not on the curve"):
            THREE.multiple(density, 1.0, 1.0)
    with pytest.raises(ValueError, match="not both 0"):
        iso_range(THREE, 0.0, 0.0)
    with pytest.raises(ValueError, match="0 or more"):
        iso_range(THREE, -1.0, 2.0)


def limited(*mixes: Mix) -> Curve:
    return Curve(0.06, THREE.parts, mixes)


FULL = (0.005, 50.0)


def test_nothing_is_told_of_a_mix_outside_the_readings() -> None:
    curve = limited(Mix(FULL, FULL), Mix((0.001, 50.0), (0.0001, 5.0)))
    assert iso_range(curve, 3.0, 1.0).r == pytest.approx(iso_range(limited(), 3.0, 1.0).r)
    for green, blue in ((1.0, 1.02), (0.0, 1.0), (1.0, 0.09), (1.0, 0.0)):
        with pytest.raises(ValueError, match=r"from green 1 : blue 0\.1 to"):
            iso_range(curve, green, blue)
    with pytest.raises(ValueError, match="not in blue alone"):
        iso_range(limited(Mix(FULL, (0.0, 0.0))), 0.0, 1.0)


def test_nothing_is_told_of_a_toe_or_shoulder_that_was_not_read() -> None:
    high = THREE.multiple(HIGH_POINT * 2.1, 1.0, 0.0)
    curve = limited(Mix((0.001, high * 0.99), (0.0, 0.0)), Mix((0.0, 0.0), FULL))
    with pytest.raises(ValueError, match=r"in green alone: .* 1\.9"):
        iso_range(curve, 1.0, 0.0)
    with pytest.raises(ValueError, match="shoulder in green 1 : blue 1"):  # between the two nobody knows it either
        iso_range(curve, 1.0, 1.0)
    assert iso_range(curve, 0.0, 1.0).r == pytest.approx(61.4, abs=0.05)
    curve = limited(Mix((high / 3, high * 2), (0.0, 0.0)))
    with pytest.raises(ValueError, match="toe in green alone"):
        iso_range(curve, 1.0, 0.0)
    assert limited(Mix((0.001, high * 1.001), (0.0, 0.0))).known(1.0, 0.0) == (0.06, pytest.approx(2.16))


def test_the_order_of_mixes_does_not_matter() -> None:
    mixes = [Mix((0.001, 50.0), (0.0, 0.0)), Mix(FULL, FULL), Mix((0.0, 0.0), FULL)]
    for _ in range(3):
        mixes = mixes[1:] + mixes[:1]
        assert limited(*mixes).mix_places() == (-math.inf, 0.0, math.inf)


def test_a_root_is_found_to_the_last_figure_or_refused() -> None:
    for power in (1, 3, 7, 21):
        assert root(lambda x, power=power: x**power - 0.5, 0.0, 3.0) == pytest.approx(0.5 ** (1 / power), rel=1e-11)  # type: ignore[misc]
    assert root(lambda x: math.exp(40 * x) - 1e6, -5.0, 5.0) == pytest.approx(math.log(1e6) / 40, abs=1e-10)
    with pytest.raises(ValueError, match="no crossing is known"):
        root(lambda x: x * x + 1.0, -1.0, 1.0)
    assert least(lambda x: abs(x - 1 / 3), 0.0, 1.0) == pytest.approx(1 / 3, abs=1e-8)
    assert Emulsion(1, 2, 3, 4) == Emulsion(density=1, slope=2, green=3, blue=4)
