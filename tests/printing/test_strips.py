"""Test strips against ladders computed elsewhere, and every burst's light added up patch by patch."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from timerd.printing.light import Response, measured_lag
from timerd.printing.strips import (
    by_patch,
    by_uncovering,
    chosen_time,
    doses,
    dried_times,
    lag_error,
    patch_times,
    shift_stops,
)

LAMPS = (Response(), Response(rise_s=0.12, fall_s=0.06), Response(lag_s=0.1333), Response(rise_s=0.02, fall_s=0.3))

# SOURCES: ladders. Ladders from 8 s, and what uncovering adds, computed from 8 * 2^(k/n)
LADDERS = {
    1: ((8, 16, 32, 64), (8, 16, 32)),
    2: ((8, 11.314, 16, 22.627, 32), (3.314, 4.686, 6.627, 9.373)),
    3: ((8, 10.079, 12.699, 16, 20.159, 25.398, 32), (2.079, 2.620, 3.301, 4.159, 5.240, 6.602)),
    4: ((8, 9.514, 11.314, 13.454, 16), (1.514, 1.800, 2.141, 2.546)),
    6: ((8, 8.980, 10.079, 11.314, 12.699, 14.254, 16), (0.980, 1.100, 1.234, 1.385, 1.555, 1.746)),
}


R10 = (1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8, 10)
R20 = (1, 1.12, 1.25, 1.4, 1.6, 1.8, 2, 2.24, 2.5, 2.8, 3.15, 3.55, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10)


def test_third_and_sixth_stops_are_the_preferred_numbers() -> None:
    """ISO 3 (its series from memory): R10 is a ladder in third stops within 0.0114 stop; of R20 in sixths the worst
    are 1.8 and 1.4, 2.8, 5.6. Computed from both; from 100 s, where a hundredth of a second is nothing."""
    thirds = [time / 100 for time in patch_times(100.0, Fraction(1, 3), 11, Response())]
    off = [math.log2(ours / mark) for ours, mark in zip(thirds, R10, strict=True)]
    assert max(map(abs, off)) == pytest.approx(0.0114, abs=1e-3)
    sixths = [time / 100 for time in patch_times(100.0, Fraction(1, 6), 21, Response())]
    percent = {mark: 100 * (mark / ours - 1) for ours, mark in zip(sixths, R20, strict=True)}
    worst = {mark: round(off, 1) for mark, off in percent.items() if abs(off) > 0.95}
    assert worst == {1.4: -1.0, 1.8: 1.0, 2.8: -1.0, 5.6: -1.0}


@pytest.mark.parametrize("per_stop", LADDERS)
def test_ladders(per_stop: int) -> None:
    times, added = LADDERS[per_stop]
    made = patch_times(8.0, Fraction(1, per_stop), len(times), Response())
    assert made == tuple(round(t * 10) / 10 for t in times)
    bursts = by_uncovering(made, Response())
    # rounded times are differenced: each burst lies within a tenth of the exact one, and the errors do not add up
    assert [b.seconds for b in bursts[:-1]] == pytest.approx(added[::-1], abs=0.1)
    assert [b.first for b in bursts] == list(range(len(times), 0, -1)) and bursts[-1].seconds == 8
    assert doses(bursts, Response()) == pytest.approx(made, rel=1e-12)


def test_a_table_s_base_comes_out() -> None:
    """Lambrecht's timing table (1999/2005, in Way Beyond Monochrome) has the base 25.4 s: five thirds over 8 s."""
    assert patch_times(8.0, Fraction(1, 3), 6, Response())[-1] == 25.4


def test_a_tenfold_of_preferred_numbers_is_a_ladder_of_thirds() -> None:
    """ISO 3 (values from memory): R10 runs 1 1.25 1.6 2 2.5 3.15 4 5 6.3 8 10, within 1/80 stop of thirds of a stop."""
    preferred = (10, 12.5, 16, 20, 25, 31.5, 40, 50, 63, 80, 100)
    made = patch_times(10.0, Fraction(1, 3), 11, Response())
    assert all(abs(math.log2(a / b)) < 1 / 80 + 0.004 for a, b in zip(made, preferred, strict=True))


def test_short_times_are_rounded_finer_and_the_first_not_at_all() -> None:
    assert patch_times(1.0, Fraction(1, 3), 4, Response()) == (1.0, 1.26, 1.59, 2.0)
    assert patch_times(8.33, Fraction(1), 2, Response()) == (8.33, 16.7)


@given(
    st.sampled_from(LAMPS), st.floats(0.5, 60), st.sampled_from(["1/12", "1/6", "1/4", "1/3", "1/2", "1", "3/4"]),
    st.integers(2, 8), st.floats(0.85, 1.1),
)  # fmt: skip
def test_each_patch_gets_what_one_exposure_gives(
    lamp: Response, first: float, step: str, count: int, reciprocity: float
) -> None:
    """However it is uncovered; and a rounded time is as near to its stops as its grid lets it be."""
    times = patch_times(first, Fraction(step), count, lamp, reciprocity)
    promised = [lamp.dose(t) for t in times]
    for bursts in (by_patch(times), by_uncovering(times, lamp)):
        assert len(bursts) == count
        assert doses(bursts, lamp) == pytest.approx(promised, rel=1e-9)
    grid = 0.1 if first >= 5 else 0.01
    for k in range(1, count):
        exact = lamp.seconds(promised[0] * 2 ** (k * float(Fraction(step)) / reciprocity))
        assert abs(times[k] - exact) <= grid / 2 + 1e-9


