"""The keeper's rules, one by one: what it takes, what it refuses, what makes everything dark."""

from __future__ import annotations

import json
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lines.remembered import Remembered
from walks.keeper_walk import SETUP, KeeperWalk

from timerd.bench.keeper import LATE_OFF_S, LEASE_S, SAFELIGHT, WENT_OUT_LATE, Keeper
from timerd.bench.limits import CAP_S
from timerd.wire.keeper import Fault

GREEN = "lamp head-green"


def loop_on(found_down: tuple[str, ...] = ()) -> Remembered:
    return Remembered(SETUP, found_down=found_down)


def burst(**changes: Any) -> dict[str, Any]:
    return {
        "do": "expose", "burst": 1, "light": "green", "at": 13.0, "seconds": 4.0, "cut_on": ["go", "end"],
        "while_down": None, "safelight": {"dark": 10.0, "stays": []}, "seen": 0, "view": False, **changes,
    }  # fmt: skip


LIT = {"is": "lit", "burst": 1, "at": 13.0}


def test_a_burst_from_the_message_to_the_dark() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(30.0)
    assert loop.edges == [
        (10.0, SAFELIGHT, False), (13.0, GREEN, True), (17.0, GREEN, False), (17.0, SAFELIGHT, True),
    ]  # fmt: skip
    assert loop.reports == [
        {"is": SAFELIGHT, "lit": False, "at": 10.0},
        LIT,
        {"is": SAFELIGHT, "lit": True, "at": 17.0},
        {"is": "dark", "burst": 1, "at": 17.0, "why": "deadline"},
    ]


def test_the_heartbeat_runs_from_acceptance_until_dark() -> None:
    loop = loop_on()
    beats = [loop.keeper.beating]
    loop.send(burst())
    for when in (10.1, 12.9, 13.1, 16.9, 17.1):
        loop.until(when)
        beats.append(loop.keeper.beating)
    assert beats == [False, True, True, True, True, False]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"light": "red"}, "unknown light"),
        ({"burst": 0}, "asked before"),
        ({"at": 9.999}, "too late"),
        ({"at": 131.0}, "too far ahead"),
        ({"view": True, "light": "blue"}, "not to look at"),
        ({"cut_on": ["go"]}, "pedal left out"),
        ({"seconds": 30.1}, ("too long", "30")),
        ({"seconds": 0}, ("too long", "30")),
        ({"seconds": -1}, ("too long", "30")),
        ({"seconds": 60.1, "view": True}, ("too long", "60")),
        ({"light": "flash", "seconds": CAP_S + 1}, ("too long", "1800")),
        ({"while_down": "go"}, ("let up", "go")),
    ],
)
def test_refused_bursts_light_nothing(changes: dict[str, Any], why: str | tuple[str, str]) -> None:
    loop = loop_on()
    loop.send(burst(**changes))
    loop.until(200.0)
    assert loop.edges == []
    told = {"why": why} if isinstance(why, str) else dict(zip(("why", "what"), why, strict=True))
    assert loop.reports == [{"is": "refused", "burst": changes.get("burst", 1), "at": 10.0, **told}]


def test_a_press_that_the_engine_has_not_seen_refuses_the_burst() -> None:
    loop = loop_on()
    loop.pedal("end", True)
    loop.until(10.1)
    loop.pedal("end", False)
    loop.until(10.2)
    loop.send(burst(seen=0))
    assert loop.reports[-1] == {"is": "refused", "burst": 1, "why": "pressed since", "at": 10.2, "what": "end"}
    loop.send(burst(burst=2, seen=1))
    loop.until(13.0)
    assert loop.reports[-1] == {"is": "lit", "burst": 2, "at": 13.0}


def test_a_press_at_the_trays_neither_cuts_nor_refuses() -> None:
    loop = loop_on()
    loop.pedal("tray", True)
    loop.send(burst(seen=0))
    loop.until(14.0)
    loop.pedal("tray", False)
    loop.until(14.1)
    loop.pedal("tray", True)
    loop.until(30.0)
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 17.0, "why": "deadline"}]


