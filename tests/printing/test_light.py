"""A lamp's answer: against its light curve added up, its own inverse, and worked lag tests.

[computed] beside a check: worked out from the definition apart from this code, not published.
"""

import itertools
import math
from dataclasses import FrozenInstanceError
from fractions import Fraction

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from scipy.integrate import quad

from timerd.printing.light import Response, measured_lag
from timerd.printing.stops import total_stops

LED = Response()
rises = st.floats(1e-6, 5.0)
lamps = st.one_of(
    st.builds(Response, rise_s=rises, fall_s=st.one_of(st.just(0.0), st.floats(0.0, 5.0))),
    st.builds(Response, rise_s=st.floats(0.0, 5.0)),
    st.builds(Response, lag_s=st.floats(0.0, 5.0)),
)
doses = st.one_of(st.floats(1e-6, 1e4), st.floats(-6.0, 4.0).map(lambda power: 10.0**power))


def light_added_up(rise: float, fall: float, seconds: float) -> float:
    """The light curve itself, integrated: up towards 1 while on, then down from the level it had reached."""

    def up(t: float) -> float:
        return 1.0 - math.exp(-t / rise)

    # in pieces, so that the quick part of a quick lamp is not missed; e^-45 is nothing
    knees = [0.0, *(k * rise for k in (1.0, 5.0, 45.0) if k * rise < seconds), seconds]
    on = sum(quad(up, a, b, epsabs=0.0, epsrel=1e-10)[0] for a, b in itertools.pairwise(knees))
    if fall == 0.0:
        return float(on)
    after = quad(lambda t: up(seconds) * math.exp(-t / fall), 0.0, 45.0 * fall, epsabs=0.0, epsrel=1e-10)[0]
    return float(on + after)


@given(st.floats(1e-3, 5.0), st.one_of(st.just(0.0), st.floats(1e-3, 5.0)), st.floats(1e-3, 300.0))
@example(0.13, 0.06, 0.5)
@example(0.06, 0.13, 0.5)
@example(1.0, 0.0, 0.049)  # either side of where small bursts go by series
@example(1.0, 0.0, 0.051)
def test_the_dose_is_the_light_added_up(rise: float, fall: float, seconds: float) -> None:
    assert Response(rise, fall).dose(seconds) == pytest.approx(light_added_up(rise, fall, seconds), rel=1e-8)


@given(st.floats(1e-9, 2.0))
@example(0.0499)
@example(0.0501)
def test_short_bursts_keep_all_their_figures(seconds: float) -> None:
    """Against the power series of t - 1 + e^-t in exact fractions."""
    t = Fraction(seconds)
    exact = sum((-t) ** k / math.factorial(k) for k in range(2, 25))
    assert Response(rise_s=1.0).dose(seconds) == pytest.approx(float(exact), rel=1e-14)


delays = st.floats(0.0, 0.5)
relayed = st.one_of(
    st.builds(Response, rise_s=rises, fall_s=st.floats(0.0, 5.0), relay_on_s=delays, relay_off_s=delays),
    st.builds(Response, relay_on_s=delays, relay_off_s=delays),
)


@given(st.floats(1e-3, 5.0), st.floats(1e-3, 5.0), delays, delays, st.floats(1e-3, 300.0))
@example(0.12, 0.06, 0.012, 0.004, 0.008)
@example(0.12, 0.06, 0.012, 0.004, 0.009)
@example(0.12, 0.06, 0.004, 0.012, 0.001)
def test_a_relay_s_delays_move_the_ends_of_the_current(
    rise: float, fall: float, on: float, off: float, line: float
) -> None:
    """The current's own two edges, then the light curve between them, added up."""
    begins, ends = on, line + off
    wanted = light_added_up(rise, fall, ends - begins) if ends > begins else 0.0
    lamp = Response(rise, fall, relay_on_s=on, relay_off_s=off)
    assert lamp.dose(line) == pytest.approx(wanted, rel=1e-7, abs=1e-12)
    assert Response(relay_on_s=on, relay_off_s=off).dose(line) == pytest.approx(max(0.0, ends - begins), abs=1e-12)


