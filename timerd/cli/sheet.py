"""The command that says what a sheet was given."""

from __future__ import annotations

import argparse
import json

from timerd.book.carrying import sheet_facts
from timerd.book.reading import Reader
from timerd.cli.amounts import whole
from timerd.cli.parsing import Add
from timerd.cli.selecting import clock, no_sheet
from timerd.places import home
from timerd.sheet.account import sheet_account


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    sheet = add("sheet", _sheet)
    sheet.add_argument("number", metavar="N", help="the sheet's number")
    sheet.add_argument("--json", action="store_true", help="all of it as JSON")


def _sheet(args: argparse.Namespace) -> int:
    reader = Reader(home(args.home))
    number = whole("N", args.number, 1, 999_999)
    history = reader.history(number)
    if history is None:
        raise no_sheet(number, reader.sheets())
    if args.json:
        print(json.dumps(sheet_facts(history), indent=2))
    else:
        print(sheet_account(history, clock))
    return 0
