"""The command that says how the bench stands."""

from __future__ import annotations

import argparse
import json
from collections.abc import Mapping
from typing import Any

from timerd.cli.parsing import Add
from timerd.cli.standing import told
from timerd.control import ask_status, follow
from timerd.places import run_folder
from timerd.sheet.reason import PedalsOut
from timerd.sheet.safe import safe
from timerd.sheet.status import Offered, Status
from timerd.sheet.telling import ink_words, mind_words, reason_words, unplugged_words, warming_words, white_light_words
from timerd.sheet.telling.trays import stacks_words
from timerd.sheet.words import dose_span
from timerd.wire.control import AskStatus


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    status = add("status", _status)
    status.add_argument("--follow", action="store_true", help="go on saying it whenever it changes")
    status.add_argument("--json", action="store_true", help="all of it as JSON, a line each time")


def _status(args: argparse.Namespace) -> int:
    def tell(answer: Mapping[str, Any]) -> bool:
        print(json.dumps(answer) if args.json else _words(told(answer)), flush=True)
        return True

    if args.follow:
        follow(run_folder(args.home), tell)
    else:
        tell(ask_status(run_folder(args.home), AskStatus()))
    return 0


def short_words(status: Status) -> str:
    """Where the printer is: what is asked for, what burns, what is owed, why something was not taken."""
    parts = [status.state, *_at_hand(status)]
    parts += list(status.asks or ())
    if status.reason is not None:
        parts.append(reason_words(status.reason, status.unplugged))
    return " · ".join(parts)


def _at_hand(status: Status) -> list[str]:
    parts = []
    if status.sheet is not None:
        parts.append(f"sheet {status.sheet}" + (f", step {status.step}" if status.step is not None else ""))
    if status.burst is not None:
        parts.append(f"{status.burst.light} is on")
    if status.owed:
        parts.append(f"{status.owed:.1f} s owed")
    return parts


def _words(status: Status) -> str:
    parts = [status.state, *_at_hand(status)]
    if status.unfinished is not None:
        parts.append(offer_words(status.unfinished))
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


def offer_words(offer: Offered) -> str:
    """An unfinished sheet, as it is offered."""
    text = f"sheet {offer.sheet} is {'set aside' if offer.aside else 'unfinished'}"
    if offer.given:
        text += f": step {offer.step} was given {dose_span(offer.given_lo or 0.0, offer.given)}"
        if offer.owed is not None:
            text += f", is owed {offer.owed:.1f} s"
    elif offer.step is not None:
        text += f", at step {offer.step}"
    return f"{text}. Hold go for 1 s to take it up; both pedals for 2 s to give it up"