@given(relayed, st.just(0.0) | st.floats(1e-9, 1e3))
@example(Response(relay_on_s=0.5), 0.25)
@example(Response(relay_off_s=0.5), 0.25)
@example(Response(rise_s=1e-06, fall_s=2.0), 0.001953125)
def test_with_a_relay_s_delays_the_two_are_inverse_to_1e_9(lamp: Response, value: float) -> None:
    """But for what is less than the relay gives at the least: that gets the shortest burst, and no less light."""
    least = lamp.dose(1e-9)
    back = lamp.dose(lamp.seconds(value)) if value else 0.0
    if 0 < value < least:  # without a relay's delay a burst may be shorter still, and give just that
        assert value * (1 - 1e-9) <= back <= least * (1 + 1e-9)
    else:
        assert back == pytest.approx(value, rel=1e-9, abs=1e-9)
    if value > 1e-6 and (dose := lamp.dose(value)) > 1e-6:
        assert lamp.seconds(dose) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(relayed, st.floats(0.5, 60.0), st.lists(st.floats(0.001, 20.0), max_size=8))
def test_every_further_burst_is_topped_up_for_its_relay(lamp: Response, dose: float, cut_at: list[float]) -> None:
    """Bursts cut anywhere, each followed by what is owed: in all the dose, or a burst's least more."""
    given, least = 0.0, lamp.dose(1e-9)
    for seconds in cut_at:
        if given < dose:
            given += lamp.dose(min(seconds, lamp.seconds(dose - given)))
    if given < dose:
        given += lamp.dose(lamp.seconds(dose - given))
    assert dose - 1e-9 <= given <= dose + least + 1e-9


def test_doses_of_known_bursts() -> None:
    """[computed] One rise time gives tr/e without a glow, tr with one as long; long bursts lose tr - tf."""
    doses = (
        *(Response(0.5).dose(0.5), Response(0.5, 0.5).dose(0.5), Response(0.25, 0.125).dose(100.0)),
        *(Response(lag_s=0.5).dose(2.0), Response(lag_s=0.5).dose(0.25), LED.dose(2), LED.dose(0)),
    )
    assert doses == pytest.approx((0.5 / math.e, 0.5, 99.875, 1.5, 0.0, 2.0, 0.0), rel=1e-15, abs=0.0)


def test_a_half_cycle_as_stops() -> None:
    """[computed] A half-cycle of the mains, 10 ms (50 Hz) or 8.33 ms (60 Hz), on 0.5, 1 and 2 s."""
    cycles = {
        hertz: tuple(round(total_stops(LED.dose(t), LED.dose(0.5 / hertz)), 4) for t in (0.5, 1.0, 2.0))
        for hertz in (50, 60)
    }
    assert cycles == {50: (0.0286, 0.0144, 0.0072), 60: (0.0238, 0.0120, 0.0060)}


@given(lamps, doses)
@example(Response(5.0, 0.0), 1e-6)
@example(Response(1e-6, 5.0), 4.9999999)
@example(Response(5.0, 5.0), 3.0)
@example(Response(1e-6, 1e-6), 1e4)
@example(Response(5e-324), 1e-6)
@example(Response(lag_s=5.0), 1e-6)
def test_seconds_are_the_inverse_of_dose(lamp: Response, dose: float) -> None:
    assert lamp.dose(lamp.seconds(dose)) == pytest.approx(dose, rel=1e-9)


@given(lamps, doses)
def test_dose_is_the_inverse_of_seconds(lamp: Response, seconds: float) -> None:
    dose = lamp.dose(seconds)
    assume(dose > 0.0)  # bursts inside the lag give nothing, whatever their length
    assert lamp.seconds(dose) == pytest.approx(seconds, rel=1e-9, abs=1e-12)


@given(st.floats(1e-6, 5.0), st.floats(0.0, 5.0), doses)
def test_the_inverse_is_as_exact_as_promised(rise: float, fall: float, dose: float) -> None:
    back = Response(rise, fall).dose(Response(rise, fall).seconds(dose))
    assert back == pytest.approx(dose, rel=1e-12, abs=1e-12)


@given(lamps, st.floats(0.0, 1e4), st.floats(0.0, 1e4))
def test_longer_bursts_give_more(lamp: Response, a: float, b: float) -> None:
    short, long = sorted((a, b))
    assert lamp.dose(short) <= lamp.dose(long) * (1 + 1e-14)
    assert lamp.seconds(short) <= lamp.seconds(long) * (1 + 1e-14)


@given(lamps)
def test_nothing_for_nothing(lamp: Response) -> None:
    assert (lamp.dose(0.0), lamp.seconds(0.0), lamp.seconds(-0.0)) == (0.0, 0.0, 0.0)


