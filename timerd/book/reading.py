"""Reading the book, while it is being written or long after: records, plans, and where each sheet stands."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.book.rows import (
    ANOTHER_PLAN,
    COLUMNS,
    MISSING,
    NOT_IN_ORDER,
    NOT_WRITTEN,
    Damage,
    Opening,
    Unsound,
    Written,
    not_intact,
    not_readable,
    opening_of,
    read,
    sheet_of,
    sum_of,
)
from timerd.book.store import NAME, BookError, open_to_read, why
from timerd.book.unfit import Made, UnfitRecords, made_of
from timerd.inplace import placed
from timerd.sheet.facts import DaemonStarted, PrintLoaded
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record

if TYPE_CHECKING:  # a list of sheets needs no plan, and is there at once without what plans are made of
    from timerd.sheet.history import Dated, History
    from timerd.sheet.plan.value import Plan

_OF_THE_TABLE = "FROM records WHERE number IN (SELECT number FROM records WHERE {}) ORDER BY number"
_NO_OPENING = Opening("", "", 0, False, False)
TO_DO = "keep the book; see  timerd book check; a copy may have it, timerd book rescue --out DIR has the rest"
"""What is said wherever a record is damaged."""


class DamagedRecord(BookError):
    """A record that is not what was written: told by the book's name, its sheet and its number, and what to do."""

    def __init__(self, path: Path, damage: Damage) -> None:
        super().__init__(f"{path}: {damage.words}: {TO_DO}")
        self.damage = damage


