"""An area covered throughout an exposure, `hold_back: all`: nothing of that exposure reaches it."""

from __future__ import annotations

import pytest
from golden import Golden
from sheet.plan_files import FIRST_LINE, SLOW_LAMPS, TWO_STATION, faults_of, plan_of, print_of
from sheet.printed_sheets import sheet_of

from timerd.panel.scenes import NOW, status
from timerd.panel.view import view
from timerd.sheet.differing import steps_apart
from timerd.sheet.given import as_given
from timerd.sheet.plan.value import Plan, Step, Total
from timerd.sheet.plan.view import plan_facts, plan_table
from timerd.sheet.profile.reading import read
from timerd.sheet.status import LightOn
from timerd.sheet.words import cue_words, step_speech

COVERED = "{base: soft, light: green, seconds: 8, dodge: [{area: wall, hold_back: all, card: a black card}]}"
BLUE = "{base: hard, light: blue, seconds: 5}"


def total(plan: Plan, area: str, light: str) -> Total | None:
    return next((row for row in plan.totals if (row.area, row.light) == (area, light)), None)


def base(plan: Plan) -> Step:
    return next(step for step in plan.steps if step.kind == "base")


def test_the_card_is_in_from_the_first_moment_to_the_last(golden: Golden) -> None:
    (cue,) = base(plan_of(print_of(COVERED, BLUE))).dodges
    assert (cue.start, cue.stop, cue.stops, cue.stops_written, cue.apart) == (0.0, 8.0, None, None, False)
    assert cue_words(cue) == "cover wall throughout"
    golden(step_speech(base(plan_of(print_of(COVERED)))))


def test_its_total_is_nothing_and_what_burns_give_it_counts() -> None:
    plan = plan_of(print_of(COVERED, BLUE))
    assert total(plan, "wall", "green") == Total(
        area="wall", light="green", stops=None, base=8.0, added=0.0, held_back=8.0, reach=1.0
    )
    assert total(plan, "wall", "blue") is None, "all of the blue, as everywhere"
    assert " nothing  wall, green: 8.0 - 8.0 s" in plan_table(plan).splitlines()
    assert plan_facts(plan)["totals"][0]["stops"] is None
    assert not [said for said in plan.cautions if "cards together" in said], "it is meant"
    burned = total(plan_of(print_of(COVERED, "{burn: wall, light: green, stops: 1 1/2}")), "wall", "green")
    assert burned is not None and burned.stops is not None
    assert burned.stops == pytest.approx(0.870603, abs=1e-6)  # log2(2^1.5 - 1): ln 1.828427 = 0.603456, over ln 2
    assert (burned.base, burned.added, burned.held_back) == (8.0, pytest.approx(8 * (2**1.5 - 1)), 8.0)


def test_what_lies_over_it_in_part_is_told_by_the_outlines() -> None:
    """The chimney lies whole in the sky, which is burned by as much as the base gives."""
    plan = plan_of(print_of(COVERED.replace("wall", "chimney"), "{burn: sky, light: green, stops: 1}"))
    sky = total(plan, "sky", "green")
    assert sky is not None and sky.stops == 1.0 and 0.7 < sky.reach < 1.0
    assert sky.rest == (0.0, 0.0), "under the chimney's card the burn alone: 8 s, as the base gives"
    chimney = total(plan, "chimney", "green")
    assert chimney is not None and (chimney.stops, chimney.reach, chimney.rest) == (0.0, 1.0, None)


def test_it_is_covered_in_every_burst_and_takes_a_hand_in_each(golden: Golden) -> None:
    two = COVERED.replace("}]}", "}, {area: sky, stops: 1, apart: true}]}")
    step = base(plan_of(print_of(two)))
    assert step.parts == (4.0, 8.0)
    assert [(cue.area, cue.start, cue.stop) for cue in step.dodges] == [("wall", 0.0, 8.0), ("sky", 4.0, 8.0)]
    shared = COVERED.replace("}]}", "}, {area: sky, stops: 1}, {area: chimney, stops: 1/2, start: 1}]}")
    golden(faults_of(print_of(shared)))
    assert faults_of(print_of(shared, more="hands: 3")) == []


@pytest.mark.parametrize(
    ("dodge", "said"),
    [
        ("{area: wall}", ": needs 'stops' or 'hold_back: all': how much is held back?"),
        ("{area: wall, hold_back: all, stops: 1}",
         ".stops: does not go with hold_back: all, which covers the area throughout: leave it out"),
        ("{area: wall, hold_back: all, start: 1}",
         ".start: does not go with hold_back: all, which covers the area throughout: leave it out"),
        ("{area: wall, hold_back: all, apart: true}",
         ".apart: does not go with hold_back: all, which covers the area throughout: leave it out"),
        ("{area: wall, hold_back: half}", ".hold_back: must be all, is 'half'"),
    ],
)  # fmt: skip
def test_what_cannot_be_meant_is_a_fault(dodge: str, said: str) -> None:
    text = print_of(f"{{base: soft, light: green, seconds: 8, dodge: [{dodge}]}}")
    assert faults_of(text) == [f"print.yaml:{FIRST_LINE}: steps[0].dodge[0]{said}"]


def test_two_cards_over_it_are_one_too_many(golden: Golden) -> None:
    text = print_of(COVERED.replace("}]}", "}, {area: wall, stops: 1/2, start: 2}]}"))
    golden(faults_of(text))


@pytest.mark.parametrize(("bench", "light"), [(TWO_STATION, "green"), (SLOW_LAMPS, "cold")])
def test_the_screen_says_it_before_and_counts_it_while_the_light_burns(bench: str, light: str) -> None:
    plan = plan_of(print_of(COVERED.replace("green", light)), bench)
    settings, n = read(bench.encode(), "bench.yaml", "bench").value, base(plan).n
    dose, card = base(plan).dose, "throughout, a black card"
    ready = view(status(plan, "ready", step=n), plan, settings, NOW)
    assert ready.lines[-1] == f"0.0 to {dose:.1f} s: cover wall {card}"
    burst = LightOn(1, light, NOW - 2.0, NOW + 6.0)
    assert [cue.words for cue in view(status(plan, "exposing", step=n, burst=burst), plan, settings, NOW).cues] == [
        "out 6: wall"
    ]


def test_as_given_and_apart_from_another_plan_it_stays_covered() -> None:
    plan = plan_of(print_of(COVERED, BLUE))
    cut = as_given(plan, sheet_of(plan, {2: 5.0}))
    (cue,) = base(cut).dodges
    assert (cue.start, cue.stop, cue.stops) == (0.0, 5.0, None)
    assert total(cut, "wall", "green") == Total(
        area="wall", light="green", stops=None, base=5.0, added=0.0, held_back=5.0, reach=1.0
    )
    card = {row.words: (row.stops, row.a and row.a.stops) for row in steps_apart(plan, cut)}["dodge wall"]
    assert card == (0.0, None)
