"""From when on white light is safe: by the bath line, too soon out of the fixer, after a restart, and of old books."""

from __future__ import annotations

from typing import Any

import pytest
from records import wrote
from sheet.trays.evening import SIX, plan_on
from walks.engine_walk import BENCH

from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Progress, Record
from timerd.sheet.refusal import NotSafe
from timerd.sheet.telling.trays import cue_text
from timerd.sheet.trays import events as tr
from timerd.sheet.trayside import TraySide

AT_TRAYS = Bench.model_validate({**BENCH.model_dump(), "pedals": {
    "go": [{"pin": 5}, {"pin": 13, "station": "trays"}], "end": [{"pin": 6}],
}})  # fmt: skip
"""A `go` at the trays; the other bench has none, there sheets go by the clock."""
GO = "go 1, enlarger"
FIXER = {"name": "fixer", "kind": "fixer"}
NO_FIXER = {**SIX, "baths": [bath for bath in SIX["baths"] if bath["kind"] != "fixer"]}


class Baths:
    """A sheet that is done, and goes to its baths by a press at 0, with a daemon that may be gone for a while."""

    def __init__(self, bench: Bench, line: dict[str, Any] | None = SIX) -> None:
        self.bench, self.now = bench, 0.0
        plan = plan_on(SIX if line is None else line).model_copy(update={"bench": bench.bench})
        self.plans: dict[int, Plan] = {1: plan if line is not None else plan.model_copy(update={"baths": None})}
        self.records = [
            wrote("armed", -30.0, 1, facts={"print": "x", "steps": [[1, "develop", 0.0, False]]}),
            wrote("sheet out", -20.0, 1, 1), wrote("done", -10.0, 1),
        ]  # fmt: skip
        self.cues: list[tr.TrayCue] = []
        self.begin(0.0)
        assert (self.white, self.engine.standing.goes_to) == (
            NotSafe(1, "is out"), {1: "fixer" if line is None else "trays"}
        )  # fmt: skip
        self.press("go 1, everywhere" if bench is AT_TRAYS else GO, 0.0)

    def begin(self, at: float) -> None:
        """A daemon begins from the records alone."""
        self.now = at
        self.records.append(wrote("started", at))
        self.engine = Engine(self.bench, Progress(self.records), dict(self.plans))
        self.trayside = TraySide(self.engine.standing, self.records, self.records, self.records, at)
        self._keep(self.trayside.do(tr.TrayWake(at), at))

    def until(self, at: float) -> None:
        while (due := self.trayside.wake_at) is not None and due <= at:
            self.now = max(self.now, due)
            self._keep(self.trayside.do(tr.TrayWake(self.now), self.now))
        self.now = max(self.now, at)

    def press(self, pedal: str, at: float) -> None:
        self.until(at)
        for down in (True, False):
            event = ev.Edge(pedal, down, self.now, len(self.records) + down)
            actions = self.engine.handle(event, self.now)
            self.records += [action for action in actions if isinstance(action, Record)]
            self._keep(self.trayside.see(event, actions, self.now))

    def command(self, event: tr.Event) -> None:
        self._keep(self.trayside.do(event, self.now))

    def _keep(self, actions: list[tr.Action]) -> None:
        self.records += [action for action in actions if isinstance(action, Record)]
        self.cues += [action for action in actions if isinstance(action, tr.TrayCue)]
        assert Progress(self.records).sensitive == self.engine.standing.progress.sensitive, "a fold, and no more"

    @property
    def white(self) -> Any:
        return self.engine.standing.white_light_spoils

    def safe_at(self) -> float | None:
        """When it was written down, or was told."""
        kinds = ("safe in white light", "out of the baths")
        return next((record.at for record in self.records if record.kind in kinds), None)


@pytest.mark.parametrize(
    ("line", "safe_at"),
    [
        (SIX, 180.0),  # in at 150; half of 60 s
        ({**SIX, "white_light": {"bath": "fixer-1", "after_s": 45.0}}, 195.0),
        ({**SIX, "white_light": {"after_s": 100.0}}, 250.0),  # goes on in the second fixer
        ({**SIX, "white_light": {"bath": "fixer-2"}}, 240.0),
        ({**SIX, "white_light": {"bath": "hypo-clear"}}, 270.0 + 300.0),
        (NO_FIXER, 150.0 + 600.0 + 300.0),
        ({**SIX, "baths": [*SIX["baths"][:2], {**FIXER, "seconds": 20.0}, SIX["baths"][5]]}, 180.0),
        ({**SIX, "baths": [*SIX["baths"][:2], {**FIXER, "seconds": 200.0}]}, 250.0),
    ],
)  # fmt: skip
def test_by_the_clock_it_is_safe_when_the_line_says(line: dict[str, Any], safe_at: float) -> None:
    baths = Baths(BENCH, line)
    baths.until(safe_at - 0.01)
    assert baths.white.where.startswith("in the ")
    baths.until(safe_at)
    assert (baths.white, baths.safe_at()) == (None, pytest.approx(safe_at))
    assert [(cue.at, cue_text(cue)) for cue in baths.cues if cue.what == "safe"] == [
        (pytest.approx(safe_at), "white light is safe")
    ]
    baths.until(2000.0)
    assert [record.kind for record in baths.records].count("safe in white light") <= 1


