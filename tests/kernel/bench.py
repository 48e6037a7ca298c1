"""A bench on the simulated chip: its lines by name, what they did, and feet on its pedals. For `inside/` alone."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from served import Served, stand_still

from kernel.chip import Chip, Driven
from timerd.bench.contacts import LOCK_OUT_S
from timerd.bench.lines import HEARTBEAT, SAFELIGHT
from timerd.bench.setup import to_keep
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read

LOW = """\
bench: low
stations: {enlarger: {turn: 0}}
lamps:
  green: {pin: 4, station: enlarger, lag_s: 0, active: low}
  blue: {pin: 7, station: enlarger, lag_s: 0, active: low}
lights:
  green: {lamp: green, colour: green}
  blue: {lamp: blue, colour: blue}
viewing: green
safelight: {pin: 8, active: low}
pedals: {go: [{pin: 5, pull: up}], end: [{pin: 13, pull: down}]}
heartbeat: {pin: 26}
"""
"""Relays that come on by a low line: the board's own resistors hold them high at rest."""


def low_bench() -> Bench:
    """The bench of `LOW`."""
    found = read(LOW.encode(), "low.yaml", "bench")
    assert isinstance(found.value, Bench), found.faults
    return found.value


class Wired:
    """The lines of a bench on the chip, each held at rest from outside as its resistor does."""

    def __init__(self, chip: Chip, bench: Bench) -> None:
        self.chip = chip
        self.facts = to_keep(bench, simulated=False, book="book", boot="boot")
        self.outputs: Mapping[str, Any] = self.facts.wiring["outputs"]
        self.contacts: Mapping[str, Any] = self.facts.wiring["contacts"]
        for out in self.outputs.values():
            chip.pull(out["pin"], out["active"] == "low")
        for contact in self.contacts.values():
            if "pin" in contact:
                chip.pull(contact["pin"], contact["pull"] == "up")

    def foot(self, contact: str, down: bool) -> None:
        """Close a contact, or open it."""
        wired = self.contacts[contact]
        self.chip.pull(wired["pin"], (wired["pull"] == "up") != down)

    def bounce(self, contact: str, down: bool, times: int) -> float:
        """Close a contact, or open it, to and fro so many times, as a worn one does; how long that took, in seconds."""
        begun = time.monotonic()
        for time_ in range(times):
            self.foot(contact, down == (time_ % 2 == 0))
        assert times % 2, "it ends where it began to go"
        took = time.monotonic() - begun
        stand_still(3 * LOCK_OUT_S)
        return took

    def tap(self, contact: str, seconds: float = 0.06) -> None:
        """A press of so long."""
        self.foot(contact, True)
        stand_still(seconds)
        self.foot(contact, False)

    def changes(self) -> dict[str, list[tuple[float, bool]]]:
        """Every change of every line, as active or not: nothing for a line that stayed at rest all the while."""
        driven = self.chip.driven()
        found = {}
        for name, out in self.outputs.items():
            high = out["active"] == "high"
            if changed := _changes(driven.get(out["pin"], []), high):
                found[name] = changed
        return found

    def edges(self) -> list[dict[str, Any]]:
        """What the lamps and the safelight did, as the pretended lines tell it."""
        edges = [
            {"t": at, "line": name, "on": active != (name == SAFELIGHT)}
            for name, changes in self.changes().items() if name != HEARTBEAT
            for at, active in changes
        ]  # fmt: skip
        return sorted(edges, key=lambda edge: edge["t"])

    def levels(self) -> dict[str, bool]:
        """Which lines are active, by a meter."""
        return {name: self.chip.level(out["pin"]) == (out["active"] == "high") for name, out in self.outputs.items()}


def _changes(driven: Sequence[Driven], high: bool) -> list[tuple[float, bool]]:
    """Changes of one line, as active or not; where nothing drives it, it is at rest."""
    changes, active = [], False
    for at, _, level in driven:
        now = level is not None and level == high
        if now != active:
            changes.append((at, now))
            active = now
    return changes


class ServedLines(Served):
    """A real `timerd serve` on the chip's lines, with feet on its pedals."""

    lines = ()

    def __init__(self, folder: Path, wired: Wired, bench: str = "two-station") -> None:
        super().__init__(folder, bench)
        self.wired = wired

    def truth(self) -> list[dict[str, Any]]:
        return self.wired.edges()

    def hold(self, *contacts: str, seconds: float = 1.2) -> None:
        for contact in contacts:
            self.wired.foot(contact, True)
        stand_still(seconds)
        for contact in contacts:
            self.wired.foot(contact, False)

    def tap(self, contact: str) -> float:
        self.wired.tap(contact)
        return 0.0

    def press(self, pedal: str, seconds: float) -> None:
        """For `served.printing`."""
        self.wired.tap(pedal, seconds)
