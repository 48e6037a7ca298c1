"""The wet side on the simulated bench: what pedals may do where, and the safelight's sums against the line itself."""

from __future__ import annotations

from typing import Any

import pytest
from records import wrote
from sheet.trays.evening import SIX
from walks.engine_walk import BENCH, PLAN, EngineWalk, walk

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.simulated import LineEdge, SimulatedBench
from timerd.sheet.engine import events as ev
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Record
from timerd.sheet.refusal import NotSafe, refusal_of
from timerd.sheet.session import Session
from timerd.sheet.telling.trays import cue_text

WITH_GO = Bench.model_validate({**BENCH.model_dump(), "pedals": {
    "go": [{"pin": 5}, {"pin": 13, "station": "trays"}], "end": [{"pin": 6}, {"pin": 19, "station": "trays"}],
}})  # fmt: skip
"""A `go` and an `end` at the trays, one of each elsewhere."""


def plan(**line: Any) -> Plan:
    """Two lights of 3 s of lead-in, 6 and 2 s long, then six baths; the paper is safe for 100 s."""
    base = {"station": "enlarger", "then_next": False, "lead_in": 3.0}
    steps = (
        PLAN.steps[0].model_copy(update={"station": "enlarger", "set_up": PLAN.steps[3].set_up}),
        PLAN.steps[3].model_copy(update={**base, "n": 2, "parts": (6.0,)}),
        PLAN.steps[4].model_copy(update={**base, "n": 3}),
    )
    baths = BathLine.model_validate({**SIX, **line})
    return PLAN.model_copy(update={"steps": steps, "baths": baths, "base": "fibre", "safelight_s": 100.0})


class Played:
    """A simulated bench with that plan loaded, and presses by whole names."""

    def __init__(self, bench: Bench, sheets: int = 3, **line: Any) -> None:
        self.bench = SimulatedBench(Session(bench))
        self.bench.event(ev.Load(plan(**line), sheets, 0.0))

    def press(self, name: str, at: float, down: float = 0.15) -> None:
        self.bench.advance(at)
        self.bench.raw_edge(name, True)
        self.bench.advance(at + down)
        self.bench.raw_edge(name, False)
        self.bench.advance(at + down + 0.1)

    def expose(self, go: str, begin: float) -> None:
        """One sheet, from arming to done, in 30 s: out at 2, lit from 7 to 13 and from 18 to 20."""
        self.press(go, begin, 1.1)
        for after in (2, 4, 15):
            self.press(go, begin + after)
        self.bench.advance(begin + 30)

    def of(self, kind: str) -> list[Record]:
        return [record for record in self.bench.records if record.kind == kind]


GO, END = "go 1, everywhere", "end 1, everywhere"
TRAY_GO, TRAY_END = "go 2, trays", "end 2, trays"


def under(edges: list[LineEdge], begin: float, end: float) -> float:
    """Seconds from `begin` to `end` in which the safelight or the paper-safe light was lit, off the lines' edges."""
    lit, at, seconds = {SAFELIGHT}, begin, 0.0
    for edge in [edge for edge in edges if edge.line in (SAFELIGHT, "red")]:
        if edge.at > begin:
            when = min(edge.at, end)
            seconds += when - at if lit else 0.0
            at = when
        (lit.add if edge.lit else lit.discard)(edge.line)
    return seconds + (end - at if lit else 0.0)


def out_of_the_box(records: list[Record], until: Record) -> list[tuple[float, float]]:
    """When a sheet lay open, until it was in the stop bath: from each `sheet out` to each `set aside`."""
    begins = [r.at for r in records if r.sheet == until.sheet and r.kind == "sheet out" and r.at <= until.at]
    ends = [r.at for r in records if r.sheet == until.sheet and r.kind == "set aside" and r.at <= until.at]
    found = []
    for begin in begins:
        if not found or begin >= found[-1][1]:
            found.append((begin, min((end for end in ends if end >= begin), default=until.at)))
    return found