def test_a_sheet_that_leaves_its_fixer_too_soon_is_not_safe_until_it_is_out_of_the_baths() -> None:
    """One fixer of 60 s. Pressed on after 10 s, twice, it is in the wash by what it says, fixed or not."""
    line = {**SIX, "baths": [*SIX["baths"][:3], SIX["baths"][5]]}
    line["baths"][2] = {**line["baths"][2], "followed_by": None}
    for left, safe_at in ((10.0, 466.0), (31.0, 185.0)):
        baths = Baths(AT_TRAYS, line)
        for at in (5.0, 125.0, 155.0, 155.0 + left, 156.0 + left):
            baths.press("go 2, trays", at)
        assert [record.facts["bath"] for record in baths.records if record.kind == "in bath"][-1] == "wash"
        assert baths.white == (NotSafe(1, "in the wash") if left == 10.0 else None)
        baths.press("go 2, trays", 466.0)
        assert (baths.white, baths.safe_at()) == (None, safe_at)


# -- what was interrupted ------------------------------------------------------------------------------------------


def test_by_the_clock_a_sheet_short_of_the_fixer_stays_not_yet_until_a_press_says_it_is_there() -> None:
    """In the stop bath from 130; nobody is there from 140 to 400. All moves are told then, and nobody may be listening:
    it is told out of its last bath, too, and white light is still not safe."""
    baths = Baths(BENCH)
    baths.until(140.0)
    assert baths.white == NotSafe(1, "in the stop bath")
    baths.begin(400.0)
    assert baths.white == NotSafe(1, "not confirmed")
    baths.until(5000.0)
    assert {"fixer-1", "wash"} <= {record.facts["bath"] for record in baths.records if record.kind == "in bath"}
    assert (baths.white, baths.safe_at()) == (NotSafe(1, "not confirmed"), None)
    assert baths.engine.standing.goes_to == {1: "fixer"}
    baths.begin(6000.0)  # and again: what was told meanwhile proves nothing
    baths.until(7000.0)
    assert baths.white == NotSafe(1, "not confirmed")
    baths.press(GO, 7100.0)
    assert (baths.white, baths.engine.standing.goes_to) == (NotSafe(1, "in the fixer"), {})
    pressed = next(record.at for record in baths.records if record.kind == "in the fixer")
    baths.until(pressed + 29.99)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(pressed + 30.0)
    assert (baths.white, baths.safe_at()) == (None, pressed + 30.0)
    assert baths.trayside.trays.stays.of == {}, "what was kept in its last bath leaves it now"
    assert len([record for record in baths.records if record.kind == "under safelight"]) == 1


def test_a_command_says_it_too() -> None:
    baths = Baths(BENCH)
    baths.until(100.0)
    baths.begin(101.0)
    baths.until(3000.0)
    assert baths.white == NotSafe(1, "not confirmed")
    baths.command(tr.TakeOut(1, baths.now))
    assert baths.white is None


def test_a_sheet_that_was_in_its_fixer_lies_there_its_seconds_once_more() -> None:
    """In at 150; gone at 179, a second before it would have been safe; there again at 180. Nothing of it counts."""
    baths = Baths(BENCH)
    baths.until(179.0)
    baths.begin(180.0)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(209.99)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(210.0)
    assert baths.white is None


def test_a_pedal_at_the_trays_says_where_a_sheet_is() -> None:
    baths = Baths(AT_TRAYS)
    for at in (5.0, 125.0):
        baths.press("go 2, trays", at)
    baths.begin(1000.0)
    assert (baths.white, baths.engine.standing.goes_to) == (NotSafe(1, "not confirmed"), {})
    baths.press("go 1, everywhere", 1010.0)
    assert baths.white == NotSafe(1, "not confirmed"), "that one says nothing here"
    baths.press("go 2, trays", 1020.0)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(1050.2)
    assert baths.white is None


def test_a_sheet_without_baths_that_was_said_to_be_in_the_fixer_lies_there_anew() -> None:
    baths = Baths(BENCH, None)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.begin(20.0)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(49.99)
    assert baths.white == NotSafe(1, "in the fixer")
    baths.until(50.0)
    assert baths.white is None


# -- what an older timerd wrote ------------------------------------------------------------------------------------


def old(*kinds: str) -> Progress:
    facts: dict[str, Any] = {"print": "x", "steps": [[1, "develop", 0.0, False]], "boxed": False, "bath": "stop"}
    return Progress(
        wrote(kind, float(at), 1, facts=facts) for at, kind in enumerate(("armed", "sheet out", "done", *kinds))
    )


def test_an_old_book_says_the_same_or_what_is_safer() -> None:
    """A press at done without baths was written as `stop bath`, and was the last of it; with baths more followed."""
    assert old().sensitive == [1]
    assert old("stop bath").sensitive == []
    assert old("to trays", "in bath", "stop bath").sensitive == [1], "told as safe then, and it was not"
    assert old("to trays", "in bath", "stop bath", "in bath", "out of the baths").sensitive == []
    assert (old("stop bath").sheets_out, old("to trays", "in bath", "stop bath").sheets_out) == ([], [])


def test_the_bath_and_the_seconds_of_a_line() -> None:
    def begins(**line: Any) -> Any:
        found = BathLine.model_validate({**SIX, **line}).white_from
        return None if found is None else tuple(found)

    assert begins() == (2, 30.0, 30.0)
    assert begins(white_light={"after_s": 5.0}) == (2, 5.0, 30.0)
    assert begins(white_light={"bath": "wash"}) == (5, 150.0, 150.0)
    assert begins(baths=NO_FIXER["baths"]) is None
