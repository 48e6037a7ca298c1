"""A sheet as the plan that its doses come to; and given again, dose for dose, on the bench as it is."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from golden import Golden
from hypothesis import given as drawn
from hypothesis import settings
from hypothesis import strategies as st
from sheet.plan_files import SLOW_LAMPS, TWO_STATION, WET_PAPER, plan_of, print_of, read_or_none
from sheet.printed_sheets import sheet_of
from sheet.test_plan_random import texts

from timerd.places import shipped
from timerd.sheet.given import as_given, counted_over, near_stops
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read
from timerd.sheet.repeating import repeated

SHIPPED = sorted(path.stem for path in (shipped() / "prints").glob("*.yaml"))
YARD = print_of(
    "{base: soft, light: green, seconds: 9, dodge: [{area: chimney, stops: 1/3}, {area: sky, stops: 1/2}]}",
    "{base: hard, light: blue, seconds: 6}",
    "{burn: wall, light: green, stops: 5/6, leave: [{area: sky, stops: 1/6}]}",
    "{burn: sky, light: green, pedal: free}",
    "{burn: wall, light: blue, stops: 1/2, then: next}",
    "{burn: edges, mm: 10, light: blue, stops: 1/4}",
)


def bench_of(text: str) -> Bench:
    return read(text.encode(), "bench.yaml", "bench").value


TWO = bench_of(TWO_STATION)


def of_shipped(name: str) -> tuple[Plan, Bench]:
    parts = {"print": read((shipped() / "prints" / f"{name}.yaml").read_bytes(), name, "print")}
    for kind, folder in (("bench", "benches"), ("paper", "papers")):
        path = shipped() / folder / f"{getattr(parts['print'].value, kind)}.yaml"
        parts[kind] = read(path.read_bytes(), str(path), kind)  # type: ignore[call-overload]
    return make_plan(parts["print"], parts["bench"], parts["paper"]), parts["bench"].value


def named(plan: Plan, name: str) -> Step:
    return next(step for step in plan.steps if step.name == name)


# -- as given --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", SHIPPED)
def test_a_sheet_run_by_its_plan_is_its_plan(name: str) -> None:
    plan, _ = of_shipped(name)
    free = {step.n: 7.5 for step in plan.steps if step.pedal == "free"}
    given = as_given(plan, sheet_of(plan, free))
    for planned, step in zip(plan.steps, given.steps, strict=True):
        if planned.pedal == "free":
            assert (step.dose, step.pedal, step.parts) == (7.5, "hold", (7.5,))
        else:
            assert step is planned or step == planned
    assert bool(free) or given is plan


def test_pauses_leave_no_trace_and_the_timer_s_last_digits_neither() -> None:
    plan = plan_of(YARD)
    base = plan.steps[1]
    assert base.dose == 9.0
    given = as_given(plan, sheet_of(plan, {2: [1.0, 2.0, 6.0 + 1e-7], 5: 14.0}))
    assert given.steps[1] == base
    ended = as_given(plan, sheet_of(plan, {2: [1.0, 2.0, 5.99], 5: 14.0}))
    assert ended.steps[1].dose == 8.99, "ended by the printer"
    overran = sheet_of(plan, {2: 9.02, 5: 14.0})
    overran.steps[2].ended_by = "dose"
    assert as_given(plan, overran).steps[1].dose == 9.02, "a fault let it burn on"


def test_a_free_burn_is_counted_over_its_base() -> None:
    """14.0 s over 9 s: log2(1 + 14/9) = 1.3536, by hand."""
    plan = plan_of(YARD)
    burn = named(as_given(plan, sheet_of(plan, {5: 14.0})), "burn/sky/green")
    assert (burn.pedal, burn.dose, burn.seconds, burn.stops_written) == ("hold", 14.0, 14.0, None)
    assert burn.stops == pytest.approx(1.353637, abs=1e-6)


def test_a_base_that_was_ended_early_changes_what_is_counted_over_it_and_its_cards() -> None:
    """Half a base of 9 s: the same burn of 7.04 s (5/6 stop over 9) is log2(1 + 7.04/4.5) = 1.358 over 4.5."""
    plan = plan_of(YARD)
    base = named(plan, "base/soft/green")
    first, second = base.dodges
    assert (first.start, second.start) == (0.0, pytest.approx(first.stop + 1))
    given = as_given(plan, sheet_of(plan, {2: 4.5, 5: 3.0}))
    was, burn = named(plan, "burn/wall/green"), named(given, "burn/wall/green")
    assert (burn.dose, burn.parts) == (was.dose, was.parts)
    assert burn.stops == pytest.approx(math.log2(1 + 9 * (2 ** (5 / 6) - 1) / 4.5))
    half = named(given, "base/soft/green")
    assert (half.dose, half.parts, half.seconds) == (4.5, (4.5,), 4.5)
    card, cut = half.dodges
    assert (card.start, card.stop) == (first.start, first.stop)
    assert card.stops == pytest.approx(-math.log2(1 - first.stop / 4.5))
    assert (cut.start, cut.stop) == (second.start, 4.5), "the card was still in when the light went out"
    leave = burn.dodges[0]
    assert leave.stops == pytest.approx(math.log2(1 + (was.dose - leave.seconds) / 4.5))
    assert named(given, "burn/wall/blue") == named(plan, "burn/wall/blue").model_copy(update={"n": 6})


def test_what_was_skipped_is_left_out_and_nothing_goes_into_it_by_itself() -> None:
    plan = plan_of(YARD)
    given = as_given(plan, sheet_of(plan, {5: 0.0, 7: 0.0}))
    assert [step.name for step in given.steps] == [
        "wait", "base/soft/green", "base/hard/blue", "burn/wall/green", "burn/wall/blue",
    ]  # fmt: skip
    assert [step.n for step in given.steps] == [1, 2, 3, 4, 5]
    assert named(plan, "burn/wall/blue").then_next and not named(given, "burn/wall/blue").then_next
    without_base = as_given(plan, sheet_of(plan, {2: 0.0, 5: 14.0}))
    assert named(without_base, "burn/sky/green").stops is None, "there is no base to count over"
    assert named(without_base, "burn/wall/green").stops is None
    assert named(without_base, "burn/wall/green").dose == named(plan, "burn/wall/green").dose


def test_a_base_over_before_its_card_came_out_leaves_the_area_without_light() -> None:
    plan = plan_of(YARD)
    given = as_given(plan, sheet_of(plan, {2: 1.0, 5: 0.0}))
    (card,) = named(given, "base/soft/green").dodges
    assert (card.start, card.stop, card.stops) == (0.0, 1.0, None)
    assert [total.area for total in plan.totals if total.light == "green"] == ["wall"], "the sky's burn is free"
    assert [total.area for total in given.totals if total.light == "green"] == ["chimney", "wall", "sky"]


def test_what_a_burn_was_counted_over_is_found_again() -> None:
    plan = plan_of(
        print_of(
            "{base: one, light: green, seconds: 8}", "{base: two, light: green, seconds: 3}",
            "{burn: wall, light: green, stops: 1/2}", "{burn: sky, light: green, stops: 1/2, over: two}",
            "{burn: sky, light: blue, seconds: 4}",
        )
    )  # fmt: skip
    over = {step.name: [base.name for base in counted_over(plan, step)] for step in plan.steps if step.kind == "burn"}
    assert over == {
        "burn/wall/green": ["base/one/green", "base/two/green"], "burn/sky/green": ["base/two/green"],
        "burn/sky/blue": [],
    }  # fmt: skip


@pytest.mark.parametrize(
    ("stops", "near"),
    [(1 / 3, "1/3"), (1 / 3 + 0.0024, "1/3"), (1 / 3 + 0.0026, "0.336"), (1.0, "1"), (0.0, "0"), (0.0024, "0")],
)
def test_a_twelfth_counts_within_a_four_hundredth(stops: float, near: str) -> None:
    assert near_stops(stops) == Fraction(near)


# -- given again -----------------------------------------------------------------------------------------------------


def doses(plan: Plan) -> list[tuple[str, float | None, tuple[float, ...]]]:
    return [(step.name, step.dose, step.parts) for step in plan.steps if step.kind in LIGHTS]


@pytest.mark.parametrize("name", SHIPPED)
def test_repeated_by_plan_it_is_the_same_plan(name: str) -> None:
    plan, bench = of_shipped(name)
    free = {step.n: 7.5 for step in plan.steps if step.pedal == "free"}
    again = repeated(plan, sheet_of(plan, free), bench)
    assert again == as_given(plan, sheet_of(plan, free))
    if not free:
        assert again == plan


@settings(max_examples=40, deadline=None)
@drawn(texts(), st.data())
def test_whatever_was_given_is_given_again_to_the_last_bit(files: tuple[str, str, str], data: st.DataObject) -> None:
    """Any print, each step to its plan, or ended, or skipped; and the repeated sheet repeats to itself."""
    plan = read_or_none(*files)
    if plan is None:
        return
    bench = bench_of(files[1])
    given = {}
    for step in plan.steps:
        if step.kind in LIGHTS and (share := data.draw(st.sampled_from([1.0, 1.0, 0.0, 0.3, 0.77, 1.2]))) != 1.0:
            given[step.n] = (step.dose or 0.0) * share
    sheet = sheet_of(plan, given)
    lit = [step.n for step in plan.steps if step.kind in LIGHTS and given.get(step.n, 1.0) > 0]
    if not lit:
        with pytest.raises(ValueError, match="no light"):
            repeated(plan, sheet, bench)
        return
    again = repeated(plan, sheet, bench)
    assert [step.dose for step in again.steps if step.kind in LIGHTS] == [sheet.steps[n].given for n in lit]
    assert all(step.parts[-1] == step.dose for step in again.steps if step.kind in LIGHTS)
    assert Plan.model_validate_json(again.model_dump_json()) == again
    assert doses(repeated(again, sheet_of(again), bench)) == doses(again)


def test_dry_down_is_not_taken_off_twice() -> None:
    plan = plan_of(print_of("{base: soft, light: green, seconds: 10}", more="judged: wet"), paper=WET_PAPER)
    assert plan.steps[1].dose == pytest.approx(9.2)
    again = repeated(plan, sheet_of(plan), TWO)
    assert (again.steps[1].dose, again.steps[1].seconds) == (plan.steps[1].dose, pytest.approx(9.2))
    ended = repeated(plan, sheet_of(plan, {2: 5.0}), TWO)
    assert (ended.steps[1].dose, ended.steps[1].seconds, ended.steps[1].dry_down) == (5.0, 5.0, None)


def test_seconds_are_those_of_the_lamp_as_it_is_now() -> None:
    text = print_of("{base: a, light: cold, seconds: 10}").replace("two-station", "slow-lamps")
    plan = plan_of(text, SLOW_LAMPS)
    now = bench_of(SLOW_LAMPS.replace("lag_s: 0.1333", "lag_s: 0.25"))
    again = repeated(plan, sheet_of(plan), now)
    assert again.steps[1].dose == plan.steps[1].dose == pytest.approx(9.8667)
    assert again.steps[1].seconds == pytest.approx(10 - 0.1333 + 0.25)


def test_a_free_burn_longer_than_the_lamp_may_burn_comes_in_parts() -> None:
    text = print_of("{base: a, light: cold, seconds: 10}", "{burn: wall, light: cold, pedal: free}")
    plan = plan_of(text.replace("two-station", "slow-lamps"), SLOW_LAMPS)
    again = repeated(plan, sheet_of(plan, {3: [19.0, 19.0, 4.0]}), bench_of(SLOW_LAMPS))
    assert (again.steps[2].dose, again.steps[2].parts) == (42.0, (14.0, 28.0, 42.0))


def refused(plan: Plan, sheet: object, bench: Bench = TWO) -> str:
    with pytest.raises(ValueError) as caught:
        repeated(plan, sheet, bench)  # type: ignore[arg-type]
    return str(caught.value)


def test_what_cannot_be_repeated_is_said(golden: Golden) -> None:
    plan = plan_of(YARD)
    for last in ("abandoned", "fault"):
        found = refused(plan, sheet_of(plan, {3: 2.0}, last=last))
        golden(found)
    found = refused(plan, sheet_of(plan, {2: 9.0, 5: 3.0}, least={2: 8.1}))
    golden(found)
    nothing = {step.n: 0.0 for step in plan.steps if step.kind in LIGHTS}
    golden(refused(plan, sheet_of(plan, nothing)))
    sheet = sheet_of(plan, {5: 3.0})
    other = bench_of(TWO_STATION.replace("bench: two-station", "bench: three-station"))
    golden(refused(plan, sheet, other))
    gone = bench_of(TWO_STATION.replace("blue: {lamp: head-blue,", "azure: {lamp: head-blue,"))
    golden(refused(plan, sheet, gone))
    swapped = TWO_STATION.replace("green: {lamp: head-green", "green: {lamp: flasher")
    moved = bench_of(swapped.replace("flash: {lamp: flasher", "flash: {lamp: head-green"))
    golden(refused(plan, sheet, moved))
    short = bench_of(TWO_STATION.replace("pin: 17, station: enlarger", "pin: 17, station: enlarger, longest_s: 0.05"))
    golden(refused(plan, sheet, short))
