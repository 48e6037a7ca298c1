"""What a curve's deviations do to a number: beside made curves by the thousand, and what cannot be told."""

from __future__ import annotations

import math

import numpy as np
import pytest
from printing.random_papers import THREE

from timerd.printing.deviation import Deviation, deviation, deviations
from timerd.printing.paper import Curve, Emulsion, iso_range

NONE = (0.0, 0.0, 0.0)
CAUSES = (
    Deviation(0.004, NONE, NONE, NONE, NONE),
    Deviation(0.0, (0.02,) * 3, (-0.01,) * 3, NONE, (0.01, -0.01, 0.02)),
    Deviation(-0.001, NONE, NONE, (0.02, -0.03, 0.02), NONE, (0.05, 0.03, 0.0, 0.0, -0.04, -0.05)),
)


def test_a_deviation_to_both_sides() -> None:
    curve = Curve(0.1, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
    cause = Deviation(0.01, (math.log(1.1),), (0.0,), (math.log(1.2),), (math.log(2.0),), (0.0,) * 5 + (math.log(3.0),))
    more, less = cause.pair(curve)
    assert (more.dmin, more.parts[0].slope, more.parts[0].density, more.parts[0].green, more.parts[0].blue) == (
        pytest.approx(0.11), pytest.approx(11.0), pytest.approx(2.4), pytest.approx(1.0), 1.0,
    )  # fmt: skip
    assert more.bend is not None and more.bend.times == pytest.approx((1, 1, 1, 1, 1, 3))
    assert less.parts[0].density == pytest.approx(2.0 / 1.2) and less.dmin == pytest.approx(0.09)
    white = Curve(0.0, curve.parts)
    assert cause.pair(white)[1].dmin == 0.0, "no paper is whiter than white"


def test_it_is_the_spread_of_curves_that_are_off_at_random() -> None:
    """800 curves with a normal number of each cause (a parametric bootstrap), and the deviation of what comes out."""
    chance = np.random.default_rng(2)

    def worked_out(curve: Curve) -> tuple[float, float, float]:
        found = iso_range(curve, 2.0, 1.0)
        return found.r, found.log_hm, curve.density(0.3, 0.2)

    made = []
    for _ in range(800):
        curve = THREE
        for cause, times in zip(CAUSES, chance.normal(size=len(CAUSES)), strict=True):
            some = Deviation(
                cause.dmin * times, *(tuple(one * times for one in many) for many in (
                    cause.slopes, cause.blues, cause.densities, cause.greens, cause.bend)),
            )  # fmt: skip
            curve = some.pair(curve)[0]
        made.append(worked_out(curve))
    told = deviations(worked_out, THREE, [cause.pair(THREE) for cause in CAUSES])
    # dmin of 0 cannot go lower: of that cause only the upper half is seen, which is a few per cent of the whole
    assert told == pytest.approx(np.std(np.array(made), axis=0), rel=0.10)


def test_causes_add_up_as_squares() -> None:
    pairs = [cause.pair(THREE) for cause in CAUSES]
    alone = [deviation(lambda curve: curve.density(0.5, 0.5), THREE, [pair]) for pair in pairs]
    assert all(alone)
    assert deviation(lambda curve: curve.density(0.5, 0.5), THREE, pairs) == pytest.approx(
        math.hypot(*(one or 0.0 for one in alone))
    )


def test_without_deviations_nothing_is_known() -> None:
    assert deviations(lambda curve: (curve.dmin, curve.dmax), THREE, ()) == (None, None)


def test_where_one_side_cannot_be_worked_out_the_other_tells() -> None:
    pairs = [Deviation(0.01, NONE, NONE, NONE, NONE).pair(Curve(0.05, THREE.parts))]
    here = Curve(0.05, THREE.parts)

    def only_above(curve: Curve) -> tuple[float | None, float]:
        return (curve.dmin if curve.dmin >= 0.05 else None), curve.dmax

    assert deviations(only_above, here, pairs) == pytest.approx((0.01, 0.01))

    def refuses_below(curve: Curve) -> float:
        if curve.dmin < 0.05:
            raise ValueError("too white")
        return curve.dmin

    assert deviation(refuses_below, here, pairs) == pytest.approx(0.01)

    def only_here(curve: Curve) -> tuple[float | None, ...]:
        return (curve.dmin if curve.dmin == 0.05 else None,)

    assert deviations(only_here, here, pairs) == (None,)
    assert deviations(lambda curve: (None,), here, pairs) == (None,)
