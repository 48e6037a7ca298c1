"""Reading the book: what is needed to go on equals the whole fold, and nothing that a reader does changes a file."""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import wrote
from walks.book_walk import EVENINGS, BookWalk, book_walk
from walks.engine_walk import PLAN

from timerd.book.reading import Reader
from timerd.book.store import Book, BookError
from timerd.sheet.record import Progress, Record

NOBODY = 65534


def put(home: Path, records: list[Record]) -> Book:
    book = Book(home, "2026-01-02T03:04:05+00:00", 1)
    book.append(records, {record.sheet: PLAN for record in records if record.kind == "armed"})
    return book


def files(home: Path) -> dict[str, str]:
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(home.iterdir())}


def check_present(present: Progress, full: Progress) -> None:
    """All that the engine goes on from is as if every record had been read."""
    assert present.last_burst == full.last_burst
    assert present.fault == full.fault
    assert (present.sheets_out, present.sensitive) == (full.sheets_out, full.sensitive)
    assert max(present.sheets, default=0) == max(full.sheets, default=0)
    assert (present.aside, present.clock) == (full.aside, full.clock)
    ours, theirs = present.unfinished, full.unfinished
    assert (ours and asdict(ours)) == (theirs and asdict(theirs))
    for number, sheet in present.sheets.items():
        assert asdict(sheet) == asdict(full.sheets[number])
    missed = [sheet for number, sheet in full.sheets.items() if number not in present.sheets]
    assert not any(sheet.out or sheet.sensitive or sheet.may_light or sheet.burning is not None for sheet in missed)


def rounded(records: list[Record]) -> list[Record]:
    """Times as the book has them: whole nanoseconds."""
    return [record._replace(at=round(record.at * 1e9) / 1e9) for record in records]


# -- what is needed to go on -------------------------------------------------------------------------------------


@settings(max_examples=15, deadline=None)
@given(
    st.integers(0, 2**32),
    st.lists(st.tuples(st.integers(0, EVENINGS - 1), st.floats(0, 1) | st.just(1.0)), min_size=1, max_size=8),
)
def test_the_present_equals_the_fold_over_everything(seed: int, evenings: list[tuple[int, float]]) -> None:
    walk, full = BookWalk(seed), Progress()
    with tempfile.TemporaryDirectory() as folder:
        book = Book(Path(folder), "then", 1)
        reader = Reader(Path(folder))
        for which, cut in evenings:
            told = walk.evening(which, cut)
            book.append(told, {record.sheet: PLAN for record in told if record.kind == "armed"})
            for record in rounded(told):
                full.apply(record)
            check_present(reader.present(), full)
        reader.close()
        book.close()


def test_the_present_at_every_single_record(tmp_path: Path) -> None:
    book, full = Book(tmp_path, "then", 1), Progress()
    reader = Reader(tmp_path)
    records = rounded(book_walk(100, 4).records)
    assert {
        "fault", "cleared", "abandoned", "taken up", "given up", "done", "in the fixer", "recovered", "so far",
        "started", "sheet out", "set aside",
    } <= {record.kind for record in records}, "the walks have changed: choose another seed"  # fmt: skip
    for record in records:
        book.append([record], {record.sheet: PLAN} if record.kind == "armed" else {})
        full.apply(record)
        if record.kind not in ("so far", "safelight", "refused", "called off"):
            check_present(reader.present(), full)
    reader.close()
    book.close()


def test_what_is_left_of_a_batch_at_every_single_record(tmp_path: Path) -> None:
    def loaded(sheets: int) -> Record:
        return wrote("loaded", 1.0, facts={"print": "A wall", "sheets": sheets})

    def armed(sheet: int) -> Record:
        return wrote("armed", 2.0, sheet, facts={"steps": []})

    book = Book(tmp_path, "then", 1)
    reader = Reader(tmp_path)
    for record, batch in (
        (armed(1), None),  # of a book older than this
        (loaded(3), None), (armed(2), (2, 2)), (wrote("done", 3.0, 2), (2, 2)), (wrote("started", 4.0), (2, 2)),
        (armed(3), (3, 1)), (armed(4), None), (loaded(2), None), (armed(5), (5, 1)), (loaded(4), None),
        (armed(6), (6, 3)), (wrote("stopped", 5.0), None), (wrote("started", 6.0), None), (loaded(2), None),
        (armed(7), (7, 1)), (wrote("loaded", 7.0, 7, facts={"print": "A door", "sheets": 1}), None),
    ):  # fmt: skip
        book.append([record], {record.sheet: PLAN} if record.kind == "armed" else {})
        assert reader.batch() == batch
    reader.close()
    book.close()


