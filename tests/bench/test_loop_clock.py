"""The keeper's own loop on a clock of the test's: real pins' code, real pipe, whole lists of edges, nothing waits.

The loop's `time` and `select` are stood in for: waiting moves the clock to the next thing due, spinning to the end of
the spin, and whatever the test has put down for a moment happens at it.
"""

from __future__ import annotations

import heapq
import json
import select
import socket
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from gpiozero import Device
from lines.keeper import bench
from lines.pins import Change, RecordingFactory

from timerd.bench import loop, pedals
from timerd.bench.loop import BEAT_S, EARLY_S, _Keeping
from timerd.bench.setup import to_keep
from timerd.sheet.profile.benchfile import Bench, Line

GREEN, BLUE, SAFE, BEAT, GO, END = 17, 27, 22, 26, 5, 6


class Stage:
    """A clock, a pipe, a bench's pins, and one keeper's loop among them."""

    CLOCK_BOOTTIME = 7

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, of: Bench | None = None) -> None:
        self.now = 100.0
        self.second = 0.0
        self.cost = 0.0
        self._count = 0
        self._due: list[tuple[float, int, Callable[[], object]]] = []
        self.burst = 0
        self.pins = RecordingFactory(self.monotonic)
        monkeypatch.setattr(Device, "pin_factory", self.pins)
        monkeypatch.setattr(loop, "open_factory", lambda _: "recording")
        monkeypatch.setattr(loop, "time", self)
        monkeypatch.setattr(pedals, "time", self)
        monkeypatch.setattr(loop, "select", self)
        self.ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        theirs.setblocking(False)
        facts = to_keep(bench() if of is None else of, simulated=False, book="book", boot="boot")
        self.keeping = _Keeping(theirs, facts, folder)
        self.at_start = list(self.pins.changes)

    # -- in place of time and select -----------------------------------------------------------------------------

    def monotonic(self) -> float:
        return self.now

    def clock_gettime(self, _: int) -> float:
        return self.now + self.second

    POLLIN = select.POLLIN

    def select(self, readers: list[Any], writers: list[Any], _: list[Any], wait: float | None) -> Any:
        limit = None if wait is None else self.now + wait
        while True:
            ready = select.select(readers, writers, [], 0)
            if ready[0] or ready[1]:
                self.now += self.cost
                return ready
            if not self._happen(limit):
                assert limit is not None, "the keeper waits for something that will never come"
                self.now = max(self.now, limit)
                return [], [], []

    def poll(self) -> Any:
        real, stage = select.poll(), self

        class Poll:
            register = staticmethod(real.register)

            def poll(self, _: int) -> Any:
                due = stage.keeping._keeper.next_wake
                assert due is not None and due - stage.now <= EARLY_S + 1e-9, "no spinning but over the last 2 ms"
                if not stage._happen(due):
                    stage.now = due
                return real.poll(0)

        return Poll()

    def _happen(self, limit: float | None) -> bool:
        """The next thing put down, if it comes before `limit`."""
        if not self._due or (limit is not None and self._due[0][0] > limit):
            return False
        when, _, act = heapq.heappop(self._due)
        self.now = max(self.now, when)
        act()
        return True

    # -- what the test puts down ---------------------------------------------------------------------------------

    def at(self, when: float, act: Callable[[], object]) -> None:
        self._count += 1
        heapq.heappush(self._due, (when, self._count, act))

    def send(self, when: float, message: dict[str, Any] | bytes) -> None:
        raw = message if isinstance(message, bytes) else json.dumps(message).encode()
        self.at(when, lambda: self.ours.send(raw))

    def expose(self, when: float, **changes: Any) -> None:
        self.burst += 1
        self.send(when, {
            "do": "expose", "burst": self.burst, "light": "green", "at": when + 0.2, "seconds": 0.4,
            "cut_on": ["go", "end"], "while_down": None, "safelight": {"dark": when, "stays": []}, "seen": 0,
            "view": False, **changes,
        })  # fmt: skip

    def renew(self, begin: float, end: float) -> None:
        for k in range(int((end - begin) / 0.1) + 1):
            self.send(begin + k * 0.1, {"do": "renew"})

    def foot(self, when: float, pin: int, down: bool) -> None:
        self.at(when, lambda: self.pins.foot(pin, not down))

    def run(self, until: float) -> list[dict[str, Any]]:
        """Let it all happen, then close the pipe; what the keeper said."""
        reports: list[dict[str, Any]] = []

        def end() -> None:
            self.ours.setblocking(False)
            try:
                while True:
                    report = json.loads(self.ours.recv(1 << 16))
                    if report["is"] != "here":
                        reports.append(report)
            except BlockingIOError:
                self.ours.close()

        self.at(until, end)
        self.keeping.run()
        return reports

    def edges(self, *pins: int) -> list[Change]:
        return [(round(at, 7), pin, level) for at, pin, level in self.pins.changes if pin in pins]