class Reader:
    """A book opened to read only; nothing that is done with it can change the file. Raises BookError."""

    def __init__(self, home: Path, name: str = NAME) -> None:
        self.path = home / name
        db = open_to_read(self.path)
        if db is None:
            raise BookError(f"{self.path}: there is no book here yet: it begins with the first  timerd serve")
        self._db = db
        self._openings: dict[object, Opening] = {}
        self.id: str = self._rows("SELECT id FROM book")[0][0]

    def sheets(self) -> list[int]:
        """The numbers of all sheets ever armed, in order."""
        return [row[0] for row in self._rows("SELECT DISTINCT sheet FROM records WHERE kind = 'armed' ORDER BY 1")]

    def sheet(self, number: int) -> SheetProgress | None:
        """Where one sheet stands, or how it ended; None where there is none of that number."""
        return self.made(self.written(number), lambda told: Progress(one.record for one in told).sheets.get(number))

    def records(self, sheet: int) -> list[Record]:
        """What was written of one sheet, in order; sheet 0 for what was of none."""
        return [one.record for one in self.written(sheet)]

    def written(self, sheet: int) -> list[Written]:
        """The records of one sheet with their numbers, in order. DamagedRecord where one is not what was written, or
        is missing."""
        with self.still():  # what is written in between would be found by one question and not by the other
            return self._written(sheet)

    def _written(self, sheet: int) -> list[Written]:
        found: list[Written] = []
        for row in self.rows("sheet = ?", (sheet,)):
            written = self.read(row, sheet)
            if written.before not in (None, found[-1].number if found else 0):
                raise DamagedRecord(self.path, Damage(sheet, written.before or 0, MISSING))
            found.append(written)
        if (last := self.last_of(sheet)) != (found[-1].number if found else None):
            raise DamagedRecord(self.path, Damage(sheet, last or found[-1].number, NOT_IN_ORDER))
        return found

    def last_of(self, sheet: int) -> int | None:
        """The number of a sheet's last record, come to from the other end of the index."""
        found: int | None = self._rows("SELECT max(number) FROM records WHERE sheet = ?", (sheet,))[0][0]
        return found

    def rows(self, where: str, values: Sequence[object] = ()) -> list[tuple[Any, ...]]:
        """The rows of records (COLUMNS) that a condition finds, in order. One that SQLite itself cannot read any more
        is there with its number alone, which `read` refuses: it costs no other.

        An index only says which: what they say is taken from the rows themselves.
        """
        try:
            return self._rows(f"SELECT {COLUMNS} {_OF_THE_TABLE.format(where)}", values)
        except BookError:
            numbers = self._rows(f"SELECT number FROM records WHERE {where} ORDER BY number", values)
        return [self.row(number) for (number,) in numbers]

    def row(self, number: int) -> tuple[Any, ...]:
        """One of those rows."""
        with contextlib.suppress(BookError):
            for row in self.each(f"SELECT {COLUMNS} FROM records WHERE number = ?", (number,)):
                return tuple(row)
        return number, *[None] * 7

    def read(self, row: tuple[Any, ...], sheet: int) -> Written:
        """A row of records (its values as COLUMNS has them), which is of this sheet. Raises DamagedRecord."""
        try:
            return self.sound(row, sheet)
        except Unsound as error:
            raise DamagedRecord(self.path, Damage(sheet, row[0], str(error))) from None

    def sound(self, row: tuple[Any, ...], sheet: int) -> Written:
        """The same. Raises Unsound."""
        written = read(row, self.opening(row[1]).marked)
        if written.record.sheet != sheet:
            raise Unsound(NOT_WRITTEN)
        return written

    def made(self, written: Sequence[Written], make: Callable[[Sequence[Written]], Made]) -> Made:
        """What is made of one sheet's records. DamagedRecord where they do not fit together."""
        try:
            return made_of(written, make)
        except UnfitRecords as error:
            raise DamagedRecord(self.path, error.damage) from None

    def opening(self, boot: object) -> Opening:
        """An opening of the book, by its number; one that is not there is told as such by its clocks."""
        if boot not in self._openings:
            rows = self._rows("SELECT boot, boot_id, wall, at_ns FROM boots")
            self._openings = {row[0]: opening_of(row) for row in rows}
        return self._openings.get(boot, _NO_OPENING)

    def plan(self, sheet: int) -> Plan | None:
        """The plan of a sheet as it was when armed."""
        with self.still():
            return self._plan(sheet)

    def _plan(self, sheet: int) -> Plan | None:
        from timerd.sheet.plan.value import Plan

        armed = self.rows("kind = 'armed' AND sheet = ?", (sheet,))
        record = self.read(armed[0], sheet) if armed else None
        try:
            rows = self._rows("SELECT plan FROM plans WHERE sheet = ?", (sheet,))
            text = str(rows[0][0]) if rows else None
            if record is not None and record.plan not in (None, sum_of(text or "")):
                raise DamagedRecord(self.path, Damage(sheet, record.number, ANOTHER_PLAN))
            return None if text is None else Plan.model_validate_json(text)
        except DamagedRecord:
            raise
        except (ValueError, BookError) as error:
            if record is not None:
                damage = Damage(sheet, record.number, f"is damaged: {not_readable(sheet)}")
                raise DamagedRecord(self.path, damage) from None
            raise error if isinstance(error, BookError) else BookError(f"{self.path}: {not_readable(sheet)}") from None

    def last_on(self, paper: str) -> Plan | None:
        """The plan of the last sheet on a paper that tells its box or batch; a damaged sheet tells nothing."""
        told = 'instr(plan, \'"box":"\') OR instr(plan, \'"batch":"\')'
        query = f"SELECT sheet FROM plans WHERE instr(plan, ?) AND ({told}) ORDER BY sheet DESC"
        named = json.dumps(paper, ensure_ascii=False)
        for (sheet,) in self.each(query, (f'"paper":{named}',)):
            with contextlib.suppress(DamagedRecord):
                plan = self.plan(sheet)
                if plan is not None and plan.paper == paper and (plan.box or plan.batch):
                    return plan
        return None

    def look_through(self, sheet: int) -> None:
        """Hold every record of a sheet against its checksum, and its plan. Raises DamagedRecord for the first that is
        not what was written, or does not fit those before it."""
        with self.still():
            self._look_through(sheet)

    def _look_through(self, sheet: int) -> None:
        with contextlib.suppress(BookError):
            rows = self._rows(f"SELECT {COLUMNS} {_OF_THE_TABLE.format('sheet = ?')}", (sheet,))
            if rows and self._is_intact(sheet, rows):
                return
        self.sheet(sheet)  # it has no checksums, or this says which of them is another
        self.plan(sheet)

    def _is_intact(self, sheet: int, rows: list[tuple[Any, ...]]) -> bool:
        own = all(row[4] == sheet and self.opening(row[1]).marked for row in rows)
        if not own or list(not_intact(rows, {row[1] for row in rows})) or self.last_of(sheet) != rows[-1][0]:
            return False
        plans = self._rows("SELECT plan FROM plans WHERE sheet = ?", (sheet,))
        return bool(plans) and rows[0][7].endswith(f' {sum_of(str(plans[0][0]))}"}}')

    def history(self, sheet: int) -> History | None:
        """All that is known of one sheet: what was planned, given and when, notes; None where there is none."""
        from timerd.sheet.history import history

        with self.still():
            plan = self.plan(sheet)
            if plan is None:
                return None
            written = self.written(sheet)
            served = list(self._served(written))
        return self.made(written, lambda told: history(plan, self._dated(told), served))

    def dated(self, sheet: int) -> list[Dated]:
        """The records of one sheet with their wall times.

        The wall clock was read with a record itself, else when the sheet was armed, else when the book was opened;
        from there the monotonic clock counts on.
        """
        return self._dated(self.written(sheet))

    def _dated(self, written: Sequence[Written]) -> list[Dated]:
        from timerd.sheet.history import Dated

        found = []
        read: dict[int, tuple[float | None, float]] = {}
        for record, _, boot, *_ in written:
            own = unix_seconds(getattr(record.fact, "wall", None))
            if own is not None:
                read[boot] = own, record.at
            elif boot not in read:
                read[boot] = self.clocks(boot)
            wall, at = read[boot]
            found.append(Dated(record, None if wall is None else wall + record.at - at))
        return found

    def clocks(self, boot: int) -> tuple[float | None, float]:
        """The two clocks at an opening of the book: Unix seconds, None where that is not known, and monotonic ones."""
        opening = self.opening(boot)
        return (unix_seconds(opening.wall) if opening.sound else None), opening.at_ns / 1e9

    def _served(self, written: Sequence[Written]) -> Iterator[DaemonStarted]:
        """The start of every timerd that wrote these, in order, as far as they can be read."""
        lasts = {one.boot: one.number for one in written}
        for last in lasts.values():
            started = "SELECT max(number) FROM records WHERE kind = 'started' AND sheet = 0 AND number <= ?"
            for row in self.rows(f"number = ({started})", (last,)):
                with contextlib.suppress(DamagedRecord):
                    if isinstance(start := self.read(row, 0).record.fact, DaemonStarted):
                        yield start

    def present(self) -> Progress:
        """All that matters to go on: the last sheet, those that are out, the fault if there is one, the last burst."""
        from timerd.book.present import present

        with self.still():
            return present(self)

    def batch(self) -> tuple[int, int] | None:
        """The last sheet of the print that was loaded last, and how many more of it were to be done.

        None where none of it was begun, none is left, or timerd was stopped in good order since.
        """
        try:
            return self._batch()
        except DamagedRecord:
            return None  # the printer loads it again

    def _batch(self) -> tuple[int, int] | None:
        loaded = self._rows("SELECT max(number) FROM records WHERE kind = 'loaded'")[0][0]
        if loaded is None:
            return None
        since = self.rows("number > ? AND +kind IN ('armed', 'stopped')", (loaded,))
        armed = [sheet_of(row) for row in since if row[2] == "armed"]
        (row,) = self.rows("number = ?", (loaded,))
        fact = self.read(row, sheet_of(row)).record.fact
        left = fact.sheets - len(armed) if isinstance(fact, PrintLoaded) else 0
        stopped = any(row[2] != "armed" for row in since)
        return None if not armed or left <= 0 or stopped else (max(armed), left)

    @contextlib.contextmanager
    def still(self) -> Iterator[None]:
        """The book as it is now, for several questions: what is written meanwhile is not seen until this ends."""
        if self._db.in_transaction:
            yield
            return
        for _ in self.each("BEGIN"):
            pass
        try:
            yield
        finally:
            self._db.rollback()

    def each(self, query: str, values: Sequence[object] = ()) -> Iterator[Any]:
        """The rows that a query finds, one by one."""
        try:
            yield from self._db.execute(query, values)
        except sqlite3.Error as error:
            raise BookError(f"{self.path}: cannot be read: {why(error)}") from None

    def _rows(self, query: str, values: Sequence[object] = ()) -> list[Any]:
        return list(self.each(query, values))

    def backup(self, path: Path) -> None:
        """Copy the book as it is now into a new file, while it is being written, by SQLite's own means.

        The copy is looked through before it is put in place. OSError where it cannot be made, or is there already.
        """
        with placed(path) as beside:
            try:
                self.copy_into(beside)
                with contextlib.closing(sqlite3.connect(beside)) as copy:
                    wrong = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
            except sqlite3.Error as error:
                raise BookError(f"{path}: the backup failed: {why(error)}") from None
            if wrong != "ok":
                raise BookError(f"{path}: the backup failed: what was read is damaged: try  timerd book check")

    def copy_into(self, path: Path, pages: int = -1, between: Callable[[int, int, int], None] | None = None) -> None:
        """Copy the book into a file that is there and empty, by so many pages at once (-1: all of them), with `between`
        called after each time. Raises sqlite3.Error."""
        with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as copy:
            copy.execute("PRAGMA synchronous=OFF")  # who asks for it syncs it
            self._db.backup(copy, pages=pages, progress=between)
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, whole by itself

    def close(self) -> None:
        """Close the file."""
        self._db.close()


def unix_seconds(wall: object) -> float | None:
    """A wall clock's time as the book has it, in Unix seconds; None for what is no such time.

    >>> unix_seconds("1970-01-02T00:00:00+00:00"), unix_seconds("then"), unix_seconds(None)
    (86400.0, None, None)
    """
    try:
        return datetime.fromisoformat(str(wall)).timestamp()
    except (ValueError, OverflowError):
        return None
