"""Reading the book, while it is being written or long after: records, plans, and where each sheet stands."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from timerd.book.store import NAME, BookError, open_to_read, record_of, why
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record, SheetProgress

_RECORDS = "SELECT kind, at_ns, sheet, step, burst, facts FROM records"


class Reader:
    """A book opened to read only; nothing that is done with it can change the file. Raises BookError."""

    def __init__(self, home: Path) -> None:
        self.path = home / NAME
        db = open_to_read(self.path)
        if db is None:
            raise BookError(f"{self.path}: there is no book here yet: it begins with the first  timerd serve")
        self._db = db

    def sheets(self) -> list[int]:
        """The numbers of all sheets ever armed, in order."""
        return [row[0] for row in self.rows("SELECT DISTINCT sheet FROM records WHERE kind = 'armed' ORDER BY 1")]

    def sheet(self, number: int) -> SheetProgress | None:
        """Where one sheet stands, or how it ended; None where there is none of that number."""
        return Progress(self.records(number)).sheets.get(number)

    def records(self, sheet: int) -> list[Record]:
        """What was written of one sheet, in order; sheet 0 for what was of none."""
        rows = self.rows(f"{_RECORDS} WHERE sheet = ? ORDER BY number", (sheet,))
        return [record_of(row) for row in rows]

    def plan(self, sheet: int) -> Plan | None:
        """The plan of a sheet as it was when armed."""
        rows = self.rows("SELECT plan FROM plans WHERE sheet = ?", (sheet,))
        try:
            return Plan.model_validate_json(rows[0][0]) if rows else None
        except ValueError:
            raise BookError(f"{self.path}: the plan of sheet {sheet} is not one that this version can read") from None

    def present(self) -> Progress:
        """All that matters to go on: the last sheet, those that are out, the fault if there is one, the last burst.

        How long this takes does not grow with the book, but for one look along an index.
        """
        out = {row[0] for row in self.rows("SELECT sheet FROM records WHERE kind = 'sheet out'")}
        for kind in ("stop bath", "given up", "out of the baths"):
            out -= {row[0] for row in self.rows("SELECT sheet FROM records WHERE kind = ?", (kind,))}
        last = self.rows("SELECT max(sheet) FROM records")[0][0]
        at_hand = self.rows(
            "SELECT sheet FROM records WHERE kind IN ('armed', 'taken up', 'owed again') ORDER BY number DESC LIMIT 1"
        )
        wanted = sorted(out | ({last} if last else set()) | {row[0] for row in at_hand})
        marks = ",".join("?" * len(wanted))
        rows = self.rows(
            f"{_RECORDS} WHERE sheet IN ({marks}) OR kind IN ('fault', 'cleared', 'started', 'stopped') "
            "ORDER BY number",
            wanted,
        )
        progress = Progress(record_of(row) for row in rows)
        progress.last_burst = self.rows("SELECT coalesce(max(burst), 0) FROM records")[0][0]
        return progress

    def rows(self, query: str, values: Sequence[object] = ()) -> list[Any]:
        """The rows of a query, for those who read a part of the book for themselves."""
        try:
            return self._db.execute(query, values).fetchall()
        except sqlite3.Error as error:
            raise BookError(f"{self.path}: cannot be read: {why(error)}") from None

    def close(self) -> None:
        """Close the file."""
        self._db.close()
