"""Fits: known papers come back, the best of many starts is found, and what cannot carry a fit is refused."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from printing.random_papers import RATIOS, THREE, garbage_readings, wedge_readings

from timerd.desk import fitting
from timerd.desk.fitform import BENDS, Form
from timerd.desk.fitting import CannotFit, Fit, fit
from timerd.desk.paperfacts import curve_value, paper_text
from timerd.desk.readings import PatchReading
from timerd.printing.paper import Curve, Emulsion, Mix, iso_range
from timerd.sheet.profile.reading import read

TRUE = replace(THREE, dmin=0.06)
TWO = Curve(0.05, (Emulsion(1.0, 8.0, 0.9, 0.4), Emulsion(0.9, 8.0, 0.12, 0.4)))
ONE = Curve(0.08, (Emulsion(1.6, 6.0, 0.2, 0.7),))


def readings(
    curve: Curve, seed: int, noise: float = 0.02, ratios: tuple[tuple[float, float], ...] = RATIOS
) -> list[PatchReading]:
    rows = wedge_readings(curve, random.Random(seed), noise, ratios)
    return [PatchReading(line, *row) for line, row in enumerate(rows, start=2)]


@pytest.mark.parametrize("seed", [0, 1, 2, 3])
def test_a_known_paper_comes_back(seed: int) -> None:
    """Of the 100 seeds of tests/measure/paper_fit.py: R within 3 for every ratio inside the readings."""
    found = fit(readings(TRUE, seed))
    assert found.form in ("3 parts", "3 parts, bent") and found.shared_slope and found.shared_blue
    assert found.scatter == pytest.approx(0.02, abs=0.004)
    for mix in [*RATIOS, *((10 ** (k / 3), 1.0) for k in range(8))]:
        assert iso_range(found.curve, *mix).r == pytest.approx(iso_range(TRUE, *mix).r, abs=3.0)
    for one in found.ranges:
        assert one.found is not None and one.within is not None and 0.5 < one.within < 6.0


@pytest.mark.parametrize(("true", "form"), [(ONE, "1 part"), (TWO, "2 parts"), (TRUE, "3 parts")])
def test_as_many_parts_as_the_readings_carry(true: Curve, form: str) -> None:
    assert fit(readings(true, 5, noise=0.01)).form == form


def test_without_noise_the_numbers_themselves_come_back() -> None:
    exact = [replace(one, density=TWO.density(one.green, one.blue)) for one in readings(TWO, 0)]
    found = fit(exact)
    assert found.form == "2 parts" and found.scatter < 1e-5 and found.misfit.said == ()
    assert found.curve.dmin == pytest.approx(TWO.dmin, abs=1e-6)
    for part, true in zip(found.curve.parts, TWO.parts, strict=True):
        assert (part.density, part.slope, part.green, part.blue) == pytest.approx(
            (true.density, true.slope, true.green, true.blue), rel=1e-4
        )  # fmt: skip


@pytest.mark.parametrize("true", [ONE, TWO], ids=["one part", "two parts"])
def test_no_better_fit_is_found_by_brute_force(true: Curve) -> None:
    """Least squares from 15 random starts of the same form: none ends lower."""
    rows = readings(true, 9)
    found = fit(rows)
    data, form = fitting._data(rows), Form(len(true.parts))
    own = sum(one.residual**2 for one in found.residuals)
    assert not any(one.stands_out for one in found.residuals)
    chance = np.random.default_rng(4)
    for _ in range(15):
        start = np.concatenate([
            [chance.uniform(0, 0.2)], np.log(chance.uniform(2, 20, 1)), np.log(10 ** chance.uniform(-1.5, 1.0, 1)),
            np.log(chance.uniform(0.2, 2, form.parts)), np.log(10 ** chance.uniform(-2, 1.0, form.parts)),
        ])  # fmt: skip
        assert fitting._solve(form, start, data)[1] >= own * (1 - 1e-6)


@pytest.mark.parametrize("bent", [False, True], ids=["straight", "bent"])
def test_the_jacobian_is_the_slope_of_the_residuals(bent: bool) -> None:
    data = fitting._data([*readings(TWO, 1)[::5], PatchReading(1, 0.0, 0.0, 0.05)])
    for form in (
        Form(1), Form(3), Form(2, own_slopes=True), Form(3, own_blues=True), Form(2, greens=False, own_blues=True),
        Form(2, blues=False),
    ):  # fmt: skip
        theta = np.random.default_rng(1).normal(0, 0.5, form.size + BENDS * bent)
        jacobian = form.jacobian(theta, data)
        assert jacobian.shape == (len(data), len(theta))
        for i in range(len(theta)):
            step = np.zeros(len(theta))
            step[i] = 1e-6
            slope = (form.residuals(theta + step, data) - form.residuals(theta - step, data)) / 2e-6
            assert jacobian[:, i] == pytest.approx(slope, abs=1e-5)
        shifts = np.full(data.mixes, 1e-6)
        more = (form.residuals(theta, data.shifted(shifts)) - form.residuals(theta, data.shifted(-shifts))) / 2e-6
        assert form.per_log(theta, data) == pytest.approx(more, abs=1e-5)


def test_the_curve_told_has_the_densities_that_were_fitted() -> None:
    """A form's own arithmetic on arrays, and `Curve`'s on one number at a time, with a bend."""
    data = fitting._data(readings(TWO, 1))
    for form in (Form(1), Form(3), Form(2, own_slopes=True), Form(3, own_blues=True)):
        theta = np.random.default_rng(2).normal(0, 0.3, form.size + BENDS)
        theta[0] = 0.05
        curve = form.curve(theta)
        assert curve.bend is not None
        wanted = [curve.density(float(g), float(b)) for g, b in zip(data.green, data.blue, strict=True)]
        assert form.residuals(theta, data) + data.density == pytest.approx(wanted, abs=1e-9)


def test_readings_that_stand_out_are_named_and_left_out() -> None:
    rows = readings(TRUE, 3)
    clean = fit(rows)
    rows[30] = replace(rows[30], density=rows[30].density + 0.5)
    rows[70] = replace(rows[70], density=max(0.0, rows[70].density - 0.4))
    found = fit(rows)
    assert [one.reading.line for one in found.residuals if one.stands_out] == [32, 72]
    assert len(found.residuals) == 105
    for before, after in zip(clean.ranges, found.ranges, strict=True):
        assert before.found is not None and after.found is not None
        assert after.found.r == pytest.approx(before.found.r, abs=1.5)


def test_one_light_alone_is_enough_for_its_own_curve() -> None:
    for ratio in ((1.0, 0.0), (0.0, 1.0)):
        found = fit(readings(TRUE, 2, ratios=(ratio,)))
        assert iso_range(found.curve, *ratio).r == pytest.approx(iso_range(TRUE, *ratio).r, abs=6.0)
        with pytest.raises(ValueError, match="was read in"):
            iso_range(found.curve, 1.0, 1.0)


def test_an_unexposed_patch_counts_as_white() -> None:
    rows = [*readings(TWO, 2), PatchReading(300, 0.0, 0.0, 0.05)]
    assert fit(rows).curve.dmin == pytest.approx(0.05, abs=0.01)


def test_limits_are_those_of_the_readings() -> None:
    found = fit(readings(TWO, 4))
    assert len(found.curve.mixes) == 5
    assert found.curve.mix_places() == pytest.approx([-math.inf, -1.0, -math.log10(3), 0.0, math.inf])
    for mix in found.curve.mixes:
        if mix.green[1] and mix.blue[1]:
            assert mix.green[0] / mix.green[1] == pytest.approx(mix.blue[0] / mix.blue[1])
    assert isinstance(found.curve.mixes[0], Mix)


def cut(keep: Callable[[PatchReading], bool]) -> list[PatchReading]:
    return [one for one in readings(TRUE, 0) if keep(one)]


REFUSED: dict[str, tuple[Callable[[], list[PatchReading]], str]] = {
    "none": (list, "0 readings cannot carry a fit: 8 or more are needed"),
    "one": (lambda: readings(TRUE, 0)[:1], "1 readings cannot carry a fit"),
    "seven": (lambda: readings(TRUE, 0)[5:12], "7 readings cannot carry a fit"),
    "all white": (lambda: cut(lambda one: one.density < 0.15), "neither toe nor shoulder is reached"),
    "no shoulder": (lambda: cut(lambda one: one.density < 1.2), "the shoulder is not reached in any mix"),
    "nearly a shoulder": (lambda: cut(lambda one: one.density < 1.8), "the shoulder is not reached in any mix"),
    "no toe": (lambda: cut(lambda one: one.density > 0.3), "the toe is not reached in any mix"),
    "nearly a toe": (lambda: cut(lambda one: one.density > 0.15), "the toe is not reached in any mix"),
    "wrong way round": (
        lambda: [replace(one, density=round(2.3 - one.density, 2)) for one in readings(TRUE, 0)],
        "densities fall with exposure",
    ),
    "columns mixed up": (
        lambda: [replace(one, density=other.density) for one, other in zip(
            readings(TRUE, 0), random.Random(1).sample(readings(TRUE, 0), 105), strict=True)],
        "densities fall with exposure",
    ),
    "on no curve": (
        lambda: [
            PatchReading(n, 10 ** (n / 10), 10 ** (((7 * n) % 20) / 10), 0.1 + ((5 * n) % 19) / 10) for n in range(20)
        ],
        "lie 0.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_carry_a_fit_is_refused_with_the_reason(name: str) -> None:
    rows, said = REFUSED[name]
    with pytest.raises(CannotFit) as error:
        fit(rows())
    assert said in str(error.value) and "\n" not in str(error.value)


def test_where_one_mix_ends_too_soon_the_others_still_tell() -> None:
    rows = [one for one in readings(TRUE, 6) if one.blue > 0 or one.density < 1.5]
    found: Fit = fit(rows)
    green = next(one for one in found.ranges if one.mix.blue[1] == 0.0)
    assert green.found is None and green.why is not None and "shoulder in green alone" in green.why
    assert sum(one.found is not None for one in found.ranges) == 4


def test_readings_of_nothing_at_all_are_fitted_or_refused() -> None:
    """10 of the random sets of tests/measure/paper_fit.py: no number in them means anything. Of the last two a reading
    is left out, and as many are left as a candidate has numbers."""
    for seed in (*range(8), 120, 127):
        rows = [PatchReading(line, *row) for line, row in enumerate(garbage_readings(random.Random(seed)), start=2)]
        try:
            text = paper_text("garbage", curve_value(fit(rows), "seconds"), "garbage")
        except CannotFit as reason:
            assert "\n" not in str(reason)
        else:
            read(text.encode(), "garbage.yaml", "paper")
