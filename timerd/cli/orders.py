"""What a pedal can do, by command too, and the second thoughts that no pedal has. None of it lights anything."""

from __future__ import annotations

import argparse

from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.sheet.status import Status
from timerd.sheet.telling import white_light_words
from timerd.wire.control import Order


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    for name in ("arm", "skip", "end", "abandon", "set-aside", "tray", "view", "rest"):
        add(name, _tell).set_defaults(n=None)
    for name in ("step", "owe"):
        add(name, _tell).add_argument("n", metavar="STEP", type=int, help="its number in the plan")
    the_sheet = "the sheet (the one that is offered)"
    add("take-up", _tell).add_argument("n", metavar="N", type=int, nargs="?", help=the_sheet)
    words = f"{the_sheet}; also one that the book is damaged of: it is no longer out"
    add("give-up", _tell).add_argument("n", metavar="N", type=int, nargs="?", help=words)


def _tell(args: argparse.Namespace) -> int:
    print(_words(stands(args, Order(args.command.replace("-", " "), args.n))))
    return 0


def _words(status: Status) -> str:
    """How the bench stands after an order, in one line."""
    parts = [status.state]
    if status.sheet is not None:
        parts.append(f"sheet {status.sheet}" + (f", step {status.step}" if status.step is not None else ""))
    if status.asks:
        parts.append(f"asks: {'; '.join(status.asks)}")
    if status.shows is not None:
        parts.append(f"the next go shows the {status.shows}")
    if status.owed:
        parts.append(f"{status.owed:.1f} s owed")
    if status.aside:
        parts.append("set aside: " + ", ".join(f"sheet {number}" for number in status.aside))
    parts.append(f"white light: {white_light_words(status.white_light_spoils)}")
    return " · ".join(parts)