@pytest.fixture
def stage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stage:
    return Stage(tmp_path, monkeypatch)


LAMPS = (GREEN, BLUE, 23, SAFE)


def test_the_edges_of_two_bursts(stage: Stage) -> None:
    assert stage.at_start == [(100.0, GO, True), (100.0, END, True)], "the pedals' pull-ups, and no line"
    stage.expose(101.0)
    stage.expose(102.0, light="blue", seconds=0.1, safelight=None)
    stage.renew(101.0, 103.0)
    reports = stage.run(103.0)
    assert stage.edges(*LAMPS) == [
        (101.0, SAFE, True), (101.2, GREEN, True), (101.6, GREEN, False), (101.6, SAFE, False),
        (102.2, BLUE, True), (102.3, BLUE, False),
    ]  # fmt: skip
    told_of = [(report["is"], round(report["at"], 7)) for report in reports]
    assert told_of == [
        ("safelight", 101.0), ("lit", 101.2), ("safelight", 101.6), ("dark", 101.6), ("lit", 102.2), ("dark", 102.3),
    ]  # fmt: skip


def test_the_heartbeat_toggles_500_times_a_second_from_acceptance_to_dark_and_never_else(stage: Stage) -> None:
    stage.expose(101.0, seconds=4.0)
    stage.renew(101.0, 106.0)
    stage.run(107.0)
    beats = stage.edges(BEAT)
    assert [level for _, _, level in beats] == [k % 2 == 0 for k in range(len(beats))]
    times = [at for at, _, _ in beats]
    assert times[0] == 101.0 and 105.2 - 2 * BEAT_S <= times[-1] <= 105.2
    gaps = [after - before for before, after in pairwise(times)]
    assert max(gaps) <= 2 * BEAT_S + 1e-6, "over a spin it waits, at most by once"
    assert sum(gap > BEAT_S + 1e-6 for gap in gaps) <= 2 + 2 * 42 / 10, "only there, and after a message"
    assert 2100 - 10 <= len(beats) <= 2101


def test_the_heartbeat_goes_on_while_the_daemon_talks_without_a_pause(stage: Stage) -> None:
    """Two hundred messages wait, and each takes 0.1 ms: the interlock must not drop the light for that."""
    stage.expose(101.0, seconds=0.3)
    stage.cost = 0.0001
    for k in range(200):
        stage.send(101.3 + k * 1e-9, {"do": "renew"})
    stage.run(102.0)
    assert [edge[1:] for edge in stage.edges(GREEN)] == [(GREEN, True), (GREEN, False)]
    times = [at for at, _, _ in stage.edges(BEAT)]
    assert max(after - before for before, after in pairwise(times)) <= 2 * BEAT_S + 0.0002


def test_a_press_darkens_at_its_edge_while_waiting_and_while_spinning(stage: Stage) -> None:
    stage.expose(101.0)
    stage.foot(101.3, GO, True)
    stage.foot(101.4, GO, False)
    stage.expose(102.0, seen=2)
    stage.foot(102.599, END, True)  # one millisecond before the light was due to go out
    stage.foot(102.7, END, False)
    stage.expose(103.0, seen=4)
    stage.foot(103.1995, GO, True)  # and one half before it was due to come on
    stage.foot(103.3, GO, False)
    stage.renew(101.0, 104.0)
    reports = stage.run(104.0)
    assert stage.edges(GREEN) == [
        (101.2, GREEN, True), (101.3, GREEN, False), (102.2, GREEN, True), (102.599, GREEN, False),
    ]  # fmt: skip
    darks = [(round(r["at"], 7), r["why"]) for r in reports if r["is"] == "dark"]
    assert darks == [(101.3, "pedal"), (102.599, "pedal"), (103.1995, "pedal")]


