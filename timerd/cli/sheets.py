"""What commands share that lay sheets of the book beside each other: a sheet by its number, a print's sheets."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from timerd.sheet.plan.value import Plan
    from timerd.sheet.record import SheetProgress


def of_the_book(number: int, args: argparse.Namespace) -> tuple[Plan, SheetProgress]:
    """A sheet's plan, as it was when armed, and where it stands; LookupError where there is none of that number."""
    from timerd.book.reading import Reader
    from timerd.places import home

    reader = Reader(home(args.home))
    try:
        sheet, plan = reader.sheet(number), reader.plan(number)
        if sheet is None or plan is None:
            there = reader.sheets()
            known = f"there are {there[0]} to {there[-1]}" if there else "there is none yet"
            raise LookupError(f"there is no sheet {number} in the book: {known}")
    finally:
        reader.close()
    return plan, sheet
