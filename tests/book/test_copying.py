"""Copies of the book by themselves: whole or not at all, an evening each, over nothing but their own older one."""

from __future__ import annotations

import json
import os
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from records import wrote
from walks.book_walk import book_walk
from walks.old_book import changeable

from timerd.book import copying
from timerd.book.checking import check
from timerd.book.copying import KEPT, Copied, NoCopy, copy
from timerd.book.reading import Reader
from timerd.book.store import NAME, Book

WALK = book_walk(100, 4)
MORE = [wrote("started", 1e5)]


@pytest.fixture
def home(tmp_path: Path) -> Path:
    book = Book(tmp_path / "home", "2026-03-01T19:00:00+00:00", 1)
    book.append(WALK.records, WALK.plans)
    book.close()
    (tmp_path / "stick").mkdir()
    return tmp_path / "home"


def stick(home: Path) -> Path:
    return home.parent / "stick"


def files(home: Path) -> list[str]:
    return sorted(path.name for path in stick(home).iterdir())


def write_more(home: Path) -> int:
    book = Book(home, "2026-03-01T20:00:00+00:00", 1)
    book.append(MORE, {})
    book.close()
    return last_of(home / NAME)


def last_of(path: Path) -> int:
    with closing(sqlite3.connect(path)) as db:
        found: int = db.execute("SELECT max(number) FROM records").fetchone()[0]
        return found


def is_a_book(home: Path, name: str, tmp_path: Path) -> None:
    """Under the name of a book, in a folder of its own, a copy is one: nothing is wrong with it, and it goes on."""
    there = tmp_path / "again"
    shutil.rmtree(there, ignore_errors=True)
    there.mkdir()
    shutil.copy(stick(home) / name, there / NAME)
    assert check(there).faults == ()
    write_more(there)


def test_a_copy_is_the_book_also_while_that_is_being_written(home: Path, tmp_path: Path) -> None:
    book = Book(home, "2026-03-01T20:00:00+00:00", 1)
    book.append(MORE, {})
    records = len(WALK.records) + 1
    assert copy(home, stick(home), "2026-03-01") == Copied("book-2026-03-01.sqlite", records, None)
    assert files(home) == ["book-2026-03-01.sqlite"], "one file, whole by itself"
    book.append(MORE, {})
    book.close()
    is_a_book(home, "book-2026-03-01.sqlite", tmp_path)


def test_a_later_one_of_the_evening_takes_its_place_and_another_evening_has_its_own(home: Path, tmp_path: Path) -> None:
    copy(home, stick(home), "2026-03-01")
    before = (stick(home) / "book-2026-03-01.sqlite").stat().st_ino
    assert copy(home, stick(home), "2026-03-01").records == len(WALK.records), "nothing new: it stays"
    assert (stick(home) / "book-2026-03-01.sqlite").stat().st_ino == before
    last = write_more(home)
    assert copy(home, stick(home), "2026-03-01").records == last == last_of(stick(home) / "book-2026-03-01.sqlite")
    assert copy(home, stick(home), "2026-03-02").file == "book-2026-03-02.sqlite"
    assert files(home) == ["book-2026-03-01.sqlite", "book-2026-03-02.sqlite"]
    is_a_book(home, "book-2026-03-01.sqlite", tmp_path)


def test_seven_evenings_are_kept_by_how_far_they_go_whatever_a_clock_said(home: Path) -> None:
    evenings = ["2107-01-01", *(f"2026-03-{day:02}" for day in range(1, KEPT + 2)), "1970-01-01"]
    for evening in evenings:
        write_more(home)
        copy(home, stick(home), evening)
        assert f"book-{evening}.sqlite" in files(home)
    assert files(home) == sorted(f"book-{evening}.sqlite" for evening in evenings[-KEPT:])


def other_book(path: Path) -> None:
    Book(path.parent / "other", "2026-03-01T19:00:00+00:00", 1).close()
    shutil.move(path.parent / "other" / NAME, path)
    shutil.rmtree(path.parent / "other")


def newer(path: Path) -> None:
    home = path.parent.parent / "home"
    again = path.parent.parent / "again"
    shutil.copytree(home, again)
    write_more(again)
    shutil.copy(again / NAME, path)


THERE: dict[str, Callable[[Path], object]] = {
    "another book": other_book,
    "what is none": lambda path: path.write_text("Sheet 12: 14 s"),
    "nothing": lambda path: path.write_bytes(b""),
    "a link": lambda path: path.symlink_to(path.parent.parent / "home" / NAME),
    "a link to nothing": lambda path: path.symlink_to("nowhere"),
    "a folder": Path.mkdir,
}


@pytest.mark.parametrize("what", THERE)
def test_nothing_else_is_ever_written_over(home: Path, what: str) -> None:
    path = stick(home) / "book-2026-03-01.sqlite"
    THERE[what](path)
    before = os.lstat(path)
    content = path.read_bytes() if path.is_file() else None
    for _ in range(2):
        write_more(home)
        assert copy(home, stick(home), "2026-03-01").file == "book-2026-03-01-2.sqlite"
    assert os.lstat(path)[:3] == before[:3], "the same file, of the same kind"
    assert what == "a link" or (path.read_bytes() if path.is_file() else None) == content
    assert files(home) == ["book-2026-03-01-2.sqlite", "book-2026-03-01.sqlite"]


