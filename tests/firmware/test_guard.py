"""The lamp guard's rules, one by one and under anything at all; time is told, never read."""

from __future__ import annotations

import guard as g
import pytest
from guard import Guard
from hypothesis import example, given, settings
from hypothesis import strategies as st

LIMITS_US = (660_000_000, 660_000_000, 3_000_000)
TURN_US = 300
RELAY_US = 15_000
"""The longest that K1 takes to close or to open (hardware/PARTS.md)."""


class Player:
    """Plays a guard in turns of 300 us: a heartbeat, what is asked for, the button."""

    def __init__(self, turn_us: int = TURN_US) -> None:
        self.guard = Guard(LIMITS_US)
        self.turn_us = turn_us
        self.us = 0
        self.half_us: int | None = 2_000
        self.edge_us = 0
        self.beat = 0
        self.asked = 0
        self.pressed = False

    def turn(self) -> None:
        self.us += self.turn_us
        if self.half_us is not None and self.us - self.edge_us >= self.half_us:
            self.beat, self.edge_us = 1 - self.beat, self.us
        self.guard.step(self.turn_us, self.asked, self.beat, self.pressed)

    def play(self, us: int) -> None:
        end = self.us + us
        while self.us < end:
            self.turn()

    def until(self, what: str, value: object, most_us: int) -> int:
        """Microseconds until the guard's `what` is `value`."""
        start = self.us
        while getattr(self.guard, what) != value:
            assert self.us - start <= most_us, f"{what} is {getattr(self.guard, what)} after {self.us - start} us"
            self.turn()
        return self.us - start

    def lit(self, light: int = 1) -> Player:
        """A light is passed and has been for a while."""
        self.play(200_000)
        self.asked = light
        self.until("passed", light, 2 * g.SETTLE_US)
        self.play(100_000)
        assert self.seen() == (light, True, 0, False)
        return self

    def seen(self) -> tuple[int, bool, int, bool]:
        return self.guard.passed, self.guard.master, self.guard.fault, self.guard.led

    def press(self) -> None:
        """The button, let up, down for 100 ms and up again."""
        for pressed in (False, True, False):
            self.pressed = pressed
            self.play(100_000)

    def assert_dark(self, fault: int, us: int = 3_000_000) -> None:
        """Nothing is passed for this long, and this is why."""
        end = self.us + us
        while self.us < end:
            self.turn()
            assert (self.guard.passed, self.guard.master, self.guard.fault) == (0, False, fault)


def test_nothing_is_passed_at_power_up() -> None:
    assert Player().seen() == (0, False, 0, False)


# -- the heartbeat: the same figures as the interlock's (tests/hardware/test_interlock.py) ---------------------------


def test_the_master_relay_pulls_in_within_50_ms() -> None:
    player = Player()
    assert player.until("master", True, 50_000) + RELAY_US < 50_000


@pytest.mark.parametrize("beat", [0, 1])
def test_the_master_relay_and_the_light_drop_out_within_150_ms_of_a_heartbeat_that_sticks(beat: int) -> None:
    player = Player().lit()
    while player.beat != beat:
        player.turn()
    player.half_us = None
    assert player.until("master", False, 150_000) + RELAY_US < 150_000
    assert player.seen()[:3] == (0, False, g.NO_HEARTBEAT)


def test_the_master_relay_drops_out_within_150_ms_of_a_heartbeat_slowed_to_edges_150_ms_apart_and_stays_out() -> None:
    player = Player()
    player.play(500_000)
    assert player.guard.master
    player.half_us = 150_000
    assert player.until("master", False, 150_000) + RELAY_US < 150_000
    for _ in range(10_000):
        player.turn()
        assert not player.guard.master


def test_a_gap_of_40_ms_is_ridden_through() -> None:
    player = Player()
    player.until("master", True, 50_000)  # the worst time for it: just believed
    player.asked = 1
    for _ in range(20):
        player.half_us = 40_000
        while player.us - player.edge_us < 40_000 - TURN_US:
            player.turn()
            assert player.guard.master and not player.guard.fault
        player.half_us = 2_000
        player.play(20_000)
    assert player.seen() == (1, True, 0, False)


@pytest.mark.parametrize("half_us", [11_000, 40_000, 150_000, 1_000_000])
def test_a_heartbeat_that_is_too_slow_is_never_believed(half_us: int) -> None:
    player = Player()
    player.half_us = half_us
    for _ in range(20_000):
        player.turn()
        assert not player.guard.master


def test_a_heartbeat_that_is_too_fast_is_never_believed() -> None:
    guard = Guard(LIMITS_US)
    for i in range(20_000):
        guard.step(300, 0, i % 2, False)
        assert not guard.master


# -- a light ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("light", [1, 2, 4])
def test_a_light_alone_is_passed_and_no_longer_than_it_is_asked_for(light: int) -> None:
    player = Player()
    player.play(200_000)
    player.asked = light
    on = player.until("passed", light, 2 * g.SETTLE_US)
    player.play(1_000_000)
    player.asked = 0
    off = player.until("passed", 0, 2 * g.SETTLE_US)
    assert g.SETTLE_US <= on <= g.SETTLE_US + 2 * TURN_US and abs(on - off) <= TURN_US, "no dose changes"
    player.half_us = None
    player.play(500_000)
    assert player.seen() == (0, False, 0, False), "the heartbeat may end once the light is out"


