"""What can still be read of a damaged book, as a new book and as text; the damaged file is only read."""

from __future__ import annotations

import errno
import json
import os
import sqlite3
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from timerd.book.pages import Pages, Row
from timerd.book.store import FORMAT, NAME, BookError, begin, record_of, why
from timerd.book.whole import put_whole
from timerd.sheet.history import Dated, history
from timerd.sheet.plan.value import Plan

RECORDS = "records.jsonl"


class Rescued(NamedTuple):
    """What was found: `records` in all, of which `missing` numbers up to the highest are not there; sheets that are
    `sound` (armed, planned, and their records fit together) and went into the new book, and those that did not;
    `unreadable` places in the file."""

    records: int
    missing: int
    sound: int
    unsound: tuple[int, ...]
    unreadable: int


def rescue(path: Path, out: Path) -> Rescued:
    """Read what can be read of the book at `path` into the folder `out`, which must not be there yet.

    `book.sqlite` there is a book of the sound sheets, with the numbers that they had, for all commands that read one;
    `records.jsonl` has every record that was found, also of the others. Raises OSError where nothing can be read, or
    not be written; then `out` has nothing in it.
    """
    if os.path.lexists(out):
        raise FileExistsError(errno.EEXIST, "is there already: choose another name", str(out))
    pages = Pages(path)
    try:
        out.mkdir(parents=True)
        in_memory = path.stat().st_size < _IN_MEMORY
        staging = sqlite3.connect(":memory:" if in_memory else out / ".staging", isolation_level=None)
        try:
            return _rescue(pages, staging, out, path)
        finally:
            staging.close()
            (out / ".staging").unlink(missing_ok=True)
            if not any(out.iterdir()):
                out.rmdir()
    except sqlite3.Error as error:
        raise BookError(f"{out}: cannot be written: {why(error)}") from None
    finally:
        pages.close()


_IN_MEMORY = 64 * 1024 * 1024


def _rescue(pages: Pages, staging: sqlite3.Connection, out: Path, path: Path) -> Rescued:
    staging.executescript(
        "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;"
        "CREATE TABLE book (format, id, begun); CREATE TABLE boots (boot INTEGER PRIMARY KEY, boot_id, wall, at_ns);"
        "CREATE TABLE plans (sheet INTEGER PRIMARY KEY, plan);"
        "CREATE TABLE records (number INTEGER PRIMARY KEY, boot, kind, at_ns, sheet, step, burst, facts);"
    )
    staging.execute("BEGIN")
    for row in pages.rows():
        table, values = _belongs(row)
        if table is not None:
            marks = ",".join("?" * len(values))
            staging.execute(f"INSERT OR IGNORE INTO {table} VALUES ({marks})", values)
    staging.execute("CREATE INDEX by_sheet ON records (sheet, number)")
    records, highest = staging.execute("SELECT count(*), coalesce(max(number), 0) FROM records").fetchone()
    if not records:
        raise BookError(f"{path}: no record of a book can be read in it")
    sheets = [sheet for (sheet,) in staging.execute("SELECT DISTINCT sheet FROM records WHERE sheet > 0 ORDER BY 1")]
    sound = [sheet for sheet in sheets if _sound(staging, sheet)]
    with put_whole(out / RECORDS) as beside:
        with beside.open("w", encoding="ascii") as file:
            file.writelines(_lines(staging))
        with put_whole(out / NAME) as book:
            _new_book(staging, book, sound)
    return Rescued(records, highest - records, len(sound), tuple(sorted(set(sheets) - set(sound))), pages.lost)


def _belongs(row: Row) -> tuple[str | None, tuple[object, ...]]:
    """The table of a book that a row is one of, known by its form, with its values; None where it is of none."""
    number, values = row
    if len(values) == 3 and values[0] == FORMAT and _are(values[1:], str, str):
        return "book", values
    if number <= 0 or values[:1] != (None,):
        return None, ()
    if len(values) == 8 and _are(values[1:], int, str, int, int, int, int, str) and _is_json(values[7]):
        return "records", (number, *values[1:])
    if len(values) == 4 and _are(values[1:], str, str, int):
        return "boots", (number, *values[1:])
    if len(values) == 2 and _are(values[1:], str) and _is_json(values[1]):
        return "plans", (number, *values[1:])
    return None, ()


def _are(values: tuple[object, ...], *kinds: type) -> bool:
    return all(isinstance(value, kind) for value, kind in zip(values, kinds, strict=True))


def _is_json(text: object) -> bool:
    try:
        return isinstance(json.loads(str(text)), dict)
    except (ValueError, RecursionError):
        return False


def _sound(staging: sqlite3.Connection, sheet: int) -> bool:
    """Whether a sheet's records fit together and its plan is there."""
    rows = staging.execute("SELECT plan FROM plans WHERE sheet = ?", (sheet,)).fetchall()
    query = "SELECT kind, at_ns, sheet, step, burst, facts FROM records WHERE sheet = ? ORDER BY number"
    dated = [Dated(record_of(row), None) for row in staging.execute(query, (sheet,))]
    try:
        return bool(rows) and history(Plan.model_validate_json(rows[0][0]), dated) is not None
    except (KeyError, IndexError, TypeError, ValueError):
        return False


def _lines(staging: sqlite3.Connection) -> Iterator[str]:
    names = ("number", "boot", "kind", "at_ns", "sheet", "step", "burst")
    for *values, facts in staging.execute("SELECT * FROM records ORDER BY number"):
        yield json.dumps({**dict(zip(names, values, strict=True)), "facts": json.loads(facts)}) + "\n"


def _new_book(staging: sqlite3.Connection, path: Path, sound: list[int]) -> None:
    """A book of the sound sheets and of what is about none, every row with the number that it had."""
    chosen = {0, *sound}
    db = sqlite3.connect(path, isolation_level=None)
    try:
        db.execute("PRAGMA synchronous=OFF")  # it is put in place only when all of it is on disk
        db.execute("BEGIN")
        known = staging.execute("SELECT id, begun FROM book").fetchone() or (uuid.uuid4().hex, "not known")
        begin(db, *known)
        db.executemany("INSERT INTO boots VALUES (?, ?, ?, ?)", staging.execute("SELECT * FROM boots ORDER BY boot"))
        db.executemany(
            "INSERT INTO plans VALUES (?, ?)",
            ((n, p) for n, p in staging.execute("SELECT * FROM plans") if n in chosen),
        )
        db.executemany(
            "INSERT INTO records VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (row for row in staging.execute("SELECT * FROM records ORDER BY number") if row[4] in chosen),
        )
        db.execute("COMMIT")
    finally:
        db.close()
