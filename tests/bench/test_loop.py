"""The keeper's process, driven over its pipe as the daemon does, with simulated lines whose truth outlives it.

What is waited for is a report, with a limit; nothing sleeps. How exact the edges are is measured elsewhere
(tests/measure/edge_timing.py): here a busy machine may make them late, never wrong.
"""

from __future__ import annotations

import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from lines.keeper import RealKeeper, TruthEdge, as_sent, bench
from lines.lost_feet import PROGRAM
from walks.keeper_talk import KeeperTalk

from timerd.bench.lastoff import last_off
from timerd.bench.loop import MOST_UNSENT
from timerd.bench.note import Noted, read_note
from timerd.bench.pretended import FEET, PretendedFoot
from timerd.bench.setup import to_keep
from timerd.sheet.engine.feet import contacts

GREEN, BLUE, SAFE = "lamp head-green", "lamp head-blue", "safelight"
LATE_S = 1.0
"""How late a busy machine may make an edge; far more than it is alone."""


@pytest.fixture
def keeper(tmp_path: Path) -> Iterator[RealKeeper]:
    with RealKeeper(tmp_path) as keeper:
        yield keeper


def kinds(edges: list[TruthEdge]) -> list[tuple[str, bool]]:
    return [(edge.line, edge.lit) for edge in edges]


def close_to(at: float, told: float) -> bool:
    """The time that the keeper tells of an edge is that at which the line had been written."""
    return at <= told < at + LATE_S


def soon_after(at: float, due: float) -> bool:
    """What is due at a time is done then or soon after, never before."""
    return due <= at < due + LATE_S


# -- feet that are lost ----------------------------------------------------------------------------------------------


def processor_s(pid: int) -> float:
    words = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(words[11]) + int(words[12])) / os.sysconf("SC_CLK_TCK")


@pytest.mark.parametrize(
    ("how", "why"),
    [
        ("ends", "their pipe has ended"),
        ("babbles", "they are ready without end, and have nothing to say"),
        ("unreadable", "No such device"),
    ],
)
def test_feet_that_are_lost_are_watched_no_more_and_told(how: str, why: str, tmp_path: Path) -> None:
    """Else the loop goes round 33,000 times a second over all other programs, for as long as it lives."""
    pedals = [contact.name for contact in contacts(bench())]
    with RealKeeper(tmp_path, program=PROGRAM, environment={"LOST": how}) as keeper:
        foot = PretendedFoot(tmp_path)
        keeper.expose(seconds=20.0, cut_on=pedals)
        keeper.until("lit")
        if how != "ends":
            foot.put(pedals[0], how == "unreadable")
        foot.close()
        lost = [keeper.until("unplugged") for _ in pedals]
        assert [(one["pedal"], one["why"]) for one in lost] == [(p, f"can no longer be read: {why}") for p in pedals]
        dark = [report["why"] for report in keeper.reports if report["is"] == "dark"] or [keeper.until("dark")["why"]]
        assert dark == ["pedal" if how == "unreadable" else "unplugged"], "no pedal is left that could put it out"
        keeper.expose(cut_on=pedals)
        assert keeper.until("refused")["why"] == "no pedal left"
        before = processor_s(keeper.process.pid)
        for _ in range(5):
            keeper.send({"do": "renew"})
            assert not select.select([], [], [], 0.1)[0]
        assert processor_s(keeper.process.pid) - before < 0.25, "it goes round and round"
        keeper.signal(signal.SIGTERM)
        assert keeper.ended() == 0


# -- the start -------------------------------------------------------------------------------------------------------


def test_it_says_that_it_keeps_and_how_it_is_scheduled(keeper: RealKeeper) -> None:
    assert set(keeper.first) == {"is", "scheduling", "factory", "chip"} and keeper.first["chip"] is None
    assert (keeper.first["is"], keeper.first["factory"]) == ("keeping", "simulated")
    real = os.sched_getscheduler(keeper.process.pid) == os.SCHED_FIFO
    assert keeper.first["scheduling"].startswith("real time" if real else "NOT real time (")
    locked = int(status_of(keeper.process.pid, "VmLck").split()[0]) > 0
    assert keeper.first["scheduling"].split(", ", 1)[1].startswith("memory locked" if locked else "memory NOT locked (")
    assert keeper.truth() == [], "lines at rest are left alone"


