"""What was done to each sheet: facts, appended and never changed. Where a sheet stands is a fold over them.

The engine keeps no other account of progress than this fold, so what it owes a sheet and what the records say is
owed cannot drift apart. Doses are seconds of full light; times are the keeper's monotonic seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

NEAR_ENOUGH = 1 - 2 ** (-1 / 1000)
"""Owed under 1/1000 stop of a step counts as given: this share of its dose."""


class Record(NamedTuple):
    """One fact. `sheet`, `step` and `burst` are 0 where the fact is not about one."""

    kind: str
    at: float
    sheet: int = 0
    step: int = 0
    burst: int = 0
    facts: Mapping[str, Any] = {}

    def as_json(self) -> dict[str, Any]:
        """The record as it is exported: its own facts beside the common ones."""
        return {
            "kind": self.kind, "at": round(self.at, 6), "sheet": self.sheet or None, "step": self.step or None,
            "burst": self.burst or None,
            **{key: round(fact, 9) if isinstance(fact, float) else fact for key, fact in self.facts.items()},
        }  # fmt: skip


class Burning(NamedTuple):
    """A burst that the records saw begin and not end: when it was lit, for how long it was asked for, and for how long
    it is known to have burned."""

    burst: int
    step: int
    lit: float
    seconds: float
    so_far: float


@dataclass(slots=True)
class StepProgress:
    """What one step of a sheet was to get and has got. `planned` is None where no dose is planned (free)."""

    n: int
    kind: str
    planned: float | None
    light: bool
    given: float = 0.0
    given_lo: float = 0.0
    bursts: list[tuple[float, float]] = field(default_factory=list)
    ended_by: str | None = None
    under_way: float = 0.0

    @property
    def most(self) -> float:
        """What may have been given at the most: a burst that has begun counts whole until its end is known."""
        return self.given + self.under_way

    @property
    def owed(self) -> float:
        """Dose still to give, counted from the most that may have been given; 0 once ended or near enough."""
        if self.planned is None or self.ended_by in ("dose", "printer", "skipped"):
            return 0.0
        owed = self.planned - self.most
        return owed if owed > self.planned * NEAR_ENOUGH else 0.0

    def owed_until(self, part: float) -> float:
        """Dose still to give until `part` of the step's dose is reached; 0 when near enough."""
        owed = part - self.most
        return owed if self.planned is not None and owed > self.planned * NEAR_ENOUGH else 0.0

    @property
    def owed_slack(self) -> float:
        """How near to a dose counts as given."""
        return (self.planned or 0.0) * NEAR_ENOUGH

    @property
    def exact(self) -> bool:
        """Whether the dose given is known, or only lies between `given_lo` and `given`."""
        return math.isclose(self.most, self.given_lo, rel_tol=1e-9, abs_tol=1e-9)


@dataclass(slots=True)
class SheetProgress:
    """Where one sheet stands. `out` from `sheet out` until it is in the stop bath, in its box or given up; `at_trays`
    once it is done and in the printer's hands for the baths; `may_light` while a
    press may start a light, so that one may have begun of which nothing was written down."""

    sheet: int
    steps: dict[int, StepProgress]
    at_hand: int = 1
    outcome: str = "unfinished"
    out: bool = False
    at_trays: bool = False
    given_up: bool = False
    burning: Burning | None = None
    may_light: bool = False

    @property
    def resumable(self) -> bool:
        """Whether the sheet may be taken up again."""
        return self.outcome in ("unfinished", "abandoned", "fault") and not self.given_up

    @property
    def owed(self) -> float:
        """Dose still to give to the step at hand."""
        step = self.steps.get(self.at_hand)
        return step.owed if step is not None else 0.0

    def as_json(self) -> dict[str, Any]:
        """One element of `sheets`: every step with what was planned and given, its bursts and who ended it."""
        return {
            "sheet": self.sheet,
            "outcome": self.outcome,
            "steps": [_step_json(step) for step in self.steps.values()],
        }


def _step_json(step: StepProgress) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "n": step.n,
        "kind": step.kind,
        "planned": None if step.planned is None else round(step.planned, 9),
        "given": round(step.most, 9),
    }
    if not step.exact:
        facts |= {"given_lo": round(step.given_lo, 9), "given_hi": round(step.most, 9)}
    bursts = [[round(on, 6), round(off, 6)] for on, off in step.bursts]
    return facts | {"bursts": bursts, "ended_by": step.ended_by}


