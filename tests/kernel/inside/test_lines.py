"""The keeper's process, gpiozero and lgpio on the real character device; the kernel's own trace is the truth."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from firmware.cage import settings
from firmware.machine import SOURCE
from kernel.bench import Wired, low_bench
from kernel.chip import DEVICE, Chip
from lines.keeper import RealKeeper, as_sent, bench

from timerd.bench.contacts import LOCK_OUT_S
from timerd.bench.ending import WHY
from timerd.bench.lastoff import TOLD
from timerd.bench.note import read_note

GREEN, BLUE = "lamp head-green", "lamp head-blue"
LATE_S = 2.0
"""A busy machine may make it so late; how late it is as a rule, tests/measure/kernel_timing.py prints."""


@pytest.fixture
def keeper(wired: Wired, tmp_path: Path) -> Iterator[RealKeeper]:
    with RealKeeper(tmp_path, wired.facts) as keeper:
        assert keeper.first == {
            "is": "keeping", "scheduling": "real time, memory locked", "factory": "LGPIOFactory", "chip": 0
        }  # fmt: skip
        yield keeper


@pytest.fixture(params=["high", "low"])
def either(request: pytest.FixtureRequest, chip: Chip) -> Wired:
    """A bench whose relays come on by a high line, and one whose do by a low one."""
    return Wired(chip, bench() if request.param == "high" else low_bench())


# -- no light but the one asked for ----------------------------------------------------------------------------------


def test_no_line_moves_when_a_keeper_starts_and_ends(either: Wired, tmp_path: Path) -> None:
    for _ in range(2):
        with RealKeeper(tmp_path, either.facts) as keeper:
            assert keeper.first["is"] == "keeping", keeper.first
            assert either.levels() == dict.fromkeys(either.outputs, False)
            keeper.signal(signal.SIGTERM)
            assert keeper.ended() == 0
    assert either.levels() == dict.fromkeys(either.outputs, False)
    assert set(either.chip.driven()) >= {out["pin"] for out in either.outputs.values()}, "every line was driven"
    assert either.changes() == {}


@pytest.mark.parametrize("ends_by", [signal.SIGTERM, signal.SIGKILL])
def test_a_line_that_is_let_go_is_held_at_rest_by_the_chip_s_own_resistor(
    either: Wired, tmp_path: Path, ends_by: signal.Signals
) -> None:
    """The resistors outside are broken: without the chip's own every lamp would come on. That this chip has one for
    each line that is asked for it is all that a simulated one can show."""
    for out in either.outputs.values():
        either.chip.pull(out["pin"], out["active"] == "high")
    assert either.levels() == dict.fromkeys(either.outputs, True)
    with RealKeeper(tmp_path, either.facts) as keeper:
        assert keeper.first["is"] == "keeping", keeper.first
        keeper.signal(ends_by)
        keeper.ended()
    assert either.levels() == dict.fromkeys(either.outputs, False)


def test_as_the_library_comes_a_lamp_lit_by_a_low_line_would_have_flashed(chip: Chip) -> None:
    """That the trace sees such a pulse: gpiozero's own pin is claimed low, and written after that."""
    wired = Wired(chip, low_bench())
    code = "from gpiozero import OutputDevice; OutputDevice(4, active_high=False, initial_value=False)"
    subprocess.run([sys.executable, "-c", code], env={**os.environ, "GPIOZERO_PIN_FACTORY": "lgpio"}, check=True)
    assert [active for _, active in wired.changes()["lamp green"]] == [True, False]


def test_a_burst_on_every_line_that_it_needs_and_on_no_other(either: Wired, tmp_path: Path) -> None:
    with RealKeeper(tmp_path, either.facts) as keeper:
        asked = keeper.expose(light="blue", seconds=0.25)
        lit, dark = keeper.until("lit"), keeper.until("dark")
        assert dark["why"] == "deadline"
    changes = either.changes()
    lamp = next(name for name in either.outputs if name.endswith("blue"))
    assert set(changes) == {lamp, "safelight", "heartbeat"}
    (on, is_on), (off, is_off) = changes[lamp]
    assert (is_on, is_off) == (True, False)
    assert asked["at"] <= on + 1e-6 and on <= lit["at"] <= asked["at"] + LATE_S, "never early; told once it was done"
    assert asked["at"] + 0.25 <= off + 1e-6 and off <= dark["at"] <= on + 0.25 + LATE_S
    assert [active for _, active in changes["safelight"]] == [True, False]
    *beats, last = (at for at, _ in changes["heartbeat"])
    assert len(beats) > 50 and asked["at"] - 0.25 < beats[0] < on and off - 0.1 < last
    assert beats[-1] <= dark["at"], "after dark it is put to rest, at the most"
    assert either.levels() == dict.fromkeys(either.outputs, False)


# -- feet ------------------------------------------------------------------------------------------------------------