@pytest.mark.parametrize("asked", [3, 5, 6, 7])
def test_two_lights_asked_for_give_none(asked: int) -> None:
    player = Player()
    player.play(200_000)
    player.asked = asked
    player.play(10_000)
    player.assert_dark(g.TWO_ASKED)


@pytest.mark.parametrize("then", [3, 2, 6])
def test_a_second_light_beside_the_first_or_straight_after_it_puts_both_out(then: int) -> None:
    player = Player().lit(1)
    player.asked = then
    player.until("passed", 0, 2 * g.SETTLE_US)
    player.assert_dark(g.TWO_ASKED)


def test_a_light_that_the_guard_does_not_have_is_none() -> None:
    player = Player()
    player.play(200_000)
    player.asked = 8
    player.play(10_000)
    player.assert_dark(g.TWO_ASKED)


def test_a_light_asked_for_without_a_heartbeat_is_a_fault_and_does_not_come_on_with_it() -> None:
    """A line that stayed high after its program died, or while the computer starts."""
    player = Player()
    player.half_us = None
    player.asked = 1
    player.play(10_000)
    assert player.guard.fault == g.NO_HEARTBEAT
    player.half_us = 2_000
    player.assert_dark(g.NO_HEARTBEAT)


def test_a_light_is_passed_up_to_its_limit_and_no_longer() -> None:
    player = Player()
    player.play(200_000)
    player.asked = 4
    player.until("passed", 4, 2 * g.SETTLE_US)
    player.play(LIMITS_US[2] - 2 * TURN_US)
    assert player.guard.passed == 4
    player.play(3 * TURN_US)
    player.assert_dark(g.TOO_LONG)


def test_the_limit_is_for_one_unbroken_light() -> None:
    player = Player()
    player.play(200_000)
    for _ in range(4):
        player.asked = 4
        player.play(LIMITS_US[2] - 100_000)
        player.asked = 0
        player.play(10_000)
    assert player.guard.fault == 0


def test_a_spike_of_half_a_millisecond_is_not_heard() -> None:
    player = Player()
    player.play(200_000)
    for light, spike in ((0, 1), (1, 0), (1, 3)):
        player.asked = light
        player.play(50_000)
        player.asked = spike
        end = player.us + 500
        while player.us < end + 50_000:
            if player.us >= end:
                player.asked = light
            player.turn()
            assert player.seen() == (light, True, 0, False)


def test_a_request_that_does_not_come_to_rest_is_a_fault() -> None:
    player = Player().lit(1)
    start = player.us
    while not player.guard.fault:
        player.asked = 1 - player.asked
        player.play(2 * TURN_US)
        assert player.us - start <= g.UNSTEADY_US + 1_500
    player.assert_dark(g.UNSTEADY, 10_000)


def test_a_turn_of_9_ms_is_no_fault_but_one_of_60_is() -> None:
    player = Player().lit(1)
    player.guard.step(9_000, 1, player.beat, False)
    player.guard.step(9_000, 0, player.beat, False)
    player.guard.step(9_000, 0, player.beat, False)
    assert player.seen() == (0, True, 0, False)
    player.asked = 0
    player.lit(1)
    player.guard.step(60_000, 1, player.beat, False)
    player.assert_dark(g.STOOD_STILL)


@pytest.mark.parametrize("us", [0, 1, 50_000])
def test_a_turn_that_is_just_short_enough_is_no_fault(us: int) -> None:
    player = Player().lit(1)
    player.guard.step(us, 1, player.beat, False)
    assert player.seen() == (1, True, 0, False)


@pytest.mark.parametrize("us", [-1, -(2**29), 50_001, 2**29 - 1])
def test_a_clock_that_jumps_is_a_fault_and_leaves_no_large_number(us: int) -> None:
    player = Player().lit(1)
    player.guard.step(us, 1, player.beat, False)
    assert player.guard.fault == g.STOOD_STILL and player.guard.passed == 0
    assert all(0 <= value <= 1_000_000 for value in vars(player.guard).values() if isinstance(value, int))
    player.assert_dark(g.STOOD_STILL)


# -- the fault -------------------------------------------------------------------------------------------------------


def test_a_fault_is_cleared_by_the_button_alone() -> None:
    player = Player().lit(1)
    player.half_us = None
    player.until("passed", 0, 150_000)
    player.asked, player.half_us = 0, 2_000
    player.assert_dark(g.NO_HEARTBEAT, 10_000_000)
    player.press()
    player.play(100_000)
    assert player.seen() == (0, True, 0, False)
    player.asked = 2
    player.play(10_000)
    assert player.seen() == (2, True, 0, False)


def test_the_button_clears_nothing_while_a_light_is_asked_for() -> None:
    player = Player().lit(1)
    player.asked = 3
    player.play(10_000)
    player.asked = 1
    player.press()
    player.assert_dark(g.TWO_ASKED)
    player.asked = 0
    player.press()
    assert player.guard.fault == 0