def test_a_tray_press_never_starts_a_light_and_an_enlarger_press_never_moves_a_tray() -> None:
    played = Played(WITH_GO)
    played.expose(GO, 0)
    assert played.bench.session.standing.state == "done"
    played.press(GO, 32)  # to the trays
    played.press(TRAY_GO, 40)  # in the developer
    played.expose(GO, 45)  # another sheet, through every state
    played.press(END, 76)
    assert played.bench.session.trayside.trays.stays.of[1].index == 0
    lit = len(played.of("lit"))
    for at, name in enumerate((TRAY_GO, TRAY_END, TRAY_GO, TRAY_GO), start=80):
        played.press(name, at)
    assert (len(played.of("lit")), played.bench.session.standing.state) == (lit, "done")
    assert played.bench.session.trayside.trays.stays.of[1].index == 1, "pressed twice, long before its time"


@pytest.mark.parametrize("when", [1.0, 3.0, 5.0, 8.0, 12.0, 21.0, 31.0])
def test_a_tray_press_changes_nothing_at_the_enlarger_in_any_state(when: float) -> None:
    """The same sheet with and without presses at the trays: the same edges, the same records but theirs."""
    plain, pressed = Played(WITH_GO), Played(WITH_GO)
    plain.expose(GO, 0)
    evening = pressed.bench
    for name, begin in ((TRAY_GO, when), (TRAY_END, when + 1)):
        for down, at in ((True, begin), (False, begin + 0.4)):
            evening.at(at, lambda name=name, down=down: evening.raw_edge(name, down))  # type: ignore[misc]
    pressed.expose(GO, 0)
    pressed.bench.advance(35)
    assert evening.lines.edges == plain.bench.lines.edges
    assert [r for r in evening.records if "trays" not in str(r.facts.get("pedal"))] == plain.bench.records
    refused = [record.facts["why"] for record in evening.records if record not in plain.bench.records]
    assert refused == ["no sheet at trays"]
    assert evening.session.standing.state == plain.bench.session.standing.state


def test_an_exposure_is_not_disturbed_and_the_sheet_waits() -> None:
    """Sheet 1 goes in at 42; sheet 2 is exposed over its moves: no cue from the trays comes while a light burns."""
    played = Played(BENCH, cues="wait", carry_s=10.0)
    played.expose("go 1, enlarger", 0)
    played.press("go 1, enlarger", 32)
    played.expose("go 1, enlarger", 140)
    played.bench.advance(400)
    burning = [(r.at, next(d.at for d in played.of("dark") if d.burst == r.burst)) for r in played.of("lit")]
    assert len(burning) == 4
    cues = played.bench.cues
    assert not [cue for cue in cues for lit, dark in burning if lit <= cue.at < dark]
    late = {r.facts["bath"]: r.facts["late_s"] for r in played.of("out of bath") if r.sheet == 1}
    assert 0 < late["developer"] < 2 and late["fixer-1"] == 0


def test_the_sums_are_the_safelights_own_seconds() -> None:
    """Random feet, and for every third seed faults: held against the line's edges, independently of all records."""
    count = 0
    for seed in range(12):
        evening: EngineWalk = walk(seed, 300)
        records, edges = evening.bench.records, evening.bench.lines.edges
        for record in records:
            if record.kind == "under safelight":
                by_hand = sum(under(edges, begin, end) for begin, end in out_of_the_box(records, record))
                assert record.facts["seconds"] == pytest.approx(by_hand, abs=0.1)
                count += 1
    assert count > 10


def test_seventy_percent_and_all_of_the_safe_time() -> None:
    """The paper's safe time is 100 s: told when 70 s and 100 s are over, counted under the safelight alone."""
    played = Played(WITH_GO)
    played.expose(GO, 0)
    played.bench.advance(200)
    edges, out = played.bench.lines.edges, played.of("sheet out")[0].at
    told = [(cue.what, cue.at) for cue in played.bench.cues if cue.what.startswith("safelight")]
    assert [what for what, _ in told] == ["safelight near", "safelight over"]
    for (_, at), seconds in zip(told, (70.0, 100.0), strict=True):
        assert under(edges, out, at) == pytest.approx(seconds, abs=0.1)
    played.press(GO, 210)
    for at in (215, 331):
        played.press(TRAY_GO, at)
    (told_sum,) = played.of("under safelight")
    assert told_sum.at == played.of("stop bath")[0].at
    assert told_sum.facts["seconds"] == pytest.approx(under(edges, out, told_sum.at), abs=0.1)
    assert (told_sum.facts["safe_s"], told_sum.facts["allowed_s"], told_sum.facts["margin"]) == (100, 100, "over")


