"""The writer's thread: in order, told when it is on disk, and nothing more after a failure."""

from __future__ import annotations

import gc
import os
import select
import sqlite3
import threading
from pathlib import Path

import pytest
from records import wrote
from walks.book_walk import book_walk
from walks.engine_walk import PLAN

from timerd.book import store
from timerd.book.reading import Reader
from timerd.book.store import Book, BookError
from timerd.book.writing import Writer
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record


def done(writer: Writer, last: int) -> list[tuple[int, str | None]]:
    """What comes to an end, up to the job with this number."""
    found: list[tuple[int, str | None]] = []
    while not found or found[-1][0] < last:
        assert select.select([writer], [], [], 10)[0], "nothing came to an end in ten seconds"
        found += writer.done()
    return found


def test_everything_is_written_in_order_and_told_when_it_is_on_disk(tmp_path: Path) -> None:
    writer = Writer(Book(tmp_path, "then", 1))
    assert writer.done() == [], "nothing has been asked for yet"
    records = book_walk(3, 2).records
    numbers = []
    for n, record in enumerate(records):
        numbers.append(writer.append([record], {record.sheet: PLAN} if record.kind == "armed" else {}))
        if n % 20 == 0:
            writer.checkpoint()
    assert numbers == list(range(1, len(records) + 1))
    assert done(writer, numbers[-1]) == [(number, None) for number in numbers]
    reader = Reader(tmp_path)
    found = [reader.records(sheet) for sheet in (0, *reader.sheets())]
    assert [len(part) for part in found] == [sum(r.sheet == sheet for r in records) for sheet in (0, *reader.sheets())]
    reader.close()
    assert not select.select([writer], [], [], 0)[0]
    assert writer.done() == []
    assert writer.close(10)
    kinds = sqlite3.connect(tmp_path / "book.sqlite").execute("SELECT kind FROM records ORDER BY number").fetchall()
    assert [kind for (kind,) in kinds] == [record.kind for record in records]


def test_what_is_queued_is_written_before_the_book_is_closed(tmp_path: Path) -> None:
    gc.collect()
    before = len(os.listdir("/proc/self/fd"))
    writer = Writer(Book(tmp_path, "then", 1))
    for n in range(200):
        writer.append([wrote("ready", float(n), 1)], {})
    assert writer.close(10) and writer.close(10)
    reader = Reader(tmp_path)
    assert [record.at for record in reader.records(1)] == [float(n) for n in range(200)]
    reader.close()
    Book(tmp_path, "then", 1).close()
    assert len(os.listdir("/proc/self/fd")) == before, "no file is left open"


def test_after_a_failure_nothing_more_is_written_and_everything_is_answered_with_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "BUSY_S", 0.02)
    book = Book(tmp_path, "then", 1)
    tried: list[int] = []
    append = book.append

    def counted(records: list[Record], plans: dict[int, Plan]) -> None:
        tried.append(records[0].step)
        append(records, plans)

    book.append = counted  # type: ignore[method-assign, assignment]
    writer = Writer(book)
    assert done(writer, writer.append([wrote("ready", 1.0, 1, 1)], {})) == [(1, None)]
    other = sqlite3.connect(book.path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    numbers = [writer.append([wrote("ready", 2.0, 1, 2)], {})]
    assert select.select([writer], [], [], 10)[0]
    other.execute("ROLLBACK")  # it could be written again now: it must not be
    other.close()
    numbers += [writer.append([wrote("ready", 3.0, 1, step)], {}) for step in range(3, 9)]
    writer.checkpoint()
    locked = "database is locked: another program holds the file: close that one"
    why = f"{book.path}: a record could not be written: {locked}"
    assert done(writer, numbers[-1]) == [(number, why) for number in numbers]
    assert writer.close(10)
    assert tried == [1, 2], "not even tried"
    reader = Reader(tmp_path)
    assert reader.records(1) == [wrote("ready", 1.0, 1, 1)]
    reader.close()


def test_a_record_that_no_row_can_hold_is_a_failure_like_any_other(tmp_path: Path) -> None:
    """The thread must not die of it: then nobody would ever be told."""
    writer = Writer(Book(tmp_path, "then", 1))
    first = writer.append([wrote("weather", 1.0, 1, facts={"rain": {1}})], {})
    last = writer.append([wrote("dark", 2.0, 1)], {})
    told = dict(done(writer, last))
    assert told.keys() == {first, last} and told[first] == told[last] is not None
    assert "not JSON serializable" in str(told[first])
    assert writer.close(10)


class SlowBook:
    """A book on a disk that stalls until it is let go."""

    def __init__(self) -> None:
        self.entered, self.let_go = threading.Event(), threading.Event()
        self.closed = False

    def append(self, records: object, plans: object) -> None:
        self.entered.set()
        if not self.let_go.wait(10):
            raise BookError("never let go")

    def close(self) -> None:
        self.closed = True


def test_a_disk_that_stalls_keeps_nobody_waiting(tmp_path: Path) -> None:
    book = SlowBook()
    writer = Writer(book)  # type: ignore[arg-type]
    first = writer.append([wrote("ready", 1.0)], {})
    assert book.entered.wait(10)
    second = writer.append([wrote("ready", 2.0)], {})
    assert writer.done() == [] and not select.select([writer], [], [], 0)[0]
    assert not writer.close(0.01), "said, not waited for"
    assert not book.closed, "not under the hands of one who writes"
    book.let_go.set()
    assert done(writer, second) == [(first, None), (second, None)]
    assert writer.close(10) and book.closed
