"""`timerd serve` with real lines and real pedals: a whole print, pauses, two daemons, and ends of every kind."""

from __future__ import annotations

import json
import os
import select
import time
from pathlib import Path

import pytest
from kernel.bench import ServedLines
from served import bursts
from served.asking import ask
from served.killing import PAPER
from served.printing import print_sheets

from timerd.printing.light import Response

PRINT = """\
print: A wall, twice
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
areas: {wall: [[0.1, 0.1], [0.9, 0.1], [0.9, 0.5], [0.1, 0.5]]}
steps:
  - {flash: wall, light: flash, seconds: 0.3, pedal: hold}
  - {carry: enlarger}
  - {base: soft, light: green, seconds: 3, lead_in: 0.2}
  - {base: hard, light: blue, seconds: 0.6, lead_in: 0.2}
  - {burn: wall, light: green, stops: 1/2, pedal: hold}
"""
LONG = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 60, lead_in: 0.2}
"""
LINES = {"green": "lamp head-green", "blue": "lamp head-blue", "flash": "lamp flasher"}
LATE_S = 2.0
ROUNDED_S = 1e-6
"""Of a burst's length, whose two times are printed to the microsecond."""


def test_a_whole_print_by_foot_with_pauses(served: ServedLines) -> None:
    """Every burst is where the kernel saw it; what is recorded is what was given, and adds up to the plan."""
    served.start()
    served.load(PRINT, PAPER)
    pauses = 0

    def press(pedal: str, seconds: float) -> None:
        """In the long base the other foot pauses twice."""
        nonlocal pauses
        served.press(pedal, seconds)
        status = served.status()
        if status["state"] in ("lead-in", "exposing") and status["step"] == 4 and pauses < 2:
            pauses += 1
            served.state("exposing")
            served.press("end", 0.05)

    print_sheets(served, press, 1)
    plan = ask(served.run, {"do": "plan"})["plan"]
    edges = served.truth()
    sheet = json.loads(served.timerd("sheet", "1", "--json").stdout)
    served.stop()
    found = bursts(edges)
    recorded = [
        (LINES[step["light"]], on, off)
        for step, told in zip(plan["steps"], sheet["steps"], strict=True)
        for on, off in told["bursts"]
    ]
    assert [line for line, _, _ in found] == [line for line, _, _ in recorded]
    assert len(found) == 4 + pauses == 6
    for (_, lit, dark), (_, on, off) in zip(found, recorded, strict=True):
        assert dark is not None
        assert lit <= on + 1e-6 and on <= lit + LATE_S and dark <= off + 1e-6 and off <= dark + LATE_S
    for step, told in zip(plan["steps"], sheet["steps"], strict=True):
        if told["bursts"]:
            given = sum(Response().dose(off - on) for on, off in told["bursts"])
            assert told["ended_by"] == "dose" and told["given"] == pytest.approx(
                given, abs=ROUNDED_S * len(told["bursts"])
            )
            assert told["given"] == pytest.approx(step["dose"], abs=LATE_S)
    assert served.wired.levels() == dict.fromkeys(served.wired.outputs, False)
    assert {edge["line"] for edge in edges} == {*LINES.values(), "safelight"}


@pytest.fixture
def exposing(served: ServedLines) -> ServedLines:
    """A daemon whose first light of a minute burns."""
    served.start()
    served.load(LONG, PAPER)
    served.arm()
    served.tap("go")
    served.state("exposing")
    return served


def test_the_keeper_killed_is_darkened_by_the_daemon(exposing: ServedLines) -> None:
    """The line is held up from outside once nobody drives it, as a Raspberry Pi's kernel would leave it."""
    pin = exposing.wired.outputs["lamp head-green"]["pin"]
    exposing.wired.chip.pull(pin, True)
    killed = time.monotonic()
    exposing.kill("keeper")
    exposing.state("fault")
    driven = [d for d in exposing.wired.chip.driven()[pin] if d.at > killed]
    assert driven and not any(d.level for d in driven)
    assert exposing.wired.levels()["lamp head-green"] is False, "driven low again"


def test_the_daemon_killed_is_darkened_by_the_keeper(exposing: ServedLines) -> None:
    keeper, killed = exposing.keeper_pid, time.monotonic()
    exposing.kill("daemon")
    exposing.gone()
    ended(keeper)
    (burst,) = bursts(exposing.truth())
    assert burst[2] is not None and 0 <= burst[2] - killed < LATE_S
    exposing.start()
    offer = exposing.status()["unfinished"]
    assert offer["given"] == offer["given_lo"] == pytest.approx(burst[2] - burst[1], abs=0.05)


def ended(pid: int) -> None:
    """Wait for a process that is not a child of this one."""
    try:
        process = os.pidfd_open(pid)
    except ProcessLookupError:
        return
    assert select.select([process], [], [], 20)[0]
    os.close(process)


def test_both_killed_and_timerd_dark(exposing: ServedLines) -> None:
    exposing.kill("daemon", "keeper")
    exposing.gone()
    done = exposing.timerd("dark")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("dark, by the last off: no daemon answered.")
    (burst,) = bursts(exposing.truth())
    assert burst[2] is not None
    assert exposing.wired.levels() == dict.fromkeys(exposing.wired.outputs, False)


def test_two_daemons(served: ServedLines, tmp_path: Path) -> None:
    """One in the same home finds it taken, one in a home of its own finds the pins taken; the first goes on."""
    served.start()
    served.load(LONG, PAPER)
    served.arm()
    keeper = served.keeper_pid
    with pytest.raises(RuntimeError, match="serves here already: stop that one first"):
        served.start()
    other = ServedLines(tmp_path / "other", served.wired)
    served.wired.chip.forget_trace()
    with pytest.raises(RuntimeError, match=r"GPIO17 for lamp head-green: .*: another program holds it: stop that one"):
        other.start()
    other.close()
    assert served.wired.chip.driven() == {}
    served.tap("go")
    served.state("exposing")
    assert {d.pid for moves in served.wired.chip.driven().values() for d in moves} == {keeper}
