"""A real daemon and keeper in real time: sheets printed by foot, ends of every kind, refusals."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from served import LIMIT_S, Served, bursts, not_too_soon, stand_still
from served.asking import ask
from served.killing import PAPER
from served.printing import by_foot, print_sheets

from timerd.bench.pretended import PretendedFoot
from timerd.control import ControlError
from timerd.wire.control import MakeDark

TWELVE = Path(__file__).parents[1] / "served" / "twelve.yaml"
PLAIN = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 30, lead_in: 0.2}
  - {burn: edges, mm: 10, light: green, stops: 1/2}
"""
LINES = {"green": "lamp head-green", "blue": "lamp head-blue", "flash": "lamp flasher"}


@pytest.fixture
def exposing(served: Served) -> Served:
    """A daemon whose first light burns."""
    served.start()
    served.load(PLAIN, PAPER)
    served.arm()
    served.light()
    return served


def sheet_json(served: Served, number: int) -> dict[str, Any]:
    done = served.timerd("sheet", str(number), "--json")
    assert done.returncode == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def assert_sheet_is_its_plan(
    plan: dict[str, Any], sheet: dict[str, Any], edges: list[dict[str, Any]], near_s: float
) -> None:
    """Edges against plan, and record against edges: every burst of one sheet."""
    lights = [step for step in plan["steps"] if step["light"] is not None and step["dose"] is not None]
    expected = []
    for step in lights:
        for before, part in zip((0.0, *step["parts"]), step["parts"], strict=False):
            expected.append((LINES[step["light"]], part - before))
    found = bursts(edges)
    assert [line for line, _, _ in found] == [line for line, _ in expected]
    for (_, lit, dark), (_, seconds) in zip(found, expected, strict=True):
        assert dark is not None and dark - lit == pytest.approx(seconds, abs=near_s)
    recorded = [burst for step in sheet["steps"] for burst in step["bursts"]]
    assert len(recorded) == len(found)
    for (on, off), (_, lit, dark) in zip(recorded, found, strict=True):
        assert (on, off) == (pytest.approx(lit, abs=near_s), pytest.approx(dark, abs=near_s))
    for step in sheet["steps"]:
        if step["bursts"]:
            assert step["ended_by"] == "dose"
            assert step["given"] == pytest.approx(step["planned"], abs=near_s * len(step["bursts"]))


def test_a_sheet_of_twelve_steps_is_printed_by_foot(golden: Golden, served: Served) -> None:
    """One sheet here; two of them, and by `timerd press`, in tests/measure/whole_print.py."""
    served.start()
    served.bench = "two-station"
    loaded = served.timerd("load", str(TWELVE))
    golden((loaded.returncode, loaded.stdout, loaded.stderr))
    print_sheets(served, by_foot(served), 1)
    plan = ask(served.run, {"do": "plan"})["plan"]
    assert_sheet_is_its_plan(plan, sheet_json(served, 1), served.truth(), served.near_s)
    listed = served.timerd("sheets")
    number, day, minute, *rest = listed.stdout.split()
    assert (number, rest) == ("1", ["complete", "out", "Twelve", "steps,", "in", "a", "hurry"])
    assert datetime.fromisoformat(f"{day} {minute}")


def test_a_pause_and_a_held_foot_lose_nothing(exposing: Served) -> None:
    stand_still(0.4)
    at = exposing.tap("end")
    paused = exposing.state("paused")
    ((_, lit, dark),) = bursts(exposing.truth())
    assert dark is not None and 0 <= dark - at < 2 * exposing.near_s
    assert paused["given"] == pytest.approx(dark - lit, abs=exposing.near_s)
    assert paused["owed"] == pytest.approx(30 - (dark - lit), abs=exposing.near_s)


@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_signal_leaves_all_dark_the_safelight_on_and_the_dose_written(exposing: Served, how: signal.Signals) -> None:
    exposing.kill("daemon", how=how)
    daemon = exposing.daemon
    exposing.gone()
    assert daemon is not None and daemon.returncode == 0
    ((_, lit, dark),) = bursts(exposing.truth())
    assert dark is not None
    assert [e["on"] for e in exposing.truth() if e["line"] == "safelight"] == [False, True]
    exposing.start()
    offer = exposing.status()["unfinished"]
    assert offer["given"] == offer["given_lo"] == pytest.approx(dark - lit, abs=exposing.near_s)
    assert offer["owed"] == pytest.approx(30 - (dark - lit), abs=exposing.near_s)


