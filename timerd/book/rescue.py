"""What can still be read of a damaged book, as a new book and as text; the damaged file is only read."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import sqlite3
import uuid
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import NamedTuple

from timerd.book.pages import Pages, Row
from timerd.book.rows import (
    ANOTHER_PLAN,
    COLUMNS,
    MISSING,
    Damage,
    Unsound,
    Written,
    not_readable,
    opening_of,
    read,
    sum_of,
)
from timerd.book.store import FORMAT, NAME, BookError, begin, why
from timerd.book.unfit import UnfitRecords, made_of
from timerd.inplace import placed
from timerd.sheet.history import Dated, history
from timerd.sheet.plan.value import Plan

RECORDS = "records.jsonl"


class Rescued(NamedTuple):
    """What was found: `records` in all, of which `missing` numbers up to the highest are not there; sheets that are
    `sound` (armed, planned, each record what was written, and they fit together) and went into the new book; what
    is `damaged`: of each sheet that did not the first of it, and each record of no sheet that did not; `unreadable`
    places in the file."""

    records: int
    missing: int
    sound: int
    damaged: tuple[Damage, ...]
    unreadable: int

    @property
    def unsound(self) -> tuple[int, ...]:
        """The sheets that did not go into the new book."""
        return tuple(damage.sheet for damage in self.damaged if damage.sheet)


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
_COLUMNS = tuple(COLUMNS.split(", "))


def _rescue(pages: Pages, staging: sqlite3.Connection, out: Path, path: Path) -> Rescued:
    staging.executescript(
        "PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF;"
        "CREATE TABLE book (format, id, begun); CREATE TABLE boots (boot INTEGER PRIMARY KEY, boot_id, wall, at_ns);"
        "CREATE TABLE plans (sheet INTEGER PRIMARY KEY, plan);"
        "CREATE TABLE records (number INTEGER PRIMARY KEY, boot, kind, at_ns, sheet, step, burst, facts);"
    )
    staging.execute("BEGIN")
    unreadable = []
    for row in pages.rows():
        table, values = _belongs(row)
        if table is not None:
            marks = ",".join("?" * len(values))
            staging.execute(f"INSERT OR IGNORE INTO {table} VALUES ({marks})", values)
        elif _looks_like_a_record(row):
            unreadable.append((row.number, *row.values[1:]))
    marks = ",".join("?" * len(_COLUMNS))
    staging.executemany(f"INSERT OR IGNORE INTO records VALUES ({marks})", unreadable)  # after all that can be read
    staging.execute("CREATE INDEX by_sheet ON records (sheet, number)")
    records, highest = staging.execute("SELECT count(*), coalesce(max(number), 0) FROM records").fetchone()
    if not records:
        raise BookError(f"{path}: no record of a book can be read in it")
    sheets = [sheet for (sheet,) in staging.execute("SELECT DISTINCT sheet FROM records WHERE sheet > 0 ORDER BY 1")]
    marked = {row[0]: opening_of(row).marked for row in staging.execute("SELECT * FROM boots")}
    damaged = [damage for sheet in sheets if (damage := _damage(staging, sheet, marked)) is not None]
    of_none = list(_damaged_of_none(staging, marked))
    sound = set(sheets) - {damage.sheet for damage in damaged}
    with placed(out / RECORDS) as beside:
        with beside.open("w", encoding="ascii") as file:
            file.writelines(_lines(staging))
        with placed(out / NAME) as book:
            _new_book(staging, book, sound, {damage.record for damage in of_none})
    return Rescued(records, highest - records, len(sound), tuple(damaged + of_none), pages.lost)


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


def _looks_like_a_record(row: Row) -> bool:
    """Whether this was a record, of which not all can be read."""
    text = (str, bytes)
    numbers = [row.values[i] for i in (1, 3, 4, 5, 6)] if len(row.values) == len(_COLUMNS) else [None]
    return (
        row.number > 0 and row.values[0] is None and all(isinstance(number, int) for number in numbers)
        and isinstance(row.values[2], text) and isinstance(row.values[7], text)
    )  # fmt: skip


def _are(values: tuple[object, ...], *kinds: type) -> bool:
    return all(isinstance(value, kind) for value, kind in zip(values, kinds, strict=True))


def _is_json(text: object) -> bool:
    try:
        return isinstance(text, str) and isinstance(json.loads(text), dict)
    except (ValueError, RecursionError):
        return False


def _damage(staging: sqlite3.Connection, sheet: int, marked: Mapping[int, bool]) -> Damage | None:
    """What is wrong with a sheet: a record of it is not what was written or is missing, its plan is, or they do not fit
    together."""
    written: list[Written] = []
    for row in staging.execute(f"SELECT {COLUMNS} FROM records WHERE sheet = ? ORDER BY number", (sheet,)):
        try:
            one = read(row, marked.get(row[1], False))
        except Unsound as error:
            return Damage(sheet, row[0], str(error))
        if one.before not in (None, written[-1].number if written else 0):
            return Damage(sheet, one.before or 0, MISSING)
        written.append(one)
    first = written[0]
    plans = staging.execute("SELECT plan FROM plans WHERE sheet = ?", (sheet,)).fetchall()
    if first.record.kind != "armed":
        return Damage(sheet, first.number, "is the first that is left of it: the arming is missing")
    if not plans:
        return Damage(sheet, first.number, "has no plan: it is missing")
    if first.plan not in (None, sum_of(plans[0][0])):
        return Damage(sheet, first.number, ANOTHER_PLAN)
    try:
        plan = Plan.model_validate_json(plans[0][0])
    except ValueError:
        return Damage(sheet, first.number, f"is damaged: {not_readable(sheet)}")
    try:
        made_of(written, lambda told: history(plan, [Dated(one.record, None) for one in told]))
    except UnfitRecords as error:
        return error.damage
    return None


def _damaged_of_none(staging: sqlite3.Connection, marked: Mapping[int, bool]) -> Iterator[Damage]:
    for row in staging.execute(f"SELECT {COLUMNS} FROM records WHERE sheet <= 0 ORDER BY number"):
        try:
            read(row, marked.get(row[1], False))
        except Unsound as error:
            yield Damage(0, row[0], str(error))


def _lines(staging: sqlite3.Connection) -> Iterator[str]:
    """Every record that was found, an object a line; of one whose facts cannot be read, their text under `damaged`."""
    for *values, facts in staging.execute(f"SELECT {COLUMNS} FROM records ORDER BY number"):
        told = {name: _shown(value) for name, value in zip(_COLUMNS, values, strict=False)}
        yield (
            json.dumps(told | ({"facts": json.loads(facts)} if _is_json(facts) else {"damaged": _shown(facts)})) + "\n"
        )


def _shown(value: object) -> object:
    return value.decode("utf-8", "backslashreplace") if isinstance(value, bytes) else value


def _new_book(staging: sqlite3.Connection, path: Path, sheets: set[int], unsound: set[int]) -> None:
    """A book of these sheets and of what is about none but for the records that are unsound; every row with the number
    that it had."""
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as db:
        db.execute("PRAGMA synchronous=OFF")  # it is put in place only when all of it is on disk
        db.execute("BEGIN")
        known = staging.execute("SELECT id, begun FROM book").fetchone() or (uuid.uuid4().hex, "not known")
        begin(db, *known)
        db.executemany("INSERT INTO boots VALUES (?, ?, ?, ?)", staging.execute("SELECT * FROM boots ORDER BY boot"))
        db.executemany(
            "INSERT INTO plans VALUES (?, ?)",
            ((n, p) for n, p in staging.execute("SELECT * FROM plans") if n in sheets),
        )
        rows = staging.execute(f"SELECT {COLUMNS} FROM records ORDER BY number")
        kept = (row for row in rows if row[4] in {0, *sheets} and row[0] not in unsound)
        db.executemany(f"INSERT INTO records ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", kept)
        db.execute("COMMIT")