def test_white_light_is_safe_from_the_middle_of_the_first_fixer_on() -> None:
    """In the stop bath nothing is fixed, and developer is still in the paper. Half of the first fixer is 30 s."""
    played = Played(WITH_GO)
    standing = played.bench.session.standing
    assert standing.white_light_spoils is None
    played.press(GO, 0, 1.1)
    assert standing.white_light_spoils == NotSafe(1, "is armed"), "the paper is in the hand"
    for at in (2, 4, 15):
        played.press(GO, at)
        assert standing.white_light_spoils == NotSafe(1, "is out")
    played.press(GO, 32)
    assert standing.white_light_spoils == NotSafe(1, "at the trays")
    played.press(TRAY_GO, 40)
    assert standing.white_light_spoils == NotSafe(1, "in the developer")
    played.press(TRAY_GO, 158)
    assert standing.white_light_spoils == NotSafe(1, "in the stop bath")
    assert [record.kind for record in played.bench.records[-3:]] == ["in bath", "stop bath", "under safelight"]
    played.press(TRAY_GO, 178)
    assert standing.white_light_spoils == NotSafe(1, "in the fixer")
    played.press(END, 180, 1.1)
    played.press(END, 190, 1.1)
    assert played.of("viewing") == []
    assert refusal_of(played.of("refused")[-1].facts) == NotSafe(1, "in the fixer")
    played.bench.advance(207.99)
    assert standing.white_light_spoils == NotSafe(1, "in the fixer")
    played.bench.advance(208.0)
    assert standing.white_light_spoils is None
    assert played.bench.records[-1] == wrote("safe in white light", 208.0, 1)
    assert [(cue.at, cue_text(cue)) for cue in played.bench.cues if cue.what == "safe"] == [
        (208.0, "white light is safe")
    ]
    played.press(END, 210, 1.1)
    played.bench.advance(212)
    assert [record.facts["lit"] for record in played.of("viewing")] == [True]


def test_without_a_bath_line_the_press_at_done_says_that_the_sheet_is_in_the_fixer() -> None:
    played = Played(WITH_GO)
    played.bench.event(ev.Load(plan().model_copy(update={"baths": None}), 1, 0.0))
    played.expose(GO, 0)
    standing = played.bench.session.standing
    assert standing.white_light_spoils == NotSafe(1, "is out")
    played.press(GO, 32)
    assert standing.white_light_spoils == NotSafe(1, "in the fixer")
    assert [(r.kind, r.sheet) for r in played.bench.records[-2:]] == [("in the fixer", 1), ("under safelight", 1)]
    assert played.bench.said[-1][0] == "in the fixer"
    pressed = played.of("in the fixer")[0].at
    played.bench.advance(pressed + 29.99)
    assert standing.white_light_spoils is not None
    played.bench.advance(pressed + 30)
    assert (standing.white_light_spoils, played.bench.records[-1].kind) == (None, "safe in white light")


def test_in_its_box_a_sheet_sees_no_light() -> None:
    played = Played(WITH_GO, develop="together")
    played.expose(GO, 0)
    played.press(GO, 32)
    assert played.bench.session.standing.white_light_spoils is None
    seconds = played.bench.session.trayside.safelight.seconds(1, 32.15)
    played.bench.advance(500)
    assert played.bench.session.trayside.safelight.seconds(1, 500) == pytest.approx(seconds, abs=0.01)
    played.press(TRAY_GO, 500)  # out of its box
    assert played.bench.session.standing.white_light_spoils is not None
    played.bench.advance(510)
    assert played.bench.session.trayside.safelight.seconds(1, 510) == pytest.approx(seconds + 10, abs=0.01)


def test_two_sheets_sent_by_one_press_are_one_stack() -> None:
    played = Played(WITH_GO)
    played.expose(GO, 0)
    played.press(GO, 32, 1.1)  # next sheet
    for after in (2, 4, 15):
        played.press(GO, 32 + after)
    played.press(GO, 70)
    assert [visit.sheets for visit in played.bench.session.trayside.trays.visits] == [(1, 2)]
