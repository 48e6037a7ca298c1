"""The commands about sheets in the book: sheets, sheet, note, rate."""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from timerd.cli.amounts import whole
from timerd.cli.parsing import Add
from timerd.wire.control import AddNote, AddRating

if TYPE_CHECKING:
    from timerd.book.listing import Listed
    from timerd.book.reading import Reader

LAST = 50


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    from timerd.cli.selecting import selection_options

    sheets = add("sheets", _sheets, f"list the last {LAST} sheets in the book")
    selection_options(sheets)
    sheets.add_argument("--all", action="store_true", help=f"every one of them, not the last {LAST}")
    sheets.add_argument("--json", action="store_true", help="all that is known of each, as JSON")
    sheet = add("sheet", _sheet, "say what a sheet was given, against its plan")
    _number(sheet)
    sheet.add_argument("--json", action="store_true", help="all of it as JSON")

    note = add("note", _note, "write a note about a sheet into the book")
    _number(note)
    note.add_argument("text", metavar="TEXT", help="what there is to say, in quotes")
    rate = add("rate", _rate, "rate a sheet, from 1 to 5; the last rating holds")
    _number(rate)
    rate.add_argument("rating", metavar="1..5", help="the rating")


def _number(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("number", metavar="N", help="the sheet's number")


def _sheets(args: argparse.Namespace) -> int:
    from timerd.book.doubts import doubts
    from timerd.book.listing import listing
    from timerd.book.reading import TO_DO, Reader
    from timerd.cli.files import safe
    from timerd.cli.selecting import selection_of
    from timerd.places import home

    reader = Reader(home(args.home))
    found = listing(reader, selection_of(args), None if args.all else LAST + 1)
    more = not args.all and len(found) > LAST
    found = found[-LAST:] if more else found
    damaged = [row.damaged for row in found if row.damaged is not None]
    if args.json:
        damaged = _print_json(reader, found)
    elif found:
        unsure = doubts(reader, [row.sheet for row in found])
        rows = [_row(row, unsure.get(row.sheet, ())) for row in found]
        print("\n".join(([f"the last {LAST} of more: --all lists every one"] if more else []) + rows))
    else:
        chosen = args.print is not None or args.since is not None
        print("there is no such sheet" if chosen else "no sheet has been armed yet")
    for words in damaged:
        print(f"{safe(str(reader.path))}: {safe(words)}: {TO_DO}", file=sys.stderr)
    return 1 if damaged else 0


def _print_json(reader: Reader, rows: list[Listed]) -> list[str]:
    """All that is known of each; what is wrong with those that are damaged is returned."""
    from timerd.book.carrying import sheet_facts
    from timerd.book.reading import DamagedRecord

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
    from timerd.cli.files import safe

    when = datetime.fromtimestamp(row.armed_wall).isoformat(" ", "minutes") if row.armed_wall is not None else ""
    outcome = row.outcome if row.damaged is None else "damaged"
    where = "given up" if row.given_up else "out" if row.out else ""
    rating = "" if row.rating is None else f"{row.rating} of 5"
    notes = "" if not row.notes else f"{row.notes} note{'s' if row.notes > 1 else ''}"
    steps = f"step{'s' if len(unsure) > 1 else ''} {', '.join(map(str, unsure))}"
    look = f"  (look at it: what {steps} had is not sure)" if unsure else ""
    return f"{row.sheet:>6}  {when:<16}  {outcome:<10}  {where:<8}  {rating:<6}  {notes:<8}  {safe(row.print)}{look}"


def _sheet(args: argparse.Namespace) -> int:
    from timerd.book.reading import Reader
    from timerd.cli.selecting import clock
    from timerd.places import home

    reader = Reader(home(args.home))
    number = whole("N", args.number, 1, 999_999)
    history = reader.history(number)
    if history is None:
        raise no_sheet(number, reader.sheets())
    if args.json:
        from timerd.book.carrying import sheet_facts

        print(json.dumps(sheet_facts(history), indent=2))
    else:
        from timerd.sheet.account import sheet_account

        print(sheet_account(history, clock))
    return 0


def _note(args: argparse.Namespace) -> int:
    number = whole("N", args.number, 1, 999_999)
    _write(args, AddNote(number, args.text))
    print(f"sheet {number}: noted")
    return 0


def _rate(args: argparse.Namespace) -> int:
    number, rating = whole("N", args.number, 1, 999_999), whole("rating", args.rating, 1, 5)
    _write(args, AddRating(number, rating))
    print(f"sheet {number}: rated {rating} of 5")
    return 0


def _write(args: argparse.Namespace, request: AddNote | AddRating) -> None:
    """Append to the book: by the daemon where one serves it, since a book has one writer; else here, as that one."""
    from timerd.book.reading import Reader
    from timerd.book.remarks import remark
    from timerd.book.store import Book, wall_now
    from timerd.control import NoDaemon, ask
    from timerd.places import home, run_folder

    where = home(args.home)
    reader = Reader(where)
    there, book_id = reader.sheets(), reader.id
    reader.close()
    wall = wall_now()
    if request.sheet not in there:
        raise no_sheet(request.sheet, there)
    record = remark(request, there[-1], time.monotonic(), wall)
    try:
        ask(run_folder(args.home), replace(request, book=book_id))
    except NoDaemon:
        book = Book(where, wall, time.monotonic_ns())
        try:
            book.append([record], {})
        finally:
            book.close()


def no_sheet(number: int, there: list[int]) -> LookupError:
    """That there is no sheet of this number, and which there are."""
    known = f"there are {there[0]} to {there[-1]}" if there else "there is none yet"
    return LookupError(f"there is no sheet {number} in the book: {known}")
