"""Readings that do not follow their curve are found out, and those that do are left in peace."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import numpy as np
import pytest
from printing.random_papers import THREE, wedge_readings
from scipy.optimize import isotonic_regression

from timerd.desk import fitcheck, fitting
from timerd.desk.fitcheck import misfit
from timerd.desk.fitform import Data
from timerd.desk.fitting import fit
from timerd.desk.readings import PatchReading
from timerd.printing.paper import iso_range

TRUE = replace(THREE, dmin=0.06)
MIXES = ((1.0, 0.0), (10.0, 1.0), (3.0, 1.0), (1.0, 1.0), (0.0, 1.0))
Rows = list[tuple[float, float, float]]


def data_of(rows: Rows) -> Data:
    return fitting._data([PatchReading(line, *row) for line, row in enumerate(rows, start=2)])


def waved(rows: Rows, height: float) -> Rows:
    """Waves along the exposure, as no sum of S-shaped parts has them."""
    return [
        (green, blue, density + height * math.sin(2.0 * math.pi * math.log10(green + blue) / 0.9))
        for green, blue, density in rows
    ]  # fmt: skip


def test_runs_are_counted_as_wald_and_wolfowitz_have_it() -> None:
    """Worked by hand: ++-+--- has 4 runs; 3 above and 4 below are expected to have 2*3*4/7 + 1, with a variance of
    2*3*4*(2*3*4-7) / (7*7*6). A residual of 0 counts for neither, and runs end with their mix."""
    signs = np.array([1.0, 2.0, -1.0, 0.0, 3.0, -1.0, -2.0, -0.5])
    assert fitcheck._runs([signs]) == pytest.approx((4, 24 / 7 + 1, math.sqrt(24 * 17 / 294)))
    twice = fitcheck._runs([signs, signs])
    assert twice == pytest.approx((8, 48 / 7 + 2, math.sqrt(48 * 17 / 294)))
    assert fitcheck._runs([signs[:1]]) == (0, 0.0, 0.0)
    assert fitcheck._runs([np.ones(5)])[1:] == (1.0, 0.0)


def test_runs_of_chance_have_the_runs_expected() -> None:
    chance = np.random.default_rng(1)
    found = [fitcheck._runs([chance.normal(size=21) for _ in range(5)]) for _ in range(400)]
    off = [(runs - expected) / spread for runs, expected, spread in found]
    assert np.mean(off) == pytest.approx(0.0, abs=0.15) and np.std(off) == pytest.approx(1.0, abs=0.1)


def test_densities_that_rise_are_the_nearest_ones() -> None:
    """scipy's isotonic regression, on twenty noisy wedges."""
    chance = np.random.default_rng(3)
    for _ in range(20):
        some = np.clip(np.linspace(-0.5, 2.5, 21), 0.0, 2.0) + chance.normal(0.0, 0.2, 21)
        assert fitcheck._rising(some) == pytest.approx(isotonic_regression(some).x)


def test_a_range_is_read_off_between_two_readings() -> None:
    """A wedge without scatter: straight between its patches; none where an end is
    not crossed."""
    logs = np.linspace(-1.5, 1.5, 61)
    densities = np.array([TRUE.density(0.0, 10**log) for log in logs])
    assert fitcheck._range(logs, densities, TRUE) == pytest.approx(iso_range(TRUE, 0.0, 1.0).r, abs=0.5)
    assert fitcheck._range(logs[:34], densities[:34], TRUE) is None
    assert fitcheck._range(logs[30:], densities[30:], TRUE) is None


def test_readings_of_the_curve_itself_are_left_in_peace(monkeypatch: pytest.MonkeyPatch) -> None:
    """Of 50 sets of readings that scatter about their own curve few are said anything of (each test is 1 in 100)."""
    monkeypatch.setattr(fitcheck, "_MADE", 99)  # enough for this, in half the time
    said, near = 0, []
    for seed in range(50):
        found = misfit(TRUE, data_of(wedge_readings(TRUE, random.Random(seed))), 0.02)
        said += bool(found.said)
        assert (found.widen == 1.0) is (found.said == ())
        for (r, within), mix in zip(map(_there, found.beside), MIXES, strict=True):
            near.append(abs(r - iso_range(TRUE, *mix).r) < 2.0 * within)
    assert said <= 5 and sum(near) > 0.9 * len(near)


def _there(beside: tuple[float, float] | None) -> tuple[float, float]:
    assert beside is not None
    return beside


def test_waves_are_said_and_widen_what_is_told() -> None:
    rows = waved(wedge_readings(TRUE, random.Random(2), noise=0.005), 0.03)
    found = misfit(TRUE, data_of(rows), 0.02)
    assert found.runs < found.runs_expected - 15 and found.widen > 1.5
    assert found.said[0] == (
        f"residuals lie in {found.runs} runs of one sign, {found.runs_expected:.0f} would be usual: "
        "the curve is of another kind"
    )


def test_a_fit_of_waves_is_less_sure_by_that(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is told is wider by the factor that is said, beside a fit of the same readings that is not checked."""
    rows = waved(wedge_readings(TRUE, random.Random(2), noise=0.005), 0.03)
    readings = [PatchReading(line, *row) for line, row in enumerate(rows, start=2)]
    checked = fit(readings)
    monkeypatch.setattr(fitting, "misfit", lambda *told: replace(misfit(*told), widen=1.0))
    unchecked = fit(readings)
    assert checked.misfit.said != () and checked.misfit.widen > 1.2
    for wide, narrow in zip(checked.ranges, unchecked.ranges, strict=True):
        assert wide.within is not None and narrow.within is not None
        assert wide.within == pytest.approx(narrow.within * checked.misfit.widen, rel=0.02)
    for key, values in unchecked.within.items():
        assert checked.within[key] == pytest.approx([value * checked.misfit.widen for value in values])


def test_a_range_that_lies_apart_from_the_curves_is_said() -> None:
    """Readings of a paper with a toe that the curve has not: R by interpolation is longer, and by more than chance."""
    rows = [
        (green, blue, density + 0.05 * float(density < 0.3) * math.exp(-(((density - 0.12) / 0.05) ** 2)))
        for green, blue, density in wedge_readings(TRUE, random.Random(4), noise=0.003)
    ]
    found = misfit(TRUE, data_of(rows), 0.012)
    assert found.apart is not None and found.apart > 2.0 and found.widen >= found.apart
    assert found.said[-1].startswith(
        "R by interpolation lies apart from the curve's, by more than chance would have it"
    )


def test_of_readings_without_scatter_nothing_is_told() -> None:
    """What is left of exact readings is rounding, and has no meaning."""
    rows = [(green, blue, TRUE.density(green, blue)) for green, blue, _ in wedge_readings(TRUE, random.Random(4))]
    found = misfit(TRUE, data_of(rows), 1e-6)
    assert (found.widen, found.said, found.apart) == (1.0, (), None)
