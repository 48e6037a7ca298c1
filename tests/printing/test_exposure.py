"""One rule for what a dose does on a paper of another reciprocity: the same in the plan, on the curve, in the proof."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from timerd.printing.exposure import dose_of, exposure, stops_apart
from timerd.printing.stops import burn_dose, dodge_dose


@pytest.mark.parametrize("p", [0.7, 0.9, 1.0, 1.2])
@pytest.mark.parametrize("stops", ["1/12", "1/2", "1", "2"])
def test_a_burn_of_so_many_stops_is_so_many_stops_of_exposure(p: float, stops: str) -> None:
    base, wanted = 7.3, float(Fraction(stops))
    burned = base + burn_dose(base, Fraction(stops), p)
    held = base - dodge_dose(base, Fraction(stops), p)
    assert math.log2(exposure(burned, base, p) / base) == pytest.approx(wanted)
    assert math.log2(exposure(held, base, p) / base) == pytest.approx(-wanted)
    assert stops_apart(base, burned, p) == pytest.approx(wanted)
    assert dose_of(exposure(burned, base, p), base, p) == pytest.approx(burned)


def test_a_dose_in_a_light_without_a_base_is_itself() -> None:
    assert exposure(5.0, 0.0, 0.8) == dose_of(5.0, 0.0, 0.8) == 5.0
    assert exposure(0.0, 4.0, 0.8) == 0.0


def test_the_proof_counts_by_the_same_rule() -> None:
    numpy = pytest.importorskip("numpy")
    from timerd.desk.proof import ground

    doses = numpy.array([[0.0, 0.5, 4.0], [8.0, 9.5, 40.0]])
    for base, p in ((8.0, 0.9), (8.0, 1.0), (0.0, 0.9), (3.0, 1.1)):
        found = ground._by_time(doses, base, p)
        assert found.tolist() == [[pytest.approx(exposure(dose, base, p)) for dose in row] for row in doses.tolist()]
