"""The commands that write of a sheet into the book: note, rate."""

from __future__ import annotations

import argparse
import contextlib
import time
from dataclasses import replace

from timerd.book.reading import Reader
from timerd.book.remarks import remark
from timerd.book.store import Book, wall_now
from timerd.cli.amounts import whole
from timerd.cli.parsing import Add
from timerd.cli.selecting import no_sheet
from timerd.control import NoDaemon, ask
from timerd.places import home, run_folder
from timerd.wire.control import AddNote, AddRating


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    note, rate = add("note", _note), add("rate", _rate)
    for sub in (note, rate):
        sub.add_argument("number", metavar="N", help="the sheet's number")
    note.add_argument("text", metavar="TEXT", help="what there is to say, in quotes")
    rate.add_argument("rating", metavar="1..5", help="the rating")


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
        with contextlib.closing(Book(where, wall, time.monotonic_ns())) as book:
            book.append([record], {})
