"""Feet on a simulated bench's pedals: by command, or by keys."""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import sys
import termios
import tty
from collections.abc import Iterable
from pathlib import Path

from timerd.bench.lastoff import TOLD
from timerd.bench.pretended import PretendedFoot

_KEYS = {
    "g": (("go",), 0.15), "e": (("end",), 0.15), "G": (("go",), 1.2), "E": (("end",), 1.2), "b": (("go", "end"), 2.2),
    "t": (("third",), 0.15),
}  # fmt: skip


def press(run: Path, pedal: str, seconds: float) -> None:
    """Hold a pedal, by its name or one contact's whole name, down for so long.

    Raises ValueError on a bench with real pedals, LookupError for one that is not there, OSError where none is served.
    """
    _hold(run, [_contact(run, pedal)], seconds)


def press_by_keys(run: Path) -> None:
    """Press as keys are struck on this terminal, until q or the end. Raises as `press` does."""
    contacts = _pedals(run)
    keyboard = sys.stdin.fileno()
    if not os.isatty(keyboard):
        raise ValueError("press --keys: there is no terminal here to strike keys on: say  timerd press go")
    before = termios.tcgetattr(keyboard)
    try:
        tty.setcbreak(keyboard, termios.TCSANOW)  # what was struck already counts
        while (key := sys.stdin.read(1)) not in ("", "q", "\x04"):
            if key in _KEYS and all(pedal in contacts for pedal in _KEYS[key][0]):
                pedals, seconds = _KEYS[key]
                _hold(run, [contacts[pedal] for pedal in pedals], seconds)
    finally:
        termios.tcsetattr(keyboard, termios.TCSADRAIN, before)


def _pedals(run: Path) -> dict[str, str]:
    """The pedals that this bench has, each with a contact of it; `go` it must have."""
    found = {"go": _contact(run, "go")}
    for pedal in ("end", "third"):
        with contextlib.suppress(LookupError):
            found[pedal] = _contact(run, pedal)
    return found


def _contact(run: Path, pedal: str) -> str:
    try:
        told = json.loads((run / TOLD).read_text())
    except OSError as error:
        raise _nobody(error) from None
    if not told["simulated"]:
        raise ValueError("this bench has real pedals: press those")
    names: list[str] = told["rules"]["pedals"]
    found = [name for name in names if name == pedal] or [name for name in names if name.startswith(f"{pedal} ")]
    if not found:
        raise LookupError(f"there is no pedal '{pedal}'; there are {', '.join(names)}")
    return found[0]


def _nobody(error: OSError) -> OSError:
    if isinstance(error, PermissionError):
        return OSError("you may not press here: this bench is served by another user")
    return OSError("no timerd is serving here: start it with  timerd serve --bench BENCH --simulated")


def _hold(run: Path, contacts: Iterable[str], seconds: float) -> None:
    try:
        foot = PretendedFoot(run)
    except OSError as error:
        raise _nobody(error) from None
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(128 + signal.SIGTERM))  # so that the foot is lifted all the same
    try:
        for contact in contacts:
            foot.put(contact, True)
        select.select([], [], [], seconds)
    finally:
        for contact in contacts:
            foot.put(contact, False)
        foot.close()