def test_a_bouncing_pedal_is_one_press_and_one_let_up(stage: Stage) -> None:
    """Twenty raw edges each way within 12 ms, the last of them to the level that stays."""
    for begin, down in ((101.0, True), (101.5, False)):
        for k in range(21):
            stage.foot(begin + k * 0.0006, GO, down if k % 2 == 0 else not down)
    reports = stage.run(103.0)
    assert [(r["is"], r["down"], round(r["at"], 7), r["number"]) for r in reports] == [
        ("pedal", True, 101.0, 1), ("pedal", False, 101.5, 2),
    ]  # fmt: skip


def test_a_lost_edge_is_found_at_the_end_of_the_lock_out(stage: Stage) -> None:
    """The pin is up again 5 ms after the press and no edge has told of it."""
    stage.foot(101.0, GO, True)
    stage.at(101.005, lambda: stage.pins.held.update({GO: True}))
    reports = stage.run(102.0)
    assert [(r["down"], round(r["at"], 7)) for r in reports] == [(True, 101.0), (False, 101.03)]


def test_a_lost_edge_is_found_even_if_the_daemon_speaks_at_that_moment(stage: Stage) -> None:
    stage.foot(101.0, GO, True)
    stage.at(101.005, lambda: stage.pins.held.update({GO: True}))
    stage.send(101.03, {"do": "renew"})
    reports = stage.run(102.0)
    assert [(r["down"], round(r["at"], 7)) for r in reports] == [(True, 101.0), (False, 101.03)]


def test_a_line_that_stays_high_is_read_for_5_ms_and_said(stage: Stage) -> None:
    stage.expose(101.0)
    stage.at(101.5, lambda: stage.pins.held.update({GREEN: True}))
    stage.at(103.05, lambda: stage.pins.let_go(GREEN))
    stage.renew(101.0, 104.0)
    reports = stage.run(104.0)
    told_of = [(r["is"], round(r["at"], 7), r.get("why")) for r in reports]
    assert told_of == [
        ("safelight", 101.0, None), ("lit", 101.2, None), ("safelight", 101.6, None),
        ("fault", 101.605, "line not low"), ("dark", 101.6, "line not low"), ("low", 103.105, None),
    ]  # fmt: skip


def test_a_clock_that_stood_still_is_found_out_by_the_second(stage: Stage) -> None:
    """The machine slept for 10 s with the light on: the clock that times the burst knows nothing of it."""
    stage.expose(101.0, seconds=4.0)
    stage.renew(101.0, 106.0)

    def slept() -> None:
        stage.second += 10.0

    stage.at(102.0005, slept)
    reports = stage.run(106.0)
    assert stage.edges(GREEN) == [(101.2, GREEN, True), (102.002, GREEN, False)]
    assert [r["why"] for r in reports if r["is"] in ("fault", "dark")] == ["over the limit by a second clock"] * 2


