"""What a pedal can do, by command too, and the second thoughts that no pedal has. None of it lights anything."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.wire.control import Order

if TYPE_CHECKING:
    from timerd.sheet.status import Status

_ORDERS = {
    "arm": ("arm", "begin the next sheet of the print that is loaded, with its start prompt"),
    "skip": ("skip", "leave the step that is ready out"),
    "end": ("end", "end the step that is paused here: the rest of it is not owed"),
    "abandon": ("abandon", "stop working on the sheet at hand; it may be taken up again"),
    "set-aside": ("set aside", "the sheet at hand goes into its box, to be taken up later"),
    "tray": ("tray", "the finished sheet goes to the trays (without named baths: it is in the fixer)"),
    "view": ("view", "the next press of go shows the paper-safe light (with no sheet out: the viewing light)"),
    "rest": ("rest", "to idle, when a sheet is done"),
}
_OF_A_STEP = {
    "step": "go to another step of the sheet at hand; what is passed by is still owed",
    "owe": "owe a step again that was ended or skipped in error, and go to it",
}


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    for name, (order, words) in _ORDERS.items():
        add(name, _tell, words).set_defaults(order=order, n=None)
    for order, words in _OF_A_STEP.items():
        sub = add(order, _tell, words)
        sub.set_defaults(order=order)
        sub.add_argument("n", metavar="STEP", type=int, help="its number in the plan")
    take_up = add("take-up", _tell, "take a sheet out of its box again, through a start prompt, owing what it owed")
    take_up.set_defaults(order="take up")
    take_up.add_argument("n", metavar="N", type=int, nargs="?", help="the sheet (the one that is offered)")
    give_up = add("give-up", _tell, "the sheet that was abandoned, or is offered, is given up for good")
    give_up.set_defaults(order="give up")
    words = "the sheet (the one that is offered); also one that the book is damaged of: it is no longer out"
    give_up.add_argument("n", metavar="N", type=int, nargs="?", help=words)


def _tell(args: argparse.Namespace) -> int:
    print(_words(stands(args, Order(args.order, args.n))))
    return 0


def _words(status: Status) -> str:
    """How the bench stands after an order, in one line."""
    from timerd.sheet.telling import white_light_words

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
