"""Size, aperture, height, held against cases that others have published. Their sources stand beside them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timerd.printing.enlarging import distance_factor, farther, magnification_factor, new_dose, reading_factor
from timerd.printing.stops import aperture_factor, aperture_stops

MAGNIFICATIONS = st.floats(0.05, 50.0)


@pytest.mark.parametrize(
    ("old", "new", "factor", "stops"),
    [
        (2, 4, 2.7778, 1.474),  # qeeebo: 4x5 to 8x10 to 16x20, (750/450)^2 for a 150 mm lens
        (2, 2.8, 1.6044, 0.682),  # photokb: between 1/2 and 3/4 stop
        (5, 8, 2.25, 1.170),  # computed from the formula alone
        (203.2 / 24, 279.4 / 24, 1.7833, 0.835),  # apug 88137: a 24 mm side to 8 in and to 11 in
    ],
)
def test_magnifications(old: float, new: float, factor: float, stops: float) -> None:
    assert magnification_factor(old, new) == pytest.approx(factor, abs=5e-5)
    assert math.log2(magnification_factor(old, new)) == pytest.approx(stops, abs=1e-3)


@pytest.mark.parametrize(
    ("old", "new", "factor", "before", "after"),
    [
        (10, 15, 2.25, 11.0, 24.75),  # apug 44159, citing Hawken, You and Your Prints
        (24, 30, 1.5625, 16.0, 25.0),  # apug 56943
        (450, 750, 2.7778, 10.0, 27.778),  # qeeebo, in mm
    ],
)
def test_distances(old: float, new: float, factor: float, before: float, after: float) -> None:
    assert distance_factor(old, new) == pytest.approx(factor, abs=5e-5)
    assert new_dose(before, distance_factor(old, new)) == pytest.approx(after, abs=5e-4)


def test_a_practitioner_s_larger_print() -> None:
    """apug 88137: 21 s for 8 in, worked out 37.45 s for 11 in; 38 s, give or take one, matched on the paper."""
    seconds = new_dose(21.0, magnification_factor(203.2 / 24, 279.4 / 24))
    assert seconds == pytest.approx(37.45, abs=5e-3) and abs(seconds - 38) < 1


def test_the_area_s_rule_is_wrong() -> None:
    """(m2/m1)^2 overstates: from 2 to 4 it says 4 where a lens needs 2.78."""
    assert magnification_factor(2, 4) < 4


@given(MAGNIFICATIONS, MAGNIFICATIONS, st.floats(10, 300))
def test_magnifications_are_distances(old: float, new: float, lens_mm: float) -> None:
    """Focused, a lens stands f * (1 + m) from the paper: the conjugates of the thin lens."""
    by_distance = distance_factor(lens_mm * (1 + old), lens_mm * (1 + new))
    assert magnification_factor(old, new) == pytest.approx(by_distance, rel=1e-12)


@given(MAGNIFICATIONS, MAGNIFICATIONS, st.floats(0.1, 500), st.floats(0.5, 1.5))
def test_there_and_back(old: float, new: float, dose: float, reciprocity: float) -> None:
    there = new_dose(dose, magnification_factor(old, new), reciprocity)
    assert new_dose(there, magnification_factor(new, old), reciprocity) == pytest.approx(dose, rel=1e-12)
    assert farther(old, magnification_factor(old, new)) == pytest.approx(new, rel=1e-9)


def test_a_meter_says_it_all() -> None:
    assert reading_factor(12, 3) == 4 and reading_factor(3, 12) == 0.25


@pytest.mark.parametrize(
    ("p", "seconds", "doubled"), [(0.98, 41.15, 2.0285), (0.95, 43.03, 2.0743), (0.9, 46.66, 2.1601)]
)
def test_reciprocity(p: float, seconds: float, doubled: float) -> None:
    """Schwarzschild's law, computed: 10 s times 4, and times 2."""
    assert new_dose(10, 4, p) == pytest.approx(seconds, abs=5e-3)
    assert new_dose(1, 2, p) == pytest.approx(doubled, abs=5e-5)


def test_aperture_marks_are_exact_powers() -> None:
    """ISO 517 (marks from memory): 11 and 22 stand for 11.31 and 22.63, so a marked stop is a factor of 2."""
    assert aperture_factor(8, 11) == 2 and aperture_factor(5.6, 22) == 16 and aperture_factor(11, 8) == 0.5
    assert pytest.approx(1.8906, abs=5e-5) == (11 / 8) ** 2  # what the number taken as written would give
    assert aperture_factor(8, 9.5) == pytest.approx(2**0.5) and aperture_factor(8, 9) == pytest.approx(2 ** (1 / 3))
    with pytest.raises(ValueError, match=r"in two series: write 13\.5"):
        aperture_stops(13)


@pytest.mark.parametrize("factor", [magnification_factor, distance_factor, reading_factor])
@pytest.mark.parametrize("wrong", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_size_is_refused(factor: Callable[[float, float], float], wrong: float) -> None:
    for pair in ((wrong, 2.0), (2.0, wrong)):
        with pytest.raises(ValueError, match="must be over 0; found"):
            factor(*pair)


@pytest.mark.parametrize("wrong", [(-1.0, 2.0, 1.0), (1.0, 0.0, 1.0), (1.0, 2.0, 0.0), (math.nan, 2.0, 1.0)])
def test_what_is_no_dose_is_refused(wrong: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match="found"):
        new_dose(*wrong)
    with pytest.raises(ValueError, match="projects nothing"):
        farther(1.0, 0.2)