NOT_MESSAGES: dict[str, Callable[[], bytes]] = {
    "nothing": lambda: b"",
    "not JSON": lambda: b"expose",
    "not UTF-8": lambda: b"\xff\xfe",
    "a list": lambda: b"[]",
    "an unknown verb": lambda: b'{"do":"light"}',
    "a verb of another type": lambda: b'{"do":1}',
    "a key twice": lambda: b'{"do":"renew","do":"renew"}',
    "cut with something more": lambda: b'{"do":"cut","now":true}',
    "renew with something more": lambda: b'{"do":"renew","burst":1}',
    "deep": lambda: b"[" * 4000,
    "too long": lambda: b'{"do":"renew"' + b" " * 5000 + b"}",
    "a key missing": lambda: json.dumps({k: v for k, v in burst().items() if k != "seen"}).encode(),
    "a key too many": lambda: json.dumps(burst(more=1)).encode(),
    "not a number": lambda: json.dumps(burst(seconds=float("nan"))).encode(),
    "infinite": lambda: json.dumps(burst(at=float("inf"))).encode(),
    "true for a number": lambda: json.dumps(burst(seconds=True)).encode(),
    "text for a number": lambda: json.dumps(burst(at="13")).encode(),
    "half a burst": lambda: json.dumps(burst(burst=1.5)).encode(),
    "an unknown pedal to cut on": lambda: json.dumps(burst(cut_on=["go", "end", "knee"])).encode(),
    "an unknown pedal to hold": lambda: json.dumps(burst(while_down="knee")).encode(),
    "a safelight that is not": lambda: json.dumps(burst(safelight={"dark": "now", "stays": []})).encode(),
    "a safelight with half its keys": lambda: json.dumps(burst(safelight={"dark": 1.0})).encode(),
}


@pytest.mark.parametrize("name", NOT_MESSAGES)
def test_what_is_not_a_message_darkens_everything_and_is_a_fault(name: str) -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.send(NOT_MESSAGES[name]())
    assert loop.edges[2:] == [(14.0, GREEN, False), (14.0, SAFELIGHT, True)]
    assert loop.said("fault") == [{"is": "fault", "why": "bad message", "at": 14.0}]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 14.0, "why": "bad message"}]
    loop.send(burst(burst=2, at=20.0))
    assert loop.reports[-1] == {"is": "refused", "burst": 2, "why": "not cleared", "at": 14.0, "what": "bad message"}
    loop.send(b'{"do":"cut"}')
    assert loop.reports[-1] == {"is": "rest", "at": 14.0, "low": True}
    loop.send(burst(burst=2, at=20.0))
    assert loop.reports[-1]["is"] == "refused", "to be dark is not to be cleared"
    loop.send(b'{"do":"clear"}')
    assert loop.reports[-1] == {"is": "rest", "at": 14.0, "low": True}
    loop.send(burst(burst=3, at=20.0))
    loop.until(20.0)
    assert loop.reports[-1] == {"is": "lit", "burst": 3, "at": 20.0}


def test_two_lights_asked_for_give_none() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.send(burst(burst=2, light="blue", at=15.0))
    loop.until(30.0)
    assert [edge for edge in loop.edges if edge[1] != SAFELIGHT] == [
        (13.0, GREEN, True),
        (14.0, GREEN, False),
    ]
    assert loop.said("fault") == [{"is": "fault", "why": "two lights", "at": 14.0}]


def test_at_its_end_a_keeper_has_seen_its_lines_low_or_told_of_one_that_is_not() -> None:
    for stuck in (False, True):
        loop = loop_on()
        loop.until(11.0)
        loop.stuck = {GREEN}
        loop.lit[GREEN] = stuck  # with nothing burning, and nobody has looked since
        loop.keeper.closed(loop.now)
        assert not loop.keeper.is_closed, "nothing was read yet"
        loop.settle()
        assert loop.keeper.is_closed != stuck
        loop.until(12.0)
        assert loop.keeper.is_closed
        assert [fault["high"] for fault in loop.said("fault")] == ([[GREEN]] if stuck else [])


@pytest.mark.parametrize("do", ["cut", "clear"])
def test_asked_to_rest_it_drives_every_line_low_whatever_it_believes(do: str) -> None:
    loop = loop_on()
    loop.until(11.0)
    loop.lit[GREEN] = True
    loop.send({"do": do})
    assert loop.edges == [(11.0, GREEN, False)]
    assert loop.said("rest") == [{"is": "rest", "at": 11.0, "low": True}] and loop.keeper.fault is None


