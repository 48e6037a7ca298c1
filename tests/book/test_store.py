"""The book on disk: its format whole, appended and never changed, one writer, refused in one line where it must be."""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import stat
import struct
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import wrote
from walks.book_walk import book_walk
from walks.engine_walk import PLAN

from timerd.book import rows, store
from timerd.book.carrying import sheet_facts
from timerd.book.listing import listing
from timerd.book.reading import Reader
from timerd.book.store import FORMAT, Book, BookError, boot_id
from timerd.places import shipped
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.reading import read
from timerd.sheet.record import Record

FORMAT_1 = (Path(__file__).parent / "format-1.sql").read_text()
"""A book of format 1, as text. It is never changed: what it holds must be readable for good."""
TABLES = ("book", "boots", "plans", "records")
RECORDS = book_walk(3, 2).records
PLANS = {record.sheet: PLAN for record in RECORDS if record.kind == "armed"}
RESCUE = "it is damaged: keep it, and read what is left with  timerd book rescue --out DIR"
DAMAGED = f"database disk image is malformed: {RESCUE}"
NO_BOOK = "this is no book of timerd's: move it away, or give --home DIR"


def began(home: Path) -> Book:
    return Book(home, "2026-01-02T03:04:05+00:00", 6_000_000_007)


def written(home: Path) -> Path:
    """A book with records, closed in good order."""
    book = began(home)
    book.append(RECORDS, PLANS)
    book.close()
    return book.path


def left(home: Path) -> dict[str, str]:
    """What is on disk of the book itself: its files that hold anything, each with a sum over it."""
    files = [path for path in sorted(home.iterdir()) if not path.name.endswith(("-shm", ".lock"))]
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in files if p.stat().st_size}


def dump(path: Path) -> list[str]:
    with sqlite3.connect(path) as db:
        return list(db.iterdump())


# -- format 1 ----------------------------------------------------------------------------------------------------


def test_the_format_is_format_1_to_the_letter(tmp_path: Path) -> None:
    began(tmp_path).close()
    schema = {line for line in dump(tmp_path / "book.sqlite") if line.startswith("CREATE")}
    assert schema == {line for line in FORMAT_1.splitlines() if line.startswith("CREATE")}
    assert FORMAT == 1, "a new format needs a reader for this one, and a text of its own beside format-1.sql"


def test_a_book_of_format_1_is_read_and_gone_on_with(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "book.sqlite")
    db.executescript(FORMAT_1)
    db.close()
    book = began(tmp_path)
    assert book.id == "5b0d6c0f1f2e4c7a9d3e8b7a6c5d4e3f"
    book.append([wrote("loaded", 1.5, facts={"print": "One more", "sheets": 1})], {})
    book.close()
    reader = Reader(tmp_path)
    assert reader.sheets() == [1, 2, 3]
    expected = json.loads((Path(__file__).parent / "format-1.json").read_text())
    found = [sheet.as_json() for n in reader.sheets() if (sheet := reader.sheet(n)) is not None]
    assert found == expected["sheets"]
    progress = reader.present()
    assert (progress.last_burst, progress.sheets_out, progress.fault) == (7, [3], None)
    assert progress.unfinished is not None and progress.unfinished.sheet == 3
    plans = [reader.plan(n) for n in reader.sheets()]
    assert plans == [Plan.model_validate_json(json.dumps(plan)) for plan in expected["plans"]]
    for plan, told in zip(plans, expected["plans"], strict=True):  # later versions know more of a plan, never less
        assert plan is not None and knows_all_of(plan.model_dump(mode="json"), told)
    assert reader.records(0)[-1] == wrote("loaded", 1.5, facts={"print": "One more", "sheets": 1})
    reader.close()


def test_a_book_of_format_1_is_told_as_ever(tmp_path: Path) -> None:
    """Each sheet's export: later versions may say more in it, never less, and nothing else."""
    db = sqlite3.connect(tmp_path / "book.sqlite")
    db.executescript(FORMAT_1)
    db.close()
    reader = Reader(tmp_path)
    frozen = (Path(__file__).parent / "format-1.jsonl").read_text().splitlines()
    for number, line in zip(reader.sheets(), frozen, strict=True):
        history = reader.history(number)
        assert history is not None and knows_all_of(json.loads(json.dumps(sheet_facts(history))), json.loads(line))
    rows = [(row.sheet, row.print, row.outcome, row.out, row.given_up) for row in listing(reader)]
    assert rows == [
        (1, "Pier lights", "complete", False, False), (2, "Pier lights", "abandoned", False, True),
        (3, "Pier lights", "unfinished", True, False),
    ]  # fmt: skip
    reader.close()