def test_an_empty_book_has_nothing_to_go_on_from(tmp_path: Path) -> None:
    put(tmp_path, []).close()
    reader = Reader(tmp_path)
    check_present(reader.present(), Progress())
    assert (reader.sheets(), reader.records(0), reader.sheet(1), reader.plan(1)) == ([], [], None, None)
    reader.close()


def test_a_sheet_is_told_as_its_own_records_tell_it(tmp_path: Path) -> None:
    walk = book_walk(5, 8)
    put(tmp_path, walk.records).close()
    reader = Reader(tmp_path)
    assert reader.sheets() == sorted(walk.progress.sheets)
    for number, expected in walk.progress.sheets.items():
        found = reader.sheet(number)
        assert found is not None and found.as_json() == expected.as_json()
        assert found.out == expected.out and found.given_up == expected.given_up
        assert reader.plan(number) == PLAN
    assert reader.sheet(0) is None and reader.sheet(len(walk.progress.sheets) + 1) is None
    reader.close()


# -- nothing is changed ------------------------------------------------------------------------------------------


def read_all(home: Path) -> str:
    """Everything a reader can be asked, in a few words."""
    try:
        reader = Reader(home)
    except BookError as error:
        return str(error)
    present = reader.present()
    sheets = [(n, reader.sheet(n), reader.plan(n), reader.records(n)) for n in reader.sheets()]
    reader.close()
    return f"{len(sheets)} sheets, {present.last_burst} bursts"


def as_nobody(call: Callable[[], str]) -> str:
    """What a call says as a user who may do nothing."""
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.setgroups([])
            os.setgid(NOBODY)
            os.setuid(NOBODY)
            os.write(told, call().encode())
        finally:
            os._exit(0)
    os.close(told)
    with os.fdopen(heard, "rb") as file:
        said = file.read().decode()
    os.waitpid(child, 0)
    return said


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder that everybody may enter, where tmp_path is the user's alone."""
    folder = Path(tempfile.mkdtemp(prefix="book-"))
    folder.chmod(0o755)
    yield folder
    shutil.rmtree(folder)


WALK = book_walk(3, 3)
WORDS = f"{len(WALK.progress.sheets)} sheets, {WALK.progress.last_burst} bursts"


@pytest.mark.parametrize("state", ["closed", "open", "killed", "killed, its index gone"])
def test_a_reader_changes_nothing(shared: Path, state: str) -> None:
    """Neither the file nor its log, be the book closed, being written or left by a kill; and everything is read."""
    lay_out(shared, state)
    before = {name: found for name, found in files(shared).items() if not name.endswith("-shm")}
    for _ in range(2):
        assert read_all(shared) == WORDS
        after = {name: found for name, found in files(shared).items() if not name.endswith("-shm")}
        nothing = hashlib.sha256(b"").hexdigest()
        assert {name: found for name, found in after.items() if found != nothing or name in before} == before


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become a user who may write nothing")
@pytest.mark.parametrize("state", ["closed", "open", "killed", "read before"])
def test_who_may_only_read_reads_everything_and_leaves_nothing(shared: Path, state: str) -> None:
    lay_out(shared, state)
    for file in shared.iterdir():
        file.chmod(0o644)
    before = files(shared)
    assert as_nobody(lambda: read_all(shared)) == WORDS
    assert files(shared) == before


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become a user who may write nothing")
def test_who_may_not_read_is_told_so_in_one_line(shared: Path) -> None:
    lay_out(shared, "closed")
    path = shared / "book.sqlite"
    path.chmod(0o600)
    assert as_nobody(lambda: read_all(shared)) == f"{path}: cannot be read: Permission denied"
    shared.chmod(0o700)
    assert as_nobody(lambda: read_all(shared)) == f"{path}: cannot be read: Permission denied"
    assert as_nobody(lambda: written_by(shared)) == (
        f"{shared}: the book cannot be kept here: Permission denied: mend that, or give --home DIR"
    )
    shared.chmod(0o755)
    lock = shared / "book.lock"
    lock.chmod(0o666)
    path.chmod(0o644)
    assert as_nobody(lambda: written_by(shared)).startswith(f"{path}: cannot be written: attempt to write a readonly")


