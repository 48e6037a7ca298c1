"""Attacks that were tried on timerd: each is a function that does one, and says in a line what it did and what came of
it. What must not come of it is an AssertionError. `tests/measure/attacks.py` does them all; a new one is a function
with `@attack` in any module of this folder.
"""

from __future__ import annotations

import importlib
import os
import pkgutil
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple

from served import LIMIT_S, Served

from timerd.control import SOCKET

PAPER = Path(__file__).parents[2] / "profiles" / "papers" / "demo-resin-pearl.yaml"
LIGHT_S = 1.2
PRINT = f"""\
print: A wall in a hurry
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {{base: long, light: green, seconds: {LIGHT_S}, lead_in: 0.2}}
"""


class Ground:
    """Where one attack is done: an empty folder of its own, and whether seconds or minutes may pass."""

    def __init__(self, folder: Path, short: bool) -> None:
        self.folder, self.short = folder, short

    @contextmanager
    def served(self, bench: str = "two-station") -> Iterator[Served]:
        """A daemon on a simulated bench; it must stand to the end, and have nothing to say but what it offers."""
        one = Served(self.folder, bench)
        try:
            one.start()
            yield one
            assert one.daemon is not None and one.daemon.poll() is None, "the daemon has ended"
            said = [line for line in one.stop().splitlines() if " is unfinished: " not in line]
            assert not said, f"the daemon had something to say: {said}"
        finally:
            one.close()


class Attack(NamedTuple):
    """`number` is where it was told of first: number 7 of issue 15 is 15.7."""

    number: str
    what: str
    do: Callable[[Ground], str]


_ATTACKS: list[Attack] = []


def attack(number: str, what: str) -> Callable[[Callable[[Ground], str]], Callable[[Ground], str]]:
    """Make a function one of the attacks."""

    def take(do: Callable[[Ground], str]) -> Callable[[Ground], str]:
        _ATTACKS.append(Attack(number, what, do))
        return do

    return take


def attacks() -> list[Attack]:
    """All there are, in the order of their numbers."""
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return sorted(_ATTACKS, key=lambda one: ([int(part) for part in one.number.split(".")], one.what))


def raw(served: Served) -> socket.socket:
    """A connection to a daemon that knows no manners."""
    end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    end.settimeout(LIMIT_S)
    folder = os.open(served.run, os.O_RDONLY)  # the name of a socket may have 107 letters
    try:
        end.connect(f"/proc/self/fd/{folder}/{SOCKET}")
    finally:
        os.close(folder)
    return end
