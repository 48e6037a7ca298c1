"""The one table of states: every event in every state, what is allowed and what is forbidden; and the page about it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from walks.engine_walk import BENCH, PLAN

from timerd.sheet import refusal as no
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows, table
from timerd.sheet.engine.machine import Engine
from timerd.sheet.reason import TwoLights
from timerd.sheet.record import Record

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"
GO, OTHER_GO, END, THIRD = "go 1, enlarger", "go 2, flashing", "end 1, everywhere", "third"
TRIGGERS = (
    "go pressed", "go let up", "go held", "end pressed", "end let up", "end held", "both held",
    "lit", "dark", "refused", "fault", "low", "rest", "load", "clear", *(f"told {order}" for order in ev.ORDERS),
)  # fmt: skip


def table_as_text() -> str:
    """The table as DEVELOPERS.md shows it: rows by what the pedals do."""
    shown = [trigger for trigger in TRIGGERS if trigger.startswith(("go", "end", "both"))]
    lines = ["| where | " + " | ".join(shown) + " |", "|---" * (len(shown) + 1) + "|"]
    for row, moves in table.TABLE.items():
        cells = [moves[trigger].__name__.replace("_", " ") if trigger in moves else "-" for trigger in shown]
        lines.append(f"| {row} | " + " | ".join(cells) + " |")
    return "\n".join(lines)


def test_the_page_for_contributors_shows_this_table() -> None:
    found = re.search(r"<!-- table -->\n(.*?)\n<!-- /table -->", DEVELOPERS.read_text(), re.S)
    assert found is not None
    assert found[1].strip() == table_as_text()


def test_every_entry_has_a_trigger_and_every_state_a_row() -> None:
    assert {rows.STATE_OF[row] for row in table.TABLE} == set(rows.STATES)
    assert all(set(moves) <= set(TRIGGERS) for moves in table.TABLE.values())


# -- one engine in each row, and every event to it ----------------------------------------------------------------


class Hand:
    """An engine whose keeper is this test: it lights and darkens only when told to."""

    def __init__(self) -> None:
        self.engine = Engine(BENCH)
        self.now = 0.0
        self.number = 0
        self.exposed: list[ev.Expose] = []
        self.written: list[tuple[str, int]] = []
        self.give(ev.Load(PLAN, 2, 0.0))

    def give(self, event: ev.Event) -> list[ev.Action]:
        actions = self.engine.handle(event, self.now)
        for action in actions:
            if isinstance(action, ev.Expose):
                self.exposed.append(action)
            elif isinstance(action, Record):
                self.written.append((action.kind, action.step))
        return actions

    def edge(self, pedal: str, down: bool) -> None:
        self.number += 1
        self.give(ev.Edge(pedal, down, self.now, self.number))

    def press(self, pedal: str, seconds: float = 0.15) -> None:
        self.now += 1.0
        self.edge(pedal, True)
        self.now += seconds
        self.edge(pedal, False)

    def tell(self, what: str, n: int | None = None) -> None:
        self.now += 1.0
        self.give(ev.Told(what, self.now, n))

    def lit(self) -> None:
        self.now = self.exposed[-1].at
        self.give(ev.Lit(self.exposed[-1].burst, self.now))

    def dark(self, why: str, after: float) -> None:
        self.now += after
        self.give(ev.Dark(self.exposed[-1].burst, self.now, why))


def reach(row: str) -> Hand:
    """A bench that stands in this row, reached by what a printer would do."""
    hand = Hand()
    go = OTHER_GO
    if row == rows.IDLE:
        return hand
    if row == rows.VIEWING:
        hand.press(END, 1.2)
        return hand
    if row == rows.IDLE_TO_SHOW:
        hand.tell("view")
        return hand
    hand.press(go, 1.2)
    if row == rows.PROMPT:
        return hand
    hand.press(go)
    if row == rows.FAULT or row == rows.UNFINISHED:
        hand.give(ev.Fault("two lights", hand.now))
        if row == rows.UNFINISHED:
            hand.engine.standing.clear_asked = True
            hand.give(ev.Rest(hand.now, True))
        return hand
    if row == rows.ABANDONED:
        hand.now += 1.0
        hand.edge(go, True)
        hand.dark("pedal", 0.1)
        hand.edge(END, True)
        hand.now += 2.5
        hand.give(ev.Wake(hand.now))
        hand.edge(END, False)
        hand.edge(go, False)
        hand.now += 1
        return hand
    if row == rows.ASIDE:
        hand.tell("set aside")
        return hand
    if row in (rows.READY_HELD, rows.LEAD_IN_HELD, rows.EXPOSING_HELD):
        if row != rows.READY_HELD:
            hand.now += 1.0
            hand.edge(go, True)
        if row == rows.EXPOSING_HELD:
            hand.lit()
        return hand
    hand.press(END, 1.2)  # skip the flash
    hand.press(GO)  # carried
    if row == rows.DONE:
        for step in (4, 5):
            assert hand.engine.standing.sheet is not None and hand.engine.standing.sheet.at_hand == step
            hand.press(END, 1.2)
        hand.press(GO)
        hand.press(END, 1.2)
        hand.press(END, 1.2)
        return hand
    if row == rows.READY:
        return hand
    if row in (rows.READY_TO_SHOW, rows.READY_SHOWN):
        hand.tell("view")
        if row == rows.READY_SHOWN:
            hand.press(GO)
        return hand
    hand.press(GO)
    if row in (rows.EXPOSING, rows.PAUSED, rows.PAUSED_TO_SHOW, rows.PAUSED_SHOWN):
        hand.lit()
    if row in (rows.PAUSED, rows.PAUSED_TO_SHOW, rows.PAUSED_SHOWN):
        hand.dark("pedal", 1.0)
    if row == rows.PAUSED_TO_SHOW:
        hand.tell("view")
    if row == rows.PAUSED_SHOWN:
        hand.press(THIRD)
    return hand


# What a single thing that happens leads to: the row after it. Written out by hand from the design's table, not from the
# code; a pair that is not here must leave everything as it is: no row entered, no burst asked for, no sheet changed.
R, H = rows.READY, rows.READY_HELD
AFTER: dict[tuple[str, str], str] = {
    (rows.IDLE, "go held"): rows.PROMPT,
    (rows.IDLE, "end held"): rows.VIEWING,
    (rows.IDLE, "told arm"): rows.PROMPT,
    (rows.IDLE, "told view"): rows.IDLE_TO_SHOW,
    (rows.IDLE_TO_SHOW, "go pressed"): rows.VIEWING,
    (rows.IDLE_TO_SHOW, "go let up"): rows.VIEWING,
    (rows.IDLE_TO_SHOW, "go held"): rows.VIEWING,
    **{(rows.IDLE_TO_SHOW, end): rows.IDLE for end in ("end pressed", "end let up", "end held", "told view")},
    # with `end` pressed first the light is not shown, and both mean nothing in idle
    (rows.IDLE_TO_SHOW, "both held"): rows.IDLE,
    (rows.ASIDE, "go held"): rows.PROMPT,
    (rows.ASIDE, "end held"): rows.VIEWING,
    (rows.ASIDE, "both held"): rows.IDLE,
    (rows.ASIDE, "told arm"): rows.PROMPT,
    (rows.ASIDE, "told take up"): rows.PROMPT,
    (rows.ASIDE, "told give up"): rows.IDLE,
    (rows.ASIDE, "told view"): rows.IDLE_TO_SHOW,
    (rows.UNFINISHED, "told take up"): H,
    (rows.UNFINISHED, "told give up"): rows.IDLE,
    (rows.UNFINISHED, "told set aside"): rows.ASIDE,
    (rows.PROMPT, "told abandon"): rows.ABANDONED,
    (H, "told skip"): rows.PROMPT,
    (H, "told abandon"): rows.ABANDONED,
    (H, "told set aside"): rows.ASIDE,
    (H, "told step"): rows.PROMPT,  # step 4 is at the other station
    (R, "told skip"): R,
    (R, "told abandon"): rows.ABANDONED,
    (R, "told set aside"): rows.ASIDE,
    (R, "told owe"): rows.PROMPT,  # step 2, the flash, was skipped
    (R, "told step"): R,
    (R, "told view"): rows.READY_TO_SHOW,
    (rows.PAUSED, "told end"): R,
    (rows.PAUSED, "told abandon"): rows.ABANDONED,
    (rows.PAUSED, "told set aside"): rows.ASIDE,
    (rows.PAUSED, "told owe"): rows.PROMPT,
    (rows.PAUSED, "told step"): rows.PAUSED,
    (rows.PAUSED, "told view"): rows.PAUSED_TO_SHOW,
    **{
        (to_show, go): shown
        for to_show, shown in ((rows.READY_TO_SHOW, rows.READY_SHOWN), (rows.PAUSED_TO_SHOW, rows.PAUSED_SHOWN))
        for go in ("go pressed", "go let up", "go held")
    },
    **{
        (to_show, end): back
        for to_show, back in ((rows.READY_TO_SHOW, R), (rows.PAUSED_TO_SHOW, rows.PAUSED))
        for end in ("end pressed", "end let up", "end held", "told view")
    },
    # `end` first: not shown, and both are held in the row before it, to which the presses passed
    (rows.READY_TO_SHOW, "both held"): rows.ABANDONED,
    (rows.PAUSED_TO_SHOW, "both held"): rows.ABANDONED,
    (rows.READY_SHOWN, "dark"): R,
    (rows.READY_SHOWN, "refused"): R,
    (rows.PAUSED_SHOWN, "dark"): rows.PAUSED,
    (rows.PAUSED_SHOWN, "refused"): rows.PAUSED,
    (rows.DONE, "told arm"): rows.PROMPT,
    (rows.DONE, "told owe"): rows.PROMPT,
    (rows.DONE, "told rest"): rows.IDLE,
    (rows.ABANDONED, "told take up"): H,
    (rows.ABANDONED, "told give up"): rows.IDLE,
    (rows.ABANDONED, "told set aside"): rows.ASIDE,
    (rows.UNFINISHED, "go held"): H,
    (rows.UNFINISHED, "both held"): rows.IDLE,
    (rows.PROMPT, "go pressed"): H,
    (rows.PROMPT, "go let up"): H,
    (rows.PROMPT, "go held"): H,
    (rows.PROMPT, "both held"): rows.ABANDONED,
    (H, "go pressed"): rows.LEAD_IN_HELD,
    (H, "go let up"): rows.LEAD_IN_HELD,
    (H, "go held"): rows.LEAD_IN_HELD,
    (H, "end held"): rows.PROMPT,
    (H, "both held"): rows.ABANDONED,
    (R, "go pressed"): rows.LEAD_IN,
    (R, "go let up"): rows.LEAD_IN,
    (R, "go held"): rows.LEAD_IN,
    (R, "end held"): R,
    (R, "both held"): rows.ABANDONED,
    (rows.PAUSED, "go pressed"): rows.LEAD_IN,
    (rows.PAUSED, "go let up"): rows.LEAD_IN,
    (rows.PAUSED, "go held"): rows.LEAD_IN,
    (rows.PAUSED, "end held"): R,
    (rows.PAUSED, "both held"): rows.ABANDONED,
    (rows.DONE, "go held"): rows.PROMPT,
    (rows.DONE, "end held"): rows.IDLE,
    (rows.ABANDONED, "go held"): rows.PROMPT,
    (rows.ABANDONED, "end held"): H,
    (rows.LEAD_IN, "lit"): rows.EXPOSING,
    (rows.LEAD_IN_HELD, "lit"): rows.EXPOSING_HELD,
    (rows.LEAD_IN, "dark"): R,
    (rows.LEAD_IN_HELD, "dark"): H,
    (rows.LEAD_IN, "refused"): R,
    (rows.LEAD_IN_HELD, "refused"): H,
    (rows.EXPOSING, "dark"): rows.PAUSED,
    (rows.EXPOSING_HELD, "dark"): rows.PAUSED,
    (rows.EXPOSING, "refused"): rows.PAUSED,
    (rows.EXPOSING_HELD, "refused"): rows.PAUSED,
    (rows.VIEWING, "dark"): rows.IDLE,
    (rows.VIEWING, "refused"): rows.IDLE,
    **{(row, "fault"): rows.FAULT for row in table.TABLE if row != rows.FAULT},
}
STAYS_BUT_WRITES = {
    (rows.DONE, "go let up"): [("in the fixer", 0)],
    (rows.DONE, "told tray"): [("in the fixer", 0)],
    **{(row, "lit"): [("viewing", 0)] for row in (rows.VIEWING, rows.READY_SHOWN, rows.PAUSED_SHOWN)},
    (rows.ASIDE, "load"): [("loaded", 0)],
    (rows.IDLE_TO_SHOW, "load"): [("loaded", 0)],
    (rows.IDLE, "load"): [("loaded", 0)],
    (rows.UNFINISHED, "load"): [("loaded", 0)],
    (rows.DONE, "load"): [("loaded", 0)],
    (rows.VIEWING, "load"): [("loaded", 0)],
    (rows.ABANDONED, "load"): [("loaded", 0)],
}


def happen(hand: Hand, trigger: str) -> None:
    hand.now += 0.8
    station_go = OTHER_GO if (step := hand.engine.standing.step) is None or step.station == "flashing" else GO
    pedal = station_go if trigger.startswith("go") else END
    burst = hand.engine.standing.burst or 0
    match trigger:
        case "go pressed" | "end pressed":
            hand.edge(pedal, True)
        case "go let up" | "end let up":
            hand.press(pedal, 0.3)
        case "go held" | "end held":
            hand.press(pedal, 1.2)
        case "both held":
            hand.edge(END, True)
            if (
                hand.engine.standing.row == rows.PROMPT
            ):  # a press of `go` here would go on: the other foot first, then both deaf
                hand.engine.standing.feet.press(hand.engine.standing.feet.contacts[station_go], hand.now, -1)
            else:
                hand.edge(station_go, True)
            hand.now += 2.0
            hand.give(ev.Wake(hand.now))
        case "lit":
            hand.give(ev.Lit(burst, hand.now))
        case "dark":
            hand.give(ev.Dark(burst, hand.now, "pedal"))
        case "refused":
            hand.give(ev.Refused(burst, "too late", hand.now))
        case "fault":
            hand.give(ev.Fault("two lights", hand.now))
        case "low":
            hand.give(ev.Low(hand.now))
        case "rest":
            hand.give(ev.Rest(hand.now, True))
        case "load":
            hand.give(ev.Load(PLAN, 1, hand.now))
        case "clear":
            hand.give(ev.Clear(hand.now))
        case "told step":
            hand.give(ev.Told("step", hand.now, 4))
        case "told owe":
            hand.give(ev.Told("owe", hand.now, 2))
        case _:
            assert trigger.startswith("told ")
            hand.give(ev.Told(trigger.removeprefix("told "), hand.now))


@pytest.mark.parametrize("trigger", TRIGGERS)
@pytest.mark.parametrize("row", table.TABLE)
def test_every_event_in_every_state(row: str, trigger: str) -> None:
    hand = reach(row)
    assert hand.engine.standing.row == row
    visit, exposed, written = hand.engine.standing.visit, len(hand.exposed), len(hand.written)
    happen(hand, trigger)
    expected = AFTER.get((row, trigger), row)
    assert hand.engine.standing.row == expected
    asked = (rows.LEAD_IN, rows.LEAD_IN_HELD, rows.VIEWING, rows.READY_SHOWN, rows.PAUSED_SHOWN)
    starts = expected in asked and row != expected
    assert len(hand.exposed) - exposed == (1 if starts else 0)
    if (row, trigger) not in AFTER:
        assert hand.engine.standing.visit == visit
        facts = [record for record in hand.written[written:] if record[0] != "refused"]
        assert facts == STAYS_BUT_WRITES.get((row, trigger), [])


def test_a_fault_is_cleared_only_by_both_pedals_and_lines_that_read_low() -> None:
    hand = reach(rows.FAULT)
    hand.give(ev.Rest(hand.now, True))
    assert hand.engine.standing.state == rows.FAULT, "an answer to an older cut clears nothing"
    happen(hand, "both held")
    hand.give(ev.Rest(hand.now, False))
    assert hand.engine.standing.state == rows.FAULT, "a line that reads high clears nothing"
    for pedal in (END, OTHER_GO):
        hand.edge(pedal, False)
    happen(hand, "both held")
    hand.give(ev.Rest(hand.now, True))
    assert hand.engine.standing.row == rows.UNFINISHED


def test_a_start_that_comes_late_is_refused_and_a_pause_never_is() -> None:
    hand = reach(rows.READY)
    hand.number += 1
    hand.now += 1.0
    hand.engine.handle(ev.Edge(GO, True, hand.now, hand.number), hand.now + 0.26)
    assert hand.engine.standing.row == rows.READY and hand.engine.standing.reason == no.Late()
    hand = reach(rows.READY)
    hand.number += 1
    hand.now += 1.0
    hand.engine.handle(ev.Edge(GO, True, hand.now, hand.number), hand.now + 0.25)
    assert hand.engine.standing.row == rows.LEAD_IN


def test_a_pedal_found_down_blocks_arming_by_name_until_it_is_let_up() -> None:
    hand = Hand()
    hand.give(ev.FoundDown(END, 0.0))
    hand.press(OTHER_GO, 1.2)
    assert (hand.engine.standing.row, hand.engine.standing.reason) == (rows.IDLE, no.OtherDown(END))
    hand.edge(END, False)
    hand.press(OTHER_GO, 1.2)
    assert hand.engine.standing.row == rows.PROMPT


def test_a_pedal_found_down_does_not_give_an_unfinished_sheet_up() -> None:
    hand = reach(rows.UNFINISHED)
    again = Engine(BENCH, hand.engine.standing.progress, hand.engine.standing.plans)
    again.handle(ev.FoundDown(END, 0.0), 0.0)
    again.handle(ev.Edge(GO, True, 1.0, 1), 1.0)
    assert again.standing.wake_at is None


def test_the_engine_starts_again_from_its_records_alone() -> None:
    hand = reach(rows.PAUSED)
    again = Engine(BENCH, hand.engine.standing.progress, hand.engine.standing.plans)
    assert (again.standing.row, again.standing.white_light_spoils) == (rows.UNFINISHED, no.NotSafe(1, "is out"))
    again.handle(ev.Edge(GO, True, 1.0, 1), 1.0)
    again.handle(ev.Edge(GO, False, 2.1, 2), 2.1)
    assert again.standing.row == rows.PAUSED and again.standing.sheet is not None
    assert again.standing.sheet.owed == hand.engine.standing.sheet.owed if hand.engine.standing.sheet else False


def test_a_burst_begun_and_not_ended_in_the_records_counts_whole() -> None:
    hand = reach(rows.EXPOSING)
    again = Engine(BENCH, hand.engine.standing.progress, hand.engine.standing.plans)
    hand = Hand()
    hand.engine = again
    hand.press(GO, 1.2)
    step = again.standing.progress.sheets[1].steps[4]
    first_part = PLAN.steps[3].parts[0]
    assert again.standing.row == rows.PAUSED
    assert (step.given, step.most, step.exact) == (0.0, pytest.approx(first_part), False)
    assert step.owed == pytest.approx(6.0 - first_part)


def test_a_restart_clears_no_fault() -> None:
    hand = reach(rows.FAULT)
    again = Engine(BENCH, hand.engine.standing.progress, hand.engine.standing.plans)
    assert (again.standing.row, again.standing.reason) == (rows.FAULT, TwoLights())


def test_burst_numbers_are_never_used_again() -> None:
    hand = reach(rows.VIEWING)
    hand.lit()
    hand.dark("pedal", 1.0)
    hand.press(END, 1.2)
    burst = hand.engine.standing.burst
    assert burst == 2
    hand.give(ev.Refused(burst, "too late", hand.now))
    again = Engine(BENCH, hand.engine.standing.progress)
    hand.engine = again
    hand.press(END, 1.2)
    assert hand.exposed[-1].burst == 3


@pytest.mark.parametrize("end", ["refused", "dark"])
def test_a_burst_that_a_fault_overtook_is_ended_in_the_fault(end: str) -> None:
    hand = reach(rows.LEAD_IN)
    hand.give(ev.Fault("bad message", hand.now))
    assert hand.engine.standing.row == rows.FAULT and hand.engine.standing.burst is not None
    happen(hand, end)
    assert hand.engine.standing.burst is None
    assert hand.written[-1] == ("called off", 4)


def test_a_viewing_light_that_a_fault_put_out_is_recorded() -> None:
    hand = reach(rows.VIEWING)
    hand.lit()
    hand.give(ev.Fault("bad message", hand.now))
    happen(hand, "dark")
    assert [kind for kind, _ in hand.written[-3:]] == ["viewing", "fault", "viewing"]


def test_a_finished_sheet_goes_into_the_fixer_while_a_later_one_is_unfinished() -> None:
    hand = reach(rows.DONE)
    hand.press(GO, 1.2)
    hand.press(OTHER_GO)
    hand.give(ev.Fault("two lights", hand.now))
    happen(hand, "both held")
    hand.give(ev.Rest(hand.now, True))
    for pedal in (END, OTHER_GO):
        hand.edge(pedal, False)
    assert hand.engine.standing.row == rows.UNFINISHED
    assert hand.engine.standing.progress.sheets_out == [1, 2]
    hand.press(GO, 0.3)
    assert hand.engine.standing.progress.sheets_out == [2]


def test_both_held_long_enough_act_though_nobody_looked_in_time() -> None:
    hand = reach(rows.READY)
    hand.now += 1
    hand.edge(END, True)
    hand.edge(GO, True)
    hand.now += 2.05
    hand.edge(GO, False)
    assert hand.engine.standing.row == rows.ABANDONED


def test_warnings_come_in_time() -> None:
    hand = reach(rows.READY)
    hand.now += 1
    hand.edge(END, True)
    hand.edge(GO, True)
    began = hand.now
    assert hand.engine.standing.wake_at == began + 1.0
    hand.now = began + 1.0
    assert hand.give(ev.Wake(hand.now)) == [ev.Say("both held", began + 1.0)]
    assert hand.engine.standing.wake_at == began + 2.0


@pytest.mark.parametrize("pedal", [GO, OTHER_GO, END])
def test_any_pedal_darkens_but_only_the_station_s_own_starts(pedal: str) -> None:
    hand = reach(rows.READY)
    hand.now += 1
    hand.edge(pedal, True)
    assert hand.engine.standing.row == (rows.LEAD_IN if pedal == GO else rows.READY)
    hand = reach(rows.EXPOSING)
    assert pedal in hand.exposed[-1].cut_on


def test_the_trays_pedal_is_in_nobody_s_way() -> None:
    hand = reach(rows.EXPOSING)
    assert "end 2, trays" not in hand.exposed[-1].cut_on
    hand.edge("end 2, trays", True)
    assert hand.engine.standing.row == rows.EXPOSING
