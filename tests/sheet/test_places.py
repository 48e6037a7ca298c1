"""What an area gets in all, by the outlines: sums made by hand for nested, crossing and hollow areas, and for two
negatives; and what is not told."""

from __future__ import annotations

import math
import random

import pytest
from golden import Golden
from sheet.plan_files import TWO_STATION, plan_of
from sheet.printed_sheets import sheet_of

from timerd.sheet.differing import areas_apart
from timerd.sheet.edition import Printed, edition
from timerd.sheet.given import as_given
from timerd.sheet.losses import tones_off
from timerd.sheet.places import negatives, places
from timerd.sheet.plan.value import Plan, Total
from timerd.sheet.plan.view import plan_facts, plan_table
from timerd.sheet.safelight import flashed

AREAS = """
  sky: [[0, 0], [1, 0], [1, 0.5], [0, 0.5]]
  sun: [[0.4, 0.1], [0.6, 0.1], [0.6, 0.2], [0.4, 0.2]]
  tree: [[0.4, 0.25], [0.6, 0.25], [0.6, 0.75], [0.4, 0.75]]
  figure: [[0.1, 0.6], [0.3, 0.6], [0.3, 1], [0.1, 1]]
  face: [[0.15, 0.65], [0.25, 0.65], [0.25, 0.75], [0.15, 0.75]]
  bow: [[0.7, 0.6], [0.9, 0.8], [0.9, 0.6], [0.7, 0.8]]
  arch: [[0, 0.8], [0.1, 0.8], [0.1, 0.9], [0.05, 0.9], [0.05, 1], [0, 1]]"""
"""The sun in the sky, half of the tree too; the face in the figure; a bow that crosses itself; a hollow arch."""
GREEN = "{base: soft, light: green, seconds: 8}"


def of(*steps: str, paper: str = "paper: plain\nthreshold: {flash: 1.6}\n", more: str = "aperture: 8") -> Plan:
    text = f"print: Placed\npaper: plain\nbench: two-station\nsheet: [200, 250]\n{more}\nareas:{AREAS}\nsteps:\n"
    return plan_of(text + "".join(f"  - {step}\n" for step in steps), TWO_STATION, paper)


def total(plan: Plan, area: str, light: str = "green") -> Total:
    (row,) = [row for row in plan.totals if (row.area, row.light) == (area, light)]
    return row


def got(plan: Plan, area: str) -> tuple[float, float, float, float]:
    """Base, added, held back and reach."""
    row = total(plan, area)
    return row.base, row.added, row.held_back, pytest.approx(row.reach)


# -- outlines --------------------------------------------------------------------------------------------------------


def test_a_sky_inside_a_larger_sky_gets_both_burns() -> None:
    """8 s of base, 8 s and 5/3 of it by hand: the sun had been told its own 2/3 stop alone."""
    plan = of(GREEN, "{burn: sky, light: green, stops: 1}", "{burn: sun, light: green, seconds: 16}")
    assert got(plan, "sun") == (8.0, 24.0, 0.0, 1.0) and total(plan, "sun").stops == 2.0
    sky = total(plan, "sky")
    assert (sky.base, sky.added, sky.stops) == (8.0, 8.0, 1.0)
    assert sky.reach == pytest.approx(1 - 0.02 / 0.5) and sky.rest == (2.0, 2.0)


def test_a_face_under_a_card_is_held_back_with_it() -> None:
    dodges = "dodge: [{area: figure, stops: 1/2}, {area: face, stops: 1/12}]"
    plan = of(f"{{base: soft, light: green, seconds: 8, {dodges}}}")
    figure, face = 8 * (1 - 2**-0.5), 8 * (1 - 2 ** (-1 / 12))
    assert total(plan, "face").held_back == pytest.approx(figure + face)
    assert total(plan, "face").stops == pytest.approx(math.log2(2**-0.5 + 2 ** (-1 / 12) - 1))
    assert total(plan, "figure").reach == pytest.approx(1 - 0.01 / 0.08)


