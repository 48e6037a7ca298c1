"""The command that makes a print of what a sheet was given."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from timerd.cli.files import find_named, print_path, read_file, read_profile, shown_path
from timerd.cli.parsing import Add
from timerd.cli.placing import out_options, place_new, planned
from timerd.cli.sides import of_the_book
from timerd.desk.adopt import Adopted, adopted, adopted_into
from timerd.places import read_bytes
from timerd.sheet.columns import columns
from timerd.sheet.differing import areas_apart, steps_apart
from timerd.sheet.given import TWELFTH_WITHIN, as_given
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.progress import SheetProgress
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    adopt = add("adopt", _adopt)
    adopt.add_argument("number", type=int, metavar="N", help="the sheet's number")
    adopt.add_argument(
        "--from", dest="print", metavar="PRINT", help="the print's own file: it stays but for what was given otherwise"
    )
    adopt.add_argument(
        "--judged", choices=("wet",), help="the sheet was judged wet: dry-down is to be taken off from now on"
    )
    out_options(adopt, "where the new print goes; without it nothing is written")
    adopt.add_argument("--json", action="store_true", help="each step as JSON")


def _adopt(args: argparse.Namespace) -> int:
    plan, sheet = of_the_book(args.number, args)
    if sheet.outcome != "complete":
        raise ValueError(
            f"sheet {sheet.sheet} was not finished ({sheet.outcome}, at step {sheet.at_hand}): only a whole sheet is "
            "adopted"
        )
    made, mind = _adopted(plan, sheet, args)
    file = place_new(made.text, "print", args.out, args.force) if args.out is not None else None
    facts = {
        "sheet": sheet.sheet, "print": plan.print, "file": file, "mind": mind, "text": made.text,
        "steps": [
            {
                "step": one.gave.planned.n, "name": one.gave.planned.name, "given": one.gave.step.dose,
                "stops": one.gave.step.stops, "by_plan": one.gave.by_plan, "written": one.amount, "note": one.note,
            } for one in made.steps if one.amount
        ],
    }  # fmt: skip
    print(json.dumps(facts, indent=2) if args.json else _adopted_table(plan, made, mind, file, args.number))
    return 0


def _adopted(plan: Plan, sheet: SheetProgress, args: argparse.Namespace) -> tuple[Adopted, list[str]]:
    """The new print, worked out as it will be from where it lies, and in what that differs from what was given."""
    where = Path(args.out).absolute() if args.out is not None else None
    if args.print is None:
        bench, paper = (_profile(kind, getattr(plan, kind), args, where) for kind in ("bench", "paper"))
        made = adopted(plan, sheet, bench.value, wet=args.judged == "wet")
    elif args.judged is not None:
        raise ValueError("--judged goes without --from: the file of the print says how it is judged")
    else:
        path = print_path(args.print, args)
        print_ = read_file("print", path).value
        bench, paper = (
            read_file(kind, find_named(kind, getattr(print_, kind), where or path, args)) for kind in ("bench", "paper")
        )
        try:
            made = adopted_into(print_, read_bytes(path).decode(), plan, sheet, bench.value, paper.value)
        except ValueError as error:
            raise ValueError(f"{shown_path(path)}: {error}") from None
    _, again = planned(made.text, "the new print", bench, paper, "this sheet cannot be adopted so")
    mind = _off(plan, sheet, again) if args.judged is None else []
    if args.print is None:
        mind.append("the lens, magnification and height are not in the book: write them in, or say --from PRINT")
    return made, mind


def _profile(kind: str, name: str, args: argparse.Namespace, where: Path | None) -> Any:
    """A profile by the name that the book has; one in a file of another name is not found by it."""
    try:
        return read_profile(kind, name, args, folder=where.parent if where is not None else Path.cwd())
    except LookupError as error:
        raise LookupError(f"{error}; or say --from PRINT, whose file names its {kind}") from None


def _off(plan: Plan, sheet: SheetProgress, again: Plan) -> list[str]:
    """Where the new print gives another amount of light than the sheet was given, by more than a 1/400 stop."""
    given = _called_as(again, as_given(plan, sheet))
    found = [(row.words, row.stops) for row in steps_apart(given, again) if row.stops is not None]
    found += [
        (f"{row.area or 'the rest'}, {row.light}, in all", row.stops) for row in areas_apart(given, again)
        if row.stops is not None
    ]  # fmt: skip
    return [f"{words}: {stops:+.3f} stop off what was given" for words, stops in found if abs(stops) > TWELFTH_WITHIN]


def _called_as(again: Plan, given: Plan) -> Plan:
    """A second burn of one area is the first where the first was skipped: the lights stand in one order in both."""
    names = iter([step.name for step in again.steps if step.kind in LIGHTS])
    steps = tuple(
        step.model_copy(update={"name": next(names)}) if step.kind in LIGHTS else step for step in given.steps
    )
    return given.model_copy(update={"steps": steps})


def _adopted_table(plan: Plan, made: Adopted, mind: list[str], file: str | None, number: int) -> str:
    cells = [["step", "given", "written", ""]]
    for one in made.steps:
        if one.amount:
            cells.append([one.words, f"{one.gave.step.dose:.2f} s", one.amount, one.note or ""])
    lines = [f"{plan.print}: sheet {number} as a print", "", *columns(cells, "<><")]
    if mind:
        lines += ["", "mind:", *(f"  - {said}" for said in mind)]
    lines += ["", f"written: {file}" if file else "nothing is written: say --out FILE"]
    return "\n".join(safe(line) for line in lines)
