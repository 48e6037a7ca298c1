"""The command that puts a print on the bench."""

from __future__ import annotations

import argparse

from timerd.cli.files import files_to_load, worked
from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.sheet.safe import safe
from timerd.sheet.telling import mind_words
from timerd.wire.control import LoadPrint


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    load = add("load", _load)
    load.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    load.add_argument("--sheets", type=int, default=1, metavar="N", help="how many sheets (%(default)s)")
    load.add_argument(
        "--by-step", action="store_true",
        help="box each sheet wherever the bench is set up anew, so that all go through one round before the next",
    )  # fmt: skip


def _load(args: argparse.Namespace) -> int:
    made = worked(args.print, args, args.by_step)
    plan = made.plan
    status = stands(args, LoadPrint(args.sheets, args.by_step, **files_to_load(made)))
    rounds = 1 + sum(step.kind == "box" for step in plan.steps)
    how = f", in {rounds} rounds" if args.by_step else ""
    print(f"loaded: {plan.print}, {args.sheets} sheet{'s' if args.sheets != 1 else ''}{how}. Hold go for 1 s to arm.")
    for mind in status.mind:
        print(f"mind: {safe(mind_words(mind))}")
    return 0
