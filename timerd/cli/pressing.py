"""The command that presses a pedal of a simulated bench."""

from __future__ import annotations

import argparse

from timerd.bench.press import press, press_by_keys
from timerd.cli.parsing import Add
from timerd.places import run_folder

LONGEST_PRESS_S = 600.0


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    press = add("press", _press)
    press.add_argument("pedal", metavar="PEDAL", nargs="?", help="go, end or third, or a contact's whole name")
    press.add_argument("--for", dest="seconds", type=float, default=0.15, metavar="S", help="how long (%(default)s)")
    press.add_argument("--keys", action="store_true", help="press with the keyboard, until q")


def _press(args: argparse.Namespace) -> int:
    if args.keys == (args.pedal is not None):
        raise ValueError("press: say which pedal (go or end), or --keys")
    if not 0 <= args.seconds <= LONGEST_PRESS_S:
        raise ValueError(f"--for: must be from 0 to {LONGEST_PRESS_S:g} s, is {args.seconds:g}")
    if args.keys:
        print("g go, e end; G, E held for 1.2 s; b both held for 2.2 s; t third; q ends this", flush=True)
        press_by_keys(run_folder(args.home))
    else:
        press(run_folder(args.home), args.pedal, args.seconds)
    return 0