class Progress:
    """All sheets of a book, or of a rehearsal, as their records tell."""

    def __init__(self, records: Iterable[Record] = ()) -> None:
        self.sheets: dict[int, SheetProgress] = {}
        self.last_burst = 0
        self.fault: str | None = None
        for record in records:
            self.apply(record)

    def apply(self, record: Record) -> None:
        """Take in one more fact. A kind that this version does not know changes nothing."""
        if record.burst > self.last_burst:
            self.last_burst = record.burst
        act = _FOLD.get(record.kind)
        if act is not None:
            act(self, record)

    @property
    def unfinished(self) -> SheetProgress | None:
        """The last sheet that may be taken up again, if it was not followed by another."""
        last = self.sheets[max(self.sheets)] if self.sheets else None
        return last if last is not None and last.resumable else None

    @property
    def sheets_out(self) -> list[int]:
        """The sheets that white light would spoil."""
        return [sheet.sheet for sheet in self.sheets.values() if sheet.out]

    # -- one method a kind of record ------------------------------------------------------------------------------

    def _armed(self, record: Record) -> None:
        steps = [StepProgress(n, kind, planned, light) for n, kind, planned, light in record.facts["steps"]]
        self.sheets[record.sheet] = SheetProgress(record.sheet, {step.n: step for step in steps})

    def _sheet_out(self, record: Record) -> None:
        self.sheets[record.sheet].out = True

    def _passed(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.steps[record.step].ended_by = "printer"
        sheet.at_hand = record.step + 1

    def _lit(self, record: Record) -> None:
        if record.sheet:
            sheet = self.sheets[record.sheet]
            sheet.steps[record.step].under_way = record.facts["most"]
            sheet.burning = Burning(record.burst, record.step, record.facts["lit"], record.facts["seconds"], 0.0)

    def _so_far(self, record: Record) -> None:
        burning = self.sheets[record.sheet].burning
        if burning is not None and burning.burst == record.burst:
            self.sheets[record.sheet].burning = burning._replace(so_far=record.facts["seconds"])

    def _ready(self, record: Record) -> None:
        self.sheets[record.sheet].may_light = True

    def _stood_still(self, record: Record) -> None:
        """The daemon was stopped in good order, or has just begun and taken in what was left: nothing is unwritten."""
        for sheet in self.sheets.values():
            sheet.may_light = False

    def _dark(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        step = sheet.steps[record.step]
        sheet.burning = None
        step.bursts.append((record.facts["lit"], record.facts["dark"]))
        step.under_way = 0.0
        step.given += record.facts["given"]
        step.given_lo += record.facts.get("given_lo", record.facts["given"])

    def _recovered(self, record: Record) -> None:
        """How a burst ended, or may have been, that nobody wrote down at the time."""
        sheet = self.sheets[record.sheet]
        sheet.burning = None
        step = sheet.steps[record.step]
        if record.facts["lit"] is not None:
            step.bursts.append((record.facts["lit"], record.facts["dark"]))
        step.under_way = 0.0
        step.given += record.facts["given"]
        step.given_lo += record.facts["given_lo"]

    def _line_low(self, record: Record) -> None:
        """A light that was not verified dark now is: it may have burned until here."""
        step = self.sheets[record.sheet].steps[record.step]
        step.bursts[-1] = (step.bursts[-1][0], record.at)
        step.given += record.facts["more"]

    def _ended(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.steps[record.step].ended_by = record.facts["by"]
        sheet.at_hand = record.step + 1
        sheet.may_light = False

    def _done(self, record: Record) -> None:
        self.sheets[record.sheet].outcome = "complete"

    def _to_trays(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.at_trays, sheet.out = True, not record.facts["boxed"]
        self._developed(sheet)

    def _out_of_the_box(self, record: Record) -> None:
        self.sheets[record.sheet].out = True

    def _stop_bath(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out = False
        self._developed(sheet)

    def _developed(self, sheet: SheetProgress) -> None:
        if (last := sheet.steps.get(sheet.at_hand)) is not None and last.kind == "develop":
            last.ended_by = "printer"

    def _out_of_the_baths(self, record: Record) -> None:
        if (sheet := self.sheets.get(record.sheet)) is not None:
            sheet.out = False

    def _stopped(self, record: Record) -> None:
        if record.kind == "fault":
            self.fault = record.facts["why"]
        sheet = self.sheets.get(record.sheet)
        if sheet is None or sheet.outcome == "complete":
            return
        sheet.outcome = record.kind
        sheet.may_light = False
        step = sheet.steps.get(sheet.at_hand)
        if step is not None and step.light and step.ended_by is None:
            step.ended_by = record.kind

    def _cleared(self, record: Record) -> None:
        self.fault = None
        if (sheet := self.sheets.get(record.sheet)) is not None and sheet.outcome == "fault":
            sheet.outcome = "unfinished"
            step = sheet.steps.get(sheet.at_hand)
            if step is not None and step.ended_by == "fault":
                step.ended_by = None

    def _taken_up(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.outcome = "unfinished"
        step = sheet.steps.get(sheet.at_hand)
        if step is not None:
            sheet.may_light = step.light
            if step.ended_by in ("abandoned", "fault"):
                step.ended_by = None

    def _given_up(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out, sheet.given_up, sheet.outcome = False, True, "abandoned"
        sheet.may_light = False
        step = sheet.steps.get(sheet.at_hand)
        if step is not None and step.light and step.ended_by is None:
            step.ended_by = "abandoned"


_FOLD = {
    "armed": Progress._armed,
    "sheet out": Progress._sheet_out,
    "passed": Progress._passed,
    "ready": Progress._ready,
    "lit": Progress._lit,
    "so far": Progress._so_far,
    "dark": Progress._dark,
    "recovered": Progress._recovered,
    "line low": Progress._line_low,
    "ended": Progress._ended,
    "done": Progress._done,
    "to trays": Progress._to_trays,
    "out of the box": Progress._out_of_the_box,
    "stop bath": Progress._stop_bath,
    "out of the baths": Progress._out_of_the_baths,
    "abandoned": Progress._stopped,
    "fault": Progress._stopped,
    "cleared": Progress._cleared,
    "taken up": Progress._taken_up,
    "given up": Progress._given_up,
    "stopped": Progress._stood_still,
    "started": Progress._stood_still,
}
