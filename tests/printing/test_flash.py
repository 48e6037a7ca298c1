"""Flash: the computed tables (SOURCES: flash) to a tenth, and the closed form against the paper's own curve."""

from __future__ import annotations

import random

import pytest
from printing.random_papers import THREE, paper

from timerd.printing.flash import (
    SEEN,
    effective_range,
    flashed_range,
    threshold_of_ht,
)
from timerd.printing.paper import Curve, Emulsion, iso_range

# SOURCES: flash. Effective range by R and fraction of HT.
EFFECTIVE = {
    60: (69.7, 84.3, 120.2),
    90: (101.1, 117.3, 155.3),
    110: (121.6, 138.3, 177.0),
    130: (141.9, 159.0, 198.1),
    160: (172.2, 189.6, 229.0),
}


@pytest.mark.parametrize("r", EFFECTIVE)
def test_effective_range(r: int) -> None:
    assert tuple(round(effective_range(r, fraction), 1) for fraction in (0.25, 0.5, 0.8)) == EFFECTIVE[r]


def test_no_flash_changes_nothing_and_too_much_is_refused() -> None:
    assert effective_range(110, 0.0) == pytest.approx(110.0)
    assert flashed_range(THREE, 1.0, 1.0, 0.0, 0.0) == pytest.approx(iso_range(THREE, 1.0, 1.0).r)
    with pytest.raises(ValueError, match="a tone of its"):
        effective_range(110, 1.0)
    with pytest.raises(ValueError, match="a tone of its"):
        flashed_range(THREE, 1.0, 1.0, THREE.multiple(0.0401, 1.0, 0.0), 0.0)


def test_closed_form_and_curve_agree_on_one_part_papers() -> None:
    chance = random.Random(5)
    for _ in range(100):
        curve = Curve(0.05, (Emulsion(chance.uniform(1.0, 2.2), chance.uniform(4, 14), chance.uniform(0.1, 2), 1.0),))
        green, blue = chance.choice([(1.0, 0.0), (0.0, 1.0), (1.0, chance.uniform(0.1, 5))])
        fraction = chance.uniform(0.0, 0.95)
        ht = curve.multiple(curve.low_point, 0.0, 1.0)
        after = flashed_range(curve, green, blue, 0.0, fraction * ht)
        assert after == pytest.approx(effective_range(iso_range(curve, green, blue).r, fraction), abs=1e-6)


def test_on_several_parts_the_curve_tells_what_the_closed_form_cannot() -> None:
    """A green flash acts on the parts that answer green; checked by halving, of which nothing is known but the sign.

    Its table (SOURCES: flash) has R 127.5 and, with half of HT in green, 155.1 for a set of slope 5 "of the test set";
    with its parts as printed there (three of density 0.7) the same sums are 127.9 and 155.4.
    """
    curve = Curve(0.0, tuple(Emulsion(0.7, 5.0, part.green, 1.0) for part in THREE.parts))
    flash = 0.5 * curve.multiple(0.04, 1.0, 0.0)

    def image(density: float, flash: float) -> float:
        low, high = -9.0, 9.0
        for _ in range(70):
            middle = (low + high) / 2
            too_much = curve.density(10**middle + flash, 10**middle) > density
            low, high = (low, middle) if too_much else (middle, high)
        return low

    before, after = (100 * (image(0.9 * 2.1, f) - image(0.04, f)) for f in (0.0, flash))
    assert iso_range(curve, 1.0, 1.0).r == pytest.approx(before, abs=1e-6)
    assert flashed_range(curve, 1.0, 1.0, flash, 0.0) == pytest.approx(after, abs=1e-6)
    assert before == pytest.approx(127.5, abs=0.5) and after == pytest.approx(155.1, abs=0.5)
    assert after - before == pytest.approx(27.6, abs=0.2)


def test_the_threshold_lies_under_the_low_point() -> None:
    chance = random.Random(6)
    for _ in range(50):
        curve = Curve(0.05, paper(chance).parts)
        share = threshold_of_ht(curve, 1.0, 0.0)
        ht = curve.multiple(curve.low_point, 1.0, 0.0)
        assert 0.0 < share < 1.0
        assert curve.density(share * ht, 0.0) == pytest.approx(0.05 + SEEN, abs=1e-9)