@pytest.mark.parametrize(("late", "why"), [(LATE_OFF_S - 1e-4, "deadline"), (LATE_OFF_S, WENT_OUT_LATE)])
def test_a_light_that_nobody_kept_past_its_end_is_told_as_a_fault(late: float, why: str) -> None:
    """The whole machine stood still with a light on: what it gave is known, and so is that nobody watched."""
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.now = round(17.0 + late, 6)
    loop.keeper.wake(loop.now, loop.now)
    loop.settle()
    assert loop.edges[-2:] == [(loop.now, GREEN, False), (loop.now, SAFELIGHT, True)]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": loop.now, "why": why}]
    assert loop.keeper.fault == (None if why == "deadline" else why)
    loop.send(burst(burst=2, at=loop.now + 1))
    refused = [report["why"] for report in loop.said("refused")]
    assert refused == ([] if why == "deadline" else ["not cleared"])


@pytest.mark.parametrize(("at", "why"), [(16.9999, "pedal"), (17.0, "deadline"), (17.0005, "deadline")])
def test_a_press_cuts_what_was_still_to_come_and_not_what_was_over(at: float, why: str) -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(16.95)
    loop.now = 17.001  # woken late, and the press is heard first
    loop.keeper.edge("end", True, at, loop.now)
    loop.settle()
    assert [(report["why"], report["at"]) for report in loop.said("dark")] == [(why, 17.001)]
    assert [(report["pedal"], report["at"]) for report in loop.said("pedal")] == [("end", at)]


def test_the_lease_runs_out() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.renewing = False
    loop.until(30.0)
    assert loop.edges[2:] == [(14.0 + LEASE_S, GREEN, False), (14.0 + LEASE_S, SAFELIGHT, True)]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": pytest.approx(14.5), "why": "lease"}]


def test_the_lease_holds_in_the_lead_in_too() -> None:
    loop = loop_on()
    loop.renewing = False
    loop.send(burst())
    loop.until(30.0)
    assert loop.edges == [(10.0, SAFELIGHT, False), (10.5, SAFELIGHT, True)]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 10.5, "why": "lease"}]


def test_the_pipe_closes() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.keeper.closed(loop.now)
    loop.settle()
    loop.send(burst(burst=2, at=15.0))
    loop.until(30.0)
    assert loop.edges[2:] == [(14.0, GREEN, False), (14.0, SAFELIGHT, True)]


@pytest.mark.parametrize("pedal", ["go", "end"])
def test_a_press_cuts_at_its_edge_and_a_let_up_does_not(pedal: str) -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.send(burst(seen=1))
    loop.until(14.0)
    loop.pedal("go", False)
    loop.until(15.0)
    loop.pedal(pedal, True)
    assert loop.reports[-3:] == [
        {"is": "pedal", "pedal": pedal, "down": True, "at": 15.0, "number": 3},
        {"is": SAFELIGHT, "lit": True, "at": 15.0},
        {"is": "dark", "burst": 1, "at": 15.0, "why": "pedal"},
    ]


def test_a_press_in_the_lead_in_calls_it_off() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(12.0)
    loop.pedal("end", True)
    loop.until(30.0)
    assert loop.edges == [(10.0, SAFELIGHT, False), (12.0, SAFELIGHT, True)]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 12.0, "why": "pedal"}]


def test_a_held_light_goes_out_with_the_foot_and_the_safelight_may_stay_dark() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    held = {"while_down": "go", "seen": 1, "safelight": {"dark": 10.0, "stays": ["pedal"]}}
    loop.send(burst(at=10.2, **held))
    loop.until(11.0)
    loop.pedal("go", False)
    loop.until(12.0)
    assert loop.edges == [(10.0, SAFELIGHT, False), (10.2, GREEN, True), (11.0, GREEN, False)]
    loop.send(b'{"do":"cut"}')
    assert loop.edges[-1] == (12.0, SAFELIGHT, True)


def test_the_safelight_is_not_left_dark_by_a_daemon_that_hangs_between_two_lifts() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.send(burst(at=10.2, while_down="go", seen=1, safelight={"dark": 10.0, "stays": ["pedal"]}))
    loop.until(11.0)
    loop.pedal("go", False)
    loop.renewing = False
    loop.until(13.0)
    assert loop.edges[-1] == (pytest.approx(11.5, abs=0.11), SAFELIGHT, True)