def test_a_button_that_sticks_clears_nothing() -> None:
    player = Player()
    player.play(200_000)
    player.pressed = True
    player.play(200_000)
    player.asked = 3
    player.play(10_000)
    player.asked = 0
    player.assert_dark(g.TWO_ASKED)
    player.press()
    assert player.guard.fault == 0


def test_a_button_that_stays_down_after_clearing_clears_no_second_fault() -> None:
    player = Player()
    player.asked = 3
    player.play(10_000)
    player.asked = 0
    player.play(100_000)
    player.pressed = True
    player.until("fault", 0, 100_000)
    player.play(100_000)
    player.asked = 3
    player.play(10_000)
    player.asked = 0
    player.assert_dark(g.TWO_ASKED)


def test_a_tap_too_short_to_be_a_finger_clears_nothing() -> None:
    player = Player()
    player.asked = 3
    player.play(10_000)
    player.asked = 0
    player.play(100_000)
    player.pressed = True
    player.play(10_000)
    player.pressed = False
    player.assert_dark(g.TWO_ASKED)


def test_after_clearing_the_heartbeat_must_show_itself_anew() -> None:
    player = Player()
    player.play(200_000)
    player.asked = 3
    player.play(10_000)
    player.asked = 0
    player.play(100_000)
    player.pressed = True
    player.until("fault", 0, 100_000)
    assert not player.guard.master
    assert 10_000 < player.until("master", True, 50_000) < 50_000


@pytest.mark.parametrize("fault", range(1, 7))
def test_the_led_blinks_the_fault_s_number_and_is_dark_between(fault: int) -> None:
    guard = Guard(LIMITS_US, fault)
    seen = []
    for turn in range(1, 2 * (2 * fault + 2) * g.BLINK_US // TURN_US):
        guard.step(TURN_US, 0, 0, False)
        if turn * TURN_US % g.BLINK_US == g.BLINK_US // 2:
            seen.append(guard.led)
    assert seen == 2 * ([True, False] * fault + [False, False])


# -- anything at all -------------------------------------------------------------------------------------------------

STEP = st.tuples(
    st.one_of(st.integers(100, 600), st.integers(-5, 70_000)),
    st.sampled_from([0, 0, 1, 2, 4, 3, 7, 8, 255]),
    st.integers(0, 1),
    st.booleans(),
)
STRETCH = st.tuples(st.integers(1, 1500), STEP, st.sampled_from([None, 2_000, 2_000, 2_000, 300, 12_000, 150_000]))


@settings(max_examples=40, deadline=None)
@given(st.lists(STRETCH, max_size=30), st.integers(0, 6))
@example(
    [
        (1, (300, 3, 0, False), None),
        (9, (300, 3, 0, False), None),
        (100, (300, 0, 0, False), None),
        (2, (-1, 0, 0, True), None),
    ],
    0,
)
@example([(200, (300, 0, 0, False), 2_000), (1500, (300, 1, 0, False), 2_000)], 0)
def test_whatever_comes_no_light_is_passed_that_may_not_be(stretches: list, fault: int) -> None:
    """An account kept here by other means: times of edges, how long each level has stood, how long a light burns."""
    guard = Guard(LIMITS_US, fault)
    now, beat, edge_us, last_edge_us, asked_since, was_asked, lit_since = 0, 0, 0, -(10**9), 0, 0, 0
    pressed_since, was_pressed, was = 0, False, (0, False, fault)
    for count, (us, asked, level, pressed), half_us in stretches:
        for _ in range(count):
            now += max(us, 0)
            before = beat
            if half_us is None:
                beat = level
            elif now - edge_us >= half_us:
                beat, edge_us = 1 - beat, now
            last_edge_us = now if beat != before else last_edge_us
            if asked != was_asked:
                asked_since, was_asked = now, asked
            if pressed != was_pressed:
                pressed_since, was_pressed = now, pressed
            guard.step(us, asked, beat, pressed)
            passed, master, fault = guard.passed, guard.master, guard.fault
            assert passed in (0, 1, 2, 4)
            if passed:
                assert master and not fault and not guard.led
                assert passed == asked or now - asked_since <= g.UNSTEADY_US + 2 * max(us, 0)
                assert 0 <= us <= g.STEP_AT_MOST_US
                lit_since = now if was[0] != passed else lit_since
                assert now - lit_since <= LIMITS_US[passed.bit_length() - 1] + max(us, 0)
                assert was[0] in (0, passed), "from one light to another there is dark between"
            if master:
                assert not fault and now - last_edge_us <= g.EARNED_AT_MOST_US
            if was[2]:
                cleared = fault == 0
                assert fault in (0, was[2]), "the first fault stays"
                if cleared:
                    assert pressed and now - pressed_since >= g.PRESSED_US and asked == 0 and not passed
            assert all(abs(value) < 1 << 30 for value in vars(guard).values() if isinstance(value, int)), (
                "no large number"
            )
            was = (passed, master, fault)
