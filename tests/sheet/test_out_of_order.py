"""Steps gone to out of the plan's order, sheets that may not come back, filters swung in: one test for each slip found.

Each was seen to go wrong before it was mended; the walks' own bench and plans are used (tests/walks/engine_walk.py).
"""

from __future__ import annotations

import pytest
from golden import Golden
from records import wrote
from walks.engine_walk import BENCH, BOXED, PLAN

from timerd.bench.simulated import SimulatedBench
from timerd.daemon.recovery import recovered
from timerd.sheet import refusal as no
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.plan.value import Plan, Sheet
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Progress
from timerd.sheet.session import Session
from timerd.sheet.trays import events as tr

GO, OTHER_GO, END, THIRD = "go 1, enlarger", "go 2, flashing", "end 1, everywhere", "third"
RED = BENCH.lights["red"].model_copy(update={"lamp": "head-green", "filter": "by hand"})
SWUNG = BENCH.model_copy(update={"lights": {**BENCH.lights, "red": RED}})


class Hand:
    """Feet and orders on a simulated bench."""

    def __init__(self, plan: Plan = PLAN, bench: Bench = BENCH, sheets: int = 2) -> None:
        self.bench = SimulatedBench(Session(bench))
        self.bench.event(ev.Load(plan, sheets, 0.0))

    @property
    def standing(self):  # type: ignore[no-untyped-def]
        return self.bench.session.standing

    def press(self, *pedals: str, down: float = 0.15) -> None:
        for pedal in pedals:
            self.bench.raw_edge(pedal, True)
        self.bench.advance(self.bench.now + down)
        for pedal in pedals:
            self.bench.raw_edge(pedal, False)
        self.bench.advance(self.bench.now + 0.9)

    def tell(self, what: str, n: int | None = None) -> None:
        self.bench.event(ev.Told(what, self.bench.now, n))
        self.bench.advance(self.bench.now + 0.5)

    def again(self, plans: dict[int, Plan], bench: Bench = BENCH) -> None:
        """A new engine from the records alone."""
        records, now = self.bench.records, self.bench.now
        self.bench = SimulatedBench(Session(bench, Progress(records), plans, out=records))
        self.bench.records[:0] = records
        self.bench.advance(now + 1.0)

    def out(self) -> None:
        """Armed and out, at its first light."""
        self.press(OTHER_GO, down=1.1)
        self.press(OTHER_GO)

    def at_the_enlarger(self) -> None:
        """At the first light there."""
        self.out()
        self.tell("skip")
        while self.standing.row == rows.PROMPT:
            self.press(GO)
            if self.standing.state == rows.IDLE:
                self.press(GO, down=1.1)


def test_a_prompt_gone_to_out_of_order_asks_for_all_that_differs(golden: Golden) -> None:
    hand = Hand(BOXED, sheets=1)
    hand.out()
    hand.tell("step", 7)
    golden(sorted(hand.standing.asking))
    hand.press(GO)
    hand.tell("step", 4)
    assert hand.standing.asking == ("lens at f/8",), "the lens stands at f/16 for a step that was never given"
    hand = Hand()
    hand.out()
    hand.tell("step", 6)
    golden(hand.standing.asking)


def test_taken_up_for_the_baths_alone_nothing_else_is_taken_for_asked(golden: Golden) -> None:
    last = BOXED.steps[-1].model_copy(update={"n": 9})
    hand = Hand(BOXED.model_copy(update={"steps": (*BOXED.steps[:8], last)}), sheets=1)
    hand.at_the_enlarger()
    hand.tell("skip")  # the base
    hand.press(GO)  # f/16
    hand.tell("skip")  # the burn: the lens is to go back
    assert hand.standing.asking == ("lens at f/8",)
    hand.tell("set aside")
    hand.tell("take up", 1)
    golden(hand.standing.asking)
    hand.press(GO)
    assert "lens at f/8" in hand.standing.asking
    hand.tell("owe", 5)
    assert "lens at f/8" in hand.standing.asking, "the lens stands at f/16 still"


