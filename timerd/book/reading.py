"""Reading the book, while it is being written or long after: records, plans, and where each sheet stands."""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from timerd.book.store import NAME, BookError, check_format, record_of
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record, SheetProgress

_RECORDS = "SELECT kind, at_ns, sheet, step, burst, facts FROM records"


class Reader:
    """A book opened to read only; nothing that is done with it can change the file. Raises BookError."""

    def __init__(self, home: Path) -> None:
        self.path = home / NAME
        if not self.path.is_file():
            raise BookError(f"{self.path}: there is no book here yet: it begins with the first  timerd serve")
        at = self.path.absolute().as_uri()
        # In a folder that may not be written the log's shared index cannot be made; with no log there is none to read.
        still = not os.access(self.path.parent, os.W_OK) and not os.path.exists(f"{self.path}-wal")
        try:
            self._db = sqlite3.connect(f"{at}?{'immutable=1' if still else 'mode=ro'}", uri=True, timeout=1.0)
            check_format(self._db, self.path)
        except sqlite3.Error as error:
            raise BookError(f"{self.path}: cannot be read: {error}") from None

    def sheets(self) -> list[int]:
        """The numbers of all sheets ever armed, in order."""
        return [
            row[0] for row in self._db.execute("SELECT DISTINCT sheet FROM records WHERE kind = 'armed' ORDER BY 1")
        ]

    def sheet(self, number: int) -> SheetProgress | None:
        """Where one sheet stands, or how it ended; None where there is none of that number."""
        return Progress(self.records(number)).sheets.get(number)

    def records(self, sheet: int) -> list[Record]:
        """What was written of one sheet, in order; sheet 0 for what was of none."""
        rows = self._db.execute(f"{_RECORDS} WHERE sheet = ? ORDER BY number", (sheet,))
        return [record_of(row) for row in rows]

    def plan(self, sheet: int) -> Plan | None:
        """The plan of a sheet as it was when armed."""
        row = self._db.execute("SELECT plan FROM plans WHERE sheet = ?", (sheet,)).fetchone()
        return Plan.model_validate_json(row[0]) if row is not None else None

    def present(self) -> Progress:
        """All that matters to go on: the last sheet, those that are out, the fault if there is one, the last burst.

        How long this takes does not grow with the book, but for one look along an index.
        """
        out = {row[0] for row in self._db.execute("SELECT sheet FROM records WHERE kind = 'sheet out'")}
        for kind in ("stop bath", "given up"):
            out -= {row[0] for row in self._db.execute("SELECT sheet FROM records WHERE kind = ?", (kind,))}
        last = self._db.execute("SELECT max(sheet) FROM records").fetchone()[0]
        wanted = sorted(out | ({last} if last else set()))
        marks = ",".join("?" * len(wanted))
        rows = self._db.execute(
            f"{_RECORDS} WHERE sheet IN ({marks}) OR kind IN ('fault', 'cleared', 'started', 'stopped') "
            "ORDER BY number",
            wanted,
        )
        progress = Progress(record_of(row) for row in rows)
        progress.last_burst = self._db.execute("SELECT coalesce(max(burst), 0) FROM records").fetchone()[0]
        return progress

    def close(self) -> None:
        """Close the file."""
        self._db.close()
