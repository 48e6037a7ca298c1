"""Worn contacts on the whole bench in virtual time, keeper and engine: whatever a press bounces, it means one thing."""

from __future__ import annotations

from functools import partial

import pytest
from walks.bouncing import BENCH, TRAINS, Press, any_rest, plan, press
from whole import first

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.simulated import SimulatedBench
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.record import Record
from timerd.sheet.session import Session

HELD_LEAD_IN_S = 0.2


class Worn:
    """A bench with a sheet out whose next step is a `press` or a `hold` one; feet may bounce."""

    def __init__(self, kind: str = "press") -> None:
        self.bench = SimulatedBench(Session(BENCH))
        self.bench.event(ev.Load(plan(kind), 2, 0.0))
        self.begun = 0

    @property
    def row(self) -> str:
        return self.bench.session.standing.row

    def clean(self, pedal: str, at: float, seconds: float = 0.15) -> None:
        """A press without bounce."""
        self.raw(pedal, Press([0.0], seconds, [0.0]), at)

    def raw(self, pedal: str, press: Press, at: float) -> None:
        for after, closes in press.edges:
            self.bench.at(at + after, partial(self.bench.raw_edge, pedal, closes))
        self.bench.advance(at + press.seconds + 0.1)

    def out(self) -> Worn:
        """Armed, and the sheet out at 4 s."""
        self.clean("go", 1.0, 1.2)
        self.clean("go", 4.0)
        return self

    def lit(self) -> Worn:
        """The first light on, from 8 s on: started by a press at 5 s, or held by a foot from 7.8 s on."""
        self.out()
        if self.bench.session.standing.row == rows.READY_HELD:
            self.bench.at(7.8, partial(self.bench.raw_edge, "go", True))
        else:
            self.clean("go", 5.0)
        self.bench.advance(8.5)
        assert [r.at for r in self.of("lit")] == [8.0]
        return self

    def look(self) -> Worn:
        """From here on is looked at."""
        self.begun = len(self.bench.records)
        self.bench.lines.edges.clear()
        self.bench.said.clear()
        return self

    def of(self, *kinds: str) -> list[Record]:
        return [r for r in self.bench.records[self.begun :] if r.kind in kinds]

    def lamp(self) -> list[tuple[float, bool]]:
        return [(e.at, e.lit) for e in self.bench.lines.edges if e.line != SAFELIGHT]

    def meant(self) -> list[tuple[str, float]]:
        """What came of the feet: all records but the safelight's, and what is only told: refusals, worn contacts."""
        told = ("safelight", "refused", "worn")
        return [(r.kind, r.at) for r in self.bench.records[self.begun :] if r.kind not in told]

    def said(self) -> list[str]:
        return [what for what, _ in self.bench.said if what != "worn"]

    def refusals(self) -> set[str]:
        return {r.facts["why"] for r in self.of("refused")}


BOTH_KINDS = pytest.mark.parametrize("wide", [False, True], ids=["one train", "wider than the lock-out"])
EITHER = pytest.mark.parametrize("pedal", ["go", "end"])
SEEDS = pytest.mark.parametrize("seeds", first([TRAINS[k::8] for k in range(8)], 1), ids=str)
TOO_SOON = {"too soon after press"}


@BOTH_KINDS
@EITHER
@SEEDS
def test_a_press_that_puts_a_light_out_does_nothing_else(pedal: str, wide: bool, seeds: range) -> None:
    for seed in seeds:
        worn = Worn().lit().look()
        worn.raw(pedal, press(seed, wide, any_rest), 10.0)
        worn.bench.advance(20.0)
        assert worn.meant() == [("dark", 10.0)], seed
        assert worn.lamp() == [(10.0, False)], seed
        assert (worn.row, worn.said()) == (rows.PAUSED, []), seed
        assert worn.bench.session.standing.sheet is not None
        assert worn.bench.session.standing.sheet.steps[2].given == pytest.approx(worn.of("dark")[0].facts["given"])
        assert worn.refusals() <= (TOO_SOON if wide else set()), seed