def knows_all_of(now: Any, then: Any) -> bool:
    """Whether everything that was told then is still told so."""
    if isinstance(then, dict):
        return all(key in now and knows_all_of(now[key], value) for key, value in then.items())
    if isinstance(then, list):
        return len(now) == len(then) and all(map(knows_all_of, now, then))
    return bool(now == then)


def test_every_commit_is_synced_and_the_log_is_tidied_only_when_asked(tmp_path: Path) -> None:
    book = began(tmp_path)
    assert book._db is not None
    told = {name: book._db.execute(f"PRAGMA {name}").fetchone()[0] for name in
            ("journal_mode", "synchronous", "wal_autocheckpoint")}  # fmt: skip
    assert told == {"journal_mode": "wal", "synchronous": 2, "wal_autocheckpoint": 0}
    book.append(RECORDS, PLANS)
    before = book.path.read_bytes()
    for _ in range(40):
        book.append(RECORDS[:50], {})
    assert book.path.read_bytes() == before, "checkpoints come only when nothing is at stake"
    book.checkpoint()
    assert len(book.path.read_bytes()) > len(before)
    book.close()


# -- appended, never changed -------------------------------------------------------------------------------------


def changes() -> Iterator[tuple[str, str]]:
    """Every way in which SQL can change or take away a row, for every table."""
    columns = {
        "book": ("format", "id", "begun"),
        "boots": ("boot", "boot_id", "wall", "at_ns"),
        "plans": ("sheet", "plan"),
        "records": ("number", "boot", "kind", "at_ns", "sheet", "step", "burst", "facts"),
    }
    for table in TABLES:
        key, names = columns[table][0], ", ".join(columns[table])
        for column in columns[table]:
            for how in ("", " OR IGNORE", " OR REPLACE", " OR FAIL"):
                yield table, f"UPDATE{how} {table} SET {column} = {column} || '1'"
        yield table, f"UPDATE {table} SET rowid = rowid + 1000"
        yield table, f"DELETE FROM {table}"
        yield table, f"DELETE FROM {table} WHERE rowid = 1"
        for how in ("REPLACE", "INSERT OR REPLACE", "INSERT"):
            yield table, f"{how} INTO {table} (rowid, {names}) SELECT rowid, {names} FROM {table} LIMIT 1"
        values = ", ".join("99" for _ in columns[table])
        if table != "book":
            yield table, f"REPLACE INTO {table} ({names}) VALUES (1, {values[4:]})"
            yield (
                table,
                (f"INSERT INTO {table} ({names}) VALUES (1, {values[4:]}) ON CONFLICT ({key}) DO UPDATE SET {key} = 7"),
            )
        else:
            yield table, f"INSERT INTO {table} VALUES ({values})"


