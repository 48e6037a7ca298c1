"""Trays in virtual time: invented bath lines, events at their times, and what came out as text."""

from __future__ import annotations

from typing import Any

from records import wrote

from timerd.sheet.plan.value import Plan, Sheet
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.record import Record
from timerd.sheet.telling.trays import cue_text
from timerd.sheet.trays import events as ev
from timerd.sheet.trays.machine import Trays
from timerd.sheet.trays.stays import Stays
from timerd.sheet.trays.stock import Stock

SIX = {
    "bath": "six", "base": "fibre", "carry_s": 10.0,
    "baths": [
        {"name": "developer", "kind": "developer", "seconds": 120.0, "drain_s": 10.0, "per_degree": 0.08,
         "capacity": {"fibre": 50.0, "resin": 100.0}},
        {"name": "stop", "kind": "stop bath", "seconds": 10.0, "drain_s": 10.0, "drain": "outside"},
        {"name": "fixer-1", "kind": "fixer", "seconds": 60.0, "drain_s": 10.0, "capacity": {"fibre": 50.0},
         "followed_by": "fixer-2"},
        {"name": "fixer-2", "kind": "fixer", "seconds": 60.0, "drain_s": 10.0},
        {"name": "hypo-clear", "kind": "hypo clear", "seconds": 600.0},
        {"name": "wash", "kind": "wash", "seconds": 300.0},
    ],
}  # fmt: skip
"""No rhythm: agitation has its own tests."""


def plan_on(line: dict[str, Any], base: str = "fibre", width: float = 203.2, height: float = 254.0) -> Plan:
    """A plan that ends in a bath line."""
    return Plan(
        print="A stair", negative=None, paper="demo", bench="b", steps=(), cautions=(), totals=(), lamp_seconds=0.0,
        sheet=Sheet(width=width, height=height, image=(0.0, 0.0, width, height), image_given=False),
        baths=BathLine.model_validate(line), base=base,
    )  # fmt: skip


class Evening:
    """The trays' machine and the daemon's part: events at their times, and wakes when they are asked for."""

    def __init__(self, line: dict[str, Any], by_press: bool = False, end_there: bool = False, **plan: Any) -> None:
        self.plans: dict[int, Plan] = {}
        self.line, self.plan_facts = line, plan
        self.by_press, self.end_there = by_press, end_there
        self.now = 0.0
        self.records: list[Record] = []
        self.cues: list[ev.TrayCue] = []
        self.trays = Trays(Stays(self.plans, by_press), Stock(), end_there)

    def restarted(self, at: float) -> None:
        """The daemon is gone from now until `at`; a new one reads the book."""
        self.now = at
        self.trays = Trays(Stays(self.plans, self.by_press, self.records), Stock(self.records), self.end_there, at)
        self.event(ev.TrayWake(at))

    def until(self, at: float) -> None:
        """Let time pass."""
        while (due := self.trays.wake_at) is not None and due <= at:
            assert due >= self.now - 1e-9, "asked to be woken in the past"
            self.now = max(self.now, due)
            self.event(ev.TrayWake(self.now))
        self.now = max(self.now, at)

    def event(self, event: ev.Event) -> list[ev.Action]:
        """Something happens now."""
        actions = self.trays.handle(event, self.now)
        self.records += [action for action in actions if isinstance(action, Record)]
        self.cues += [action for action in actions if isinstance(action, ev.TrayCue)]
        return actions

    def send(self, sheet: int, at: float, boxed: bool = False) -> None:
        """A sheet's `go` at done."""
        self.until(at)
        self.plans[sheet] = plan_on(self.line, **self.plan_facts)
        record = wrote("to trays", at, sheet, facts={"boxed": boxed})
        self.records.append(record)
        self.event(ev.ToTrays(record))

    def press(self, at: float, pedal: str = "go") -> None:
        self.until(at)
        self.event(ev.Press(pedal, at))

    def burns(self, at: float, burns: bool) -> None:
        self.until(at)
        self.event(ev.Exposing(burns, at))

    def temperature(self, at: float, bath: str, celsius: float) -> None:
        self.until(at)
        self.event(ev.Temperature(bath, celsius, at))

    # -- what came out ---------------------------------------------------------------------------------------------

    def told(self, *without: str) -> list[str]:
        """The records of the wet side, a line each; without some kinds of them."""
        return [_line(record) for record in self.records if record.kind not in without]

    def heard(self, *without: str) -> list[str]:
        """The cues: when, softly or not, and the words, or the name where it is only a sound."""
        return [
            f"{cue.at:.1f} {'softly ' if cue.soft else ''}{cue_text(cue) or f'{cue.what} {cue.bath}'}"
            for cue in self.cues if cue.what not in without
        ]  # fmt: skip


def _line(record: Record) -> str:
    facts = record.facts
    text = f"{record.at:.1f} {record.kind}"
    match record.kind:
        case "in bath":
            text += f": {facts['bath']}, batch {facts['batch']}, {facts['celsius']:g} C, {facts['planned_s']:.1f} s"
        case "bath time":
            text += f": {facts['planned_s']:.1f} s, {facts['celsius']:g} C"
            text += f", image at {facts['emerged_s']:.1f}" if "emerged_s" in facts else ""
        case "out of bath":
            text += f": {facts['bath']}, {facts['planned_s']:.1f} planned, {facts['actual_s']:.1f} actual"
            text += f", {facts['late_s']:+.1f}, {facts['by']}" + (", approximate" if "approximate" in facts else "")
        case "temperature":
            text += f": {facts['bath']} {facts['celsius']:g}"
        case "refused":
            text += f": {facts['why']}"
    return f"{record.sheet} {text}" if record.sheet else text
