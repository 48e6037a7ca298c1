"""The command that puts on the bench what a sheet was given."""

from __future__ import annotations

import argparse

from timerd.cli.parsing import Add
from timerd.cli.sides import of_the_book
from timerd.control import ask
from timerd.places import run_folder
from timerd.sheet.given import gave
from timerd.sheet.plan.value import LIGHTS
from timerd.sheet.safe import safe
from timerd.sheet.words import step_words
from timerd.wire.control import LoadAgain


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    repeat = add("repeat", _repeat)
    repeat.add_argument("number", type=int, metavar="N", help="the sheet's number")
    repeat.add_argument("--sheets", type=int, default=1, metavar="K", help="how many sheets (%(default)s)")


def _repeat(args: argparse.Namespace) -> int:
    ask(run_folder(args.home), LoadAgain(args.number, args.sheets))
    plan, sheet = of_the_book(args.number, args)
    count = f"{args.sheets} sheet{'s' if args.sheets != 1 else ''}"
    print(safe(f"loaded: what sheet {args.number} was given, {plan.print}, {count}. Hold go for 1 s to arm."))
    found = {one.planned.n: one for one in gave(plan, sheet)}
    for step in plan.steps:
        if step.kind in LIGHTS and step.n not in found:
            print(safe(f"  {step_words(step)}: skipped, and left out"))
        elif step.kind in LIGHTS and not found[step.n].by_plan:
            planned = "free" if step.dose is None else f"{step.dose:.2f} s planned"
            print(safe(f"  {step_words(step)}: {found[step.n].step.dose:.2f} s as given ({planned})"))
    return 0
