"""firmware/guard/main.py on a board that is not there: which pins, in which order, and what an error leaves."""

from __future__ import annotations

import pins
from board import TURN_US, Board, play

ASK, PASS = pins.ASK, pins.PASS
OUTPUTS = (*PASS, pins.MASTER, pins.LED)


def board(events: list[tuple[int, int, int]], beats: tuple[int, int], end_us: int, **more: object) -> Board:
    return Board(events, beats, end_us, pins.HEARTBEAT, **more)


def moves(played: Board) -> list[tuple[int, int]]:
    """What the outputs did after their start, without the times."""
    start = [(0, pin, 0) for pin in OUTPUTS]
    assert played.edges[: len(start)] == start, "every output starts low, before anything else"
    return [(pin, level) for _, pin, level in played.edges[len(start) :]]


def at(played: Board, pin: int, level: int) -> list[int]:
    return [us for us, number, to in played.edges if (number, to) == (pin, level) and us]


def test_a_burst_of_each_light_from_the_heartbeat_to_the_dark() -> None:
    events = []
    for i, pin in enumerate(ASK):
        events += [(400_000 + i * 500_000, pin, 1), (600_000 + i * 500_000, pin, 0)]
    played = board(events, (100_000, 1_700_000), 2_000_000)
    assert play(played) == "End"
    assert moves(played) == [
        (pins.MASTER, 1), (PASS[0], 1), (PASS[0], 0), (PASS[1], 1), (PASS[1], 0), (PASS[2], 1), (PASS[2], 0),
        (pins.MASTER, 0),
    ]  # fmt: skip
    assert 100_000 < at(played, pins.MASTER, 1)[0] < 135_000
    assert 1_700_000 < at(played, pins.MASTER, 0)[0] <= 1_800_000 + TURN_US
    for i, pin in enumerate(PASS):
        on, off = at(played, pin, 1)[0], at(played, pin, 0)[0]
        assert abs(on - events[2 * i][0] - 1_300) <= 2 * TURN_US and abs(off - on - 200_000) <= TURN_US


def test_a_heartbeat_lost_in_a_burst_darkens_until_the_button() -> None:
    lost = 700_000
    events = [(400_000, ASK[0], 1), (900_000, ASK[0], 0), (5_000_000, pins.BUTTON, 0), (5_200_000, pins.BUTTON, 1)]
    played = board(events, (100_000, lost), 6_000_000)
    assert play(played) == "End"
    made = moves(played)
    assert made[:4] == [(pins.MASTER, 1), (PASS[0], 1), (PASS[0], 0), (pins.MASTER, 0)]
    assert set(made[4:]) == {(pins.LED, 1), (pins.LED, 0)} and made[-1] == (pins.LED, 0)
    assert lost < at(played, PASS[0], 0)[0] == at(played, pins.MASTER, 0)[0] <= lost + 100_000 + TURN_US
    assert max(at(played, pins.LED, 0)) <= 5_000_000 + 20_000 + 2 * TURN_US, "the LED is off once it is cleared"


def test_the_pins_are_set_up_as_wired() -> None:
    played = board([], (0, 0), 10_000)
    play(played)
    wanted = dict.fromkeys((*ASK, pins.HEARTBEAT), "in down") | dict.fromkeys(OUTPUTS, "out") | {pins.BUTTON: "in up"}
    assert played.modes == wanted


def test_the_watchdog_is_set_and_fed_in_every_turn() -> None:
    played = board([], (0, 0), 300_000)
    play(played)
    assert played.watchdog_ms == 100
    assert played.fed == [TURN_US * i for i in range(2, 300_000 // TURN_US + 1)]


def test_started_again_by_the_watchdog_it_begins_in_a_fault() -> None:
    played = board([(400_000, ASK[0], 1)], (100_000, 900_000), 1_000_000, watchdog_reset=True)
    assert play(played) == "End"
    assert {pin for pin, _ in moves(played)} == {pins.LED}


def test_an_error_leaves_everything_dark_and_the_watchdog_unfed() -> None:
    played = board([(400_000, ASK[0], 1)], (100_000, 900_000), 1_000_000, break_at_us=500_000)
    assert play(played) == "OSError"
    assert moves(played)[-2:] == [(PASS[0], 0), (pins.MASTER, 0)]
    assert not any(played.levels.get(pin) for pin in (*PASS, pins.MASTER))
    assert max(played.fed) <= 500_000


def test_the_clock_starts_again_within_a_burst_and_nothing_happens() -> None:
    """The board's microseconds start from nought 70 ms into each play here: while the heartbeat is being believed."""
    played = board([(90_000, ASK[0], 1), (290_000, ASK[0], 0)], (20_000, 300_000), 350_000)
    assert play(played) == "End"
    assert moves(played)[:3] == [(pins.MASTER, 1), (PASS[0], 1), (PASS[0], 0)]
    played = board([(60_000, ASK[0], 1), (290_000, ASK[0], 0)], (20_000, 300_000), 350_000)
    assert play(played) == "End"
    assert moves(played)[:3] == [(pins.MASTER, 1), (PASS[0], 1), (PASS[0], 0)]
    assert abs(at(played, PASS[0], 0)[0] - at(played, PASS[0], 1)[0] - 230_000) <= TURN_US