def test_what_is_written_is_never_changed_by_any_statement_of_any_program(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = dump(path)
    tried = 0
    for _, statement in changes():
        for recursive in ("ON", "OFF"):
            db = sqlite3.connect(path)
            db.execute(f"PRAGMA recursive_triggers={recursive}")
            with pytest.raises(sqlite3.IntegrityError, match=r"is never changed$"):
                db.execute(statement)
            db.close()
            tried += 1
    assert tried == 2 * (17 * 4 + 4 * 6 + 3 * 2 + 1)
    assert dump(path) == before


def test_the_writer_itself_cannot_change_anything_either(tmp_path: Path) -> None:
    book = began(tmp_path)
    book.append(RECORDS, PLANS)
    assert book._db is not None
    before = list(book._db.iterdump())
    for _, statement in changes():
        with pytest.raises(sqlite3.IntegrityError, match=r"is never changed$"):
            book._db.execute(statement)
    assert list(book._db.iterdump()) == before
    book.close()


# -- what is appended comes back ---------------------------------------------------------------------------------


def shipped_plans() -> list[Plan]:
    plans = []
    for path in sorted((shipped() / "prints").glob("*.yaml")):
        print_ = read(path.read_bytes(), path.name, "print")
        bench = read((shipped() / "benches" / f"{print_.value.bench}.yaml").read_bytes(), "bench", "bench")
        paper = read((shipped() / "papers" / f"{print_.value.paper}.yaml").read_bytes(), "paper", "paper")
        plans.append(make_plan(print_, bench, paper))
    return plans


def test_a_plan_is_copied_when_its_sheet_is_armed_and_read_back_equal(tmp_path: Path) -> None:
    plans = dict(enumerate([PLAN, *shipped_plans()], start=1))
    assert len(plans) >= 5
    book = began(tmp_path)
    for n, plan in plans.items():
        book.append([wrote("armed", float(n), n, facts={"print": plan.print, "steps": []})], {n: plan})
    book.close()
    reader = Reader(tmp_path)
    assert {n: reader.plan(n) for n in reader.sheets()} == plans
    assert reader.plan(len(plans) + 1) is None
    reader.close()


FACTS = st.dictionaries(
    st.text(max_size=8),
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=20),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
        max_leaves=6,
    ),
    max_size=5,
)
NUMBER = st.integers(0, 2**53)
RECORD = st.builds(
    lambda kind, ns, step, burst, facts: wrote(kind, ns / 1e9, 0, step, burst, facts),
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12), st.integers(0, 2**53), NUMBER, NUMBER,
    FACTS,
)  # fmt: skip


SHEETS = count(1)


@pytest.fixture(scope="module")
def one_book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    book = began(tmp_path_factory.mktemp("book"))
    yield book
    book.close()


def same(value: Any, other: Any) -> bool:
    """To the last bit and the same types: 1 is not 1.0, and 0.0 is not -0.0."""
    return repr(value) == repr(other)


@settings(max_examples=30, deadline=None)
@given(st.lists(RECORD, min_size=1, max_size=12))
def test_records_come_back_to_the_last_bit(one_book: Book, records: list[Record]) -> None:
    sheet = next(SHEETS)
    put = [record._replace(sheet=sheet) for record in records]
    one_book.append(put, {})
    reader = Reader(one_book.path.parent)
    assert same([tuple(record) for record in reader.records(sheet)], [tuple(record) for record in put])
    reader.close()


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(0, 1e6), min_size=1, max_size=30))
def test_a_time_that_is_a_sum_comes_back_to_the_nanosecond(one_book: Book, times: list[float]) -> None:
    """The clock counts nanoseconds, and its times come back exactly; a time worked out from two of them may not."""
    sheet = next(SHEETS)
    one_book.append([wrote("ready", at, sheet) for at in times], {})
    reader = Reader(one_book.path.parent)
    found = [record.at for record in reader.records(sheet)]
    assert all(abs(a - b) <= 0.6e-9 for a, b in zip(found, times, strict=True))
    reader.close()


def test_a_whole_evening_comes_back_in_order(tmp_path: Path) -> None:
    written(tmp_path)
    reader = Reader(tmp_path)
    for sheet in [0, *reader.sheets()]:
        expected = [record for record in RECORDS if record.sheet == sheet]
        found = reader.records(sheet)
        assert [r._replace(at=0.0) for r in found] == [r._replace(at=0.0) for r in expected]
        assert all(abs(a.at - b.at) < 1e-9 for a, b in zip(found, expected, strict=True))
    reader.close()
    rows = sqlite3.connect(tmp_path / "book.sqlite").execute("SELECT number, boot FROM records").fetchall()
    assert rows == [(n, 1) for n in range(1, len(RECORDS) + 1)]


