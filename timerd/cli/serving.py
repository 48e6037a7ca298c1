"""The commands around a bench that is served: serve, load, status, press, dark, clear."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.cli.files import files_to_load, read_profile, safe, shown_path, worked
from timerd.cli.parsing import Add
from timerd.cli.standing import stands, told
from timerd.wire.control import AskStatus, ClearFault, LoadPrint, MakeDark, No

if TYPE_CHECKING:
    from timerd.sheet.status import Offered, Status

LONGEST_PRESS_S = 600.0


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    serve = add("serve", _serve, "keep a bench: its lines, pedals, book and socket, until stopped")
    serve.add_argument("--bench", metavar="BENCH", required=True, help="a bench's name, or its file")
    serve.add_argument("--simulated", action="store_true", help="simulated lines in real time; no pin is touched")

    load = add("load", _load, "put a print on the bench that is served; the pedals do the rest")
    load.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    load.add_argument("--sheets", type=int, default=1, metavar="N", help="how many sheets (%(default)s)")
    load.add_argument(
        "--by-step", action="store_true",
        help="box each sheet wherever the bench is set up anew, so that all go through one round before the next",
    )  # fmt: skip

    status = add("status", _status, "say how the bench stands")
    status.add_argument("--follow", action="store_true", help="go on saying it whenever it changes")
    status.add_argument("--json", action="store_true", help="all of it as JSON, a line each time")

    press = add("press", _press, "press a pedal of a simulated bench")
    press.add_argument("pedal", metavar="PEDAL", nargs="?", help="go, end or third, or a contact's whole name")
    press.add_argument("--for", dest="seconds", type=float, default=0.15, metavar="S", help="how long (%(default)s)")
    press.add_argument("--keys", action="store_true", help="press with the keyboard, until q")

    add("dark", _dark, "make everything dark now; without a daemon that answers, by taking the lines from it")
    add("clear", _clear, "clear a fault, once every line reads low")


def _serve(args: argparse.Namespace) -> int:
    from timerd.book.reading import TO_DO
    from timerd.daemon.running import serve
    from timerd.daemon.serving import Daemon
    from timerd.places import home, run_folder

    bench = read_profile("bench", args.bench, args)
    where = home(args.home)

    def ready(daemon: Daemon) -> None:
        lines = "SIMULATED lines" if args.simulated else "real lines"
        print(f"serving '{bench.value.bench}' with {lines}; the book is in {shown_path(where)}; to stop: ^C")
        if not daemon.scheduling.startswith("real time, memory locked"):
            print(f"mind: the keeper is {daemon.scheduling}: light may end some milliseconds late on a busy machine")
        status = daemon.stands()
        for words in status.damaged:
            print(f"mind: {safe(words)}: it is not offered. {TO_DO}")
        if status.unfinished is not None:
            print(_offer_words(status.unfinished))
        if status.sheets_left:
            print(f"the rest of the batch is loaded: {status.sheets_left} more to do")
        sys.stdout.flush()

    serve(bench, where, run_folder(args.home), args.simulated, ready)
    return 0


def _offer_words(offer: Offered) -> str:
    """An unfinished sheet, as it is offered."""
    from timerd.sheet.words import dose_span

    text = f"sheet {offer.sheet} is {'set aside' if offer.aside else 'unfinished'}"
    if offer.given:
        text += f": step {offer.step} was given {dose_span(offer.given_lo or 0.0, offer.given)}"
        if offer.owed is not None:
            text += f", is owed {offer.owed:.1f} s"
    elif offer.step is not None:
        text += f", at step {offer.step}"
    return f"{text}. Hold go for 1 s to take it up; both pedals for 2 s to give it up"


def _run(args: argparse.Namespace) -> Path:
    from timerd.places import run_folder

    return run_folder(args.home)


def _load(args: argparse.Namespace) -> int:
    from timerd.sheet.telling import mind_words

    made = worked(args.print, args, args.by_step)
    plan = made.plan
    status = stands(args, LoadPrint(args.sheets, args.by_step, **files_to_load(made)))
    rounds = 1 + sum(step.kind == "box" for step in plan.steps)
    how = f", in {rounds} rounds" if args.by_step else ""
    print(f"loaded: {plan.print}, {args.sheets} sheet{'s' if args.sheets != 1 else ''}{how}. Hold go for 1 s to arm.")
    for mind in status.mind:
        print(f"mind: {safe(mind_words(mind))}")
    return 0


def _status(args: argparse.Namespace) -> int:
    from timerd.control import ask_status, follow

    def tell(answer: Mapping[str, Any]) -> bool:
        print(json.dumps(answer) if args.json else _status_words(told(answer)), flush=True)
        return True

    if args.follow:
        follow(_run(args), tell)
    else:
        tell(ask_status(_run(args), AskStatus()))
    return 0


def _status_words(status: Status) -> str:
    from timerd.sheet.reason import PedalsOut
    from timerd.sheet.telling import (
        ink_words,
        mind_words,
        reason_words,
        unplugged_words,
        warming_words,
        white_light_words,
    )
    from timerd.sheet.telling.trays import stacks_words

    parts = [status.state]
    if status.sheet is not None:
        parts.append(f"sheet {status.sheet}" + (f", step {status.step}" if status.step is not None else ""))
    if status.burst is not None:
        parts.append(f"{status.burst.light} is on")
    if status.owed:
        parts.append(f"{status.owed:.1f} s owed")
    if status.unfinished is not None:
        parts.append(_offer_words(status.unfinished))
        if status.sheets_left:
            parts.append(f"{status.sheets_left} more to do")
    elif status.sheet is None and status.print is not None:
        parts.append(f"{status.print}, {status.sheets_left} to do")
    parts += stacks_words(status.trays, status.now)
    parts.append(f"white light: {white_light_words(status.white_light_spoils)}")
    if status.reason is not None:
        parts.append(reason_words(status.reason, status.unplugged))
    if status.unplugged and status.reason != PedalsOut():
        parts.append("; ".join(unplugged_words(status.unplugged)))
    if warming := warming_words(status.warming, status.now):
        parts.append(warming)
    if status.not_verified:
        parts.append(f"not verified, no sense input: {', '.join(status.not_verified)}")
    parts += [f"mind: {safe(mind_words(mind))}" for mind in status.mind]
    if status.ink is not None:
        parts.append(ink_words(status.ink))
    if status.simulated:
        parts.append("SIMULATED")
    parts.append(status.scheduling)
    return " · ".join(parts)


def _press(args: argparse.Namespace) -> int:
    from timerd.bench.press import press, press_by_keys

    if args.keys == (args.pedal is not None):
        raise ValueError("press: say which pedal (go or end), or --keys")
    if not 0 <= args.seconds <= LONGEST_PRESS_S:
        raise ValueError(f"--for: must be from 0 to {LONGEST_PRESS_S:g} s, is {args.seconds:g}")
    if args.keys:
        print("g go, e end; G, E held for 1.2 s; b both held for 2.2 s; t third; q ends this", flush=True)
        press_by_keys(_run(args))
    else:
        press(_run(args), args.pedal, args.seconds)
    return 0


def _dark(args: argparse.Namespace) -> int:
    from timerd.bench.lastoff import hurry, last_off
    from timerd.bench.lines import LinesError
    from timerd.control import ControlError, ask

    caution = "Cover the paper and look at the lamps all the same: a welded relay stays on."
    try:
        ask(_run(args), MakeDark(), timeout=0.1)
    except ControlError as said:
        if said.code is No.LINE_HIGH:  # the keeper has done what a last off could do
            raise
        try:
            hurry()
            _, high = last_off(_run(args))
        except LookupError as error:
            raise LookupError(_closed_words() or str(error.args[0])) from None
        except (LinesError, OSError) as error:
            raise OSError(f"NOT dark: {error}. Cover the paper, switch the lamps off at the wall") from None
        if high:
            raise OSError(
                f"NOT dark: {', '.join(high)} reads high. Cover the paper, switch it off at the wall"
            ) from None
        print(f"dark, by the last off: no daemon answered. {caution}")
    else:
        print(f"dark. {caution}")
    return 0


def _closed_words() -> str | None:
    """Where a bench is served that this user may not darken: what to do."""
    from timerd.places import closed_service

    if (closed := closed_service()) is None:
        return None
    return (
        f"NOT dark: the bench is served in {closed}, and this user may not talk to it: say  sudo timerd dark, "
        "or join the group that may. Cover the paper, switch the lamps off at the wall"
    )


def _clear(args: argparse.Namespace) -> int:
    from timerd.control import ask

    ask(_run(args), ClearFault())
    print("cleared: every line reads low. A sheet that was under way is offered again.")
    return 0
