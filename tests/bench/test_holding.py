"""Who has the lines: one at a time, until closed or dead; and who is a keeper of this very folder."""

from __future__ import annotations

import os
import select
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from lines.keeper import WITHIN_S, RealKeeper

from timerd.bench.holding import KEEPER_PID, HeldByAnother, Holding, keepers

FOR_LONG_S = 30.0


def number(run: Path) -> str:
    return (run / KEEPER_PID).read_text()


def test_one_has_the_lines_and_its_number_is_there(tmp_path: Path) -> None:
    first = Holding(tmp_path, 0.0)
    assert number(tmp_path) == f"{os.getpid()}\n"
    with pytest.raises(HeldByAnother) as told:
        Holding(tmp_path, 0.01)
    assert str(told.value) == (
        f"another keeper of this bench has the lines (process {os.getpid()}): stop that one first"
    )
    first.close()
    assert number(tmp_path) == ""
    Holding(tmp_path, 0.0).close()


def test_the_right_dies_with_its_holder_however_it_dies(tmp_path: Path) -> None:
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        Holding(tmp_path, 0.0)
        os.write(told, b"x")
        select.select([], [], [], FOR_LONG_S)
        os._exit(0)
    os.read(heard, 1)
    with pytest.raises(HeldByAnother, match=rf"\(process {child}\)"):
        Holding(tmp_path, 0.0)
    os.kill(child, 9)
    os.waitpid(child, 0)
    holding = Holding(tmp_path, 0.0)
    assert number(tmp_path) == f"{os.getpid()}\n", "and a number that somebody left is written over"
    holding.close()
    os.close(heard)
    os.close(told)


@pytest.mark.parametrize("what", ["link", "its own", "another's"])
def test_what_lies_in_its_place_makes_way_and_nothing_is_done_to_what_it_leads_to(what: str, tmp_path: Path) -> None:
    path, other = tmp_path / KEEPER_PID, tmp_path / "other"
    other.write_text("precious")
    if what == "link":
        path.symlink_to(other)
    else:
        path.write_text("999999999999 of an earlier version")
        path.chmod(0o644)
        if what == "another's" and os.geteuid() == 0:
            os.chown(path, 4242, 4242)
    Holding(tmp_path, 0.0).close()
    assert other.read_text() == "precious"
    assert not path.is_symlink() and path.stat().st_mode & 0o077 == 0, "nobody else may lock it"


# -- keepers -----------------------------------------------------------------------------------------------------


@pytest.fixture
def processes() -> Iterator[list[subprocess.Popen[bytes]]]:
    started: list[subprocess.Popen[bytes]] = []
    yield started
    for process in started:
        process.kill()
        process.wait(WITHIN_S)


def waiting(*words: str) -> subprocess.Popen[bytes]:
    """A process with these words behind its program that only waits."""
    process = subprocess.Popen([sys.executable, *words], stdin=subprocess.PIPE, stdout=subprocess.PIPE)
    assert process.stdout is not None and process.stdout.readline() == b"\n"
    return process


CODE = "import sys; print(flush=True); sys.stdin.read()"


def found(run: Path) -> set[int]:
    """The numbers of its keepers."""
    numbers = set()
    for descriptor in keepers(run):
        told = Path(f"/proc/self/fdinfo/{descriptor}").read_text()
        numbers.add(int(told.split("Pid:", 1)[1].split()[0]))
        os.close(descriptor)
    return numbers


def test_keepers_are_found_by_what_they_are(tmp_path: Path, processes: list[subprocess.Popen[bytes]]) -> None:
    """Neither by a number in a file, nor by words that anybody may have; nor another folder's."""
    run, other = tmp_path / "run", tmp_path / "other"
    run.mkdir()
    other.mkdir()
    processes.append(waiting("-c", CODE, "-m", "timerd.bench.loop", "5", str(run)))
    processes.append(waiting("-c", CODE, "timerd.bench.loop", str(run)))
    assert found(run) == set()
    with RealKeeper(run) as ours, RealKeeper(other) as theirs:
        assert found(run) == {ours.process.pid}
        assert found(other) == {theirs.process.pid}
        (tmp_path / "link").symlink_to(run)
        assert found(tmp_path / "link") == {ours.process.pid}
        ours.process.kill()
        ours.ended()
        assert found(run) == set()


def test_one_started_with_options_for_its_python_is_found_too(tmp_path: Path) -> None:
    with RealKeeper(tmp_path, program=("-P", "-s", "-m", "timerd.bench.loop")) as keeper:
        assert keeper.first["is"] == "keeping"
        assert found(tmp_path) == {keeper.process.pid}


def test_a_second_keeper_gets_nothing_and_leaves_the_first_one_s_number(tmp_path: Path) -> None:
    with RealKeeper(tmp_path) as keeper, RealKeeper(tmp_path) as second:
        assert second.first == {
            "is": "no lines",
            "why": f"another keeper of this bench has the lines (process {keeper.process.pid}): stop that one first",
        }
        assert second.ended() == 1
        assert number(tmp_path) == f"{keeper.process.pid}\n"
        keeper.expose()
        assert keeper.until("dark")["why"] == "deadline"