def test_a_sheet_given_up_never_comes_back_and_nothing_is_lit_without_one() -> None:
    elsewhere = PLAN.model_copy(update={"bench": "elsewhere"})
    hand = Hand(sheets=1)
    hand.out()
    hand.tell("set aside")
    hand.again({1: elsewhere})
    assert hand.standing.row == rows.IDLE, "a sheet of another bench is not offered"
    hand.bench.event(ev.Load(PLAN, 1, hand.bench.now))
    hand.out()
    hand.tell("skip")
    hand.press(GO)
    hand.tell("abandon")
    hand.press(GO, down=1.1)
    assert (hand.standing.row, hand.standing.progress.sheets[2].given_up) == (rows.IDLE, True)
    hand.tell("take up", 1)
    assert hand.standing.reason == no.SheetOfOtherBench(1, "elsewhere")
    hand.press(END, down=1.2)
    hand.press(GO, down=3)
    assert not [r for r in hand.bench.records if r.kind == "lit"]


@pytest.mark.parametrize("how", ["left dark", "shown", "restart"])
def test_a_filter_that_may_be_under_the_lens_is_asked_for_out_again(golden: Golden, how: str) -> None:
    hand = Hand(bench=SWUNG)
    hand.at_the_enlarger()
    assert (hand.standing.row, hand.standing.step.n) == (rows.READY, 4)
    hand.tell("view")
    if how == "shown":
        hand.press(GO)
        hand.press(GO)
    elif how == "left dark":
        hand.press(END)
    else:
        hand.again(hand.standing.plans, SWUNG)
        hand.press(GO, down=1.1)
    golden(hand.standing.asking)
    hand.press(GO)
    assert hand.standing.row == rows.READY
    hand.press(GO)
    hand.bench.advance(hand.bench.now + 3)
    assert hand.standing.row == rows.EXPOSING


def test_what_is_loaded_while_a_light_is_to_be_shown_leaves_no_row_without_a_sheet() -> None:
    hand = Hand(BOXED, sheets=1)
    hand.out()
    hand.tell("skip")
    hand.press(GO)
    assert hand.standing.row == rows.ASIDE
    hand.tell("view")
    hand.bench.event(ev.Load(BOXED, 2, hand.bench.now))
    hand.press(END)
    assert hand.standing.row == rows.IDLE
    hand.tell("give up")
    hand.press(GO, down=1.1)
    assert (hand.standing.row, hand.standing.sheet.sheet) == (rows.PROMPT, 2)


def test_a_power_cut_after_a_step_was_come_back_to_is_not_forgotten() -> None:
    hand = Hand()
    hand.at_the_enlarger()
    hand.press(GO)
    hand.bench.advance(hand.bench.now + 3)
    hand.press(GO)
    assert hand.standing.row == rows.PAUSED
    hand.tell("step", 3)
    hand.press(GO)
    assert hand.standing.row == rows.PAUSED
    (found,) = recovered(Progress(hand.bench.records), {1: PLAN}, None, 99.0)
    assert (found.kind, found.facts["given_lo"]) == ("recovered", 0.0)
    assert found.facts["given"] > 0


def test_the_time_in_the_box_is_whole_where_a_sheet_never_left_it() -> None:
    hand = Hand(sheets=1)
    hand.out()
    hand.tell("set aside")
    began = hand.bench.now
    hand.bench.advance(hand.bench.now + 600)
    hand.tell("take up", 1)
    hand.tell("set aside")
    hand.tell("take up", 1)
    hand.press(OTHER_GO)
    (last,) = [r for r in hand.bench.records if r.kind == "sheet out"][-1:]
    assert last.facts["boxed_s"] == pytest.approx(hand.bench.now - began, abs=2.0)
    assert last.facts["boxed_s"] > 600


def test_a_flash_that_was_recovered_counts_from_its_end() -> None:
    facts = {"lit": 10.0, "dark": 11.0, "given": 0.5, "given_lo": 0.5, "why": "last off"}
    steps = [(s.n, s.kind, s.dose, s.light is not None) for s in PLAN.steps]
    progress = Progress([
        wrote("armed", 1.0, 1, facts={"print": "x", "steps": steps}), wrote("recovered", 20.0, 1, 2, 1, facts),
    ])  # fmt: skip
    assert progress.since(progress.sheets[1].flashed_at, 71.0) == pytest.approx(60.0)