def test_the_safelight_may_be_dark_only_from_the_light_on() -> None:
    loop = loop_on()
    loop.send(burst(safelight={"dark": 13.0, "stays": []}))
    loop.until(30.0)
    assert loop.edges == [
        (13.0, SAFELIGHT, False), (13.0, GREEN, True), (17.0, GREEN, False), (17.0, SAFELIGHT, True),
    ]  # fmt: skip


def test_a_line_that_will_not_go_low_is_a_fault_until_it_does() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.stuck.add(GREEN)
    loop.until(17.1)
    assert loop.said("fault") == [{"is": "fault", "why": "line not low", "at": pytest.approx(17.005), "high": [GREEN]}]
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 17.0, "why": "line not low"}]
    loop.send(burst(burst=2, light="blue", at=18.0))
    assert loop.reports[-1]["what"] == "line not low"
    loop.send(b'{"do":"cut"}')
    assert loop.reports[-1] == {"is": "rest", "at": 17.1, "low": False}
    loop.stuck.clear()
    loop.lit[GREEN] = False
    loop.until(17.3)
    assert loop.said("low") == [{"is": "low", "at": pytest.approx(17.2)}]
    loop.send(b'{"do":"cut"}')
    assert loop.reports[-1] == {"is": "rest", "at": 17.3, "low": True}


def test_a_second_clock_catches_a_first_that_stands_still() -> None:
    keeper = Keeper(SETUP, 10.0)
    keeper.read(dict.fromkeys(SETUP.longest_s, False), 10.0)
    keeper.receive(json.dumps(burst(at=10.0)).encode(), 10.0)
    keeper.receive(b'{"do":"renew"}', 10.1)
    keeper.wake(10.1, 10.1)
    lit = keeper.take()
    keeper.wake(10.1, 14.12)
    assert [w for w in keeper.take().writes if w[0] == GREEN] == []
    keeper.wake(10.1, 14.14)
    out = keeper.take()
    assert lit.writes[-1] == (GREEN, True)
    assert (GREEN, False) in out.writes
    assert out.reports[0] == Fault("over the limit by a second clock", 10.1)


def test_found_down_is_told_and_is_no_press() -> None:
    loop = loop_on(found_down=("end",))
    assert loop.reports == [{"is": "found down", "pedal": "end", "at": 10.0}]
    loop.until(11.0)
    loop.pedal("end", False)
    assert loop.reports[1:] == [{"is": "pedal", "pedal": "end", "down": False, "at": 11.0, "number": 1}]


def test_a_tap_inside_the_lock_out_is_stamped_with_its_own_let_up() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.until(10.015)
    loop.pedal("go", False)
    assert len(loop.said("pedal")) == 1
    loop.until(10.1)
    assert loop.said("pedal")[1] == {"is": "pedal", "pedal": "go", "down": False, "at": 10.015, "number": 2}


def test_forty_edges_of_bounce_are_one_press() -> None:
    loop = loop_on()
    for k in range(41):
        loop.pedal("go", k % 2 == 0)
        loop.until(10.0 + (k + 1) * 0.0006)
    loop.until(11.0)
    assert loop.said("pedal") == [{"is": "pedal", "pedal": "go", "down": True, "at": 10.0, "number": 1}]


def chatter(loop: Remembered, name: str, first: bool, seconds: float, every: float = 0.007) -> None:
    """A contact moves to and fro for so long, and rests as it began to go."""
    begun, down = loop.now, first
    while loop.now - begun < seconds or down != first:
        loop.pedal(name, down)
        loop.until(loop.now + every)
        down = not down
    loop.pedal(name, first)


@pytest.mark.parametrize("seconds", [0.02, 0.05, 0.1, 0.3])
def test_a_train_is_one_press_until_the_contact_was_still(seconds: float) -> None:
    loop = loop_on()
    chatter(loop, "go", True, seconds)
    loop.until(11.0)
    chatter(loop, "go", False, seconds)
    loop.until(12.0)
    assert [(r["down"], r["at"]) for r in loop.said("pedal")] == [(True, 10.0), (False, 11.0)]