def test_silence_of_a_daemon_that_reads_nothing(stage: Stage, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is given up with its last unread report: nothing more need come for everything to be dark, and to end."""
    monkeypatch.setattr(loop, "MOST_UNSENT", 50)
    for k in range(1000):
        stage.expose(101.0 + k * 0.001, at=0.0)
    unread = 0
    give_up = stage.keeping._keeper.closed

    def given_up(now: float) -> None:
        nonlocal unread
        unread = len(stage.keeping._unsent)
        stage._due.clear()  # and now it is quiet for good
        give_up(now)

    monkeypatch.setattr(stage.keeping._keeper, "closed", given_up)
    stage.keeping.run()
    assert unread == 52  # each message brings a refusal, and that the keeper is here


def test_closing_puts_all_to_rest_and_gives_the_pins_back(stage: Stage) -> None:
    stage.expose(101.0, seconds=60.0)
    stage.run(101.35)
    stage.keeping.close()
    assert stage.edges(*LAMPS) == [
        (101.0, SAFE, True), (101.2, GREEN, True), (101.35, GREEN, False), (101.35, SAFE, False),
    ]  # fmt: skip
    assert stage.pins.happened[-6:] and {what for _, what in stage.pins.happened[-4:]} <= {"given back", "low", "high"}
    assert {pin for pin, what in stage.pins.happened if what == "given back"} >= {GREEN, BLUE, 23, SAFE, BEAT}


def test_a_signal_while_it_waits_for_nothing(stage: Stage) -> None:
    stage.at(101.0, stage.keeping.stop)
    stage.keeping.run()
    assert stage.now == 101.0


CUE, STAY = 25, 24


@pytest.fixture
def felt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Stage:
    """A bench with a lamp behind a shutter, and a cue line."""
    bright: Bench = bench("bright-lamp")
    return Stage(tmp_path, monkeypatch, bright.model_copy(update={"cue_line": Line(pin=CUE)}))


def test_pulses_on_the_cue_line_at_their_own_times(felt: Stage) -> None:
    """Before the light, with it, after it; the last one is cut off by the end, which has a pulse of its own."""
    felt.send(100.5, {"do": "stay", "on": ["stay head"]})
    felt.expose(101.0, cues=[[-0.2, 0.1, 2, 0.05], [0.0, 0.0, 1, 0.1], [0.2, 0.05, 2, 0.02], [0.35, 0.0, 1, 0.4]])
    felt.renew(101.0, 102.5)
    felt.run(102.5)
    assert felt.edges(GREEN) == [(101.2, GREEN, True), (101.6, GREEN, False)]
    assert felt.edges(CUE) == [
        (101.0, CUE, True), (101.05, CUE, False), (101.1, CUE, True), (101.15, CUE, False), (101.2, CUE, True),
        (101.3, CUE, False), (101.4, CUE, True), (101.42, CUE, False), (101.45, CUE, True), (101.47, CUE, False),
        (101.55, CUE, True), (102.2, CUE, False),
    ]  # fmt: skip


def test_no_pulse_comes_between_a_lamp_and_its_edge(felt: Stage) -> None:
    """Pulses due all the while round light on and off: for 3 ms before each the cue line stands still, and at the
    edge itself the lamp goes first. The lamp's edges are those of a burst without a pulse."""
    felt.send(100.5, {"do": "stay", "on": ["stay head"]})
    felt.expose(101.0, cues=[[-0.05, 0.001, 100, 0.0005], [0.35, 0.001, 60, 0.0005]])
    felt.renew(101.0, 102.5)
    felt.run(102.5)
    assert felt.edges(GREEN) == [(101.2, GREEN, True), (101.6, GREEN, False)]
    order = felt.edges(GREEN, CUE)
    assert len(order) > 150
    for edge in (101.2, 101.6):
        near = [(at, pin) for at, pin, _ in order if edge - 0.00299 < at < edge + 0.0009]
        assert near[0] == (edge, GREEN) and [pin for _, pin in near[1:]] == [CUE] * (len(near) - 1)


def test_a_lamp_behind_its_shutter_is_kept_on_through_bursts_and_goes_off_with_the_pipe(felt: Stage) -> None:
    felt.send(100.5, {"do": "stay", "on": ["stay head"]})
    felt.expose(101.0)
    felt.foot(101.3, GO, True)
    felt.foot(101.4, GO, False)
    felt.renew(101.0, 102.0)
    reports = felt.run(102.5)
    assert felt.edges(GREEN, STAY) == [
        (100.5, STAY, True), (101.2, GREEN, True), (101.3, GREEN, False), (102.5, STAY, False),
    ]  # fmt: skip
    stays = [report for report in reports if report["is"] == "stay"]
    assert stays == [{"is": "stay", "line": "stay head", "on": True, "at": 100.5}]


def test_nobody_renews_the_shutter_closes_and_the_lamp_waits_behind_it(felt: Stage) -> None:
    felt.send(100.5, {"do": "stay", "on": ["stay head"]})
    felt.expose(101.0, seconds=10.0)
    felt.run(104.0)
    assert felt.edges(GREEN, STAY) == [
        (100.5, STAY, True), (101.2, GREEN, True), (101.5, GREEN, False), (104.0, STAY, False),
    ]  # fmt: skip


def test_a_light_s_end_counts_from_when_its_line_had_been_written(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A slow line costs nothing of the dose: else what is told as given falls short, and a rest is owed."""
    write = stage.keeping._lines.write

    def slow(line: str, lit: bool) -> None:
        write(line, lit)
        stage.now += 0.004 if (line, lit) == ("lamp head-green", True) else 0.0

    monkeypatch.setattr(stage.keeping._lines, "write", slow)
    stage.expose(101.0)
    stage.renew(101.0, 102.0)
    told = {report["is"]: report for report in stage.run(102.0)}
    assert (told["lit"]["at"], told["dark"]["why"]) == (pytest.approx(101.204), "deadline")
    assert told["dark"]["at"] - told["lit"]["at"] == pytest.approx(0.4, abs=1e-6)
    assert stage.edges(GREEN) == [(101.2, GREEN, True), (101.604, GREEN, False)]
