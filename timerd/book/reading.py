"""Reading the book, while it is being written or long after: records, plans, and where each sheet stands."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.book.store import NAME, BookError, open_to_read, record_of, why
from timerd.book.whole import put_whole
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record

if TYPE_CHECKING:  # a list of sheets needs no plan, and is there at once without what plans are made of
    from timerd.sheet.history import Dated, History
    from timerd.sheet.plan.value import Plan

_RECORDS = "SELECT kind, at_ns, sheet, step, burst, facts FROM records"

_SENSITIVE = (
    "SELECT sheet FROM records WHERE kind = 'armed' EXCEPT "
    "SELECT sheet FROM records WHERE kind IN ('safe in white light', 'given up', 'out of the baths') EXCEPT "
    "SELECT sheet FROM (SELECT sheet FROM records WHERE kind = 'stop bath' EXCEPT "
    "SELECT sheet FROM records WHERE kind IN ('to trays', 'in the fixer'))"
)
"""The sheets that white light would spoil, and those in their box. A `stop bath` without named baths is an older
timerd's last word on a sheet."""


class Reader:
    """A book opened to read only; nothing that is done with it can change the file. Raises BookError."""

    def __init__(self, home: Path) -> None:
        self.path = home / NAME
        db = open_to_read(self.path)
        if db is None:
            raise BookError(f"{self.path}: there is no book here yet: it begins with the first  timerd serve")
        self._db = db
        self.id: str = self._rows("SELECT id FROM book")[0][0]

    def sheets(self) -> list[int]:
        """The numbers of all sheets ever armed, in order."""
        return [row[0] for row in self._rows("SELECT DISTINCT sheet FROM records WHERE kind = 'armed' ORDER BY 1")]

    def sheet(self, number: int) -> SheetProgress | None:
        """Where one sheet stands, or how it ended; None where there is none of that number."""
        return Progress(self.records(number)).sheets.get(number)

    def records(self, sheet: int) -> list[Record]:
        """What was written of one sheet, in order; sheet 0 for what was of none."""
        rows = self._rows(f"{_RECORDS} WHERE sheet = ? ORDER BY number", (sheet,))
        return [record_of(row) for row in rows]

    def plan(self, sheet: int) -> Plan | None:
        """The plan of a sheet as it was when armed."""
        from timerd.sheet.plan.value import Plan

        rows = self._rows("SELECT plan FROM plans WHERE sheet = ?", (sheet,))
        try:
            return Plan.model_validate_json(rows[0][0]) if rows else None
        except ValueError:
            raise BookError(f"{self.path}: the plan of sheet {sheet} is not one that this version can read") from None

    def history(self, sheet: int) -> History | None:
        """All that is known of one sheet: what was planned, given and when, notes; None where there is none."""
        from timerd.sheet.history import history

        plan = self.plan(sheet)
        if plan is None:
            return None
        try:
            return history(plan, self.dated(sheet), list(self._served(sheet)))
        except (KeyError, IndexError, TypeError, ValueError) as error:
            raise BookError(f"{self.path}: the records of sheet {sheet} do not fit together: {error!r}") from None

    def dated(self, sheet: int) -> list[Dated]:
        """The records of one sheet with their wall times.

        The wall clock was read with a record itself, else when the sheet was armed, else when the book was opened;
        from there the monotonic clock counts on.
        """
        from timerd.sheet.history import Dated

        rows = self._rows(
            "SELECT kind, r.at_ns, sheet, step, burst, facts, r.boot, b.wall, b.at_ns FROM records r "
            "LEFT JOIN boots b ON b.boot = r.boot WHERE sheet = ? ORDER BY number",
            (sheet,),
        )
        found = []
        read: dict[int, tuple[float | None, float]] = {}
        for *row, boot, opened, opened_ns in rows:
            record = record_of(tuple(row))
            own = unix_seconds(record.facts.get("wall"))
            if own is not None:
                read[boot] = own, record.at
            elif boot not in read:
                read[boot] = unix_seconds(opened), (opened_ns or 0) / 1e9
            wall, at = read[boot]
            found.append(Dated(record, None if wall is None else wall + record.at - at))
        return found

    def _served(self, sheet: int) -> Iterator[dict[str, Any]]:
        """The facts of the start of every timerd that wrote of a sheet, in order."""
        lasts = self._rows("SELECT max(number) FROM records WHERE sheet = ? GROUP BY boot ORDER BY 1", (sheet,))
        for (last,) in lasts:
            started = "SELECT facts FROM records WHERE kind = 'started' AND sheet = 0 AND number <= ?"
            rows = self._rows(f"{started} ORDER BY number DESC LIMIT 1", (last,))
            if rows:
                yield json.loads(rows[0][0])

    def present(self) -> Progress:
        """All that matters to go on: the last sheet, those that white light would spoil, the fault if there is one, the
        last burst.

        How long this takes does not grow with the book, but for one look along an index.
        """
        out = {row[0] for row in self._rows(_SENSITIVE)}
        last = self._rows("SELECT max(sheet) FROM records")[0][0]
        at_hand = self._rows(
            "SELECT sheet FROM records WHERE number = "
            "(SELECT max(number) FROM records WHERE kind IN ('armed', 'taken up', 'owed again'))"
        )
        wanted = sorted(out | ({last} if last else set()) | {row[0] for row in at_hand})
        marks = ",".join("?" * len(wanted))
        first = self._rows(f"SELECT min(number) FROM records WHERE sheet IN ({marks})", wanted)[0][0]
        started = "SELECT coalesce(max(number), 0) FROM records WHERE kind = 'started' AND sheet = 0"
        since = self._rows(started + ("" if first is None else f" AND number < {first}"))[0][0]
        rows = self._rows(
            f"{_RECORDS} WHERE sheet IN ({marks}) OR number IN (SELECT max(number) FROM records "
            "WHERE kind IN ('fault', 'cleared') GROUP BY kind) OR (kind IN ('started', 'stopped') AND sheet = 0 AND "
            "number >= ?) ORDER BY number",
            (*wanted, since),
        )
        progress = Progress(record_of(row) for row in rows)
        progress.last_burst = self._rows("SELECT coalesce(max(burst), 0) FROM records")[0][0]
        return progress

    def batch(self) -> tuple[int, int] | None:
        """The last sheet of the print that was loaded last, and how many more of it were to be done.

        None where none of it was begun, none is left, or timerd was stopped in good order since.
        """
        loaded = self._rows("SELECT max(number) FROM records WHERE kind = 'loaded'")[0][0]
        if loaded is None:
            return None
        since = dict(
            self._rows(
                "SELECT kind, count(*) FROM records WHERE number > ? AND +kind IN ('armed', 'stopped') GROUP BY kind",
                (loaded,),
            )
        )
        last = self._rows("SELECT max(sheet) FROM records WHERE number > ? AND +kind = 'armed'", (loaded,))[0][0]
        facts = self._rows("SELECT facts FROM records WHERE number = ?", (loaded,))[0][0]
        left = int(json.loads(facts).get("sheets", 0)) - since.get("armed", 0)
        return None if last is None or left <= 0 or "stopped" in since else (last, left)

    @contextlib.contextmanager
    def still(self) -> Iterator[None]:
        """The book as it is now, for several questions: what is written meanwhile is not seen until this ends."""
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
        with put_whole(path) as beside:
            try:
                copy = sqlite3.connect(beside, isolation_level=None)
                try:
                    self._db.backup(copy)
                    copy.execute("PRAGMA journal_mode=DELETE")  # one file, whole by itself
                    wrong = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
                finally:
                    copy.close()
            except sqlite3.Error as error:
                raise BookError(f"{path}: the backup failed: {why(error)}") from None
            if wrong != "ok":
                raise BookError(f"{path}: the backup failed: what was read is damaged: try  timerd book check")

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