def test_an_exception_in_the_daemon_leaves_all_dark(tmp_path: Path) -> None:
    """The loop is broken on purpose, once the light burns."""
    served = Served(tmp_path)
    breaking = (
        "import sys, timerd.daemon.serving as s\n"
        "turn = s.Daemon._turn\n"
        "def broken(self):\n"
        "    turn(self)\n"
        "    if self._standing.lit_at is not None: raise ZeroDivisionError('on purpose')\n"
        "s.Daemon._turn = broken\n"
        "from timerd.cli import main\n"
        "sys.exit(main(['serve', '--bench', 'two-station', '--simulated']))\n"
    )
    daemon = subprocess.Popen(
        [sys.executable, "-c", breaking], env=served.env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        assert daemon.stdout is not None and daemon.stdout.readline().startswith("serving")
        served.daemon = daemon
        served.load(PLAIN, PAPER)
        served.arm()
        served.tap("go")
        assert "ZeroDivisionError: on purpose" in served.gone()
        ((_, lit, dark),) = bursts(served.truth())
        assert dark is not None and dark - lit < 0.5
        assert [e["on"] for e in served.truth() if e["line"] == "safelight"] == [False, True]
        served.start()
        assert served.status()["unfinished"]["given"] == pytest.approx(dark - lit, abs=served.near_s)
    finally:
        served.close()


def test_a_second_daemon_is_refused_by_name_and_touches_nothing(golden: Golden, exposing: Served) -> None:
    edges = exposing.truth()
    second = exposing.timerd("serve", "--bench", "one-lamp", "--simulated")
    assert (second.returncode, second.stdout) == (1, "")
    golden(second.stderr)
    elsewhere = {**exposing.env, "XDG_RUNTIME_DIR": str(exposing.memory.parent / "other")}
    (exposing.memory.parent / "other").mkdir()
    third = subprocess.run(
        [sys.executable, "-m", "timerd", "serve", "--bench", "one-lamp", "--simulated"], env=elsewhere,
        capture_output=True, text=True, timeout=20,
    )  # fmt: skip
    assert third.returncode == 1
    golden(third.stderr)
    assert exposing.truth() == edges and exposing.status()["state"] == "exposing"


def test_nothing_is_loaded_while_a_sheet_is_under_way_and_nothing_that_is_wrong(golden: Golden, served: Served) -> None:
    served.start()
    before = served.status()
    for text, why in (
        (PLAIN.replace("green", "gren"), "print.yaml:6: steps[0].light: "),
        (PLAIN.replace("two-station", "one-lamp"), "the print is for the bench 'one-lamp'; served is 'two-station'"),
        (PLAIN.replace("seconds: 30", "seconds: 30000"), "print.yaml:6: "),
        ("", "print.yaml"),
    ):
        with pytest.raises(ControlError) as refused:
            served.load(text, PAPER)
        assert str(refused.value).startswith(why), str(refused.value)
    for request in (
        {}, {"print": 3, "paper": 4}, {"print": {"name": "a", "text": PLAIN}}, {"sheets": 0}, {"sheets": True},
        {"sheets": 10**9}, {"sheets": "2"},
    ):  # fmt: skip
        with pytest.raises(ControlError):
            ask(served.run, {"do": "load", **request})
    same = {key: value for key, value in served.status().items() if key != "now"}
    assert same == {key: value for key, value in before.items() if key != "now"}
    served.load(PLAIN, PAPER)
    served.arm()
    with pytest.raises(ControlError, match="a sheet is under way"):
        served.load(PLAIN, PAPER)
    served.light()
    with golden.raises(ControlError):
        served.load(PLAIN, PAPER)
    assert len(bursts(served.truth())) == 1


def test_dark_by_command_with_a_daemon_that_answers_one_that_hangs_and_none(exposing: Served) -> None:
    told = exposing.timerd("dark")
    assert told.stdout.startswith("dark. Cover the paper") and not told.returncode
    assert exposing.state("paused")["reason"] == {"why": "went dark", "how": "asked"}
    stand_still(0.75)
    exposing.light()
    exposing.kill("daemon", how=signal.SIGSTOP)
    keeper = exposing.keeper_pid
    told = exposing.timerd("dark")
    assert told.stdout.startswith("dark, by the last off: no daemon answered") and not told.returncode
    assert exposing.lit_lamps() == set()
    exposing.kill("daemon", how=signal.SIGCONT)
    assert exposing.state("fault")["reason"] == {"why": "keeper gone"}
    with pytest.raises(ProcessLookupError):
        os.kill(keeper, 0)
    found = bursts(exposing.truth())
    assert all(dark is not None for _, _, dark in found)
    true_s = sum(dark - lit for _, lit, dark in found if dark is not None)
    cleared = exposing.timerd("clear")
    assert cleared.stdout.startswith("cleared: every line"), cleared.stderr
    assert exposing.state("idle")["unfinished"]["given"] == pytest.approx(true_s, abs=exposing.near_s)
    again = exposing.timerd("clear")
    assert (again.returncode, again.stderr) == (1, "there is no fault to clear\n")
    exposing.kill("daemon", "keeper")
    exposing.gone()
    told = exposing.timerd("dark")
    assert told.stdout.startswith("dark, by the last off") and not told.returncode


def test_a_fault_outlives_a_restart_and_is_cleared_by_both_pedals(exposing: Served) -> None:
    exposing.kill("keeper")
    exposing.state("fault", reason={"why": "keeper gone"}, burst=None)
    exposing.stop()
    exposing.start()
    assert exposing.status()["state"] == "fault"
    exposing.tap("go")
    stand_still(2.2)
    assert exposing.status()["state"] == "fault"
    exposing.hold("go", "end", seconds=2.1)
    cleared = exposing.state("idle")
    assert cleared["unfinished"]["sheet"] == 1
    assert len(bursts(exposing.truth())) == 1


def test_an_answer_tells_how_it_stands_when_what_was_asked_is_done(served: Served) -> None:
    """Not how it stood before: each is held against the status that is asked for after it, whole."""
    served.start()

    def done(answer: dict[str, Any], **stands: Any) -> None:
        after = ask(served.run, {"do": "status"})
        assert {key: after[key] for key in stands} == stands
        assert {**answer, "now": 0.0} == {**after, "now": 0.0}
        assert answer["now"] <= after["now"]

    done(served.load(PLAIN, PAPER, sheets=3), state="idle", print="A wall", sheets_left=3)
    done(served.load(CHAIN, PAPER, sheets=2), print="One after the other", sheets_left=2)
    done(ask(served.run, {"do": "tell", "what": "arm"}), state="prompt", sheet=1, sheets_left=1)
    done(ask(served.run, {"do": "tell", "what": "abandon"}), state="abandoned", sheet=1)
    done(ask(served.run, {"do": "tell", "what": "give up"}), state="idle", sheet=None, unfinished=None)
    done(served.load(PLAIN, PAPER), print="A wall", sheets_left=1)


def test_after_a_crash_the_rest_of_a_batch_is_there_and_after_a_stop_it_is_not(served: Served) -> None:
    served.start()
    served.load(PLAIN, PAPER, sheets=3)
    served.arm()
    served.kill("daemon")
    served.gone()
    served.start()
    found = served.state("idle")
    assert (found["unfinished"]["sheet"], found["print"], found["sheets_left"]) == (1, "A wall", 2)
    told = served.timerd("status").stdout.split(" · ")
    assert told[1].startswith("sheet 1 is unfinished") and told[2] == "2 more to do"
    served.hold("go", "end", seconds=2.1)
    served.state("idle", unfinished=None)
    ask(served.run, {"do": "tell", "what": "arm"})
    assert served.state("prompt", sheet=2)["sheets_left"] == 1
    served.stop()
    served.start()
    found = served.state("idle")
    assert (found["unfinished"]["sheet"], found["print"], found["sheets_left"]) == (2, "A wall", 0)


def test_a_pedal_found_down_blocks_arming_by_name(served: Served) -> None:
    served.start()
    foot = PretendedFoot(served.run)
    foot.put("end", True)
    served.stop()
    served.start()
    served.load(PLAIN, PAPER)
    served.hold("go")
    refused = served.until(lambda s: s["refused"] is not None)
    assert (refused["state"], refused["refused"]["why"], refused["refused"]["other"]) == ("idle", "other down", "end")
    foot.close()
    foot = PretendedFoot(served.run)
    foot.put("end", False)
    foot.close()
    stand_still(1.25)
    served.hold("go")
    served.state("prompt")


def test_commands_without_a_daemon_say_how_to_start_one(golden: Golden, served: Served) -> None:
    for argv in (("status",), ("load", "quiet-yard"), ("clear",)):
        done = served.timerd(*argv)
        assert (done.returncode, done.stdout) == (1, "")
        golden(done.stderr)
    for argv, words in (
        (("press", "go"), "no timerd is serving here: start it with  timerd serve --bench BENCH --simulated\n"),
        (
            ("dark",),
            "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same\n",
        ),
        (("press",), "press: say which pedal (go or end), or --keys\n"),
    ):
        done = served.timerd(*argv)
        assert (done.returncode, done.stdout, done.stderr) == (1, "", words)
    done = served.timerd("sheets")
    assert done.returncode == 1 and "no book here yet" in done.stderr


def test_status_follows_and_stays_plain(exposing: Served) -> None:
    env = exposing.env
    follow = subprocess.Popen(
        [sys.executable, "-m", "timerd", "status", "--follow", "--json"], env=env, stdout=subprocess.PIPE, text=True
    )
    try:
        assert follow.stdout is not None
        first = json.loads(follow.stdout.readline())
        assert first["state"] == "exposing"
        assert first["burst"]["deadline"] - first["burst"]["lit"] == pytest.approx(30)
        exposing.tap("go")
        states = [first["state"]]
        while states[-1] != "paused":
            states.append(json.loads(follow.stdout.readline())["state"])
        assert set(states) == {"exposing", "paused"}
    finally:
        follow.kill()
        follow.communicate()
    words = exposing.timerd("status").stdout
    assert words.startswith("paused · sheet 1, step 2 · ") and "not yet: sheet 1" in words
    assert time.monotonic() > first["now"]


def test_the_keyboard_presses_too(served: Served) -> None:
    served.start()
    served.load(PLAIN, PAPER)
    terminal, keyboard = os.openpty()
    feet = subprocess.Popen(
        [sys.executable, "-m", "timerd", "press", "--keys"], env=served.env, stdin=keyboard, stdout=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    try:
        assert feet.stdout is not None and feet.stdout.readline().startswith("g go, e end; G, E held for 1.2 s")
        os.write(terminal, b"G")
        not_too_soon(served.state("prompt"))
        os.write(terminal, b"xg")
        not_too_soon(served.state("ready"))
        os.write(terminal, b"g")
        served.state("exposing")
        os.write(terminal, b"e")
        served.state("paused")
        os.write(terminal, b"b")
        served.state("abandoned")
        os.write(terminal, b"q")
        assert feet.wait(20) == 0
    finally:
        feet.kill()
        feet.communicate()
        os.close(terminal)
        os.close(keyboard)


def test_a_keeper_that_hangs_is_known_by_its_silence(exposing: Served) -> None:
    """Stopped for good while the light burns: nobody could put it out, by pedal or deadline."""
    exposing.kill("keeper", how=signal.SIGSTOP)
    before = time.monotonic()
    failed = exposing.until(lambda s: s["state"] == "fault" and s["burst"] is None)
    ((_, lit, dark),) = bursts(exposing.truth())
    assert dark is not None and dark - before < 2.0
    assert failed["reason"] == {"why": "keeper gone"}
    assert failed["given_lo"] - 0.004 <= dark - lit <= failed["given"] + 0.004
    assert failed["given"] - failed["given_lo"] < 0.1
    assert not exposing.timerd("clear").returncode
    assert exposing.state("idle")["unfinished"]["given"] == failed["given"]


def test_what_a_maintainer_wants_to_know_is_told_at_the_level_that_is_asked_for(served: Served) -> None:
    """As a rule nothing but what is wrong: a keeper that is lost, the fault that follows, and the keeper that comes."""
    wrong = {
        "ERROR timerd.daemon.serving: the keeper is lost",
        "ERROR timerd.daemon.serving: fault: the keeper was lost",
        "WARNING timerd.daemon.serving: a new keeper is there",
    }
    stopped = {"INFO timerd.daemon.serving: stopped"}
    clients = {"DEBUG timerd.daemon.clients: a client has come", "DEBUG timerd.daemon.clients: a client has gone"}
    for level, wanted in (("warning", wrong), ("info", wrong | stopped), ("debug", wrong | stopped | clients)):
        served.start("--log-level", level)
        served.kill("keeper")
        served.state("fault")
        assert served.timerd("clear").returncode == 0
        told = {line.partition(",")[0] for line in served.stop().splitlines()}
        logged = {line for line in told if line.startswith(("DEBUG", "INFO", "WARNING", "ERROR"))}
        assert all(any(line.startswith(begin) for line in logged) for begin in wanted)
        assert level != "warning" or len(logged) == len(wrong)


def test_a_last_off_that_was_killed_itself_is_missed_by_nobody(exposing: Served) -> None:
    """The one that waits beside the keeper: another is started when it is needed, and one beside the next keeper."""
    (waits,) = exposing.beside()
    exposing.kill("beside")
    exposing.kill("keeper")
    failed = exposing.until(lambda s: s["state"] == "fault" and s["burst"] is None)
    ((_, lit, dark),) = bursts(exposing.truth())
    assert dark is not None and failed["given_lo"] - 0.004 <= dark - lit <= failed["given"] + 0.004
    assert not exposing.timerd("clear").returncode
    (again,) = exposing.beside()
    assert again != waits


def test_with_daemon_and_keeper_killed_it_is_dark_before_anybody_comes(exposing: Served) -> None:
    exposing.kill("daemon", how=signal.SIGSTOP)
    exposing.kill("keeper", "daemon")
    exposing.gone()
    until = time.monotonic() + LIMIT_S
    while exposing.beside():
        assert time.monotonic() < until, "the last off does not end"
        stand_still(0.01)
    ((_, lit, dark),) = bursts(exposing.truth())
    assert dark is not None
    exposing.start()
    offer = exposing.status()["unfinished"]
    assert offer["given"] == pytest.approx(dark - lit, abs=exposing.near_s)


CHAIN = """\
print: One after the other
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: soft, light: green, seconds: 1, lead_in: 0.2, then: next}
  - {base: hard, light: blue, seconds: 3, lead_in: 0.5}
"""


@pytest.mark.parametrize("how", ["dark", "stop"])
def test_nothing_comes_on_after_it_was_said_to_be_dark(tmp_path: Path, disk: Path, how: str) -> None:
    """Asked for while the disk keeps the next light of a chain waiting for its intent."""
    served = Served(tmp_path, disk=disk)
    try:
        served.start()
        served.load(CHAIN, PAPER)
        served.arm()
        lit = served.light()["burst"]["lit"]
        stand_still(lit + 0.9 - time.monotonic())
        (served.as_synced / "fault").write_text("stall 0.6")
        served.until(lambda s: s["burst"] is None)
        if how == "dark":
            ask(served.run, {"do": "dark"}, LIMIT_S)  # a command's own start might take as long as the disk
            served.state("ready", step=3)
            stand_still(1.2)
            assert served.state("ready")["reason"] == {"why": "went dark", "how": "asked"}
        else:
            served.stop()
        assert [line for line, _, _ in bursts(served.truth())] == ["lamp head-green"]
    finally:
        served.close()


def test_dark_asked_for_while_a_light_ends_by_itself_lets_no_next_one_come_on(served: Served) -> None:
    """The daemon hears of the light's end and of the wish for dark in one turn."""
    served.start()
    served.load(CHAIN, PAPER)
    served.arm()
    lit = served.light()["burst"]["lit"]
    assert served._link is not None
    stand_still(lit + 0.85 - time.monotonic())
    served.kill("daemon", how=signal.SIGSTOP)
    served._link.send(MakeDark())
    stand_still(lit + 1.1 - time.monotonic())
    served.kill("daemon", how=signal.SIGCONT)
    served.state("ready", step=3)
    stand_still(1.2)
    assert served.state("ready")["lead_in"] is None
    assert [line for line, _, _ in bursts(served.truth())] == ["lamp head-green"]
