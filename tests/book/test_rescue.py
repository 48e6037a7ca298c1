"""A damaged book: what can be read of it becomes a new one, every record is told, the damaged file is not touched."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from walks.book_walk import book_walk
from walks.old_book import changeable, without_checksums

from timerd.book.reading import Reader
from timerd.book.rescue import rescue
from timerd.book.store import Book, BookError

WALK = book_walk(104, 4)
PAGE = 4096
FILES = ("book.sqlite", "records.jsonl")


@pytest.fixture(scope="module")
def raw(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    home = tmp_path_factory.mktemp("whole")
    book = Book(home, "2026-01-02T03:04:05+00:00", 7)
    for record in WALK.records:
        book.append([record], {record.sheet: WALK.plans[record.sheet]} if record.kind == "armed" else {})
    book.close()
    return book.path.read_bytes()


def dump(path: Path) -> list[str]:
    with closing(sqlite3.connect(path)) as db:
        return list(db.iterdump())


def rows(path: Path) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as db:
        return db.execute("SELECT * FROM records ORDER BY number").fetchall()


def test_a_whole_book_comes_out_as_it_was(tmp_path: Path, raw: bytes) -> None:
    path, out = tmp_path / "book.sqlite", tmp_path / "out" / "there"
    path.write_bytes(raw)
    found = rescue(path, out)
    assert (found.records, found.missing, found.unsound, found.unreadable) == (len(WALK.records), 0, (), 0)
    assert found.sound == len(WALK.progress.sheets)
    assert sorted(file.name for file in out.iterdir()) == sorted(FILES)
    assert dump(out / "book.sqlite") == dump(path), "the id, the schema, what refuses changes, and every row"
    lines = [json.loads(line) for line in (out / "records.jsonl").read_text().splitlines()]
    assert [tuple({**line, "facts": json.dumps(line["facts"])}.values()) for line in lines] == rows(path)
    assert path.read_bytes() == raw
    with pytest.raises(FileExistsError, match="is there already"):
        rescue(path, out)
    book = Book(out, "then", 8)  # and it can be gone on with
    book.append([], {})
    book.close()


@pytest.mark.parametrize("cut", [0.9, 0.5, 0.3])
def test_of_a_file_that_was_cut_all_that_is_left_comes_out(tmp_path: Path, raw: bytes, cut: float) -> None:
    path, out = tmp_path / "book.sqlite", tmp_path / "out"
    path.write_bytes(raw)
    whole = rows(path)
    left = raw[: round(len(raw) * cut)]
    path.write_bytes(left)
    found = rescue(path, out)
    assert path.read_bytes() == left and sorted(file.name for file in tmp_path.iterdir()) == ["book.sqlite", "out"]
    assert 0 < found.records <= len(whole) and (cut > 0.5 or found.records < len(whole))
    new = rows(out / "book.sqlite")
    assert set(new) <= set(whole) and (cut < 0.8 or found.sound > 0)
    assert len((out / "records.jsonl").read_text().splitlines()) == found.records
    reader = Reader(out)
    assert len(reader.sheets()) == found.sound
    for sheet in reader.sheets():
        assert reader.history(sheet) is not None
    reader.present()
    reader.close()


def test_sheets_of_which_too_much_is_gone_are_named_and_kept_as_text(tmp_path: Path, raw: bytes) -> None:
    path, out = tmp_path / "book.sqlite", tmp_path / "out"
    path.write_bytes(raw)
    whole = rows(path)
    spoilt = bytearray(raw)
    armed = {row[0]: row[4] for row in whole if row[2] == "armed"}
    for at in range(0, len(raw), PAGE):  # every page of records that has one being armed
        if raw[at] == 0x0D and b'"steps"' in raw[at : at + PAGE] and b'"totals"' not in raw[at : at + PAGE]:
            spoilt[at : at + PAGE] = bytes(PAGE)
            break
    path.write_bytes(spoilt)
    found = rescue(path, out)
    kept = [json.loads(line) for line in (out / "records.jsonl").read_text().splitlines()]
    gone = {sheet for number, sheet in armed.items() if number not in {line["number"] for line in kept}}
    assert gone and set(found.unsound) <= gone and found.missing == len(whole) - len(kept)
    assert {line["sheet"] for line in kept} >= set(found.unsound)
    reader = Reader(out)
    assert set(reader.sheets()).isdisjoint(found.unsound) and reader.present().last_burst > 0
    reader.close()


def test_a_sheet_whose_records_do_not_fold_is_left_out_and_told(tmp_path: Path, raw: bytes) -> None:
    """Each record can be read, and none has a checksum that would tell: one is of a step that no plan has."""
    path, out = tmp_path / "book.sqlite", tmp_path / "out"
    path.write_bytes(raw)
    without_checksums(path)
    with changeable(path) as db:
        (number, sheet) = db.execute("SELECT number, sheet FROM records WHERE kind = 'dark' AND sheet > 0").fetchone()
        db.execute("UPDATE records SET step = 77 WHERE number = ?", (number,))
    found = rescue(path, out)
    words = f"sheet {sheet}: record {number} is damaged: it does not fit those before it (77 is missing)"
    assert [damage.words for damage in found.damaged] == [words] and found.unsound == (sheet,)
    reader = Reader(out)
    assert reader.sheets() == sorted(set(WALK.progress.sheets) - {sheet}) and reader.records(sheet) == []
    reader.close()


def test_a_record_that_a_page_has_lost_leaves_its_sheet_out(tmp_path: Path, raw: bytes) -> None:
    """What is left of the sheet folds without it, and would owe a dose that was given: the next record's mark tells."""
    path, out = tmp_path / "book.sqlite", tmp_path / "out"
    path.write_bytes(raw)
    with changeable(path) as db:
        query = "SELECT number, sheet FROM records WHERE kind = 'dark' AND sheet > 0"
        number, sheet = db.execute(query).fetchone()
        db.execute("DELETE FROM records WHERE number = ?", (number,))
    assert [damage.words for damage in rescue(path, out).damaged] == [f"sheet {sheet}: record {number} is missing"]


def test_a_head_that_is_gone_is_no_hindrance(tmp_path: Path, raw: bytes) -> None:
    path, out = tmp_path / "book.sqlite", tmp_path / "out"
    path.write_bytes(bytes(100) + raw[100:])
    with pytest.raises(BookError):
        Book(tmp_path, "then", 1)
    found = rescue(path, out)
    assert found.records == len(WALK.records) and found.sound == len(WALK.progress.sheets)


@pytest.mark.parametrize("content", [b"", b"SQLite format 3\0", bytes(range(256)) * 64, b"Sheet 12: 14 s\n" * 900])
def test_where_there_is_nothing_that_is_said_in_one_line_and_nothing_left(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "book.sqlite"
    path.write_bytes(content)
    with pytest.raises(BookError, match=r"no record of .* in it$"):
        rescue(path, tmp_path / "out")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["book.sqlite"]
    with pytest.raises(FileNotFoundError):
        rescue(tmp_path / "none.sqlite", tmp_path / "out")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["book.sqlite"]