def written_by(home: Path) -> str:
    try:
        Book(home, "then", 1).close()
    except BookError as error:
        return str(error)
    return "written"


HELD: list[tuple[int, int]] = []


def held_by_another(home: Path) -> tuple[int, int]:
    """A book that another process is writing: that process, and a pipe to hold it by."""
    told, tell = os.pipe()
    hold, held = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.close(held)
            book = put(home, WALK.records)
            os.write(tell, b"written")
            os.read(hold, 1)
            book.close()
        finally:
            os._exit(0)
    os.close(tell)
    os.close(hold)
    assert os.read(told, 10) == b"written"
    os.close(told)
    return child, held


def lay_out(home: Path, state: str) -> None:
    """A book in a folder as it is found in each of these states."""
    if state in ("closed", "read before"):
        put(home, WALK.records).close()
        if state == "read before":
            read_all(home)  # by the owner: it leaves an empty log and its index
            assert (home / "book.sqlite-shm").exists()
        return
    if state == "open":
        HELD.append(held_by_another(home))
        return
    beside = Path(tempfile.mkdtemp())
    book = put(beside, WALK.records)
    for name in ("book.sqlite", "book.sqlite-wal", "book.sqlite-shm"):
        if not (name.endswith("-shm") and "gone" in state):
            shutil.copy(beside / name, home / name)
    book.close()
    shutil.rmtree(beside)


@pytest.fixture(autouse=True)
def _let_go() -> Iterator[None]:
    yield
    while HELD:
        child, held = HELD.pop()
        os.close(held)
        os.waitpid(child, 0)


# -- what cannot be read -----------------------------------------------------------------------------------------