def status_of(pid: int, key: str) -> str:
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(line.split(":", 1)[1].strip() for line in lines if line.startswith(f"{key}:"))


def test_real_time_can_be_left_out_to_measure_it(tmp_path: Path) -> None:
    with RealKeeper(tmp_path, environment={"TIMERD_NO_REAL_TIME": "1"}) as keeper:
        assert keeper.first["scheduling"].startswith("NOT real time (")
        assert os.sched_getscheduler(keeper.process.pid) == os.SCHED_OTHER


def test_a_thread_of_the_pin_library_takes_little_of_the_locked_memory() -> None:
    """As it comes a thread takes 8 MB, all of it locked and so held; lgpio has three."""
    code = """
import threading
from pathlib import Path
from timerd.bench.loop import _real_time
words = _real_time()
def held(): return int(Path("/proc/self/status").read_text().split("VmRSS:")[1].split()[0]) // 1024
before = held()
stop = threading.Event()
threads = [threading.Thread(target=stop.wait) for _ in range(3)]
[thread.start() for thread in threads]
grown = held() - before
stop.set()
print("memory locked" in words, grown)
"""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=20)
    locked, grown = done.stdout.split()
    if locked != "True":
        pytest.skip("this user may not lock memory")
    assert int(grown) <= 4


def test_without_lines_it_says_why_and_ends(tmp_path: Path) -> None:
    facts = to_keep(bench(), simulated=False, book="book", boot="boot")
    with RealKeeper(tmp_path, facts, environment={"GPIOZERO_PIN_FACTORY": "nonsense"}) as keeper:
        assert keeper.first["is"] == "no lines"
        assert keeper.first["why"].startswith("the pins: Unable to ")
        assert keeper.ended() == 1


def test_a_run_folder_that_is_not_there_is_said_too(tmp_path: Path) -> None:
    with RealKeeper(tmp_path / "gone") as keeper:
        assert keeper.first["is"] == "no lines" and "gone" in keeper.first["why"]
        assert keeper.ended() == 1


def test_a_daemon_that_is_gone_before_it_said_anything(tmp_path: Path) -> None:
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    ours.close()
    with theirs:
        done = subprocess.run(
            [sys.executable, "-m", "timerd.bench.loop", str(theirs.fileno()), str(tmp_path)],
            pass_fds=[theirs.fileno()], capture_output=True, timeout=10,
        )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (1, b"", b"")


@pytest.mark.parametrize("what", ["a file", "a folder", "a link to a pipe", "a link to nothing"])
def test_feet_that_are_no_named_pipe_are_refused_at_the_start(what: str, tmp_path: Path) -> None:
    feet = tmp_path / FEET
    match what:
        case "a file":
            feet.touch()
        case "a folder":
            feet.mkdir()
        case "a link to a pipe":
            os.mkfifo(tmp_path / "another")
            feet.symlink_to(tmp_path / "another")
        case _:
            feet.symlink_to(tmp_path / "nothing")
    with RealKeeper(tmp_path) as keeper:
        assert keeper.first["is"] == "no lines"
        assert keeper.first["why"].startswith(f"{feet}: ") and keeper.first["why"].endswith(": remove it")
        assert keeper.ended() == 1
    assert not (tmp_path / "nothing").exists(), "and nothing is made through a link"


def test_a_foot_on_a_pedal_at_the_start(tmp_path: Path) -> None:
    with RealKeeper(tmp_path):
        foot = PretendedFoot(tmp_path)
        foot.put("end", True)
        foot.close()
    with RealKeeper(tmp_path) as keeper:
        assert keeper.until("found down")["pedal"] == "end"