def test_the_id_stays_and_every_opening_is_written_down(tmp_path: Path) -> None:
    ids, boots = set(), []
    for n in range(1, 4):
        book = Book(tmp_path, f"wall {n}", 1000 + n)
        ids.add(book.id)
        book.append([wrote("started", float(n))], {})
        book.close()
        boots.append((n, boot_id(), f"wall {n}", 1000 + n))
    (the_id,) = ids
    assert len(the_id) == 32 and int(the_id, 16)
    db = sqlite3.connect(tmp_path / "book.sqlite")
    found = db.execute("SELECT * FROM boots").fetchall()
    assert found == [rows.opening_row(*opened) for opened in boots]
    assert [opening[:3] for opening in map(rows.opening_of, found)] == [opened[1:] for opened in boots]
    assert db.execute("SELECT * FROM book").fetchall() == [(1, the_id, "wall 1")]
    assert db.execute("SELECT boot, at_ns FROM records").fetchall() == [(n, n * 10**9) for n in range(1, 4)]
    assert began(tmp_path / "other").id != the_id


# -- all or nothing ----------------------------------------------------------------------------------------------


BAD: dict[str, tuple[list[Record], dict[int, Plan], str]] = {
    "a plan twice": ([wrote("armed", 9.0, 1)], {1: PLAN}, "the book is never changed"),
    "a fact that is no JSON": ([wrote("weather", 9.0, 1, facts={"rain": {1, 2}})], {2: PLAN}, "not JSON serializable"),
    "a time without end": ([wrote("lit", float("inf"), 1)], {2: PLAN}, "cannot convert float infinity to integer"),
    "no time": ([wrote("lit", float("nan"), 1)], {2: PLAN}, "cannot convert float NaN to integer"),
    "a number too large": ([wrote("lit", 9.0, 1, burst=2**63)], {2: PLAN}, "too large to convert"),
    "half a letter": ([wrote("\ud800", 9.0, 1)], {2: PLAN}, "surrogates not allowed"),
}


@pytest.mark.parametrize("what", BAD)
def test_records_are_written_all_or_not_at_all_and_after_a_failure_nothing_more(tmp_path: Path, what: str) -> None:
    records, plans, why = BAD[what]
    book = began(tmp_path)
    book.append([wrote("armed", 1.0, 1)], {1: PLAN})
    before = dump(book.path)
    with pytest.raises(BookError) as caught:
        book.append([wrote("ready", 8.0, 1), *records, wrote("dark", 10.0, 1)], plans)
    assert str(caught.value).startswith(f"{book.path}: a record could not be written: ")
    assert why in str(caught.value) and "\n" not in str(caught.value)
    for _ in range(2):
        with pytest.raises(BookError, match=r"an earlier error$"):
            book.append([wrote("ready", 11.0, 1)], {})
    book.checkpoint()
    book.close()
    assert dump(book.path) == before
    again = began(tmp_path)
    again.append([wrote("ready", 11.0, 1)], {2: PLAN})
    again.close()


def test_a_book_locked_by_another_program_is_an_error_after_the_busy_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "BUSY_S", 0.02)
    book = began(tmp_path)
    book.append(RECORDS, PLANS)
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    hint = "database is locked: another program holds the file: close that one"
    with pytest.raises(BookError) as caught:
        book.append(RECORDS, {})
    assert str(caught.value) == f"{book.path}: a record could not be written: {hint}"
    book.close()
    with pytest.raises(BookError) as caught:
        began(tmp_path)
    assert str(caught.value) == f"{book.path}: cannot be written: {hint}"
    Reader(tmp_path).close()
    other.execute("ROLLBACK")
    other.close()
    again = began(tmp_path)
    again.append(RECORDS, {})
    again.close()
    assert len(dump(book.path)) > 2 * len(RECORDS)


def test_a_lock_that_goes_away_in_time_costs_nothing(tmp_path: Path) -> None:
    book = began(tmp_path)
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    writing = threading.Thread(target=book.append, args=(RECORDS, PLANS))
    writing.start()
    other.execute("ROLLBACK")
    writing.join(10)
    assert not writing.is_alive()
    other.close()
    book.close()
    assert sum('INSERT INTO "records"' in line for line in dump(book.path)) == len(RECORDS)


def test_a_second_writer_is_refused_by_the_books_name_and_changes_nothing(tmp_path: Path) -> None:
    book = began(tmp_path)
    book.append(RECORDS, PLANS)
    before = left(tmp_path)
    for _ in range(3):
        with pytest.raises(BookError) as caught:
            began(tmp_path)
        said = f"{tmp_path / 'book.sqlite'}: another timerd is writing this book: stop that one first"
        assert str(caught.value) == said
    assert left(tmp_path) == before
    book.append(RECORDS, {})
    book.close()
    began(tmp_path).close()


