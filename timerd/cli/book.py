"""The commands that read the book: sheets, sheet."""

from __future__ import annotations

import argparse
import json

from timerd.cli.parsing import Add

LAST = 50


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    sheets = add("sheets", _sheets, f"list the last {LAST} sheets in the book")
    sheets.add_argument("--json", action="store_true", help="every step of each as JSON")
    sheet = add("sheet", _sheet, "say what a sheet was given, against its plan")
    sheet.add_argument("number", type=int, metavar="N", help="the sheet's number")
    sheet.add_argument("--json", action="store_true", help="all of it as JSON")


def _sheets(args: argparse.Namespace) -> int:
    from timerd.book.reading import Reader
    from timerd.cli.files import safe
    from timerd.places import home

    reader = Reader(home(args.home))
    found = [(number, reader.sheet(number)) for number in reader.sheets()[-LAST:]]
    if args.json:
        print(json.dumps([sheet.as_json() for _, sheet in found if sheet is not None], indent=2))
        return 0
    if not found:
        print("no sheet has been armed yet")
    for number, sheet in found:
        plan = reader.plan(number)
        if sheet is None or plan is None:
            continue
        lights = [step for step in sheet.steps.values() if step.light]
        ended = sum(step.ended_by == "dose" for step in lights)
        given = sum(step.given for step in lights)
        where = "out" if sheet.out else "given up" if sheet.given_up else ""
        line = f"{number:>6}  {sheet.outcome:<10}  {ended}/{len(lights)} lights whole, {given:.1f} s given  {where:<8}"
        print(f"{line}  {safe(plan.print)}".rstrip())
    return 0


def _sheet(args: argparse.Namespace) -> int:
    from timerd.book.reading import Reader
    from timerd.cli.files import safe
    from timerd.places import home
    from timerd.sheet.account import sheet_table

    reader = Reader(home(args.home))
    sheet, plan = reader.sheet(args.number), reader.plan(args.number)
    if sheet is None or plan is None:
        there = reader.sheets()
        known = f"there are {there[0]} to {there[-1]}" if there else "there is none yet"
        raise LookupError(f"there is no sheet {args.number} in the book: {known}")
    if args.json:
        print(json.dumps(sheet.as_json(), indent=2))
        return 0
    begun = next((r.facts.get("wall") for r in reader.records(args.number) if r.kind == "armed"), None)
    print(safe(f"{plan.print}, armed {begun}"))
    print(sheet_table(plan, sheet))
    return 0