def test_lines_that_a_dead_keeper_left_lit_are_put_out(tmp_path: Path) -> None:
    with RealKeeper(tmp_path) as first:
        first.expose(seconds=60.0)
        first.until("lit")
        first.signal(signal.SIGKILL)
        assert first.ended() == -signal.SIGKILL
        assert kinds(first.truth()) == [(SAFE, False), (GREEN, True)], "the level stays as it was"
    with RealKeeper(tmp_path) as second:
        assert sorted(kinds(second.truth()[2:])) == [(GREEN, False), (SAFE, True)]


# -- a burst ---------------------------------------------------------------------------------------------------------


def test_a_burst_from_expose_to_dark(keeper: RealKeeper) -> None:
    asked = keeper.expose()
    lit, dark = keeper.until("lit"), keeper.until("dark")
    back = next(report for report in keeper.reports if report["is"] == SAFE and report["lit"])
    edges = keeper.truth()
    assert kinds(edges) == [(SAFE, False), (GREEN, True), (GREEN, False), (SAFE, True)]
    assert lit == {"is": "lit", "burst": 1, "at": lit["at"]}
    assert dark == {"is": "dark", "burst": 1, "at": dark["at"], "why": "deadline"}
    assert soon_after(lit["at"], asked["at"]) and abs(dark["at"] - lit["at"] - 0.2) < LATE_S
    assert close_to(edges[1].at, lit["at"]) and close_to(edges[2].at, dark["at"])
    assert soon_after(edges[3].at, back["at"])
    assert [report["is"] for report in keeper.reports] == [SAFE, "lit", SAFE, "dark"]


def test_bursts_one_after_another(keeper: RealKeeper) -> None:
    for light in ("green", "blue", "flash", "green"):
        keeper.expose(light=light, at=time.monotonic() + 0.1, seconds=0.02, safelight=None)
        assert keeper.until("dark")["why"] == "deadline"
    lamps = [GREEN, BLUE, "lamp flasher", GREEN]
    assert kinds(keeper.truth()) == [(lamp, lit) for lamp in lamps for lit in (True, False)]
    told_at = [report["at"] for report in keeper.reports if report["is"] in ("lit", "dark")]
    assert all(close_to(edge.at, at) for edge, at in zip(keeper.truth(), told_at, strict=True))


@pytest.mark.parametrize("contact", ["go", "end"])
def test_a_press_darkens_at_once(contact: str, keeper: RealKeeper) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    before = time.monotonic()
    keeper.press(contact)
    press, dark = keeper.until("pedal"), keeper.until("dark")
    assert press == {"is": "pedal", "pedal": contact, "down": True, "at": press["at"], "number": 1}
    assert dark["why"] == "pedal"
    off = next(edge for edge in keeper.truth() if edge.line == GREEN and not edge.lit)
    assert before <= press["at"] <= off.at <= dark["at"] < before + LATE_S


def test_a_press_in_the_lead_in_leaves_it_dark(keeper: RealKeeper) -> None:
    keeper.expose(at=time.monotonic() + 60)
    keeper.until(SAFE)
    keeper.press("end")
    assert keeper.until("dark")["why"] == "pedal"
    assert kinds(keeper.truth()) == [(SAFE, False), (SAFE, True)]


def test_a_held_light_is_out_when_the_foot_is_up(keeper: RealKeeper) -> None:
    keeper.press("go")
    pressed = keeper.until("pedal")
    keeper.expose(at=pressed["at"] + 0.2, seconds=60.0, cut_on=["end", "go"], while_down="go")
    lit = keeper.until("lit")
    assert soon_after(lit["at"], pressed["at"] + 0.2)
    keeper.press("go", down=False)
    up, dark = keeper.until("pedal"), keeper.until("dark")
    assert (up["down"], dark["why"]) == (False, "pedal")
    off = next(edge for edge in keeper.truth() if edge.line == GREEN and not edge.lit)
    assert soon_after(off.at, up["at"])