def test_a_train_that_is_heard_late_is_one_press_all_the_same() -> None:
    """The keeper stood still for 80 ms: the edges wait in a queue, and are told one by one."""
    loop = loop_on()
    loop.now = 10.08
    for at, down in ((10.0, True), (10.005, False), (10.012, True), (10.025, False), (10.04, True)):
        loop.keeper.edge("go", down, at, loop.now)
        loop.settle()
    loop.until(11.0)
    assert [(r["down"], r["at"]) for r in loop.said("pedal")] == [(True, 10.0)]


def test_an_edge_on_its_way_when_the_level_is_read_is_part_of_its_train() -> None:
    """Read at the end of the lock-out a contact is open, and no edge has told of that yet: the kernel is late."""
    loop = loop_on()
    loop.pedal("go", True)
    loop.now = 10.03
    loop.keeper.level("go", False, loop.now)
    loop.keeper.wake(loop.now)
    loop.settle()
    for at, down in ((10.021, False), (10.04, True)):
        loop.now = 10.045
        loop.keeper.edge("go", down, at, loop.now)
        loop.settle()
    loop.until(11.0)
    assert [(r["down"], r["at"]) for r in loop.said("pedal")] == [(True, 10.0)]


def test_a_contact_that_never_rests_puts_a_light_out() -> None:
    """A wet or broken contact: half a second of it is no bounce any more, and whatever is a press darkens."""
    loop = loop_on()
    for k in range(700):
        loop.pedal("end", k % 2 == 0)
        loop.until(loop.now + 0.002)
        if k == 50:
            loop.send(burst(at=loop.now + 0.2, seen=1))
    assert [edge for edge in loop.edges if edge[1] == GREEN] == [
        (10.302, GREEN, True),
        (pytest.approx(10.55, abs=0.05), GREEN, False),
    ]
    assert [report["why"] for report in loop.said("dark")] == ["pedal"]


def test_a_held_light_waits_for_a_contact_that_bounces_open_at_its_moment() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.send(burst(at=10.2, while_down="go", seen=1))
    for at, down in ((10.02, False), (10.04, True), (10.065, False), (10.09, True), (10.115, False), (10.14, True),
                     (10.165, False), (10.175, True), (10.19, False), (10.21, True)):  # fmt: skip
        loop.until(at - 0.005)  # its heartbeat wakes a keeper all the while
        loop.until(at)
        loop.pedal("go", down)
    loop.until(11.0)
    assert [edge for edge in loop.edges if edge[1] == GREEN] == [(10.21, GREEN, True)]
    loop.pedal("go", False)
    assert loop.edges[-2] == (11.0, GREEN, False)
    assert len(loop.said("pedal")) == 2


def test_a_held_light_stays_dark_where_the_contact_bounced_and_stayed_open() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.send(burst(at=10.2, while_down="go", seen=1))
    for k, at in enumerate((10.02, 10.04, 10.065, 10.09, 10.115, 10.14, 10.165, 10.175, 10.19)):
        loop.until(at)
        loop.pedal("go", k % 2 == 1)
    loop.until(10.205)
    loop.until(11.0)
    assert [edge for edge in loop.edges if edge[1] == GREEN] == []
    assert [(r["why"], r["at"]) for r in loop.said("dark")] == [("pedal", pytest.approx(10.22))]


@settings(max_examples=500, deadline=None)
@given(st.lists(st.floats(0.00001, 0.08), min_size=1, max_size=60))
def test_after_any_bounce_the_believed_level_is_the_real_one_within_31_ms(gaps: list[float]) -> None:
    loop = loop_on()
    down = False
    for gap in gaps:
        loop.until(loop.now + gap)
        down = not down
        loop.pedal("go", down)
    last = loop.now
    loop.until(last + 0.031)
    assert loop.keeper._contacts.down("go") is down
    told = [report["down"] for report in loop.said("pedal")]
    assert told == [i % 2 == 0 for i in range(len(told))]
    stamps = [report["at"] for report in loop.said("pedal")]
    assert all(a < b for a, b in pairwise(stamps)), "no edge before the one before it"


@pytest.mark.parametrize("seed", range(21))
def test_a_random_walk_never_lights_two_lights_nor_leaves_one_on(seed: int) -> None:
    walk = KeeperWalk(seed)
    for _ in range(2500):
        walk.step()
    walk.finish()
    assert walk.lights > 3