def test_a_newer_copy_stays(home: Path) -> None:
    path = stick(home) / "book-2026-03-01.sqlite"
    newer(path)
    before = path.read_bytes()
    assert copy(home, stick(home), "2026-03-01") == Copied("book-2026-03-01-2.sqlite", len(WALK.records), None)
    assert path.read_bytes() == before


def test_what_is_damaged_is_copied_beside_and_costs_no_whole_copy(home: Path) -> None:
    copy(home, stick(home), "2026-03-01")
    whole = (stick(home) / "book-2026-03-01.sqlite").read_bytes()
    with changeable(home / NAME) as db:
        found = db.execute("SELECT number, sheet FROM records WHERE facts LIKE '%given%' ORDER BY number").fetchone()
        db.execute("UPDATE records SET facts = replace(facts, 'given', 'gjven') WHERE number = ?", found[:1])
    words = f"sheet {found[1]}: record {found[0]} is damaged: it is not what was written"
    for n in range(1, 4):
        last = write_more(home)
        copied = copy(home, stick(home), "2026-03-01")
        assert copied == Copied("book-2026-03-01-damaged.sqlite", last, words), n
    assert (stick(home) / "book-2026-03-01.sqlite").read_bytes() == whole
    for day in range(2, KEPT + 4):
        write_more(home)
        copy(home, stick(home), f"2026-03-{day:02}")
    assert "book-2026-03-01.sqlite" in files(home), "while anything is damaged no copy goes"


def test_a_file_that_is_damaged_in_itself_is_not_copied(home: Path) -> None:
    copy(home, stick(home), "2026-03-01")
    raw = bytearray((home / NAME).read_bytes())
    for page in range(4, len(raw) // 4096):
        raw[4096 * page : 4096 * page + 100] = bytes(100)
    (home / NAME).write_bytes(raw)
    with pytest.raises(NoCopy, match="damaged"):
        copy(home, stick(home), "2026-03-02")
    assert files(home) == ["book-2026-03-01.sqlite"]


def test_a_folder_that_is_not_there_is_not_made(home: Path) -> None:
    for missing in (stick(home) / "none", home / NAME):
        with pytest.raises(NoCopy, match=r"folder is not there$"):
            copy(home, missing, "2026-03-01")
    assert files(home) == []


def said(home: Path, prepare: Callable[[], object] = lambda: None) -> dict[str, object]:
    """What the process says that makes a copy."""
    command = [sys.executable, "-P", "-m", "timerd.book.copying", str(home), str(stick(home))]
    ran = subprocess.run(command, capture_output=True, text=True, preexec_fn=prepare, check=False)
    assert (ran.returncode, ran.stderr, ran.stdout.count("\n")) == (0, "", 1)
    told: dict[str, object] = json.loads(ran.stdout)
    return told


def full() -> None:
    """A limit to a file's size stands for the full stick, which a test cannot have."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


def test_the_process_says_what_it_made_or_why_not_and_leaves_nothing_behind(home: Path) -> None:
    told = said(home)
    assert told["is"] == "copied" and files(home) == [told["file"]] and told["records"] == len(WALK.records)
    write_more(home)
    assert said(home, full)["is"] == "not copied"
    assert files(home) == [told["file"]]
    shutil.rmtree(stick(home))
    assert said(home) == {"is": "not copied", "why": "the folder is not there"}


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become a user who may write nothing")
def test_where_this_user_may_not_write_is_said() -> None:
    shared = Path(tempfile.mkdtemp(prefix="copies-"))  # tmp_path is the user's alone
    try:
        Book(shared / "home", "2026-03-01T19:00:00+00:00", 1).close()
        (shared / "stick").mkdir()
        for path in (shared, shared / "home", shared / "home" / NAME, shared / "stick"):
            path.chmod(0o755)
        assert as_nobody(shared) == "this user may not write there"
        assert list((shared / "stick").iterdir()) == []
    finally:
        shutil.rmtree(shared)


def as_nobody(shared: Path) -> str:
    """What is said where a user who may do nothing makes the copy."""
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.setgid(65534)
            os.setuid(65534)
            copy(shared / "home", shared / "stick", "2026-03-01")
        except NoCopy as error:
            os.write(told, str(error).encode())
        finally:
            os._exit(0)
    os.close(told)
    with os.fdopen(heard, "rb") as pipe:
        words = pipe.read().decode()
    os.waitpid(child, 0)
    return words


def test_what_a_killed_one_left_is_taken_away_and_is_no_copy(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    child = os.fork()
    if not child:
        monkeypatch.setattr(copying, "_looked_through", lambda *_: os.kill(os.getpid(), signal.SIGKILL))
        copy(home, stick(home), "2026-03-01")
        os._exit(0)
    assert os.WIFSIGNALED(os.waitpid(child, 0)[1])
    (left,) = files(home)
    assert left.startswith(".book-") and left.endswith(".new")
    copy(home, stick(home), "2026-03-01")
    assert files(home) == ["book-2026-03-01.sqlite"]


def test_it_is_copied_in_small_steps(home: Path, tmp_path: Path) -> None:
    steps: list[tuple[int, int, int]] = []
    reader = Reader(home)
    beside = tmp_path / "copy"
    beside.touch()
    reader.copy_into(beside, 8, lambda *told: steps.append(told))
    reader.close()
    pages = (home / NAME).stat().st_size // 4096
    assert len(steps) >= pages // 8 > 3 and steps[-1][1] == 0
