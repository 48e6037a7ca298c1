"""The command that lists the sheets in the book."""

from __future__ import annotations

import argparse
import json
import sys
from datetime import datetime

from timerd.book.doubts import doubts
from timerd.book.listing import Listed, listing
from timerd.book.reading import TO_DO, DamagedRecord, Reader
from timerd.cli.parsing import Add
from timerd.cli.selecting import selection_of, selection_options
from timerd.cli.table import LISTED
from timerd.places import home
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    sheets = add("sheets", _sheets)
    selection_options(sheets)
    sheets.add_argument("--all", action="store_true", help=f"every one of them, not the last {LISTED}")
    sheets.add_argument("--json", action="store_true", help="all that is known of each, as JSON")


def _sheets(args: argparse.Namespace) -> int:
    reader = Reader(home(args.home))
    found = listing(reader, selection_of(args), None if args.all else LISTED + 1)
    more = not args.all and len(found) > LISTED
    found = found[-LISTED:] if more else found
    damaged = [row.damaged for row in found if row.damaged is not None]
    if args.json:
        damaged = _print_json(reader, found)
    elif found:
        unsure = doubts(reader, [row.sheet for row in found])
        rows = [_row(row, unsure.get(row.sheet, ())) for row in found]
        print("\n".join(([f"the last {LISTED} of more: --all lists every one"] if more else []) + rows))
    else:
        chosen = args.print is not None or args.since is not None
        print("there is no such sheet" if chosen else "no sheet has been armed yet")
    for words in damaged:
        print(f"{safe(str(reader.path))}: {safe(words)}: {TO_DO}", file=sys.stderr)
    return 1 if damaged else 0


def _print_json(reader: Reader, rows: list[Listed]) -> list[str]:
    """All that is known of each; what is wrong with those that are damaged is returned."""
    from timerd.book.carrying import sheet_facts  # what a sheet was given takes the plan's models

    told, damaged = [], []
    for row in rows:
        try:
            history = reader.history(row.sheet)
        except DamagedRecord as error:
            damaged.append(error.damage.words)
        else:
            told += [sheet_facts(history)] if history is not None else []
    print(json.dumps(told, indent=2))
    return damaged


def _row(row: Listed, unsure: tuple[int, ...]) -> str:
    when = datetime.fromtimestamp(row.armed_wall).isoformat(" ", "minutes") if row.armed_wall is not None else ""
    outcome = row.outcome if row.damaged is None else "damaged"
    where = "given up" if row.given_up else "out" if row.out else ""
    rating = "" if row.rating is None else f"{row.rating} of 5"
    notes = "" if not row.notes else f"{row.notes} note{'s' if row.notes > 1 else ''}"
    steps = f"step{'s' if len(unsure) > 1 else ''} {', '.join(map(str, unsure))}"
    look = f"  (look at it: what {steps} had is not sure)" if unsure else ""
    return f"{row.sheet:>6}  {when:<16}  {outcome:<10}  {where:<8}  {rating:<6}  {notes:<8}  {safe(row.print)}{look}"
