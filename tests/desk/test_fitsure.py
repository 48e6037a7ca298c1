"""How sure a fit is: beside scipy's own covariance, a parametric bootstrap, and papers that are of another kind."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from printing.other_papers import SHAPES, other_paper, wedge_of
from printing.random_papers import THREE, wedge_readings
from scipy.optimize import curve_fit

from timerd.desk import fitting
from timerd.desk.fitform import BENDS, OUTWARDS, STEPS, Data, Form
from timerd.desk.fitsure import _MOST_TURNS, Fitted, causes, how_sure, penalized
from timerd.desk.fitting import fit
from timerd.desk.readings import PatchReading
from timerd.printing.bend import PLACES
from timerd.printing.deviation import deviations
from timerd.printing.paper import Curve, Emulsion, iso_range

TWO = Curve(0.05, (Emulsion(1.0, 8.0, 0.9, 0.4), Emulsion(0.9, 8.0, 0.12, 0.4)))
NUMBERS = np.array([0.05, *np.log([8.0, 0.4, 1.0, 0.9, 0.9, 0.12])])


def data_of(rows: list[tuple[float, float, float]]) -> Data:
    return fitting._data([PatchReading(line, *row) for line, row in enumerate(rows, start=2)])


def two_parts(exposures: tuple[np.ndarray, np.ndarray], *numbers: float) -> np.ndarray:  # type: ignore[type-arg]
    """The formula of timerd/printing/paper.py, written anew."""
    dmin, slope, blue, d1, d2, g1, g2 = numbers[0], *np.exp(numbers[1:])
    green_light, blue_light = exposures
    found = np.full(len(green_light), dmin)
    for density, green in ((d1, g1), (d2, g2)):
        found += density / (1.0 + np.power(blue * blue_light + green * green_light, -slope / math.log(10.0)))
    return found


def test_without_penalties_it_is_what_scipy_finds() -> None:
    """scipy.optimize.curve_fit on the same readings: the same numbers, and the same covariance of them."""
    data = data_of(wedge_readings(TWO, random.Random(3)))
    wanted, covariance = curve_fit(two_parts, (data.green, data.blue), data.density, NUMBERS)
    scatter = math.sqrt(float(np.sum((two_parts((data.green, data.blue), *wanted) - data.density) ** 2)) / 98)
    found = penalized(Form(2), NUMBERS, data, scatter, (0.0, 0.0), 0.0)
    assert found.theta == pytest.approx(wanted, abs=1e-4)
    assert found.squares / 98 == pytest.approx(scatter**2)
    assert np.linalg.inv(found.information) == pytest.approx(covariance, rel=0.02, abs=1e-9)


def test_penalties_are_those_of_a_plain_least_squares_problem() -> None:
    """With a bend and light of their own: scipy on the whole, a row a penalty, from another start."""
    from scipy.optimize import least_squares

    data, form, scatter, bend, light = data_of(wedge_readings(TWO, random.Random(4))), Form(2), 0.02, 0.3, 0.02

    def rest(numbers: np.ndarray) -> np.ndarray:  # type: ignore[type-arg]
        theta, shifts = numbers[: form.size + BENDS], numbers[form.size + BENDS :]
        return np.concatenate([
            form.residuals(theta, data.shifted(shifts)) / scatter, theta[form.size :] / (bend * STEPS), shifts / light
        ])  # fmt: skip

    start = np.concatenate([NUMBERS * 1.05, np.full(BENDS, 0.1), np.zeros(5)])
    wanted = least_squares(rest, start, method="lm", xtol=1e-12, ftol=1e-12)
    found = penalized(form, NUMBERS, data, scatter, (bend, bend), light)
    assert found.squares / scatter**2 + found.penalty == pytest.approx(2 * wanted.cost, rel=1e-3)
    numbers = np.concatenate([found.theta, found.shifts])
    deviation = np.sqrt(np.diag(np.linalg.inv(wanted.jac.T @ wanted.jac)))
    assert (
        np.abs(numbers - wanted.x) == pytest.approx(np.zeros(len(numbers)), abs=1.0)
        and (np.abs(numbers - wanted.x) < 0.1 * deviation).all()
    )
    assert found.information == pytest.approx(wanted.jac.T @ wanted.jac, rel=0.05, abs=20.0)


def test_the_steps_of_a_bend_lead_outwards_from_half_density() -> None:
    assert OUTWARDS @ np.arange(1, BENDS + 1) == pytest.approx([1 + 2 + 3, 2 + 3, 3, 4, 4 + 5, 4 + 5 + 6])
    assert pytest.approx([2.0, 1.5, 1.5, 1.5, 1.5, 2.0]) == STEPS**2
    assert len(PLACES) == BENDS


def ranges(curve: Curve) -> tuple[float, ...]:
    found = [iso_range(curve, *mix) for mix in ((1.0, 0.0), (1.0, 1.0), (0.0, 1.0))]
    return (*(one.r for one in found), *(one.log_hm for one in found))


def test_deviations_are_the_spread_of_many_fits() -> None:
    """A parametric bootstrap: 60 sets of readings of one paper, each fitted without a bend."""
    form, found, told = Form(2), [], []
    for seed in range(60):
        data = data_of(wedge_readings(TWO, random.Random(seed)))
        one = penalized(form, NUMBERS, data, 0.02, (0.0, 0.0), 0.0)
        found.append(ranges(form.curve(one.theta)))
        whole = np.zeros((form.size + BENDS, form.size + BENDS))
        whole[: form.size, : form.size] = np.linalg.inv(one.information)
        sure = fitting.Sure(np.concatenate([one.theta, np.zeros(BENDS)]), whole, 0.02, 0.0, 0.0, np.zeros(5))
        curve = form.curve(one.theta)
        told.append(deviations(ranges, curve, [cause.pair(curve) for cause in causes(form, sure, data)]))
    assert np.mean(np.array(told, dtype=float), axis=0) == pytest.approx(np.std(np.array(found), axis=0), rel=0.25)


def test_causes_are_the_covariance_as_far_as_readings_see_it() -> None:
    """Deviations as a file keeps them, and the covariance itself: the same for every density."""
    data = data_of(wedge_readings(replace(THREE, dmin=0.06), random.Random(5)))
    form = Form(3)
    start = np.array([0.06, *np.log([10.0, 1.0, 0.7, 0.7, 0.7, 1.0, 10**-0.5, 0.1])])
    bent = penalized(form, np.concatenate([start, np.zeros(BENDS)]), data, 0.02, (0.3, 0.3), 0.0)
    sure = how_sure(form, start, bent, 0.02, data)
    told = causes(form, sure, data)
    assert 5 <= len(told) <= form.size + BENDS
    curve = form.curve(sure.theta)
    slopes = form.jacobian(sure.theta, data)
    wanted = np.sqrt(np.einsum("ij,jk,ik->i", slopes, sure.covariance, slopes))
    pairs = [cause.pair(curve) for cause in told]
    exposures = list(zip(data.green[::7], data.blue[::7], strict=True))
    found = deviations(lambda one: [one.density(float(g), float(b)) for g, b in exposures], curve, pairs)
    assert np.array(found, dtype=float) == pytest.approx(wanted[::7], rel=0.06, abs=2e-4)


def test_light_that_differs_from_mix_to_mix_is_in_the_speeds_and_not_in_the_ranges() -> None:
    """0.03 log of it, which is in the readings alone: speed points are told to be less sure, R hardly."""
    steady, unsteady = (
        fit([
            PatchReading(line, *row) for line, row in enumerate(
                wedge_of(other_paper("normal", random.Random(8)), random.Random(9), light=light), start=2)
        ]) for light in (0.0, 0.03)
    )  # fmt: skip
    assert steady.light < 0.01 < unsteady.light
    speeds, r = (
        [sum(getattr(one, name) for one in found.ranges) for found in (steady, unsteady)]
        for name in ("log_hm_within", "within")
    )
    assert speeds[1] > 1.5 * speeds[0] and r[1] < 1.5 * r[0]


def test_papers_of_another_kind_are_within_what_is_told() -> None:
    """A made paper of each of the five kinds in tests/measure/paper_coverage.py, which counts hundreds: R and the
    speed point lie within three and a half deviations, and most within two."""
    off = []
    for shape in SHAPES:
        paper = other_paper(shape, random.Random(f"{shape} 0"))
        found = fit([PatchReading(n, *row) for n, row in enumerate(wedge_of(paper, random.Random(0)), start=2)])
        for one in found.ranges:
            pair = one.mix.green[1], one.mix.blue[1]
            assert one.found is not None and one.within is not None and one.log_hm_within is not None
            assert 0.3 < one.within < 12.0
            off.append((one.found.r - paper.r(*pair)) / one.within)
            off.append((one.found.log_hm - paper.points(*pair)[1]) / one.log_hm_within)
    assert len(off) == 50 and max(map(abs, off)) < 3.5 and sum(abs(one) <= 2.0 for one in off) >= 0.8 * len(off)
    assert sum(abs(one) <= 1.0 for one in off) >= 0.4 * len(off)


def test_a_search_ends() -> None:
    """From numbers that are far off it stops after so many turns, with what it has."""
    data = data_of(wedge_readings(TWO, random.Random(1)))
    far = NUMBERS + 3.0
    found = penalized(Form(2), far, data, 0.02, (0.3, 0.3), 0.02)
    assert isinstance(found, Fitted) and np.isfinite(found.theta).all() and 0 < _MOST_TURNS < 100