@BOTH_KINDS
@EITHER
@SEEDS
def test_a_press_that_calls_a_lead_in_off_does_nothing_else(pedal: str, wide: bool, seeds: range) -> None:
    for seed in seeds:
        worn = Worn().out()
        worn.clean("go", 5.0)
        worn.look().raw(pedal, press(seed, wide, any_rest if pedal == "go" else lambda _: 0.3), 6.0)
        worn.bench.advance(20.0)
        assert worn.meant() == [("called off", 6.0)], seed
        assert (worn.lamp(), worn.row) == ([], rows.READY), seed


@BOTH_KINDS
@SEEDS
def test_a_press_that_starts_a_light_starts_it_once(wide: bool, seeds: range) -> None:
    """Where a contact bounces wider than the lock-out, that may call its own lead-in off: dark is the safe side."""
    for seed in seeds:
        worn = Worn().out().look()
        bouncing = press(seed, wide, lambda pick: pick.uniform(0.05, 2.0))
        worn.raw("go", bouncing, 5.0)
        worn.bench.advance(20.0)
        kinds = [kind for kind, _ in worn.meant()]
        if not wide:
            assert kinds == ["lit", "dark", "ended", "ready"], seed
            assert worn.lamp() == [(8.0, True), (pytest.approx(14.0), False)], seed
            assert worn.refusals() == set()
        elif "lit" in kinds:
            assert [r.facts["why"] for r in worn.of("called off")] in ([], ["tap"]), seed
            assert kinds[-4:] == ["lit", "dark", "ended", "ready"] and kinds.count("lit") == 1, seed
        else:
            assert set(kinds) == {"called off"}, seed
            assert (worn.lamp(), worn.row) == ([], rows.READY), seed


