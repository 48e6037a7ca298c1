"""The rows of a file page by page, held against SQLite's own reading of it; and what damage leaves of them."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import pytest
from walks.book_walk import book_walk
from walks.engine_walk import PLAN

from timerd.book.pages import Pages, Row
from timerd.book.store import Book

WALK = book_walk(104, 3)
PAGE = 4096


def written(home: Path) -> Path:
    """A book of several evenings; its plans are longer than a page."""
    book = Book(home, "2026-01-02T03:04:05+00:00", 7)
    long = PLAN.model_copy(update={"cautions": tuple(f"mind the {n}th step" for n in range(900))})
    armed = [record.sheet for record in WALK.records if record.kind == "armed"]
    book.append(WALK.records, {sheet: long if sheet % 3 == 1 else PLAN for sheet in armed})
    book.close()
    return book.path


@pytest.fixture(scope="module")
def raw(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return written(tmp_path_factory.mktemp("whole")).read_bytes()


def by_sqlite(path: Path) -> set[Row]:
    """Every row of every table, as SQLite tells them."""
    db = sqlite3.connect(path)
    tables = [name for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    found = set()
    for table in [*tables, "sqlite_master"]:
        columns = db.execute(f"PRAGMA table_info({table})").fetchall()
        alias = [i for i, column in enumerate(columns) if column[2] == "INTEGER" and column[5]]
        for number, *values in db.execute(f"SELECT rowid, * FROM {table}"):
            found.add(Row(number, tuple(None if i in alias else value for i, value in enumerate(values))))
    db.close()
    return found


def by_pages(path: Path) -> tuple[list[Row], int]:
    pages = Pages(path)
    rows = list(pages.rows())
    pages.close()
    return rows, pages.lost


def test_a_whole_book_is_read_as_sqlite_reads_it(tmp_path: Path) -> None:
    path = written(tmp_path)
    rows, lost = by_pages(path)
    assert lost == 0 and len(rows) == len(set(rows)) and set(rows) == by_sqlite(path)
    assert max(len(str(row.values)) for row in rows) > 3 * PAGE, "rows that reach over several pages"


@pytest.mark.parametrize("page", [512, 1024, 8192, 65536])
def test_any_page_size_and_any_kind_of_value(tmp_path: Path, page: int) -> None:
    path = tmp_path / "any.sqlite"
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA page_size={page}")
    db.execute("CREATE TABLE t (a, b)")
    db.execute("CREATE TABLE k (n INTEGER PRIMARY KEY, v)")
    whole = [0, 1, -1, 127, -128, 128, 2**15, -(2**23), 2**31, 2**47, -(2**47) - 1, 2**62, -(2**63)]
    pick = random.Random(page)
    for value in [*whole, None, 0.5, -1e300, "", "é", "x" * 3000, b"", b"\0\1", pick.randbytes(70_000), "y" * 200_000]:
        db.execute("INSERT INTO t VALUES (?, ?)", (value, pick.choice(whole)))
        db.execute("INSERT INTO k VALUES (?, ?)", (pick.randrange(-(2**63), 2**63), value))
    db.commit()
    db.close()
    rows, lost = by_pages(path)
    assert lost == 0 and {repr(row) for row in rows} == {repr(row) for row in by_sqlite(path)}


def killed(home: Path, away: Path) -> Path:
    """A book that was killed after its last record: much of it is in the log alone."""
    away.mkdir()
    book = Book(home, "then", 7)
    book.append(WALK.records[:100], {r.sheet: PLAN for r in WALK.records[:100] if r.kind == "armed"})
    book.checkpoint()
    for record in WALK.records[100:150]:
        book.append([record], {record.sheet: PLAN} if record.kind == "armed" else {})
    for end in ("", "-wal"):
        (away / f"book.sqlite{end}").write_bytes(Path(f"{book.path}{end}").read_bytes())
    book.close()
    return away / "book.sqlite"


def test_what_is_in_the_log_counts(tmp_path: Path) -> None:
    path = killed(tmp_path / "home", tmp_path / "away")
    before = {file.name: file.read_bytes() for file in path.parent.iterdir()}
    rows, lost = by_pages(path)
    assert {file.name: file.read_bytes() for file in path.parent.iterdir()} == before
    assert lost == 0 and set(rows) == by_sqlite(path)


def test_a_log_cut_off_anywhere_counts_to_its_last_whole_transaction(tmp_path: Path) -> None:
    path = killed(tmp_path / "home", tmp_path / "away")
    main, log = path.read_bytes(), Path(f"{path}-wal").read_bytes()
    for cut in [*range(0, len(log), 60_013), 31, 32, len(log) - 1]:
        for file in path.parent.iterdir():
            file.unlink()
        path.write_bytes(main)
        Path(f"{path}-wal").write_bytes(log[:cut])
        rows, _ = by_pages(path)
        assert set(rows) == by_sqlite(path), cut


def test_a_page_of_the_log_that_is_spoilt_costs_nothing_that_others_have(tmp_path: Path) -> None:
    """SQLite believes nothing of a log after a page that is wrong; here only that page is left out."""
    path = killed(tmp_path / "home", tmp_path / "away")
    whole = by_sqlite(path)
    path = killed(tmp_path / "home2", tmp_path / "away2")
    log = bytearray(Path(f"{path}-wal").read_bytes())
    at = 32 + 100 * (24 + PAGE) + 24 + 2000
    log[at] ^= 0xFF
    Path(f"{path}-wal").write_bytes(log)
    rows, lost = by_pages(path)
    records = {row.number: row for row in whole if len(row.values) == 8}
    found = {row.number for row in rows if len(row.values) == 8}
    assert lost == 1 and max(found) == max(records)
    believed = {row.number for row in by_sqlite(path) if len(row.values) == 8}
    assert max(believed) < max(records), "SQLite itself has lost the end of it"


@pytest.mark.parametrize("how", ["zeros", "noise"])
def test_a_page_that_is_spoilt_takes_its_own_rows_with_it_and_no_other(tmp_path: Path, raw: bytes, how: str) -> None:
    path = tmp_path / "book.sqlite"
    path.write_bytes(raw)
    rows = by_sqlite(path)
    pick = random.Random(5)
    lost_in_all = 0
    for page in range(len(raw) // PAGE):
        spoilt = bytes(PAGE) if how == "zeros" else pick.randbytes(PAGE)
        path.write_bytes(raw[: PAGE * page] + spoilt + raw[PAGE * (page + 1) :])
        found, _ = by_pages(path)
        lost_in_all += len(rows - set(found))
        assert len(rows & set(found)) >= len(rows) - PAGE // 20, "no more than a page holds"
        if how == "zeros":  # but for the middle of a row that reaches over it, nothing is there that was not
            assert all("\0" in str(row.values[-1]) for row in set(found) - rows)
    assert lost_in_all >= len(rows), "each row with its own page, and with each that it reaches over"


@pytest.mark.parametrize("seed", range(20))
def test_no_damage_breaks_the_reading(tmp_path: Path, raw: bytes, seed: int) -> None:
    path = tmp_path / "book.sqlite"
    pick = random.Random(seed)
    spoilt = bytearray(raw)
    for _ in range(pick.randrange(1, 300)):
        spoilt[pick.randrange(len(raw))] = pick.randrange(256)
    if seed % 3 == 0:
        spoilt = spoilt[: pick.randrange(len(raw))]
    path.write_bytes(spoilt)
    rows, _ = by_pages(path)
    assert all(isinstance(row, Row) for row in rows)
    assert path.read_bytes() == spoilt


@pytest.mark.parametrize("raw", [b"", b"SQLite format 3\0", bytes(100), bytes(5000), b"\x0d" * 9000])
def test_what_is_no_book_has_no_rows_of_one(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "odd"
    path.write_bytes(raw)
    assert [row for row in by_pages(path)[0] if len(row.values) == 8] == []