# -- what is no book, or not whole -------------------------------------------------------------------------------


def text_file(path: Path) -> None:
    path.write_text("Sheet 12: soft 14 s, hard 9.5 s\n" * 300)


def later_format(path: Path) -> None:
    """A later version's book, left with a log as after a kill: whatever is done here, neither may change."""
    beside = path.parent / "beside"
    beside.mkdir()
    db = sqlite3.connect(beside / path.name)
    db.execute("PRAGMA journal_mode=WAL")
    db.execute("CREATE TABLE book (format INTEGER, id TEXT, begun TEXT, and_more TEXT)")
    db.execute("INSERT INTO book VALUES (2, 'x', 'y', 'z')")
    db.commit()
    for end in ("", "-wal"):
        Path(f"{path}{end}").write_bytes(Path(f"{beside / path.name}{end}").read_bytes())
    db.close()
    for file in beside.iterdir():
        file.unlink()
    beside.rmdir()
    assert Path(f"{path}-wal").stat().st_size > 4096


def anothers(*statements: str) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        db = sqlite3.connect(path)
        for statement in statements:
            db.execute(statement)
        db.commit()
        db.close()

    return make


def log_of_an_empty_file(path: Path) -> None:
    book = began(path.parent)
    book.append(RECORDS, PLANS)
    log = Path(f"{path}-wal").read_bytes()
    book.close()
    path.write_bytes(b"")
    Path(f"{path}-wal").write_bytes(log)


def half_a_page(path: Path) -> None:
    whole = written(path.parent).read_bytes()
    path.write_bytes(whole[:-2000])


def truncated(pages: int) -> Callable[[Path], None]:
    def make(path: Path) -> None:
        path.write_bytes(written(path.parent).read_bytes()[: 4096 * pages])

    return make


