"""The commands that move sheets at the trays."""

from __future__ import annotations

import argparse

from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.sheet.refusal import NoSheetAtTrays
from timerd.sheet.status import Status
from timerd.sheet.telling import refusal_words
from timerd.sheet.telling.trays import stacks_words
from timerd.wire.control import LeaveBaths, OfBaths, StartBaths


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    add("start", _start)
    leave = add("leave", _leave)
    leave.add_argument("sheet", metavar="N", type=int, help="its number")


def _start(args: argparse.Namespace) -> int:
    _print_stacks(ask_trays(args, StartBaths()))
    return 0


def _leave(args: argparse.Namespace) -> int:
    _print_stacks(ask_trays(args, LeaveBaths(args.sheet)))
    return 0


def ask_trays(args: argparse.Namespace, request: OfBaths) -> Status:
    """What the daemon answers to a request about the baths."""
    return stands(args, request)


def _print_stacks(status: Status) -> None:
    print("\n".join(stacks_words(status.trays, status.now)) or refusal_words(NoSheetAtTrays()))