@BOTH_KINDS
@SEEDS
def test_a_held_light_follows_the_foot_and_not_the_bounce(wide: bool, seeds: range) -> None:
    """Wider bounce is one press too if it is over before the light, 0.2 s on: after that it is a foot that lifts."""
    for seed in seeds:
        worn = Worn("hold").out().look()
        bouncing = press(seed // 2 if wide else seed, wide, lambda pick: pick.uniform(0.35, 2.5))
        worn.raw("go", bouncing, 5.0)
        worn.bench.advance(20.0)
        (lit,), (dark,) = worn.of("lit"), worn.of("dark")
        rests = 5.0 + bouncing.down[-1]
        latest = rests + HELD_LEAD_IN_S if wide else max(5.0 + HELD_LEAD_IN_S, rests)
        assert lit.at >= 5.0 + HELD_LEAD_IN_S - 1e-9 and lit.at <= latest + 1e-9, seed
        assert dark.at == pytest.approx(5.0 + bouncing.leaves), seed
        assert worn.lamp() == [(lit.at, True), (dark.at, False)], seed
        assert worn.of("ended") == [] and worn.row == rows.PAUSED, seed
        assert worn.refusals() == set(), "a held step follows the foot as quickly as it moves"
        assert wide or worn.of("called off") == [], seed


@BOTH_KINDS
@SEEDS
def test_end_puts_a_held_light_out_and_does_nothing_else(wide: bool, seeds: range) -> None:
    for seed in seeds:
        worn = Worn("hold").lit().look()
        worn.bench.at(10.2, partial(worn.bench.raw_edge, "go", False))
        worn.raw("end", press(seed, wide, any_rest), 10.0)
        worn.bench.advance(20.0)
        assert worn.meant() == [("dark", 10.0)], seed
        assert (worn.lamp(), worn.row, worn.said()) == ([(10.0, False)], rows.PAUSED, []), seed


@BOTH_KINDS
@pytest.mark.parametrize("kind", ["press", "hold"])
@SEEDS
def test_a_prompt_is_passed_once_and_nothing_starts(kind: str, wide: bool, seeds: range) -> None:
    for seed in seeds:
        worn = Worn(kind)
        worn.clean("go", 1.0, 1.2)
        worn.look().raw("go", press(seed, wide, any_rest), 4.0)
        worn.bench.advance(20.0)
        assert worn.of("lit", "ended") == [] and worn.lamp() == [], seed
        assert [r.at for r in worn.of("sheet out")] == [4.0], seed
        if kind == "press":
            assert worn.of("called off") == [], seed


@SEEDS
def test_arming_does_not_pass_the_prompt_by_the_way_the_foot_leaves(seeds: range) -> None:
    for seed in seeds:
        worn = Worn().look()
        bouncing = press(seed, True, lambda _: 1.2)
        bouncing.down = [0.0]
        worn.raw("go", bouncing, 1.0)
        worn.bench.advance(20.0)
        assert [r.kind for r in worn.of("armed", "sheet out")] == ["armed"], seed


@pytest.mark.parametrize("pedal", ["go", "end", "third"])
@SEEDS
def test_a_light_to_look_by_that_was_put_out_stays_out(pedal: str, seeds: range) -> None:
    """The same press may still arm, or mean nothing more; but it lights nothing."""
    for seed in seeds:
        for sheet in (False, True):
            worn = Worn().out() if sheet else Worn()
            worn.clean("third", 6.0)
            assert worn.row == (rows.READY_SHOWN if sheet else rows.VIEWING)
            bouncing = press(seed, True, any_rest)
            worn.bench.advance(8.0)
            worn.look().raw(pedal, bouncing, 8.0)
            worn.bench.advance(20.0)
            assert worn.lamp() == [(8.0, False)], seed
            assert worn.of("ended", "called off", "show") == [], seed


# -- the edges that were seen to go wrong, and the edges of the rule --------------------------------------------------


@pytest.mark.parametrize("rest", [0.1, 1.5])
@pytest.mark.parametrize("down", [[0.0, 0.031, 0.064], [0.0]], ids=["coming down", "clean"])
@pytest.mark.parametrize("up", [[0.0, 0.04, 0.08], [0.0]], ids=["leaving", "cleanly"])
@EITHER
def test_one_press_neither_ends_a_step_nor_lights_it_again(
    pedal: str, up: list[float], down: list[float], rest: float
) -> None:
    worn = Worn().lit().look()
    worn.raw(pedal, Press(down, rest, up), 9.05)
    worn.bench.advance(20.0)
    assert (worn.meant(), worn.lamp(), worn.row) == ([("dark", 9.05)], [(9.05, False)], rows.PAUSED)


@pytest.mark.parametrize("rest", [0.05, 0.15, 1.0, 2.5])
@EITHER
@pytest.mark.parametrize("times", first([range(1 + k, 301, 6) for k in range(6)], 1), ids=str)
def test_one_bounce_after_any_time_neither_ends_a_step_nor_lights_it_again(
    pedal: str, rest: float, times: range
) -> None:
    """The contact closes once more for 20 ms, 1 to 300 ms after the foot has left; or it opens so long on the way."""
    for ms in times:
        wide = ms / 1000
        for bouncing in (
            Press([0.0], rest, [0.0, wide, wide + 0.02]),
            Press([0.0, 0.031, 0.031 + wide], rest, [0.0]),
        ):
            worn = Worn().lit().look()
            worn.raw(pedal, bouncing, 9.0)
            worn.bench.advance(16.0)
            assert (worn.meant(), worn.lamp(), worn.row) == ([("dark", 9.0)], [(9.0, False)], rows.PAUSED), ms


@pytest.mark.parametrize(("after", "taken"), [(0.25, False), (0.69, False), (0.71, True)])
def test_a_double_tap_of_go_starts_nothing_again(after: float, taken: bool) -> None:
    worn = Worn().lit().look()
    worn.clean("end", 10.0)
    worn.clean("go", 10.0 + after)
    assert worn.row == (rows.LEAD_IN if taken else rows.PAUSED)
    assert worn.refusals() == (set() if taken else TOO_SOON)


@pytest.mark.parametrize(("after", "said"), [(0.25, []), (0.71, ["owed"])])
def test_a_double_tap_of_end_ends_nothing(after: float, said: list[str]) -> None:
    worn = Worn().lit().look()
    worn.clean("end", 10.0)
    worn.clean("end", 10.0 + after)
    worn.bench.advance(20.0)
    assert (worn.meant(), worn.row) == ([("dark", 10.0)], rows.PAUSED)
    assert worn.said() == said


@pytest.mark.parametrize(("seconds", "ended"), [(0.99, False), (1.01, True)])
def test_a_step_is_ended_by_a_hold_of_a_second(seconds: float, ended: bool) -> None:
    worn = Worn().lit().look()
    worn.clean("go", 10.0)
    worn.clean("end", 12.0, seconds)
    assert [(r.facts["by"], r.at) for r in worn.of("ended")] == ([("printer", 12.0 + seconds)] if ended else [])
    assert worn.row == (rows.READY if ended else rows.PAUSED)


def test_a_held_step_is_lit_again_as_quickly_as_the_foot_moves() -> None:
    worn = Worn("hold").lit().look()
    for up, down in ((9.0, 9.1), (9.5, 9.56), (10.0, 10.2)):
        worn.bench.at(up, partial(worn.bench.raw_edge, "go", False))
        worn.bench.at(down, partial(worn.bench.raw_edge, "go", True))
    worn.bench.advance(10.5)
    assert worn.lamp() == [
        (9.0, False), (pytest.approx(9.3), True), (9.5, False), (pytest.approx(9.76), True), (10.0, False),
        (pytest.approx(10.4), True),
    ]  # fmt: skip


def test_a_held_step_that_end_put_out_is_lit_again_as_soon_as_the_foot_is_down_again() -> None:
    worn = Worn("hold").lit().look()
    worn.bench.at(9.05, partial(worn.bench.raw_edge, "go", False))
    worn.clean("end", 9.0, 0.1)
    worn.clean("go", 9.3, 1.0)
    assert worn.lamp() == [(9.0, False), (9.5, True), (10.3, False)]
    assert worn.refusals() == set()


def test_where_go_acts_as_it_is_let_up_a_hold_may_follow_at_once() -> None:
    """At done a press says where the sheet is, a hold arms the next one: nothing is lit by either."""
    worn = Worn().lit()
    worn.bench.advance(15.0)
    worn.clean("end", 15.0, 1.1)  # the last step is skipped
    worn.look().clean("go", 18.0)
    worn.clean("go", 18.3, 1.1)
    assert [r.kind for r in worn.of("stop bath", "to trays", "armed")][-1] == "armed"
    assert worn.refusals() == set()


@pytest.mark.parametrize("kind", ["press", "hold"])
@pytest.mark.parametrize(("after", "taken"), [(0.4, False), (0.69, False), (0.71, True)])
def test_a_double_tap_at_a_prompt_starts_nothing(kind: str, after: float, taken: bool) -> None:
    worn = Worn(kind)
    worn.clean("go", 1.0, 1.2)
    worn.clean("go", 4.0)
    worn.look().clean("go", 4.0 + after, 1.0)
    worn.bench.advance(9.0)
    assert (worn.of("lit") != []) == taken
    assert worn.refusals() == (set() if taken else TOO_SOON)


def test_a_foot_that_rested_through_a_light_starts_nothing_by_the_way_it_leaves() -> None:
    worn = Worn().out().look()
    worn.raw("go", Press([0.0], 12.0, [0.0, 0.05, 0.11]), 5.0)
    worn.bench.advance(25.0)
    assert [kind for kind, _ in worn.meant()] == ["lit", "dark", "ended", "ready"]
    assert worn.refusals() == TOO_SOON


def test_after_the_third_tap_the_contact_is_told_to_be_worn() -> None:
    worn = Worn().out().look()
    for k in range(6):
        worn.clean("go", 10.0 + k, 0.012)
        assert worn.row == rows.READY
    assert [(r.at, r.facts) for r in worn.of("worn")] == [(12.012, {"pedal": "go"}), (15.012, {"pedal": "go"})]
    assert [what for what, _ in worn.bench.said] == ["worn", "worn"]
    assert worn.bench.session.standing.worn == "go"
    assert worn.lamp() == [] and len(worn.of("called off")) == 6


def test_after_a_tap_the_press_is_still_to_come() -> None:
    """A contact that closes for 12 ms, opens, and closes as the foot comes down."""
    worn = Worn().out().look()
    worn.raw("go", Press([0.0, 0.012, 0.072], 0.2, [0.0]), 5.0)
    worn.bench.advance(9.0)
    assert worn.meant() == [("called off", pytest.approx(5.042)), ("lit", pytest.approx(8.072))]
    assert worn.refusals() == set()


def test_taps_are_counted_contact_by_contact_and_presses_are_none() -> None:
    worn = Worn().out().look()
    for k, (pedal, seconds) in enumerate([("go", 0.012), ("end", 0.012), ("go", 0.012), ("end", 0.1), ("end", 0.012)]):
        worn.clean(pedal, 10.0 + k, seconds)
    assert worn.of("worn") == []
    worn.clean("end", 20.0, 0.012)
    assert [r.facts["pedal"] for r in worn.of("worn")] == ["end"]