def test_no_sheet_comes_out_of_its_box_while_the_viewing_light_is_on(golden: Golden) -> None:
    hand = Hand()
    hand.press(END, down=1.2)
    assert hand.standing.row == rows.VIEWING
    with golden.raises(LookupError):
        hand.bench.event(tr.Start(hand.bench.now))
    hand.press(GO)
    with golden.raises(LookupError):
        hand.bench.event(tr.Start(hand.bench.now))


def test_a_sheet_in_any_box_is_still_in_hand() -> None:
    """What a restart reads of the safelight goes by this: a sheet that will be out again keeps what it has seen."""
    steps = [(s.n, s.kind, s.dose, s.light is not None) for s in PLAN.steps]
    out = [wrote("armed", 1.0, 1, facts={"print": "x", "steps": steps}), wrote("sheet out", 2.0, 1, 1)]
    aside = wrote("set aside", 3.0, 1, 2, facts={"why": "box"})
    for boxed in (aside, wrote("to trays", 3.0, 1, facts={"boxed": True})):
        progress = Progress([*out, boxed])
        assert (progress.sheets_out, progress.sheets_in_hand) == ([], [1])
    assert Progress(out[:1]).sheets_in_hand == []


def test_no_light_through_a_filter_that_is_still_swung_in() -> None:
    """The paper-safe filter stands before the lens: green through it would be no green. It must be out first."""
    hand = Hand(bench=SWUNG)
    hand.out()
    hand.standing.sheet.swung = "red"
    lit = len(hand.bench.lines.edges)
    hand.press(GO if hand.standing.step.station == "enlarger" else OTHER_GO)
    assert hand.standing.reason == no.FilterUnderLens("red")
    assert [edge for edge in hand.bench.lines.edges[lit:] if edge.lit and edge.line != "safelight"] == []


@pytest.mark.parametrize("turn", [0, 90, 180])
def test_a_sheet_out_of_its_box_is_laid_back_as_it_lay_and_white_light_is_not_safe(golden: Golden, turn: int) -> None:
    """The bench first, then the paper; and how it lies at that station, which may have it turned."""
    stations = {**BENCH.stations, "enlarger": BENCH.stations["enlarger"].model_copy(update={"turn": turn})}
    sheet = Sheet(width=203.2, height=254.0, image=(0.0, 0.0, 203.2, 254.0), image_given=False)
    for plan in (PLAN.model_copy(update={"sheet": sheet}), PLAN):  # with a map, and without
        hand = Hand(plan, BENCH.model_copy(update={"stations": stations}), sheets=1)
        hand.at_the_enlarger()
        hand.tell("set aside")
        assert hand.standing.white_light_spoils is None
        hand.press(GO, down=1.1)
        golden(hand.standing.asking)
        assert hand.standing.white_light_spoils == no.NotSafe(1, "is taken up"), "the paper is in the hand"
        hand.press(GO, END, down=2.2)
        assert hand.standing.state == rows.ABANDONED
        assert hand.standing.white_light_spoils is not None, "it may lie there still"
        hand.tell("set aside")
        assert hand.standing.white_light_spoils is None


def test_from_arming_on_white_light_is_not_safe_until_the_sheet_is_given_up() -> None:
    hand = Hand(sheets=1)
    hand.press(OTHER_GO, down=1.1)
    assert hand.standing.white_light_spoils == no.NotSafe(1, "is armed")
    hand.tell("abandon")
    assert (hand.standing.state, (hand.standing.white_light_spoils is None)) == (rows.ABANDONED, False)
    hand.again({1: PLAN})
    assert hand.standing.white_light_spoils == no.NotSafe(1, "is armed"), "a restart knows no better"
    hand.tell("give up")
    assert hand.standing.white_light_spoils is None