def test_lag_is_topped_up_in_every_burst() -> None:
    """SOURCES: lag. Without it a strip of k increments is k lags short."""
    lamp = Response(lag_s=0.1333)
    times = patch_times(8.0, Fraction(1, 3), 6, lamp)
    topped = by_uncovering(times, lamp)
    bare = by_uncovering(times, Response())
    assert doses(topped, lamp)[-1] == pytest.approx(times[-1] - 0.1333)
    assert doses(bare, lamp)[-1] == pytest.approx(times[-1] - 6 * 0.1333)
    assert [a.seconds - b.seconds for a, b in zip(topped, bare, strict=True)] == pytest.approx([0.1333] * 5 + [0])


def test_a_dry_down_test() -> None:
    """SOURCES: dry-down. Prints at 0, -4, -8 and -12 %; 8 % is 0.120 stop, 12 % is 0.184."""
    times = dried_times(20.0, (12, 8, 4, 0), Response())
    assert times == (17.6, 18.4, 19.2, 20.0)
    assert math.log2(times[1] / times[3]) == pytest.approx(-0.120, abs=5e-4)
    assert math.log2(times[0] / times[3]) == pytest.approx(-0.184, abs=5e-4)
    lamp = Response(lag_s=0.5)
    assert dried_times(20.5, (10, 0), lamp) == (18.5, 20.5)  # doses: 18 and 20


def test_safelit_minutes_uncover_as_seconds_do() -> None:
    """K-4 (Kodak, 2006): steps of 0, 1, 3 and 7 minutes."""
    bursts = by_uncovering([0, 60, 180, 420], Response())
    assert [(b.seconds, b.first, b.last) for b in bursts] == [(240, 4, 4), (120, 3, 4), (60, 2, 4)]
    assert doses(bursts, Response()) == (0, 60, 180, 420)


def test_between_two_patches() -> None:
    times = (8.0, 16.0, 32.0)
    assert [chosen_time(times, k, Response()) for k in (1, 2, 3)] == [8, 16, 32]
    assert chosen_time(times, 2.5, Response()) == pytest.approx(16 * 2**0.5)
    lamp = Response(lag_s=1.0)
    assert chosen_time((9.0, 17.0), 1.5, lamp) == pytest.approx(1 + 8 * 2**0.5)


def test_what_blue_does_to_a_highlight() -> None:
    assert shift_stops(10, 0, 2) == 0 and shift_stops(10, 10, 1) == 1
    assert shift_stops(10, 10, 0.5) == pytest.approx(math.log2(1.5))


# SOURCES: lag
@pytest.mark.parametrize(
    ("long_s", "short_s", "bursts", "lag"), [(10, 1.12, 10, 0.1333), (16, 2.10, 8, 0.1143), (12, 2.15, 6, 0.18)]
)
def test_the_error_of_a_lag_is_what_a_wrong_match_makes(long_s: float, short_s: float, bursts: int, lag: float) -> None:
    """The short bursts that would be taken for a match, a quarter of a stop off, give a lag that is off by this."""
    assert measured_lag(long_s, short_s, bursts) == pytest.approx(lag, abs=5e-5)
    for n in (2, 3, bursts, 100):
        for match in (1 / 12, 1 / 4, 0.9):
            off = []
            for matched in (match, -match):
                wrong = (long_s - lag) * 2**matched / n + lag
                off.append(abs(measured_lag(long_s, wrong, n) - lag))
                told = lag_error(long_s, wrong, n, match)
                assert told >= off[-1] * (1 - 1e-9), "the error told is never too small"
                if matched > 0:
                    assert told == pytest.approx(off[-1], rel=1e-9)
            assert off[0] > off[1]
    with pytest.raises(ValueError, match="bursts tell no lag"):
        lag_error(long_s, short_s, 2, 1)


@pytest.mark.parametrize(
    ("first", "step", "count", "said"),
    [
        (0.0, "1/3", 6, "must be over 0 s"),
        (math.nan, "1/3", 6, "must be over 0 s"),
        (4000.0, "1/3", 6, "3600 s at most"),
        (8.0, "1/3", 1, "2 to 24 patches"),
        (8.0, "1/3", 25, "2 to 24 patches"),
        (8.0, "0", 6, "a strip climbs"),
        (8.0, "-1/3", 6, "a strip climbs"),
        (8.0, "3", 6, "by 10 stops at most; found 6 patches in steps of 3"),
        (0.1, "1/12", 6, "patches would be alike"),
        (0.1, "1/3", 6, "the lamp loses 0.13 s"),
    ],
)
def test_what_is_no_strip_is_refused(first: float, step: str, count: int, said: str) -> None:
    lamp = Response(lag_s=0.1333) if "loses" in said else Response()
    with pytest.raises(ValueError, match=said) as told:
        patch_times(first, Fraction(step), count, lamp)
    assert "\n" not in str(told.value)


def test_other_nonsense_is_refused() -> None:
    for wrong in ((0, 4), (4,), (4, 100), (4, -1)):
        with pytest.raises(ValueError, match=r"found|alike"):
            dried_times(10, wrong, Response())
    for times in ((2.0, 1.0), (), (1.0, 1.0), (-1.0, 1.0)):
        with pytest.raises(ValueError, match="must rise"):
            by_patch(times)
    for patch in (0, 0.5, 4, math.nan):
        with pytest.raises(ValueError, match="patches 1 to 3"):
            chosen_time((1, 2, 3), patch, Response())
    for under, added, speed in ((0.0, 1.0, 1.0), (1.0, -1.0, 1.0), (1.0, 1.0, math.nan)):
        with pytest.raises(ValueError, match="must be over 0"):
            shift_stops(under, added, speed)
    for lag in ((0.0, 1.0, 5, 0.1), (10.0, 1.0, 1, 0.1), (10.0, 1.0, 5, 0.0), (math.inf, 1.0, 5, 0.1)):
        with pytest.raises(ValueError, match="found"):
            lag_error(*lag)