def test_a_newer_press_than_was_seen_refuses_the_burst(keeper: RealKeeper) -> None:
    keeper.press("go")
    keeper.until("pedal")
    keeper.expose(seen=0)
    assert keeper.until("refused")["what"] == "go"
    assert kinds(keeper.truth()) == []


def test_a_let_up_whose_edge_never_came_is_read_after_the_lock_out(keeper: RealKeeper) -> None:
    """A bouncing contact may settle within the lock-out: the level is read when that is over."""
    foot = PretendedFoot(keeper.run)
    foot.put("go", True)
    keeper.until("pedal")
    (keeper.run / "levels" / "go").unlink()
    up = keeper.until("pedal")
    assert (up["pedal"], up["down"], up["number"]) == ("go", False, 2)
    foot.close()


# -- what makes it dark by itself ------------------------------------------------------------------------------------


def test_the_lease_runs_out(keeper: RealKeeper) -> None:
    keeper.renewing = False
    before = time.monotonic()
    keeper.expose(seconds=60.0)
    dark = keeper.until("dark")
    assert dark["why"] == "lease" and 0.5 <= dark["at"] - before < 0.5 + LATE_S


def test_a_renewal_says_how_far_it_may_burn(keeper: RealKeeper) -> None:
    keeper.renewing = False
    keeper.expose(seconds=60.0)
    lit = keeper.until("lit")
    until = lit["at"] + 0.05
    keeper.send({"do": "renew", "until": until})
    dark = keeper.until("dark")
    assert dark["why"] == "lease" and soon_after(dark["at"], until)
    assert dark["at"] < lit["at"] + 0.3 + LATE_S


def test_a_cut(keeper: RealKeeper) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    keeper.send({"do": "cut"})
    assert keeper.until("dark")["why"] == "asked"
    keeper.send({"do": "cut"})
    assert keeper.until("rest")["low"] is True
    assert kinds(keeper.truth())[-2:] == [(GREEN, False), (SAFE, True)]


def test_a_message_that_is_not_understood(keeper: RealKeeper) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    keeper.send(b'{"do": "expose"')
    assert keeper.until("fault")["why"] == "bad message"
    assert keeper.until("dark")["why"] == "bad message"
    assert sorted(kinds(keeper.truth())[-2:]) == [(GREEN, False), (SAFE, True)]
    keeper.expose()
    assert keeper.until("refused")["what"] == "bad message"
    keeper.send({"do": "cut"})
    keeper.until("rest")
    keeper.expose()
    assert keeper.until("refused")["what"] == "bad message", "to be dark is not to be cleared"
    keeper.send({"do": "clear"})
    keeper.until("rest")
    keeper.expose(seconds=0.02)
    assert keeper.until("dark")["why"] == "deadline"


def test_a_second_light(keeper: RealKeeper) -> None:
    keeper.expose(seconds=60.0)
    keeper.until("lit")
    keeper.expose(light="blue", at=time.monotonic() + 0.2)
    assert keeper.until("dark")["why"] == "two lights"
    assert BLUE not in {edge.line for edge in keeper.truth()}


def test_the_pipe_closes(keeper: RealKeeper) -> None:
    keeper.expose(seconds=60.0)
    lit = keeper.until("lit")
    keeper.pipe.close()
    assert keeper.ended() == 0
    assert kinds(keeper.truth()) == [(SAFE, False), (GREEN, True), (GREEN, False), (SAFE, True)]
    noted = read_note(keeper.run)
    assert noted == Noted("book", "boot", 1, noted.at, lit["at"], noted.dark, "pipe closed") if noted else False
    assert close_to(keeper.truth()[2].at, noted.dark or 0)


@pytest.mark.parametrize(
    ("number", "burning"),
    [(signal.SIGTERM, True), (signal.SIGTERM, False), (signal.SIGINT, True), (signal.SIGHUP, True)],
)
def test_a_signal_to_stop(number: signal.Signals, burning: bool, keeper: RealKeeper) -> None:
    if burning:
        keeper.expose(seconds=60.0)
        keeper.until("lit")
    keeper.signal(number)
    assert keeper.ended() == 0
    said = [(report["is"], report.get("why")) for report in keeper.rest()]
    assert said == ([(SAFE, None), ("dark", "keeper stopped")] if burning else [])
    burst = [(SAFE, False), (GREEN, True), (GREEN, False), (SAFE, True)]
    assert kinds(keeper.truth()) == (burst if burning else [])