def test_where_two_cards_are_in_at_once_light_passes_neither() -> None:
    """The figure's card from 0 to 2.34 s, the face's from 1 to 3.34 s: 3.34 s in all, not 4.69."""
    dodges = "dodge: [{area: figure, stops: 1/2, start: 0}, {area: face, stops: 1/2, start: 1}]"
    plan = of(f"{{base: soft, light: green, seconds: 8, {dodges}}}")
    one = 8 * (1 - 2**-0.5)
    assert total(plan, "face").held_back == pytest.approx(1 + one) and total(plan, "figure").held_back == pytest.approx(
        one
    )


def test_a_card_holds_back_only_where_its_burn_falls() -> None:
    """Of the tree half stands in the sky: that half is left at 1/4 stop of the burn, the other gets none of it."""
    leave = "leave: [{area: tree, stops: 1/4}, {area: figure, stops: 0, start: 0}]"
    plan = of(GREEN, f"{{burn: sky, light: green, stops: 1, {leave}}}")
    assert total(plan, "tree").reach == pytest.approx(0.5)
    tree = total(plan, "tree")
    assert tree.rest is not None and tree.rest[0] == tree.rest[1]
    assert sorted([tree.stops, tree.rest[0]]) == [0.0, pytest.approx(0.25)]
    assert got(plan, "figure") == (8.0, 0.0, 0.0, 1.0), "it stands outside of the burn: its card is held for nothing"
    assert any("tree, green" in line and "on 50 % of it, else" in line for line in plan_table(plan).splitlines())


@pytest.mark.parametrize(("area", "size"), [("bow", 0.02), ("arch", 0.015), ("sun", 0.02), ("all", 1.0)])
def test_areas_that_cross_themselves_or_are_hollow_count_as_they_are_drawn(area: str, size: float) -> None:
    """By the even-odd rule, as the map draws and the proof lights them."""
    plan = of(GREEN, f"{{burn: {area}, light: green, stops: 1}}")
    found = places(plan.sheet, plan.steps)
    assert sum(place.share for place in found if area in place.inside) == pytest.approx(size)


def test_strips_along_the_edge_and_all_are_areas() -> None:
    steps = (
        GREEN, "{burn: all, light: green, stops: 1/2}", "{burn: edges, mm: 10, light: green, stops: 1/2}",
        "{burn: left, mm: 50, light: green, seconds: 2}",
    )  # fmt: skip
    plan = of(*steps)
    half = 8 * (2**0.5 - 1)
    assert got(plan, "left 50 mm") == (8.0, pytest.approx(half + 2), 0.0, pytest.approx(40 * 230 / (50 * 250)))
    frame = 200 * 250 - 180 * 230
    assert got(plan, "edges 10 mm") == (
        8.0, pytest.approx(2 * half), 0.0, pytest.approx(1 - (50 * 250 - 40 * 230) / frame)
    )  # fmt: skip
    assert total(plan, "all").added == pytest.approx(half)
    assert total(plan, "all").reach == pytest.approx(140 * 230 / (200 * 250))


def test_an_area_that_a_light_does_not_name_is_told_where_the_light_reaches_most_of_it() -> None:
    blue = "{base: hard, light: blue, seconds: 4}"
    plan = of(GREEN, blue, "{burn: sun, light: blue, stops: 1}", "{burn: sky, light: green, stops: 1}")
    assert {(row.area, row.light) for row in plan.totals} == {("sun", "green"), ("sky", "green"), ("sun", "blue")}
    assert total(plan, "sun", "green").stops == 1.0


# -- doses -----------------------------------------------------------------------------------------------------------


def test_a_base_through_another_lens_counts_as_at_the_prints_own() -> None:
    """8 s as at f/8 are 16 s at f/11; a burn of 1 stop over it is 8 s at f/8, and half a stop is held back of both."""
    steps = (
        "{base: soft, light: green, seconds: 8, aperture: 11, dodge: [{area: figure, stops: 1}]}",
        "{burn: sky, light: green, stops: 1, aperture: 16}",
    )  # fmt: skip
    plan = of(*steps)
    assert [step.dose for step in plan.steps if step.light] == [16.0, 32.0]
    assert got(plan, "sky") == (8.0, 8.0, 0.0, 1.0) and total(plan, "sky").stops == 1.0
    assert got(plan, "figure") == (8.0, 0.0, 4.0, 1.0) and total(plan, "figure").stops == -1.0


