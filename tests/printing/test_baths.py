"""Baths: published areas, capacities and rounds, and what must hold between the formulas."""

from __future__ import annotations

import math
import random

import pytest

from timerd.printing.baths import (
    EIGHT_BY_TEN_MM2,
    eight_by_tens,
    seconds_at,
    seconds_by_emergence,
    sheets_left,
    two_bath,
    used_share,
)

# Areas in sheets of 8x10 in, as capacities are counted (SOURCES: sheet areas).
AREAS = {
    (5, 7): 0.4375, (8, 10): 1.0, (9.5, 12): 1.425, (11, 14): 1.925, (12, 16): 2.4, (16, 20): 4.0, (20, 24): 6.0,
}  # fmt: skip

# Capacities in sheets of 8x10 in a litre, rapid fixer 1+4 (from memory of makers' sheets: fibre counts twice).
RAPID_FIXER = {"resin": 80.0, "fibre": 40.0}


@pytest.mark.parametrize(("inches", "count"), AREAS.items())
def test_published_areas(inches: tuple[float, float], count: float) -> None:
    assert eight_by_tens(inches[0] * 25.4, inches[1] * 25.4) == pytest.approx(count, abs=1e-9)


def test_the_unit_is_the_published_one() -> None:
    assert round(EIGHT_BY_TEN_MM2 / 1e6, 5) == 0.05161  # m2, SOURCES: sheet areas
    with pytest.raises(ValueError, match="over 0 mm"):
        eight_by_tens(0, 254)


def test_temperatures_worked_out_in_the_reference() -> None:
    # Trade reference, section 8: at k = 0.08, 20 to 24 degrees is x0.726, 20 to 18 is x1.174.
    assert round(seconds_at(1.0, 20, 24, 0.08), 3) == 0.726
    assert round(seconds_at(1.0, 20, 18, 0.08), 3) == 1.174  # exp(0.16) = 1.17351: 1.174 in the reference
    # From memory of film charts: about a tenth a degree.
    assert seconds_at(100.0, 20, 21, 0.105) == pytest.approx(90.0, abs=0.1)


def test_there_and_back_is_the_same_time() -> None:
    pick = random.Random(3)
    for _ in range(500):
        seconds, at, now, k = pick.uniform(5, 900), pick.uniform(15, 30), pick.uniform(15, 30), pick.uniform(0, 0.15)
        there = seconds_at(seconds, at, now, k)
        assert seconds_at(there, now, at, k) == pytest.approx(seconds, rel=1e-12)
        assert (there < seconds) == (now > at and k > 0) or math.isclose(there, seconds)
    assert seconds_at(60, 20, 30, 0) == 60
    with pytest.raises(ValueError, match="over 0"):
        seconds_at(0, 20, 20, 0.08)


def test_by_emergence() -> None:
    # Trade reference, section 8: a worker's x10 at 15 s gives 150 s (factor of Watkins).
    assert seconds_by_emergence(15, 10) == 150
    with pytest.raises(ValueError, match="emergence"):
        seconds_by_emergence(0, 6)


def test_fibre_counts_twice() -> None:
    assert used_share({"resin": 80}, RAPID_FIXER, 1) == 1.0
    assert used_share({"fibre": 40}, RAPID_FIXER, 1) == 1.0
    assert used_share({"fibre": 20, "resin": 40}, RAPID_FIXER, 1) == 1.0
    assert used_share({"fibre": 40}, RAPID_FIXER, 2) == 0.5
    assert sheets_left({"fibre": 30}, RAPID_FIXER, 1, "fibre") == 10
    assert sheets_left({"fibre": 30}, RAPID_FIXER, 1, "resin") == 20
    assert sheets_left({"fibre": 50}, RAPID_FIXER, 1, "fibre") == 0


def test_a_kind_without_a_capacity_is_counted_by_the_least() -> None:
    assert used_share({"unknown": 10}, RAPID_FIXER, 1) == 0.25
    assert sheets_left({}, {"resin": 80.0}, 1, "fibre") == 80
    for per_litre, litres in (({}, 1.0), ({"fibre": 0.0}, 1.0), ({"fibre": 40.0}, 0.0)):
        with pytest.raises(ValueError, match="over 0"):
            used_share({"fibre": 1}, per_litre, litres)


def test_adding_a_sheet_takes_as_much_as_is_said_to_be_left() -> None:
    """What is left of one kind, gone through, is exactly the limit; counted by hand sheet by sheet."""
    pick = random.Random(8)
    for _ in range(200):
        per_litre, litres = {"fibre": pick.uniform(10, 60), "resin": pick.uniform(20, 120)}, pick.uniform(0.5, 5)
        sheets, share = {"fibre": 0.0, "resin": 0.0}, 0.0
        for _ in range(pick.randrange(20)):
            kind = pick.choice(("fibre", "resin"))
            sheets[kind] += 1.0
            share += 1.0 / (per_litre[kind] * litres)
        assert used_share(sheets, per_litre, litres) == pytest.approx(share)
        if share < 1:
            sheets["resin"] += sheets_left(sheets, per_litre, litres, "resin")
            assert used_share(sheets, per_litre, litres) == pytest.approx(1.0)


def test_two_baths_are_moved_at_50_and_renewed_at_250() -> None:
    """Buffaloe (docslib 13937117), two-bath fixing of fibre paper: discard bath one after 50 sheets of 8x10 in a
    litre, move bath two into its place, mix a fresh bath two; after five rounds, 250 sheets, renew both."""
    told = []
    since = moves = 0
    for sheet in range(1, 251):
        since += 1
        stands = two_bath(used_share({"fibre": since}, {"fibre": 50.0}, 1.0), moves, 5)
        assert stands.cycle == moves + 1
        if stands.due in ("move", "renew both"):
            told.append((sheet, stands.due))
            since, moves = 0, moves + 1
    assert told == [(50, "move"), (100, "move"), (150, "move"), (200, "move"), (250, "renew both")]


def test_two_baths_near_the_limit_and_beyond_it() -> None:
    assert [two_bath(share, 0, 5).due for share in (0.79, 0.8, 0.999, 1.0, 1.6)] == ["", "near", "near", "move", "move"]
    assert two_bath(1.2, 7, 5).due == "renew both"
    with pytest.raises(ValueError, match="rounds"):
        two_bath(0.5, 0, 0)
