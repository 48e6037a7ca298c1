"""The last off on a simulated bench's folder: what a dead keeper left lit is made dark, and its note completed."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from lines.keeper import bench
from walks.engine_walk import BENCH

from timerd.bench import lastoff
from timerd.bench.lastoff import KEEPER_PID, TOLD, _put_down, last_off
from timerd.bench.lines import LinesError
from timerd.bench.note import Note, Noted, read_note
from timerd.bench.pretended import TRUTH, PretendedLines
from timerd.bench.setup import told
from timerd.sheet.profile.benchfile import Line

BOOK, BOOT = "5b0d6c0f1f2e4c7a9d3e8b7a6c5d4e3f", "a boot"
GREEN = "lamp head-green"
AT_REST = {f"lamp {name}": False for name in BENCH.lamps} | {"safelight": True}


@pytest.fixture
def run(tmp_path: Path) -> Path:
    (tmp_path / TOLD).write_text(json.dumps(TOLD_OF_IT))
    return tmp_path


TOLD_OF_IT = told(BENCH, True, BOOK, BOOT)
NOW = 60.0


@pytest.fixture
def still(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last off's clock stands still: a machine that keeps it from its work would make two times of one."""
    monkeypatch.setattr(lastoff, "time", SimpleNamespace(monotonic=lambda: NOW))


def lines(run: Path) -> PretendedLines:
    return PretendedLines(TOLD_OF_IT["wiring"]["outputs"], run)


def left_by_a_dead_keeper(run: Path, *lit: str) -> None:
    """Lines as a killed keeper leaves them: nobody puts them back."""
    dying = lines(run)
    for line in lit:
        dying.write(line, True)
    dying.write("safelight", False)
    os.close(dying._truth)


def truth(run: Path) -> list[dict[str, Any]]:
    return [json.loads(edge) for edge in (run / TRUTH).read_text().splitlines()]


def noted(lit: float | None, dark: float | None = None, at: float = 50.0, why: str | None = None) -> Noted:
    return Noted(BOOK, BOOT, 7, at, lit, dark, why)


def test_a_line_left_high_is_made_dark_and_the_safelight_comes_on(run: Path) -> None:
    left_by_a_dead_keeper(run, GREEN)
    before = time.monotonic()
    dark, high = last_off(run)
    assert before <= dark <= time.monotonic() and high == ()
    assert lines(run).read() == AT_REST
    edges = [(edge["line"], edge["on"]) for edge in truth(run)]
    assert edges == [(GREEN, True), ("safelight", False), (GREEN, False), ("safelight", True)]
    assert truth(run)[2]["t"] <= dark
    assert last_off(run).high == () and len(truth(run)) == 4, "once more changes nothing"


def test_a_lamp_left_on_behind_its_shutter_goes_off_and_is_no_light(tmp_path: Path) -> None:
    """So is the cue line; and a burst whose end the keeper noted keeps that end, whatever lamp was still on."""
    bright = bench("bright-lamp").model_copy(update={"cue_line": Line(pin=25)})
    facts = told(bright, True, BOOK, BOOT)
    (tmp_path / TOLD).write_text(json.dumps(facts))
    dying = PretendedLines(facts["wiring"]["outputs"], tmp_path)
    dying.write("stay head", True)
    dying.write("cue line", True)
    os.close(dying._truth)
    Note(tmp_path).write(noted(50.0, 52.0, why="deadline"))
    assert last_off(tmp_path).high == ()
    left = PretendedLines(facts["wiring"]["outputs"], tmp_path).read()
    assert left == {"lamp head": False, "safelight": True, "stay head": False, "cue line": False}
    assert read_note(tmp_path) == noted(50.0, 52.0, why="deadline")


def test_every_line_of_the_bench_is_seen_to(run: Path) -> None:
    left_by_a_dead_keeper(run, *[line for line in AT_REST if line != "safelight"])
    assert last_off(run).high == ()
    assert lines(run).read() == AT_REST


@pytest.mark.parametrize(
    ("found", "left_high", "expected"),
    [
        # the keeper noted that it was lit, and died: dark now
        (noted(lit=50.001), True, (50.001, "now", "last off")),
        # it lit the line and died before it could note it: it was lit when it was due
        (noted(lit=None), True, (50.0, "now", "last off")),
        # it died in the lead-in: never lit
        (noted(lit=None), False, (None, "now", "last off")),
        # it noted the end, and it was the end
        (noted(50.001, 52.0, why="deadline"), False, (50.001, 52.0, "deadline")),
        (noted(None, 49.0, why="pedal"), False, (None, 49.0, "pedal")),
        # it noted the end, but the line says that it has not come yet
        (noted(50.001, 52.0, why="line not low"), True, (50.001, "now", "last off")),
        # a burst called off is not lit by another line that is high
        (noted(None, 49.0, why="pedal"), True, (None, 49.0, "pedal")),
    ],
)
@pytest.mark.usefixtures("still")
def test_the_note_is_completed_from_what_the_line_says(
    run: Path, found: Noted, left_high: bool, expected: tuple[float | None, float | str, str]
) -> None:
    left_by_a_dead_keeper(run, *[GREEN] * left_high)
    Note(run).write(found)
    assert last_off(run) == (NOW, ())
    lit, until, why = expected
    assert read_note(run) == found._replace(lit=lit, dark=NOW if until == "now" else until, why=why)