def test_each_negative_is_counted_by_itself() -> None:
    """A burn of 1 stop over the first base is +1 of the first image, whatever the second negative gives after it."""
    steps = (
        GREEN, "{burn: sky, light: green, stops: 1, over: soft}", "{negative: 24-9}",
        "{base: second, light: green, seconds: 20, dodge: [{area: sky, stops: 1}]}",
    )  # fmt: skip
    plan = of(*steps, more="negative: 24-8\naperture: 8")
    rows = [(row.area, row.negative, row.base, row.added, row.held_back, row.stops) for row in plan.totals]
    assert rows == [("sky", "negative 24-8", 8.0, 8.0, 0.0, 1.0), ("sky", "negative 24-9", 20.0, 0.0, 10.0, -1.0)]
    assert [row["negative"] for row in plan_facts(plan)["totals"]] == ["negative 24-8", "negative 24-9"]
    table = plan_table(plan)
    assert table.index("negative 24-8:") < table.index("sky, green: 8.0 + 8.0 s") < table.index("negative 24-9:")
    assert [name for name, _ in negatives(plan.steps)] == ["negative 24-8", "negative 24-9"]
    changed = of(GREEN.replace("8}", "16}"), *steps[1:], more="negative: 24-8\naperture: 8")
    apart = [(row.area, row.negative, row.a, row.b) for row in areas_apart(plan, changed)]
    assert apart == [
        (None, "negative 24-8", 8.0, 16.0), ("sky", "negative 24-8", 16.0, 32.0),
        (None, "negative 24-9", 20.0, 20.0), ("sky", "negative 24-9", 10.0, 10.0),
    ]  # fmt: skip
    rest = [row for row in edition(plan, [Printed(1, None, changed)]).areas if row.what is None]
    assert [(row.negative, row.planned, row.off) for row in rest] == [
        ("negative 24-8", 8.0, (1.0,)), ("negative 24-9", 20.0, (0.0,)),
    ]  # fmt: skip


def test_a_print_of_one_negative_has_the_keys_that_it_had_and_how_much_of_the_area() -> None:
    (row,) = plan_facts(of(GREEN, "{burn: sky, light: green, stops: 1}"))["totals"]
    assert row == {
        "area": "sky", "light": "green", "stops": 1.0, "base": 8.0, "added": 8.0, "held_back": 0.0, "reach": 1.0,
    }  # fmt: skip


# -- what is not told ------------------------------------------------------------------------------------------------


def test_what_a_free_burn_reaches_is_not_told() -> None:
    """The edges are free: of the sky what lies within them is told, and nothing of the rest; of the arch nothing."""
    plan = of(
        GREEN, "{burn: sky, light: green, stops: 1}", "{burn: sun, light: green, seconds: 16}",
        "{burn: edges, mm: 25, light: green, pedal: free}", "{burn: arch, light: green, stops: 1/2}",
    )  # fmt: skip
    assert [row.area for row in plan.totals] == ["sky", "sun"]
    sky = total(plan, "sky")
    assert (sky.stops, sky.rest) == (1.0, None)
    assert sky.reach == pytest.approx(1 - (0.02 * 200 * 250 + 200 * 125 - 150 * 100) / (200 * 125))


def test_what_cards_hold_back_to_nothing_together_is_said_and_told_as_nothing(golden: Golden) -> None:
    dodges = "dodge: [{area: figure, stops: 1}, {area: face, stops: 1, apart: true}]"
    plan = of(f"{{base: soft, light: green, seconds: 8, {dodges}}}")
    golden(plan.cautions[:-1])
    assert [(row.area, row.stops) for row in plan.totals] == [("figure", -1.0), ("face", None)]
    assert total(plan, "figure").stops == -1.0 and total(plan, "figure").rest is None


