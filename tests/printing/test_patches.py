"""Two patches counted by eye."""

from __future__ import annotations

import math
import random

import pytest

from timerd.printing.paper import Curve, Emulsion, iso_range
from timerd.printing.patches import count_patches, one_part


@pytest.mark.parametrize(("patches", "step", "each"), [(8, 0.5, 15.05), (12, 1 / 3, 10.03)])
def test_each_patch_is_15_or_10_of_r(patches: int, step: float, each: float) -> None:
    # SOURCES: counting patches. R is about 15 n for half stops, 10 n for thirds; good to one patch
    counted = count_patches(2.0, 2.0 * 2 ** (patches * step), step)
    assert counted.r == pytest.approx(patches * each, abs=0.1)
    assert counted.within == pytest.approx(each, abs=0.01)


def test_a_count_is_right_within_one_patch_wherever_the_strip_begins() -> None:
    chance = random.Random(8)
    for _ in range(300):
        curve = Curve(0.06, (Emulsion(2.0, chance.uniform(4, 12), 1.0, 1.0),))
        true = iso_range(curve, 1.0, 0.0)
        step = chance.choice([0.25, 1 / 3, 0.5])
        first = 10**true.log_ht * 2 ** -chance.uniform(1, 3)
        strip = [first * 2 ** (k * step) for k in range(60)]
        tone = next(s for s in strip if curve.density(s, 0.0) >= curve.low_point)
        black = next(s for s in strip if curve.density(s, 0.0) >= curve.high_point)
        counted = count_patches(tone, black, step)
        assert abs(counted.r - true.r) <= counted.within
        assert abs(math.log2(counted.ht) - math.log2(10**true.log_ht)) <= step / 2 + 1e-9
        part = one_part(counted, 2.0)
        assert iso_range(Curve(0.06, (part,)), 1.0, 0.0).r == pytest.approx(counted.r)
        assert Curve(0.06, (part,)).multiple(0.1, 1.0, 0.0) == pytest.approx(counted.ht)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((0.0, 8.0, 0.5), "first tone must be over 0"),
        ((4.0, -1.0, 0.5), "first full black must be over 0"),
        ((4.0, 4.0, 0.5), "there must be patches"),
        ((64.0, 4.0, 0.5), "there must be patches"),
        ((4.0, 64.0, 0.0), "over 0 and up to 2 stops"),
    ],
)
def test_what_cannot_be_a_strip_is_refused(arguments: tuple[float, float, float], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        count_patches(*arguments)