def cut_beside_its_log(path: Path) -> None:
    """SQLite itself opens this, takes the log's word for how long the file is, and goes on writing."""
    main, log = logged(path.parent, 3)
    path.write_bytes(main[: len(main) // 2])
    Path(f"{path}-wal").write_bytes(log)
    Path(f"{path}-shm").unlink(missing_ok=True)


LOG_ONLY = "empty, but its log (book.sqlite-wal) is not: keep the log; mend or move both away"
REFUSED: dict[str, tuple[Callable[[Path], None], str]] = {
    "a text": (text_file, NO_BOOK),
    "bytes": (lambda path: path.write_bytes(bytes(range(256)) * 40), NO_BOOK),
    "bytes of the right beginning": (lambda path: path.write_bytes(b"SQLite format 3\0" + bytes(range(256)) * 40),
        f"cannot be read: file is not a database: {NO_BOOK}"),
    "a later format": (later_format, "format 2, this version reads up to 1: use a newer timerd"),
    "somebody's database": (anothers("CREATE TABLE stamps (country TEXT)"), NO_BOOK),
    "somebody's books": (anothers("CREATE TABLE book (title TEXT)", "INSERT INTO book VALUES ('Tides')"), NO_BOOK),
    "somebody's paper sizes": (
        anothers("CREATE TABLE book (format TEXT, id INT)", "INSERT INTO book VALUES ('folio', 3)"), NO_BOOK),
    "a book without its line": (anothers("CREATE TABLE book (format INTEGER, id TEXT, begun TEXT)"), NO_BOOK),
    "a log of nothing": (log_of_an_empty_file, LOG_ONLY),
    "half a page short": (half_a_page, f"cannot be read: {DAMAGED}"),
    "one page left": (truncated(1), f"cannot be read: {DAMAGED}"),
    "half its pages left": (truncated(7), f"cannot be read: {DAMAGED}"),
    "half its pages left, and a log": (cut_beside_its_log, f"cannot be read: {DAMAGED}"),
    "a folder": (lambda path: path.mkdir(), ""),
}  # fmt: skip


@pytest.mark.parametrize("what", REFUSED)
def test_what_is_no_whole_book_of_ours_is_refused_in_one_line_and_not_touched(tmp_path: Path, what: str) -> None:
    make, why = REFUSED[what]
    path = tmp_path / "book.sqlite"
    make(path)
    if path.is_dir():
        with pytest.raises(BookError, match="no book here yet"):
            Reader(tmp_path)
        with pytest.raises(BookError, match=r"who owns the folder"):
            began(tmp_path)
        return
    before = left(tmp_path)
    for attempt in (Reader, began, Reader, began):
        with pytest.raises(BookError) as caught:
            attempt(tmp_path)
        assert str(caught.value) == f"{path}: {why}"
        assert left(tmp_path) == before, attempt


@pytest.mark.parametrize("what", ["nothing at all", "no folder", "an empty file", "a file with nothing begun in it"])
def test_where_nothing_has_been_begun_a_reader_says_so_and_a_writer_begins(tmp_path: Path, what: str) -> None:
    home = tmp_path / "deep" / "down" if what == "no folder" else tmp_path
    path = home / "book.sqlite"
    if what == "an empty file":
        path.write_bytes(b"")
    elif what == "a file with nothing begun in it":  # cut off between its first page and its first commit
        anothers("PRAGMA journal_mode=WAL")(path)
        assert path.stat().st_size
    for _ in range(2):
        with pytest.raises(BookError) as caught:
            Reader(home)
        assert str(caught.value) == f"{path}: there is no book here yet: it begins with the first  timerd serve"
    written(home)
    reader = Reader(home)
    assert reader.sheets() == sorted(PLANS)
    reader.close()


def test_where_no_book_can_be_kept_one_line_says_why(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(BookError) as caught:
        began(tmp_path / "file" / "home")
    home = tmp_path / "file" / "home"
    assert str(caught.value) == (
        f"{home}: the book cannot be kept here: Not a directory: mend that, or give --home DIR"
    )
    with pytest.raises(BookError, match="kept here: File exists"):
        began(tmp_path / "file")


@pytest.mark.parametrize("cut", [*range(1, 130, 7), *range(4000, 60_000, 4777)])
def test_a_book_cut_off_anywhere_is_refused_and_not_touched(tmp_path: Path, whole_book: bytes, cut: int) -> None:
    path = tmp_path / "book.sqlite"
    assert cut < len(whole_book)
    path.write_bytes(whole_book[:cut])
    for attempt in (Reader, began):
        with pytest.raises(BookError) as caught:
            attempt(tmp_path)
        assert "\n" not in str(caught.value)
        assert path.read_bytes() == whole_book[:cut]


def test_a_file_that_is_short_because_a_tidying_was_cut_off_has_the_rest_in_its_log(tmp_path: Path) -> None:
    """A power cut in the middle of a checkpoint: the head is new, the end of the file not there yet, the log whole."""
    written(tmp_path / "whole")
    book = began(tmp_path / "whole")
    for _ in range(5):
        book.append(RECORDS[:50], {})
    main_before, log = book.path.read_bytes(), Path(f"{book.path}-wal").read_bytes()
    book.close()
    path = tmp_path / "cut" / "book.sqlite"
    path.parent.mkdir()
    path.write_bytes(main_before)
    Path(f"{path}-wal").write_bytes(log)
    db = sqlite3.connect(path)
    expected = db.execute("SELECT count(*) FROM records").fetchone()
    db.execute("PRAGMA wal_checkpoint(FULL)")
    after = path.read_bytes()
    db.close()
    assert len(after) > len(main_before)
    for kept in range(len(main_before), len(after), 4096):
        for file in path.parent.iterdir():
            file.unlink()
        path.write_bytes(after[:kept])
        Path(f"{path}-wal").write_bytes(log)
        began(path.parent).close()
        assert sqlite3.connect(path).execute("SELECT count(*) FROM records").fetchone() == expected


@pytest.fixture(scope="module")
def whole_book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return written(tmp_path_factory.mktemp("whole")).read_bytes()


# -- a log that was cut off --------------------------------------------------------------------------------------


def commits(log: bytes) -> list[int]:
    """Where each transaction of a log ends, in bytes, by the file format's own description (sqlite.org/fileformat2,
    section 4: a header of 32 bytes; frames of 24 bytes and a page; bytes 4 to 7 of a frame are not 0 at a commit)."""
    page = struct.unpack(">I", log[8:12])[0]
    ends = range(32 + 24 + page, len(log) + 1, 24 + page)
    return [end for end in ends if struct.unpack(">I", log[end - page - 20 : end - page - 16])[0]]


def logged(home: Path, transactions: int) -> tuple[bytes, bytes]:
    """A book that was killed: its main file and its log, with so many transactions in it after the opening's own."""
    written(home)
    book = began(home)
    for n in range(transactions):
        book.append([wrote("ready", float(n), 1, 2, facts={"n": n})], {})
    main, log = book.path.read_bytes(), Path(f"{book.path}-wal").read_bytes()
    book.close()
    return main, log


def test_a_log_cut_off_at_any_byte_is_read_up_to_its_last_whole_transaction(tmp_path: Path) -> None:
    """Around every frame's ends and headers, and here and there between; tests/measure/torn_log.py tries every byte."""
    home = tmp_path / "cut"
    home.mkdir()
    main, log = logged(tmp_path / "whole", 4)
    ends = commits(log)
    assert len(ends) == 5
    frames = range(32, len(log) + 1, 24 + 4096)
    near = (-1, 0, 1, 8, 24)
    cuts = {end + by for end in (0, *frames) for by in near} | set(range(0, len(log), 2999))
    path = home / "book.sqlite"
    for attempt in range(2):
        for cut in sorted(cut for cut in cuts if 0 <= cut <= len(log)):
            if attempt and cut % 4:
                continue
            for file in home.iterdir():
                file.unlink()
            path.write_bytes(main)
            Path(f"{path}-wal").write_bytes(log[:cut])
            whole = sum(end <= cut for end in ends)
            if attempt:
                began(home).close()
            reader = Reader(home)
            assert len(reader.records(1)) == len(RECORDS_OF_1) + max(0, whole - 1), cut
            assert reader.sheets() == sorted(PLANS)
            reader.close()
            boots = sqlite3.connect(path).execute("SELECT count(*) FROM boots").fetchone()[0]
            assert boots == 1 + min(whole, 1) + attempt, cut
            if not attempt:
                assert path.read_bytes() == main and Path(f"{path}-wal").read_bytes()[:cut] == log[:cut]


RECORDS_OF_1 = [record for record in RECORDS if record.sheet == 1]


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077])
def test_a_new_home_is_not_for_others_to_write_to(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        Book(tmp_path / "deep" / "home", "then", 0).close()
    finally:
        os.umask(before)
    for folder in (tmp_path / "deep", tmp_path / "deep" / "home"):
        assert stat.S_IMODE(folder.stat().st_mode) == 0o755 & ~mask
    for file in (tmp_path / "deep" / "home").iterdir():
        assert not file.stat().st_mode & 0o022, file


FULL = """
import resource, sys
from pathlib import Path
from timerd.book.store import Book
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]), int(sys.argv[2])))
Book(Path(sys.argv[1]), "now", 1)
"""


def test_no_room_for_the_logs_index_is_a_full_disk_and_no_failed_one(tmp_path: Path) -> None:
    """SQLite calls it an I/O error, of which was said: do not trust the disk any more. No file may grow over what the
    book has, so that its index of 32 KiB has no room, as on a full disk."""
    began(tmp_path).close()
    most = (tmp_path / "book.sqlite").stat().st_size
    assert most < 32768 * 2
    done = subprocess.run([sys.executable, "-c", FULL, str(tmp_path), "16384"], capture_output=True, text=True)
    assert done.returncode == 1
    assert done.stderr.splitlines()[-1].endswith(
        f"{tmp_path}/book.sqlite: cannot be read: database or disk is full: the disk is full: make room"
    ), done.stderr
    began(tmp_path).close()


def test_the_files_are_the_owners_and_the_groups_at_the_most(tmp_path: Path) -> None:
    mask = os.umask(0o027)
    try:
        book = began(tmp_path)
        book.append(RECORDS, PLANS)
        for file in tmp_path.iterdir():
            assert not stat.S_IMODE(file.stat().st_mode) & 0o007, file
        book.close()
    finally:
        os.umask(mask)