def test_without_a_sheet_one_area_is_known_and_two_are_not() -> None:
    """As in a book of the first versions, whose plans have no outlines."""
    one = of("{base: soft, light: green, seconds: 8, dodge: [{area: sky, stops: 1/2}]}")
    bare = one.model_copy(update={"sheet": None})
    sheet = as_given(bare, sheet_of(bare, {2: 4.0}))
    assert [(row.area, row.base, row.held_back, row.reach) for row in sheet.totals] == [
        ("sky", 4.0, pytest.approx(8 * (1 - 2**-0.5)), 1.0),
    ]  # fmt: skip
    two = of(GREEN, "{burn: sky, light: green, stops: 1}", "{burn: sun, light: green, stops: 1}")
    bare = two.model_copy(update={"sheet": None})
    assert as_given(bare, sheet_of(bare, {2: 4.0})).totals == ()
    assert [row.area for row in areas_apart(bare, bare)] == [None]


def test_outlines_that_cross_too_often_are_not_told() -> None:
    rng = random.Random(7)
    combs = [[[round(rng.random(), 3), round(rng.random(), 3)] for _ in range(200)] for _ in range(12)]
    areas = "".join(f"\n  comb {n}: {comb}" for n, comb in enumerate(combs))
    burns = "".join(f"  - {{burn: comb {n}, light: green, stops: 1/3}}\n" for n in range(12))
    text = f"print: Combs\npaper: plain\nbench: two-station\nsheet: [200, 250]\nareas:{areas}\nsteps:\n  - {GREEN}\n"
    plan = plan_of(text + burns)
    assert len(plan.steps) == 14 and plan.totals == ()


# -- what else goes by outlines --------------------------------------------------------------------------------------


def test_a_burn_cut_short_is_told_by_what_its_tone_lost() -> None:
    """A burn of 1 3/4 stops given to 0.5625 of its dose: 0.830 stop of itself, 0.530 of the tone; by hand: the area
    was to get 2^1.75 of the base, and got 1 + 0.5625 * (2^1.75 - 1) of it."""
    plan = of(GREEN, "{burn: sky, light: green, stops: 1 3/4}")
    planned = plan.steps[2].dose
    assert planned is not None
    off = tones_off(plan, sheet_of(plan, {3: 0.5625 * planned}))
    assert off == {2: 0.0, 3: pytest.approx(math.log2((1 + 0.5625 * (2**1.75 - 1)) / 2**1.75))}
    assert off[3] == pytest.approx(-0.530, abs=5e-4) and math.log2(0.5625) == pytest.approx(-0.830, abs=5e-4)
    skipped = tones_off(plan, sheet_of(plan, {3: 0.0}))
    assert skipped[3] == pytest.approx(-1.75), "what the tone lost to a step that was skipped"
    nested = of(GREEN, "{burn: sky, light: green, stops: 1}", "{burn: sun, light: green, seconds: 16}")
    assert tones_off(nested, sheet_of(nested, {4: 8.0}))[4] == pytest.approx(math.log2(24 / 32))


def test_a_tone_lost_counts_by_the_papers_reciprocity() -> None:
    plan = of("{base: soft, light: green, seconds: 8}", paper="paper: plain\nreciprocity: 0.9\n")
    assert tones_off(plan, sheet_of(plan, {2: 4.0})) == {2: pytest.approx(-0.9)}


def test_flashes_add_up_where_they_lie_over_each_other(golden: Golden) -> None:
    flashes = [f"{{flash: {area}, light: flash, threshold: 60 %}}" for area in ("sky", "sun", "figure")]
    plan = of(*flashes, "{carry: enlarger}", GREEN)
    golden(plan.cautions[0])
    assert len(plan.cautions) == 2 and "figure" not in "".join(plan.cautions)
    assert flashed(plan, sheet_of(plan)) == pytest.approx(1.2)
    apart = of(flashes[0], flashes[2], "{carry: enlarger}", GREEN)
    assert flashed(apart, sheet_of(apart)) == pytest.approx(0.6)
    bare = apart.model_copy(update={"sheet": None})
    assert flashed(bare, sheet_of(bare)) == pytest.approx(1.2), "where nobody knows, they may"