def test_a_kill_leaves_the_level_and_the_last_off_ends_it(keeper: RealKeeper) -> None:
    asked = keeper.expose(seconds=60.0)
    lit = keeper.until("lit")
    keeper.signal(signal.SIGKILL)
    assert keeper.ended() == -signal.SIGKILL
    assert kinds(keeper.truth()) == [(SAFE, False), (GREEN, True)]
    assert read_note(keeper.run) == Noted("book", "boot", 1, asked["at"], lit["at"], None, None)
    (keeper.run / "bench.json").write_text(
        json.dumps(as_sent(to_keep(bench(), simulated=True, book="book", boot="boot")))
    )
    done = last_off(keeper.run)
    assert done.high == ()
    assert sorted(kinds(keeper.truth())[2:]) == [(GREEN, False), (SAFE, True)]
    noted = read_note(keeper.run)
    assert noted is not None
    assert noted._replace(dark_lo=None) == Noted("book", "boot", 1, asked["at"], lit["at"], done.dark, "last off")
    assert noted.dark_lo is None or lit["at"] <= noted.dark_lo <= done.dark, "told where the machine was slow"


def test_a_daemon_that_never_reads_counts_as_gone(keeper: RealKeeper) -> None:
    """Answers pile up unread: at twenty thousand and some the keeper gives the daemon up, goes dark and ends."""
    refused = json.dumps(keeper.message(at=0.0)).encode()
    sent = 0
    keeper.pipe.settimeout(20)
    try:
        for _ in range(2 * MOST_UNSENT):
            keeper.pipe.send(refused)
            sent += 1
    except (BrokenPipeError, ConnectionResetError):
        pass
    assert MOST_UNSENT < 2 * sent < 1.2 * MOST_UNSENT, "each brings a refusal, and that the keeper is here"
    assert keeper.ended() == 0
    assert kinds(keeper.truth()) == []


# -- the note --------------------------------------------------------------------------------------------------------


def test_the_note_tells_each_stage_of_a_burst(keeper: RealKeeper) -> None:
    first = read_note(keeper.run)
    assert first is not None and first.dark == first.at
    assert first == Noted("book", "boot", 0, first.at, None, first.at, "nothing lit yet")
    asked = keeper.expose(at=time.monotonic() + 0.6, seconds=0.4)
    keeper.until(SAFE)
    assert read_note(keeper.run) == Noted("book", "boot", 1, asked["at"], None, None, None)
    lit = keeper.until("lit")
    assert read_note(keeper.run) == Noted("book", "boot", 1, asked["at"], lit["at"], None, None)
    dark = keeper.until("dark")
    assert read_note(keeper.run) == Noted("book", "boot", 1, asked["at"], lit["at"], dark["at"], "deadline")
    asked = keeper.expose(at=time.monotonic() + 60)
    keeper.until(SAFE)
    keeper.press("go")
    dark = keeper.until("dark")
    assert read_note(keeper.run) == Noted("book", "boot", 2, asked["at"], None, dark["at"], "pedal")


def test_a_refused_burst_is_not_in_the_note(keeper: RealKeeper) -> None:
    keeper.expose(seconds=0.02)
    keeper.until("dark")
    before = read_note(keeper.run)
    keeper.expose(light="red")
    keeper.until("refused")
    assert read_note(keeper.run) == before


# -- talk that is not to be trusted -----------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2])
def test_hostile_and_random_talk(seed: int, tmp_path: Path) -> None:
    """150 messages; tests/measure/keeper_process.py sends 10,000."""
    talk = KeeperTalk(tmp_path, seed)
    while talk.messages < 150:
        talk.step()
    assert talk.finish() > 0
