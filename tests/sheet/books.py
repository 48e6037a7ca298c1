"""A book with sheets in it, written by the book's own writer."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from timerd.book.store import Book
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record


def keep(home: Path, *sheets: tuple[Plan, Sequence[Record]]) -> None:
    """Write each sheet's plan and records; the sheet's number is its records' own."""
    book = Book(home, "2026-03-04T18:00:00+00:00", 0)
    for plan, records in sheets:
        book.append(records, {records[0].sheet: plan})
    book.close()
