"""The trays beside a real daemon in real time: killed in the middle of the fix, asked by command, talked to badly."""

from __future__ import annotations

import time
from typing import Any

import pytest
from served import LIMIT_S, Served, not_too_soon, stand_still
from served.asking import ask
from served.killing import PAPER

from timerd.book.reading import Reader
from timerd.control import ControlError
from timerd.sheet.record import Record

QUICK = """\
bath: quick
carry_s: 0.2
baths:
  - {name: developer, kind: developer, seconds: 2.5, drain_s: 0.5, agitate: {every_s: 1}, capacity: {fibre: 1}}
  - {name: stop, kind: stop bath, seconds: 1}
  - {name: fixer, kind: fixer, seconds: 12, drain_s: 1, per_degree: 0.1}
"""
PRINT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 0.2, lead_in: 0.2}
  - {develop: quick}
"""


SLOW = QUICK.replace("seconds: 12", "seconds: 300")


def to_the_trays(served: Served, line: str = QUICK) -> None:
    """One sheet, from loading to its `go` at done."""
    ask(served.run, {
        "do": "load", "print": {"name": "p.yaml", "text": PRINT}, "bath": {"name": "quick.yaml", "text": line},
        "paper": {"name": "paper.yaml", "text": PAPER.read_text()},
    }, LIMIT_S)  # fmt: skip
    served.arm()
    served.tap("go")
    status = served.state("done")
    not_too_soon(status)
    served.tap("go")


def in_bath(served: Served, bath: str) -> dict[str, Any]:
    """Wait until a sheet is in a bath; its stack."""
    status = served.until(lambda s: any(stack["bath"] == bath for stack in s["trays"]["stacks"]))
    found: dict[str, Any] = status["trays"]["stacks"][0]
    return found


def on_disk(served: Served, bath: str) -> None:
    """Wait until it is written down that a sheet is in a bath; it is told a moment before."""
    ends = time.monotonic() + LIMIT_S
    while bath not in [record.facts["bath"] for record in records(served, "in bath")]:
        assert time.monotonic() < ends, "never written"
        stand_still(0.002)


def records(served: Served, *kinds: str) -> list[Record]:
    reader = Reader(served.home)
    found = [record for record in reader.records(1) if record.kind in kinds]
    reader.close()
    return found


def safelight_seconds(edges: list[dict[str, Any]], begin: float, end: float) -> float:
    """Seconds in which the simulated safelight's line was lit, off its own file of edges."""
    lit, at, seconds = True, begin, 0.0
    for edge in [edge for edge in edges if edge["line"] == "safelight"]:
        if edge["t"] > begin:
            when = min(edge["t"], end)
            seconds += when - at if lit else 0.0
            at = when
        lit = edge["on"]
    return seconds + (end - at if lit else 0.0)


def test_a_daemon_killed_in_the_middle_of_the_fix_goes_on_exactly(served: Served) -> None:
    served.start()
    to_the_trays(served)
    before = in_bath(served, "fixer")
    on_disk(served, "fixer")
    served.kill("daemon")
    served.gone()
    served.start()
    after = in_bath(served, "fixer")
    for key in ("since", "at", "move_at"):
        assert after[key] == pytest.approx(before[key], abs=1e-6)
    assert not after["approximate"]
    served.until(lambda s: not s["trays"]["stacks"])
    edges = served.truth()
    served.stop()  # all is on disk then
    left = records(served, "out of bath")
    assert [(r.facts["bath"], r.facts["by"]) for r in left] == [
        ("developer", "clock"), ("stop", "clock"), ("fixer", "clock"),
    ]  # fmt: skip
    for record in left:
        assert record.facts["actual_s"] == pytest.approx(record.facts["planned_s"], abs=0.1)
        assert "approximate" not in record.facts
    (sum_,) = records(served, "under safelight")
    (out,) = records(served, "sheet out")
    assert sum_.facts["seconds"] == pytest.approx(safelight_seconds(edges, out.at, sum_.at), abs=0.1)


def test_a_cue_that_writes_nothing_is_told_to_whoever_follows(served: Served) -> None:
    """The tray is to be rocked a second after the sheet went in; the next thing that is written down is its lifting."""
    served.start()
    to_the_trays(served, SLOW.replace("seconds: 2.5", "seconds: 200"))
    status = served.until(lambda s: any(cue["what"] == "agitate" for cue in s["trays"]["cues"]))
    assert status["trays"]["stacks"][0]["what"] == "drain"
    served.stop()


