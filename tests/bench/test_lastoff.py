"""The last off on a simulated bench's folder: what a dead keeper left lit is made dark, and its note completed."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from lines.keeper import as_sent, bench
from walks.engine_walk import BENCH

from timerd.bench import lastoff
from timerd.bench.holding import KEEPER_PID
from timerd.bench.lastoff import TOLD, last_off
from timerd.bench.lines import LinesError
from timerd.bench.note import Note, Noted, read_note
from timerd.bench.pretended import TRUTH, PretendedLines
from timerd.bench.setup import to_keep
from timerd.book.store import boot_id
from timerd.sheet.profile.benchfile import Line

BOOK, BOOT = "5b0d6c0f1f2e4c7a9d3e8b7a6c5d4e3f", "a boot"
GREEN = "lamp head-green"
AT_REST = {f"lamp {name}": False for name in BENCH.lamps} | {"safelight": True}


@pytest.fixture
def run(tmp_path: Path) -> Path:
    (tmp_path / TOLD).write_text(json.dumps(TOLD_OF_IT))
    return tmp_path


TOLD_OF_IT = as_sent(to_keep(BENCH, True, BOOK, BOOT))
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
    facts = as_sent(to_keep(bright, True, BOOK, BOOT))
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


@pytest.mark.parametrize("content", [None, "", "x", "-1", "999999999", "1.5", "\x00", "another's"])
def test_a_keeper_that_hangs_is_found_whatever_number_is_written_down(
    run: Path, content: str | None, started: list[subprocess.Popen[bytes]]
) -> None:
    """As after a second keeper's start in the same folder, or when a clean-up took the file; and whoever has that
    number by now is left alone."""
    stranger = waiting("-m", "timerd.bench.loop", "5", str(run))
    process, pipe = keeper(run)
    started += [stranger, process]
    lit(run, pipe)
    process.send_signal(signal.SIGSTOP)
    (run / KEEPER_PID).unlink()
    if content is not None:
        (run / KEEPER_PID).write_text(str(stranger.pid) if content == "another's" else content)
    assert last_off(run).high == () and lines(run).read() == AT_REST
    assert process.wait(10) == -signal.SIGKILL and stranger.poll() is None


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


# -- what it is told, and may touch ------------------------------------------------------------------------------


def served_as(monkeypatch: pytest.MonkeyPatch, run: Path, **told: object) -> list[str]:
    """A bench on real lines, told so; whose lines were asked for: the chip's own, or the pin library's."""
    asked: list[str] = []

    class Had(PretendedLines):
        def __init__(self, outputs: Any, folder: Path) -> None:
            asked.append(str(folder))
            super().__init__(outputs, run)
            self.found = self.read()

    monkeypatch.setattr(lastoff, "ChipLines", Had)
    monkeypatch.setattr(lastoff, "GpioLines", lambda outputs: Had(outputs, Path("the library")))
    monkeypatch.setattr(lastoff, "open_factory", lambda folder: asked.append(f"library in {folder}"))
    (run / TOLD).write_text(json.dumps({**TOLD_OF_IT, "simulated": False, **told}))
    return asked


def test_lines_are_the_chip_s_own_where_the_keeper_said_which(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And where that was in this boot: a chip may have another number in the next one."""
    boot = boot_id()
    for more, expected in (
        ({"chip": 4, "boot": boot}, ["/dev/gpiochip4"]),
        ({"chip": 4, "boot": "another"}, [f"library in {run}", "the library"]),
        ({"chip": None, "boot": boot}, [f"library in {run}", "the library"]),
        ({"chip": "0/../../dev/mem", "boot": boot}, [f"library in {run}", "the library"]),
        ({"boot": boot}, [f"library in {run}", "the library"]),
    ):
        left_by_a_dead_keeper(run, GREEN)
        with monkeypatch.context() as patch:
            asked = served_as(patch, run, **more)
            assert last_off(run).high == () and asked == expected
        assert lines(run).read() == AT_REST