def test_a_press_through_the_chip_cuts_a_light(keeper: RealKeeper, wired: Wired) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    before = time.monotonic()
    wired.foot("end", True)
    after = time.monotonic()
    press, dark = keeper.until("pedal"), keeper.until("dark")
    assert (press["pedal"], press["down"], dark["why"]) == ("end", True, "pedal")
    assert before <= press["at"] <= after, "stamped as it happened"
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]
    off = wired.changes()[GREEN][1][0]
    assert press["at"] <= off + 1e-6 and off <= dark["at"] <= press["at"] + LATE_S


@pytest.mark.parametrize("name", ["two-station", "low"])
def test_bounce_is_one_press_and_one_let_up(name: str, chip: Chip, tmp_path: Path) -> None:
    """Contacts that close to ground and, on the bench `low`, one that closes to the supply."""
    wired = Wired(chip, low_bench() if name == "low" else bench())
    with RealKeeper(tmp_path, wired.facts) as keeper:
        for _ in range(20):  # a machine that is too busy makes two presses of it, which they are
            begin = len(keeper.reports)
            keeper.expose(light="blue", seconds=60.0)
            keeper.until("lit")
            took = [wired.bounce("end", down, times=9) for down in (True, False)]
            wired.tap("go")
            keeper.until("dark")
            while keeper.until("pedal")["pedal"] != "go":
                pass
            keeper.until("pedal")
            if max(took) < LOCK_OUT_S:
                break
        moves = [report for report in keeper.reports[begin:] if report["is"] == "pedal"]
        (dark,) = (report for report in keeper.reports[begin:] if report["is"] == "dark")
    assert [(move["pedal"], move["down"]) for move in moves] == (
        [("end", True), ("end", False), ("go", True), ("go", False)]
    )  # fmt: skip
    assert moves[0]["at"] <= dark["at"] <= moves[0]["at"] + LATE_S, "dark at the first edge, not when it is quiet"


def test_a_held_foot_lights_and_its_let_up_darkens(keeper: RealKeeper, wired: Wired) -> None:
    wired.foot("go", True)
    press = keeper.until("pedal")
    keeper.expose(at=press["at"] + 0.2, seconds=60.0, while_down="go")
    lit = keeper.until("lit")
    wired.foot("go", False)
    up, dark = keeper.until("pedal"), keeper.until("dark")
    assert (up["down"], dark["why"]) == (False, "pedal")
    (on, _), (off, _) = wired.changes()[GREEN]
    assert press["at"] + 0.2 <= on + 1e-6 and on <= lit["at"]
    assert up["at"] <= off + 1e-6 and off <= dark["at"] <= up["at"] + LATE_S


# -- ends of every kind ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_keeper_told_to_stop_darkens_first(how: signal.Signals, keeper: RealKeeper, wired: Wired) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    keeper.signal(how)
    assert keeper.ended() == 0
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]
    assert wired.levels() == dict.fromkeys(wired.outputs, False)


def test_a_daemon_that_is_gone_darkens(keeper: RealKeeper, wired: Wired) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    keeper.pipe.close()
    assert keeper.ended() == 0
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]
    assert wired.levels() == dict.fromkeys(wired.outputs, False)


def last_off(run: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "timerd.bench.lastoff", str(run)], capture_output=True, text=True, timeout=20
    )