@pytest.mark.parametrize(
    ("lit", "alive", "going_dark", "was_high", "expected"),
    [
        # seen to go: exact
        (50.0, 53.0, 0.0, True, (50.0, 60.5, None)),
        # found low, and the keeper wrote it low: exact where the line can be seen, else at least that long
        (50.0, 53.0, 53.1, False, (50.0, 53.1, None)),
        (50.0, 53.0, 53.1, None, (50.0, 60.5, 53.1)),
        # an earlier burst's end says nothing
        (50.0, 53.0, 49.0, False, (50.0, 60.5, 53.0)),
        # found low, and nobody wrote it low: a kernel let go of it, or an interlock
        (50.0, 53.0, 0.0, False, (50.0, 60.5, 53.0)),
        (50.0, 0.0, 0.0, None, (50.0, 60.5, 50.0)),
        # on pins that cannot be seen: died in the lead-in, or at the very time
        (None, 47.0, 0.0, None, (None, 60.5, None)),
        (None, 50.0, 0.0, None, (50.0, 60.5, 50.0)),
    ],
)
def test_dark_is_between_two_times_where_nobody_saw_it(
    run: Path, lit: float | None, alive: float, going_dark: float, was_high: bool | None,
    expected: tuple[float | None, float, float | None],
) -> None:  # fmt: skip
    note = Note(run)
    note.write(noted(lit))
    note.alive(alive)
    note.going_dark(going_dark)
    _put_down(run, 60.0, 60.5, was_high)
    if was_high:  # one that was seen to go went between these two
        expected = (expected[0], expected[1], 60.0)
    on, dark, dark_lo = expected
    assert read_note(run) == noted(None)._replace(lit=on, dark=dark, dark_lo=dark_lo, why="last off")


def test_there_may_be_no_note(run: Path) -> None:
    left_by_a_dead_keeper(run, GREEN)
    assert last_off(run).high == ()
    assert read_note(run) is None


def test_a_note_that_cannot_be_written_keeps_no_line_lit(run: Path) -> None:
    left_by_a_dead_keeper(run, GREEN)
    (run / "note").mkdir()
    assert last_off(run).high == ()
    assert lines(run).read() == AT_REST