def test_where_the_chip_s_own_cannot_be_had_the_library_is_asked(run: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    left_by_a_dead_keeper(run, GREEN)
    asked = served_as(monkeypatch, run, chip=0, boot=boot_id())

    def none(outputs: Any, device: Path) -> None:
        raise LinesError("GPIO17 for lamp head-green: Invalid argument: is this a Raspberry Pi?")

    monkeypatch.setattr(lastoff, "ChipLines", none)
    assert last_off(run).high == () and asked == [f"library in {run}", "the library"]
    assert lines(run).read() == AT_REST


@pytest.fixture
def another_s(request: pytest.FixtureRequest) -> Iterator[Path]:
    """A run folder of another user's, that everybody can reach, beside a folder of root's."""
    if os.geteuid() != 0:
        pytest.skip("only root can go into another user's folder")
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    (place / "root").mkdir(mode=0o755)
    run = place / "run"
    run.mkdir(mode=0o750)
    (run / TOLD).write_text(json.dumps(TOLD_OF_IT))
    for path in (run, run / TOLD):
        os.chown(path, STRANGER, STRANGER)
    yield run
    shutil.rmtree(place)


STRANGER = 4242


@pytest.mark.parametrize("name", ["truth", "note", KEEPER_PID])
def test_as_root_it_makes_and_changes_nothing_that_the_folder_s_owner_could_not(another_s: Path, name: str) -> None:
    """A link that the owner planted leads into root's folder: to nothing, and to a file that only root may write."""
    made, precious = another_s.parent / "root" / "made", another_s.parent / "root" / "precious"
    precious.write_text("precious\n")
    precious.chmod(0o600)
    for target in (made, precious):
        (another_s / name).unlink(missing_ok=True)
        (another_s / name).symlink_to(target)
        done = by_itself(another_s)
        assert not made.exists() and precious.read_text() == "precious\n"
        if name == "truth":  # a simulated bench has no lines but this file
            assert done.returncode == 1 and "Traceback" not in done.stderr, done.stderr
        else:
            assert (done.returncode, done.stderr) == (0, "")
    assert (os.geteuid(), os.getegid()) == (0, 0)


def test_as_root_what_it_makes_is_the_folder_s_owner_s(another_s: Path) -> None:
    done = by_itself(another_s)
    assert (done.returncode, done.stderr) == (0, "")
    assert {path.name: path.stat().st_uid for path in another_s.iterdir()} == dict.fromkeys(
        [TOLD, TRUTH, KEEPER_PID], STRANGER
    )


def test_as_root_the_pin_library_makes_nothing_in_another_user_s_folder(
    another_s: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LG_WD", str(another_s))
    asked = served_as(monkeypatch, another_s, boot="another")
    assert last_off(another_s).high == ()
    (library, _) = asked
    assert str(another_s) not in library and "LG_WD" not in os.environ
    assert not Path(library.removeprefix("library in ")).exists(), "gone when it is done"


def test_a_folder_that_may_not_be_looked_into_is_told_as_that(another_s: Path) -> None:
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.setgroups([])
            os.setgid(STRANGER + 1)
            os.setuid(STRANGER + 1)
            last_off(another_s)
        except LookupError as error:
            os.write(told, str(error).encode())
        finally:
            os._exit(0)
    os.waitpid(child, 0)
    os.close(told)
    with os.fdopen(heard) as file:
        assert file.read() == (
            f"{another_s}: this user may not look in there: as the bench's user or as root, say  timerd dark"
        )


@pytest.mark.parametrize("name", [TOLD, "note"])
def test_a_pipe_in_a_file_s_place_is_not_waited_for(run: Path, name: str) -> None:
    left_by_a_dead_keeper(run, GREEN)
    (run / name).unlink(missing_ok=True)
    os.mkfifo(run / name)
    if name == TOLD:
        with pytest.raises(LookupError, match=": damaged: see that"):
            last_off(run)
    else:
        assert last_off(run).high == () and lines(run).read() == AT_REST


# -- as a process of its own, and beside a keeper ----------------------------------------------------------------


@contextlib.contextmanager
def beside(run: Path, keeper: subprocess.Popen[bytes]) -> Iterator[subprocess.Popen[str]]:
    """A last off that waits for a keeper's end."""
    descriptor = os.pidfd_open(keeper.pid)
    waits = subprocess.Popen(
        [sys.executable, "-m", "timerd.bench.lastoff", str(run), str(descriptor)], pass_fds=[descriptor],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    os.close(descriptor)
    try:
        yield waits
    finally:
        waits.kill()
        waits.communicate()


def test_it_waits_beside_a_keeper_and_darkens_when_that_has_died_with_nobody_else_left(
    run: Path, started: list[subprocess.Popen[bytes]]
) -> None:
    process, pipe = keeper(run)
    started.append(process)
    with beside(run, process) as waits:
        on = lit(run, pipe)
        assert waits.poll() is None
        process.kill()
        said, wrong = waits.communicate(timeout=30)
    assert (waits.returncode, wrong) == (0, "")
    dark = json.loads(said)["dark"]
    assert lines(run).read() == AT_REST
    (off,) = [edge["t"] for edge in truth(run) if edge["line"] == GREEN and not edge["on"]]
    assert on < off <= dark
    found = read_note(run)
    assert found is not None and found._replace(dark_lo=None) == Noted(BOOK, BOOT, 7, found.at, on, dark, "last off")
    assert (run / KEEPER_PID).read_text() == ""


def test_beside_a_keeper_that_has_ended_in_good_order_it_changes_nothing(
    run: Path, started: list[subprocess.Popen[bytes]]
) -> None:
    process, pipe = keeper(run)
    started.append(process)
    with beside(run, process) as waits:
        on = lit(run, pipe)
        pipe.close()
        said, wrong = waits.communicate(timeout=30)
    assert (waits.returncode, wrong, json.loads(said)["high"]) == (0, "", [])
    found = read_note(run)
    assert found is not None and (found.lit, found.why) == (on, "pipe closed")
    assert [edge["on"] for edge in truth(run) if edge["line"] == GREEN] == [True, False]


def test_it_takes_nothing_from_a_keeper_that_came_after(run: Path, started: list[subprocess.Popen[bytes]]) -> None:
    first, _ = keeper(run)
    started.append(first)
    first.kill()
    first.wait(10)
    second, pipe = keeper(run)
    started.append(second)
    lit(run, pipe)
    with beside(run, first_again := waiting()) as waits:  # an end that it hears of late
        started.append(first_again)
        first_again.kill()
        said, wrong = waits.communicate(timeout=30)
    assert (waits.returncode, said, wrong) == (1, "", "another keeper has the lines already\n")
    found = read_note(run)
    assert second.poll() is None and found is not None and found.why in (None, "lease")


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