@pytest.mark.parametrize("stays", [False, True], ids=["released", "stays up"])
def test_a_keeper_that_is_killed_and_the_last_off(
    stays: bool, keeper: RealKeeper, wired: Wired, tmp_path: Path
) -> None:
    """The kernel lets the line of a dead process go. A Raspberry Pi's leaves it as it was: here a level from outside
    holds it up, so that only a line that is driven low is dark."""
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    (tmp_path / TOLD).write_text(json.dumps(as_sent(wired.facts)))
    pin = wired.outputs[GREEN]["pin"]
    if stays:
        wired.chip.pull(pin, True)
    keeper.signal(signal.SIGKILL)
    keeper.ended()
    assert wired.levels()[GREEN] == stays
    before = time.monotonic()
    done = last_off(tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    note = read_note(tmp_path)
    assert note is not None and note.why == WHY and note.lit is not None and note.dark is not None
    driven = [d for d in wired.chip.driven()[pin] if d.pid != keeper.process.pid and d.at > before]
    assert driven and not any(d.level for d in driven), "low, and never anything else"
    low = min(d.at for d in driven if d.level is False)
    assert low <= note.dark
    assert note.dark_lo is not None and note.lit <= note.dark_lo <= before, "between its last sign of life and now"


# -- pins that cannot be had -----------------------------------------------------------------------------------------


@pytest.fixture
def holder() -> Iterator[Any]:
    """Another program that holds a pin, for as long as it runs."""
    held: list[subprocess.Popen[bytes]] = []

    def hold(pin: int) -> None:
        code = f"import lgpio; h = lgpio.gpiochip_open(0); lgpio.gpio_claim_input(h, {pin}); print(flush=True); input()"
        process = subprocess.Popen([sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        held.append(process)
        assert process.stdout is not None and process.stdout.readline() == b"\n"

    yield hold
    for process in held:
        process.communicate(b"\n", timeout=20)


@pytest.mark.parametrize(
    ("pin", "what"), [(27, "GPIO27 for lamp head-blue"), (22, "GPIO22 for safelight"), (6, "GPIO6 for pedal end")]
)
def test_a_pin_in_use_is_said_by_its_name_and_no_line_moves(
    pin: int, what: str, holder: Any, wired: Wired, tmp_path: Path
) -> None:
    holder(pin)
    with RealKeeper(tmp_path, wired.facts) as keeper:
        assert keeper.first["is"] == "no lines"
        assert keeper.first["why"].startswith(f"{what}: ")
        assert keeper.first["why"].endswith(
            ": another program holds it: stop that one (is a timerd running already?)"
        ), keeper.first["why"]
        assert keeper.ended() == 1
    assert wired.changes() == {}


def test_a_second_keeper_gets_nothing_and_disturbs_nothing(keeper: RealKeeper, wired: Wired, tmp_path: Path) -> None:
    (tmp_path / "second").mkdir()
    with RealKeeper(tmp_path / "second", wired.facts) as second:
        assert second.first["is"] == "no lines" and "another program holds it" in second.first["why"]
        assert second.ended() == 1
    keeper.expose()
    assert keeper.until("dark")["why"] == "deadline"
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]
    assert {d.pid for moves in wired.chip.driven().values() for d in moves} == {keeper.process.pid}


UNPRIVILEGED = """
import ctypes, os, sys
for right in (1, 2):  # root's rights to pass over permissions (CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH)
    assert ctypes.CDLL(None).prctl(24, right, 0, 0, 0) == 0
os.execv(sys.executable, [sys.executable, "-m", "timerd.bench.loop", *sys.argv[1:]])
"""


AS_THE_SERVICE = """
import ctypes, os, resource, sys
limits = [int(text) for text in sys.argv[1:3]]
for which, limit in zip((resource.RLIMIT_RTPRIO, resource.RLIMIT_MEMLOCK), limits):
    resource.setrlimit(which, (limit, limit))
os.setgroups([int(sys.argv[3])])
prctl = ctypes.CDLL(None).prctl
for right in range(64):  # CapabilityBoundingSet= : what root has beside its name
    prctl(24, right, 0, 0, 0)
assert prctl(38, 1, 0, 0, 0) == 0  # NoNewPrivileges=
os.execv(sys.executable, [sys.executable, "-m", "timerd.bench.loop", *sys.argv[4:]])
"""
GPIO = 12345


@pytest.mark.parametrize(
    ("limits", "scheduling"),
    [
        ("the unit's", "real time, memory locked"),
        ("none", "NOT real time (Operation not permitted: this user needs the right rtprio 50), "
                 "memory NOT locked (Operation not permitted: this user needs the right memlock)"),
    ],
)  # fmt: skip
def test_two_limits_and_a_group_are_all_that_the_keeper_needs(
    limits: str, scheduling: str, wired: Wired, tmp_path: Path
) -> None:
    """As the service has it: no capability, LimitRTPRIO and LimitMEMLOCK, and the device by the group gpio. What a last
    off of another user's (sudo timerd dark) left of the pin library's in its folder is no hindrance."""
    told = settings(SOURCE / "timerd.service")
    assert told["CapabilityBoundingSet"] == [""] and told["SupplementaryGroups"] == ["gpio"]
    rtprio, memlock = int(told["LimitRTPRIO"][0]), int(told["LimitMEMLOCK"][0].removesuffix("M")) << 20
    allowed = (rtprio, memlock) if limits == "the unit's" else (0, 0)
    left = tmp_path / ".lgd-nfy0"
    os.mkfifo(left, 0o600)
    os.chown(left, 1, 1)
    os.chown(DEVICE, 1, GPIO)
    os.chmod(DEVICE, 0o660)
    try:
        program = ("-c", AS_THE_SERVICE, *map(str, allowed), str(GPIO))
        with RealKeeper(tmp_path, wired.facts, program=program) as keeper:
            assert keeper.first["scheduling"] == scheduling
            assert left.stat().st_uid == 0, "the keeper's own, in its place"
            keeper.expose(seconds=0.2)
            assert keeper.until("dark")["why"] == "deadline"
    finally:
        os.chown(DEVICE, 0, 0)
    assert [lit for _, lit in wired.changes()[GREEN]] == [True, False]


def test_a_user_who_may_not_is_told_so(wired: Wired, tmp_path: Path) -> None:
    """The device is another user's, and this process has lost root's way round that."""
    os.chown(DEVICE, 12345, 12345)
    os.chmod(DEVICE, 0o660)
    try:
        with RealKeeper(tmp_path, wired.facts, program=("-c", UNPRIVILEGED)) as keeper:
            assert keeper.first["is"] == "no lines"
            assert keeper.first["why"].startswith("the pins: ")
            assert keeper.first["why"].endswith(
                ": this user may not: join the group that may (on a Raspberry Pi: gpio)"
            ), keeper.first["why"]
            assert keeper.ended() == 1
    finally:
        os.chown(DEVICE, 0, 0)
    assert wired.chip.driven() == {}