@settings(max_examples=1000, deadline=None)
@given(st.lists(st.binary(max_size=200), max_size=20))
def test_any_bytes_at_all_leave_the_bench_dark(datagrams: list[bytes]) -> None:
    walk = KeeperWalk(1)
    for datagram in datagrams:
        walk.send(json.dumps(walk.expose()).encode())
        walk.send(datagram)
    walk.finish()


def test_bounce_that_is_heard_late_makes_no_second_press() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.now = 10.015
    loop.pedal("go", False)
    loop.now = 10.0301
    loop.keeper.edge("go", True, 10.029, loop.now)
    loop.settle()
    loop.until(11.0)
    assert loop.said("pedal") == [{"is": "pedal", "pedal": "go", "down": True, "at": 10.0, "number": 1}]


def test_the_level_read_at_the_end_of_a_lock_out_counts_not_the_last_edge_heard() -> None:
    loop = loop_on()
    loop.pedal("go", True)
    loop.now = 10.015
    loop.pedal("go", False)
    loop.now = 10.03
    loop.keeper.level("go", True, loop.now)
    loop.until(11.0)
    assert loop.said("pedal") == [{"is": "pedal", "pedal": "go", "down": True, "at": 10.0, "number": 1}]


def test_a_press_before_the_light_that_is_heard_after_it_lets_no_light_out() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(12.9)
    loop.now = 13.0005
    loop.keeper.edge("end", True, 12.9995, loop.now)
    loop.settle()
    loop.until(30.0)
    assert [edge for edge in loop.edges if edge[1] == GREEN] == []
    assert loop.said("lit") == []
    assert loop.said("dark") == [{"is": "dark", "burst": 1, "at": 13.0005, "why": "pedal"}]


def test_a_line_that_is_high_when_the_keeper_starts_is_a_fault() -> None:
    loop = loop_on()
    loop.lit[GREEN] = True
    loop.stuck.add(GREEN)
    loop.keeper = Keeper(SETUP, loop.now)
    loop.settle()
    loop.until(10.5)
    assert loop.said("fault") == [{"is": "fault", "why": "line not low", "at": pytest.approx(10.005), "high": [GREEN]}]
    loop.send(b'{"do":"cut"}')
    assert loop.reports[-1] == {"is": "rest", "at": 10.5, "low": False}
    loop.send(burst(light="blue", at=13.0))
    assert loop.reports[-1]["what"] == "line not low"


def test_a_line_found_high_in_the_lead_in_of_another_light_stops_it() -> None:
    loop = loop_on()
    loop.until(10.5)
    loop.lit["lamp head-blue"] = True
    loop.stuck.add("lamp head-blue")
    loop.send(burst())
    loop.until(30.0)
    assert [edge for edge in loop.edges if edge[1] == GREEN] == []
    assert [r["why"] for r in loop.said("fault")] == ["line not low"]


def test_nothing_is_taken_while_the_last_light_is_not_verified_dark() -> None:
    loop = loop_on()
    loop.send(burst())
    loop.until(14.0)
    loop.stuck.add(GREEN)
    loop.pedal("end", True)
    loop.now = 14.002
    loop.send(burst(burst=2, light="blue", at=18.0, seen=1))
    assert loop.reports[-1]["why"] == "not verified dark"


def test_a_burst_may_be_asked_for_two_minutes_ahead_and_no_further() -> None:
    loop = loop_on()
    loop.send(burst(at=130.0))
    assert loop.said("refused") == []
    loop.send(b'{"do":"cut"}')
    loop.send(burst(burst=2, at=130.001))
    assert loop.said("refused")[0]["why"] == "too far ahead"


@pytest.mark.parametrize(
    ("ahead", "dark"), [(10.0, 13.2 + LEASE_S), (0.3, 13.5), (0.0, 13.2), (LEASE_S, 13.2 + LEASE_S)]
)
def test_a_renewal_holds_until_its_lease_or_what_is_on_disk_whichever_is_first(ahead: float, dark: float) -> None:
    """Neither a disk that is far ahead nor a daemon that lives may be without the other."""
    loop = loop_on()
    loop.send(burst())
    loop.until(13.2)
    loop.renewing = False
    loop.send({"do": "renew", "until": loop.now + ahead})
    loop.until(20.0)
    assert [(at, lit) for at, line, lit in loop.edges if line == GREEN] == [(13.0, True), (pytest.approx(dark), False)]