def test_damage_found_while_reading_is_one_line(tmp_path: Path) -> None:
    put(tmp_path, WALK.records).close()
    path = tmp_path / "book.sqlite"
    raw = bytearray(path.read_bytes())
    for page in range(2, len(raw) // 4096):
        raw[4096 * page : 4096 * page + 100] = bytes(100)
    path.write_bytes(raw)
    reader = Reader(tmp_path)
    calls: list[Callable[[], object]] = [
        reader.present, reader.sheets, lambda: reader.sheet(1), lambda: reader.records(1), lambda: reader.plan(1),
    ]  # fmt: skip
    said = set()
    for call in calls:
        with pytest.raises(BookError) as caught:
            call()
        said.add(str(caught.value))
    reader.close()
    assert said == {
        f"{path}: cannot be read: database disk image is malformed: it is damaged: keep it, and read what "
        "is left with  timerd book rescue --out DIR"
    }
    assert path.read_bytes() == raw


def test_a_plan_of_another_make_is_one_line(tmp_path: Path) -> None:
    put(tmp_path, []).close()
    db = sqlite3.connect(tmp_path / "book.sqlite")
    db.execute("""INSERT INTO plans VALUES (4, '{"print": "Tides", "and_more": 1}')""")
    db.commit()
    db.close()
    reader = Reader(tmp_path)
    with pytest.raises(BookError) as caught:
        reader.plan(4)
    said = f"{tmp_path / 'book.sqlite'}: the plan of sheet 4 is not one that this version can read"
    assert str(caught.value) == said
    reader.close()


# -- one sheet's history -----------------------------------------------------------------------------------------


def test_a_history_is_dated_by_the_nearest_clock_that_was_read(tmp_path: Path) -> None:
    """Opened at one time, armed when the clock had been set right, recovered after a restart, noted on its own."""
    steps = [[s.n, s.kind, s.dose or 0.0, s.light is not None] for s in PLAN.steps]
    off = {"lit": 30.0, "dark": 31.0, "given": 1.0, "given_lo": 0.5, "why": "power"}
    book = Book(tmp_path, "1970-01-01T00:00:05+00:00", 5 * 10**9)
    book.append([
        wrote("started", 5.0, facts={"version": "0.1.0"}),
        wrote("armed", 20.0, 1, facts={"print": "x", "steps": steps, "wall": "2026-01-01T20:00:00+00:00"}),
        wrote("lit", 30.0, 1, 2, 1, {"light": "flash", "lit": 30.0, "seconds": 1.0, "most": 1.0}),
    ], {1: PLAN})  # fmt: skip
    book.close()
    book = Book(tmp_path, "2026-01-01T21:00:00+00:00", 7 * 10**9)
    book.append([wrote("recovered", 8.0, 1, 2, 1, off), wrote("started", 8.0, facts={"version": "0.2.0"})], {})
    book.append([
        wrote("taken up", 9.0, 1, 2),
        wrote("note", 10.0, 1, facts={"text": "t", "wall": "2026-01-02T00:00:00+00:00"}),
    ], {})  # fmt: skip
    book.close()
    reader = Reader(tmp_path)
    eight = 1767297600.0  # 2026-01-01 20:00 UTC
    assert [wall for _, wall in reader.dated(1)] == [eight, eight + 10, eight + 3601, eight + 3602, eight + 4 * 3600]
    found = reader.history(1)
    assert found is not None and found.armed_wall == eight
    assert [(b.lit_wall, b.given, b.given_lo) for b in found.bursts] == [(eight + 10, 1.0, 0.5)]
    assert found.versions == ("0.1.0", "0.2.0")
    assert found.plan == PLAN and found.notes[0].text == "t"
    assert reader.history(2) is None and reader.history(0) is None and reader.dated(9) == []
    reader.close()


def test_where_no_clock_was_ever_read_there_are_no_times(tmp_path: Path) -> None:
    walk = book_walk(5, 3)
    book = Book(tmp_path, "then", 1)
    book.append(walk.records, walk.plans)
    book.close()
    reader = Reader(tmp_path)
    for number, sheet in walk.progress.sheets.items():
        found = reader.history(number)
        assert found is not None and found.plan == walk.plans[number] and found.progress.as_json() == sheet.as_json()
        assert found.armed_wall is None and all(burst.lit_wall is None for burst in found.bursts)
    reader.close()


def test_records_that_do_not_fit_together_are_one_line(tmp_path: Path) -> None:
    off = {"lit": 1.0, "dark": 2.0, "given": 1.0, "why": "deadline"}
    for n, records in enumerate(
        [[wrote("dark", 2.0, 1, 2, 1, off)], [wrote("armed", 1.0, 1), wrote("ready", 2.0, 1, 9)]]
    ):
        home = tmp_path / str(n)
        book = Book(home, "then", 1)
        book.append(records, {1: PLAN})
        book.close()
        reader = Reader(home)
        if n:
            with pytest.raises(BookError, match=r"sheet 1: record 1 is damaged: it "):
                reader.history(1)
        else:
            assert reader.history(1) is None, "never armed"
        reader.close()


def test_what_is_written_while_a_sheet_is_read_is_no_damage(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between two of the reader's questions the writer may have gone on: both are of one moment."""
    records = book_walk(100, 1).records
    cut = next(n for n, record in enumerate(records) if record.kind == "dark") + 1
    sheet = records[cut - 1].sheet
    book = Book(tmp_path, "then", 1)
    book.append(records[:cut], {record.sheet: PLAN for record in records[:cut] if record.kind == "armed"})
    reader = Reader(tmp_path)
    rows = reader.rows

    def meanwhile(where: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        found = rows(where, values)
        book.append([wrote("so far", records[cut - 1].at + 1.0, sheet, 1, 1, {"seconds": 0.1})], {})
        return found

    before = len(reader.written(sheet))
    monkeypatch.setattr(reader, "rows", meanwhile)
    assert len(reader.written(sheet)) == before
    assert len(reader.written(sheet)) == before + 1
    reader.close()
    book.close()