@pytest.mark.usefixtures("still")
def test_a_line_that_does_not_go_low_is_told_by_name(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    left_by_a_dead_keeper(run, GREEN)
    write = PretendedLines.write
    monkeypatch.setattr(
        PretendedLines, "write", lambda self, line, lit: None if line == GREEN else write(self, line, lit)
    )
    Note(run).write(noted(lit=50.001))
    assert last_off(run) == (NOW, (GREEN,))
    assert read_note(run) == noted(50.001, NOW, why="last off")


@pytest.mark.parametrize("content", [None, "", "{", "no JSON", "\x00\xff"])
def test_no_bench_is_known_here(tmp_path: Path, content: str | None) -> None:
    if content is not None:
        (tmp_path / TOLD).write_bytes(content.encode("latin-1"))
    with pytest.raises(LookupError) as caught:
        last_off(tmp_path)
    damaged = f"{tmp_path / TOLD}: damaged: see that the lamps are off at the wall, then remove it"
    none = "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same"
    assert str(caught.value) == (none if content is None else damaged)
    assert not (tmp_path / TRUTH).exists()


# -- whom it stops -----------------------------------------------------------------------------------------------


@pytest.fixture
def started() -> Iterator[list[subprocess.Popen[bytes]]]:
    processes: list[subprocess.Popen[bytes]] = []
    yield processes
    for process in processes:
        process.kill()
        process.wait(10)


def waiting(*words: str) -> subprocess.Popen[bytes]:
    """A process of somebody else's that only waits, with these words in its command line."""
    code = "import sys; print(flush=True); sys.stdin.read()"
    process = subprocess.Popen([sys.executable, "-c", code, *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert process.stdout is not None and process.stdout.readline() == b"\n"
    return process


def keeper(run: Path) -> tuple[subprocess.Popen[bytes], socket.socket]:
    """A real keeper's process on a simulated bench, and the daemon's end of its pipe."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
    ours.settimeout(20)
    with theirs:
        process = subprocess.Popen(
            [sys.executable, "-m", "timerd.bench.loop", str(theirs.fileno()), str(run)], pass_fds=[theirs.fileno()]
        )
    ours.send(json.dumps(TOLD_OF_IT).encode())
    assert json.loads(ours.recv(65536))["is"] == "keeping"
    (run / KEEPER_PID).write_text(str(process.pid))
    return process, ours


def lit(run: Path, pipe: socket.socket) -> float:
    """Have the keeper light the green light for twenty seconds; when it was lit."""
    contacts = TOLD_OF_IT["rules"]["pedals"]
    pipe.send(json.dumps({
        "do": "expose", "burst": 7, "light": "green", "at": time.monotonic() + 0.2, "seconds": 19.0, "cut_on": contacts,
        "while_down": None, "safelight": None, "seen": 99, "view": False,
    }).encode())  # fmt: skip
    while (report := json.loads(pipe.recv(65536)))["is"] != "lit":
        assert report["is"] != "refused", report
    return float(report["at"])


def test_a_foreign_process_under_the_keepers_number_is_left_alone(
    run: Path, started: list[subprocess.Popen[bytes]]
) -> None:
    """Ids are used again. Neither a process with the keeper's name among its words nor another bench's keeper is it."""
    other = run / "other"
    other.mkdir()
    another, pipe = keeper(other)
    named = [waiting("-m", "timerd.bench.loop", "5", str(run)), waiting("timerd.bench.loop")]
    started += [waiting(), *named, another]
    for process in started:
        left_by_a_dead_keeper(run, GREEN)
        (run / KEEPER_PID).write_text(str(process.pid))
        assert last_off(run).high == ()
        assert lines(run).read() == AT_REST
    assert [process.poll() for process in started] == [None] * 4
    pipe.close()


@pytest.mark.parametrize("content", [None, "", "x", "-1", "0", "999999999", "99999999999999999999999", "1.5", "\x00"])
def test_a_number_that_is_none_is_nobody(run: Path, content: str | None) -> None:
    left_by_a_dead_keeper(run, GREEN)
    if content is not None:
        (run / KEEPER_PID).write_text(content)
    assert last_off(run).high == ()
    assert lines(run).read() == AT_REST


def test_a_keeper_that_answers_goes_dark_by_itself_since_it_knows_best_when(
    run: Path, started: list[subprocess.Popen[bytes]]
) -> None:
    process, pipe = keeper(run)
    started.append(process)
    on = lit(run, pipe)
    dark, high = last_off(run)
    assert high == () and lines(run).read() == AT_REST
    assert process.wait(10) == 0
    found = read_note(run)
    assert found is not None and (found.burst, found.lit, found.why) == (7, on, "keeper stopped")
    assert found.dark is not None and on < found.dark <= dark
    (off,) = [edge["t"] for edge in truth(run) if edge["line"] == GREEN and not edge["on"]]
    assert abs(off - found.dark) < 0.1


def test_a_keeper_that_hangs_is_killed_and_its_light_put_out(run: Path, started: list[subprocess.Popen[bytes]]) -> None:
    process, pipe = keeper(run)
    started.append(process)
    on = lit(run, pipe)
    process.send_signal(signal.SIGSTOP)
    dark, high = last_off(run)
    assert high == () and lines(run).read() == AT_REST
    assert process.wait(10) == -signal.SIGKILL
    found = read_note(run)
    assert found is not None
    assert found._replace(dark_lo=None) == Noted(BOOK, BOOT, 7, found.at, on, dark, "last off")
    assert found.dark_lo is None or on < found.dark_lo < dark, "where this machine stood still in between"
    (off,) = [edge["t"] for edge in truth(run) if edge["line"] == GREEN and not edge["on"]]
    assert off <= dark < off + 0.1


# -- as a process of its own -------------------------------------------------------------------------------------


def by_itself(run: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "timerd.bench.lastoff", str(run)], capture_output=True, text=True, timeout=30
    )


def test_as_a_process_it_tells_when_it_was_dark(run: Path, tmp_path: Path) -> None:
    left_by_a_dead_keeper(run, GREEN)
    before = time.monotonic()
    done = by_itself(run)
    assert (done.returncode, done.stderr) == (0, "")
    said = json.loads(done.stdout)
    assert said.keys() == {"dark", "high"} and said["high"] == []
    assert before < said["dark"] < time.monotonic()
    assert lines(run).read() == AT_REST
    nowhere = by_itself(tmp_path / "nowhere")
    assert (nowhere.returncode, nowhere.stdout) == (1, "")
    assert (
        nowhere.stderr
        == "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same\n"
    )


def test_who_may_not_look_is_not_told_that_there_is_no_bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def denied(path: Path) -> str:
        raise PermissionError(13, "Permission denied", str(path))

    monkeypatch.setattr(Path, "read_text", denied)
    with pytest.raises(LinesError) as told:
        last_off(tmp_path)
    assert str(told.value) == f"{tmp_path}: this user may not look there: say  sudo timerd dark"