@given(st.floats(1e-6, 5.0), st.floats(0.0, 5.0), st.integers(2, 10))
def test_many_bursts_want_more_time_than_one(rise: float, fall: float, bursts: int) -> None:
    """Where a lamp loses more in rising than it gives in falling, each further burst loses again."""
    lamp = Response(rise, min(fall, rise))
    assert bursts * lamp.seconds(12.0 / bursts) >= lamp.seconds(12.0) * (1 - 1e-12)


@pytest.mark.parametrize("value", [-0.1, math.nan, math.inf, -math.inf])
def test_refused_lamps_out_of_range(value: float) -> None:
    said = []
    names = ("rise", "fall", "lag", "relay on", "relay off")
    for name in names:
        with pytest.raises(ValueError) as refusal:
            Response(**{f"{name.replace(' ', '_')}_s": value})
        said.append(str(refusal.value))
    assert said == [f"a lamp's {name} must be 0 seconds or more; found {value!r}" for name in names]


@pytest.mark.parametrize(
    ("rise", "fall", "lag", "says"),
    [
        (0.1, 0.0, 0.05, "give a lamp its rise and fall or its measured lag, not both"),
        (0.1, 0.05, 0.05, "give a lamp its rise and fall or its measured lag, not both"),
        (0.0, 0.05, 0.05, "give a lamp its rise and fall or its measured lag, not both"),
        (0.0, 0.05, 0.0, "must also rise: doses shorter than the after-glow could not be given"),
        (1e-9, 0.05, 0.0, "must also rise: doses shorter than the after-glow could not be given"),
    ],
)
def test_refused_lamps_that_contradict_themselves(rise: float, fall: float, lag: float, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Response(rise, fall, lag)


@pytest.mark.parametrize("delays", [(0.01, 0.0), (0.0, 0.01), (0.01, 0.01)])
def test_a_measured_lag_has_the_relay_in_it(delays: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="lag, not both"):
        Response(lag_s=0.1, relay_on_s=delays[0], relay_off_s=delays[1])


@pytest.mark.parametrize("lamp", [LED, Response(0.13, 0.06), Response(lag_s=0.1)], ids=["led", "filament", "lag"])
@pytest.mark.parametrize("value", [-1e-9, math.nan, math.inf])
def test_refused_bursts_and_doses(lamp: Response, value: float) -> None:
    with pytest.raises(ValueError, match="burst must be 0 seconds"):
        lamp.dose(value)
    with pytest.raises(ValueError, match="dose must be 0 seconds"):
        lamp.seconds(value)


def test_a_lamp_is_a_value() -> None:
    lamp = Response(0.13, fall_s=0.06)
    with pytest.raises(FrozenInstanceError):
        lamp.rise_s = 1.0  # type: ignore[misc]
    assert {lamp, Response(rise_s=0.13, fall_s=0.06)} == {lamp}


# --- measuring a lamp ---


def test_one_long_against_many_short() -> None:
    """T, t and n of the one-long-many-short test (common practice, no source; the lags [computed])."""
    lags = [measured_lag(10.0, 1.12, 10), measured_lag(16.0, 2.10, 8), measured_lag(12.0, 2.15, 6)]
    assert [round(lag, 4) for lag in lags] == [0.1333, 0.1143, 0.18]


@given(st.floats(0.0, 1.0), st.floats(5.0, 60.0), st.integers(2, 12))
def test_the_lag_is_found_again(lag: float, dose: float, bursts: int) -> None:
    lamp = Response(lag_s=lag)
    found = measured_lag(lamp.seconds(dose), lamp.seconds(dose / bursts), bursts)
    assert found == pytest.approx(lag, abs=1e-12)


def test_the_lag_of_a_filament_is_rise_less_fall() -> None:
    """[computed] Bursts long against the rise lose tr - tf each: below 0 where the glow is longer."""
    found = []
    for lamp in (Response(0.13, 0.06), Response(0.06, 0.13)):
        found.append(measured_lag(lamp.seconds(40.0), lamp.seconds(5.0), 8))
    assert found == pytest.approx([0.07, -0.07], abs=1e-12)


@pytest.mark.parametrize(
    ("long", "short", "bursts", "says"),
    [
        *[
            (0.0, 1.0, 5, "long burst must be over 0"),
            (math.nan, 1.0, 5, "long burst"),
            (10.0, -1.0, 5, "short burst"),
        ],
        *[(10.0, math.inf, 5, "short burst"), (10.0, 1.0, 1, "2 short bursts or more; found 1")],
    ],
)
def test_refused_measurements(long: float, short: float, bursts: int, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        measured_lag(long, short, bursts)