def test_a_daemon_killed_before_the_fixer_does_not_call_white_light_safe_by_the_clock(served: Served) -> None:
    """No pedal stands at the trays: every move is told by the clock, and who says that anybody heard it? The sheet is
    kept in its last bath, and white light is not safe until a press says that it is in the fixer, or a command."""
    served.start()
    to_the_trays(served, QUICK.replace("seconds: 12", "seconds: 2"))
    in_bath(served, "developer")
    on_disk(served, "developer")
    served.kill("daemon")
    served.gone()
    served.start()
    out = {"what": "move", "sheets": [1], "bath": "fixer", "to": ""}
    status = served.until(lambda s: any(out.items() <= cue.items() for cue in s["trays"]["cues"]))
    assert status["white_light_spoils"]["where"] == "not confirmed"
    assert status["goes_to"] == [{"sheet": 1, "where": "fixer"}]
    assert [stack["bath"] for stack in status["trays"]["stacks"]] == ["fixer"], "kept there"
    served.kill("daemon")
    served.gone()
    served.start()
    assert served.status()["white_light_spoils"]["where"] == "not confirmed", "what was told proves nothing"
    served.tap("go")
    status = served.until(lambda s: not s["goes_to"])
    assert status["white_light_spoils"]["where"] == "in the fixer"
    done = served.timerd("bath", "leave", "1")
    assert (done.returncode, done.stdout) == (0, "no sheet is at the trays\n"), done.stderr
    assert served.status()["white_light"] == "safe"
    served.stop()
    assert [record.kind for record in records(served, "in the fixer", "out of the baths")] == [
        "in the fixer", "out of the baths",
    ]  # fmt: skip


def test_commands_change_what_goes_on_and_bad_talk_changes_nothing(served: Served) -> None:
    served.start()
    line = {"name": "quick.yaml", "text": SLOW}
    ask(served.run, {"do": "bath", "what": "new", "bath": "developer", "line": line}, LIMIT_S)
    to_the_trays(served, SLOW)
    fixing = in_bath(served, "fixer")
    cues = {cue["what"] for cue in served.status()["trays"]["cues"]}
    assert {"caution", "into", "over", "agitate", "drain", "move"} <= cues
    for bad, why in (
        ({}, "what is to be done"), ({"what": "start"}, "no sheet waits"), ({"what": "leave"}, "'sheet' is missing"),
        ({"what": "leave", "sheet": 7}, "sheet 7 is not at the trays"), ({"what": "leave", "sheet": True}, "sheet: no"),
        ({"what": "temperature", "bath": "fixer"}, "'celsius' is missing"), ({"what": ["new"]}, "what is to be done"),
        ({"what": "temperature", "bath": "\x1b", "celsius": 20}, "bath: needs the name"),
        ({"what": "temperature", "bath": "fixer", "celsius": 1e99}, "celsius: must be"),
        ({"what": "new", "bath": "fixer"}, "'line' is missing"),
        ({"what": "new", "bath": "x", "line": line}, "has no bath 'x'"),
        ({"what": "new", "bath": "fixer", "line": {"name": "a", "text": "}"}}, "a:1:"),
        ({"what": "new", "bath": "fixer", "line": line, "litres": "2"}, "litres: must be"),
        ({"what": "new", "bath": "fixer", "from": "developer"}, "fixer is not followed by developer"),
    ):  # fmt: skip
        with pytest.raises(ControlError, match=why):
            ask(served.run, {"do": "bath", **bad}, LIMIT_S)
    assert in_bath(served, "fixer") == fixing
    ask(served.run, {"do": "bath", "what": "temperature", "bath": "fixer", "celsius": 40}, LIMIT_S)
    assert in_bath(served, "fixer")["move_at"] < fixing["move_at"]
    done = served.timerd("bath", "leave", "1")
    assert (done.returncode, done.stdout) == (0, "no sheet is at the trays\n"), done.stderr
    assert served.status()["state"] == "done"
    served.stop()
    assert records(served, "out of the baths")[0].facts == {"by": "command"}
    shown = served.timerd("baths")
    assert "used up: renew it" in shown.stdout, shown.stdout + shown.stderr
