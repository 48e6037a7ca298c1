"""What differs in stops, against sums made by hand and by brute force: an image of small squares, light by light."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import pairwise

import pytest
from golden import Golden
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet.plan_files import PLAIN_PAPER, TWO_STATION, plan_of, print_of, read_or_none
from sheet.printed_sheets import sheet_of
from sheet.test_plan_random import OVER, texts

from timerd.places import shipped
from timerd.printing.paper import iso_range
from timerd.sheet.differing import Amount, areas_apart, range_at, steps_apart
from timerd.sheet.edition import Printed, edition, evenings
from timerd.sheet.given import as_given
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.reading import read

BENCH: Bench = read(TWO_STATION.encode(), "bench.yaml", "bench").value
BASES = ("{base: soft, light: green, seconds: 8}", "{base: hard, light: blue, seconds: 5}")


def plan(*steps: str, paper: str = PLAIN_PAPER) -> Plan:
    return plan_of(print_of(*BASES, *steps), paper=paper)


# -- step by step ----------------------------------------------------------------------------------------------------


def test_a_burn_differs_by_its_stops_and_a_base_by_its_dose(golden: Golden) -> None:
    before = plan("{burn: wall, light: green, stops: 1, leave: [{area: sky, stops: 1/4}]}")
    after = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 16, dodge: [{area: sky, stops: 1/2}]}", BASES[1],
            "{burn: wall, light: green, stops: 1 1/2, leave: [{area: sky, stops: 1/2}]}",
            "{burn: sky, light: blue, seconds: 2}",
        )
    )  # fmt: skip
    rows = steps_apart(before, after)
    golden([(row.name, row.words, row.stops) for row in rows])
    assert rows[1].a is None and rows[1].b == Amount(pytest.approx(16 * (1 - 0.5**0.5)), 0.5)
    assert rows[3].a == Amount(8.0, 1.0) and rows[3].b == Amount(pytest.approx(16 * (2**1.5 - 1)), 1.5)
    assert rows[5].a is None and rows[5].b is not None and rows[5].b.dose == 2.0
    back = {row.name: row for row in steps_apart(after, before)}
    for row in rows:
        other = back[row.name]
        assert (other.a, other.b) == (row.b, row.a)
        assert other.stops == (None if row.stops is None else -row.stops)


def test_a_flash_and_a_burn_over_no_base_differ_by_their_doses() -> None:
    paper = "paper: plain\nthreshold: {flash: 1.6}\n"
    steps = ("{flash: sky, light: flash, seconds: %s}", "{carry: enlarger}", "{burn: wall, light: green, seconds: %s}")
    one, two = (plan_of(print_of(*(step.replace("%s", s) for step in steps)), paper=paper) for s in ("1", "4"))
    assert [(row.name, row.stops) for row in steps_apart(one, two)] == [
        ("flash/sky/flash", 2.0), ("burn/wall/green", 2.0),
    ]  # fmt: skip


def test_a_paper_s_reciprocity_counts_where_both_have_it() -> None:
    slow = "paper: plain\nreciprocity: 0.9\n"
    one, two = (plan_of(print_of(f"{{base: soft, light: green, seconds: {s}}}"), paper=slow) for s in (8, 16))
    assert steps_apart(one, two)[0].stops == pytest.approx(0.9)
    quick = plan_of(print_of("{base: soft, light: green, seconds: 16}"))
    assert steps_apart(one, quick)[0].stops == pytest.approx(1.0)


# -- area by area ----------------------------------------------------------------------------------------------------


def squares(plan: Plan) -> dict[tuple[str | None, str], float]:
    """Most of each area as one square of paper under the lamp, moment by moment of dose: lit unless a card is over it.

    By another road than the sums: which squares lie in a burn, or under a card, is asked of each moment.
    """
    got: dict[tuple[str | None, str], float] = defaultdict(float)
    for step in plan.steps:
        if step.kind not in ("base", "burn") or step.dose is None or step.light is None:
            continue
        edges = sorted({0.0, step.dose, *(t for cue in step.dodges for t in (cue.start, cue.stop))})
        for begin, end in pairwise(edges):
            held = {"all"} & {cue.area for cue in step.dodges}
            held |= {cue.area for cue in step.dodges if cue.start <= begin and end <= cue.stop}
            for area, over in {None: set(), **OVER}.items():
                lit = step.kind == "base" or step.area == "all" or step.area in over
                got[area, step.light] += end - begin if lit and not over & held else 0.0
    return got


@settings(max_examples=40, deadline=None)
@given(texts(), st.data())
def test_what_an_area_gets_is_what_falls_on_it(files: tuple[str, str, str], data: st.DataObject) -> None:
    planned = read_or_none(*files)
    if planned is None:
        return
    given = {
        step.n: (step.dose or 0.0) * data.draw(st.sampled_from([0.3, 0.9, 1.0]))
        for step in planned.steps if step.kind in LIGHTS
    }  # fmt: skip
    sheet = as_given(planned, sheet_of(planned, given))
    was, now = squares(planned), squares(sheet)
    for row in areas_apart(planned, sheet):
        a, b = was[row.area, row.light], now[row.area, row.light]
        p = planned.reciprocity
        assert row.a == pytest.approx(a, rel=1e-9, abs=1e-9) and row.b == pytest.approx(b, rel=1e-9, abs=1e-9)
        if a > 1e-6 and b > 1e-6:
            assert row.stops == pytest.approx(p * (math.log(b) - math.log(a)) / math.log(2), abs=1e-6)


def test_the_rest_of_the_image_comes_first_and_burns_of_all_are_everywhere() -> None:
    one = plan("{burn: all, light: green, stops: 1}")
    two = plan("{burn: all, light: green, stops: 1}", "{burn: wall, light: green, stops: 1}")
    assert [(row.area, row.light, row.a, row.b, row.stops) for row in areas_apart(one, two)] == [
        (None, "green", 16.0, 16.0, 0.0), (None, "blue", 5.0, 5.0, 0.0),
        ("wall", "green", 16.0, 24.0, pytest.approx(math.log2(1.5))), ("wall", "blue", 5.0, 5.0, 0.0),
    ]  # fmt: skip


def test_a_free_step_that_was_only_planned_is_not_known() -> None:
    free = plan("{burn: wall, light: green, pedal: free}")
    (_, _, wall, _) = areas_apart(free, plan())
    assert (wall.a, wall.b, wall.stops) == (None, 8.0, None)


# -- contrast --------------------------------------------------------------------------------------------------------


def paper(name: str) -> Paper:
    return read((shipped() / "papers" / f"{name}.yaml").read_bytes(), name, "paper").value


def test_the_range_of_an_area_is_that_of_its_mix() -> None:
    """R of the shipped curve: green 1 : blue 0.625 is 97.4 by `timerd paper show` (and so is 8 : 5)."""
    glossy = paper("demo-fibre-glossy")
    more = plan("{burn: wall, light: blue, seconds: 19}")
    assert range_at(more, None, BENCH, glossy) == (pytest.approx(97.4, abs=0.1), 1.0)
    assert range_at(more, "wall", BENCH, glossy) == (pytest.approx(71.8, abs=0.1), 1.0), "8 : 24 is 1 : 3"


def test_the_range_of_an_area_counts_each_light_by_its_exposure() -> None:
    """8 s of blue over 5 s at p = 0.9 do what 5 * (13 / 5)^0.9 = 11.81 s would at once."""
    slow = paper("demo-fibre-glossy").model_copy(update={"reciprocity": 0.9})
    assert slow.curve is not None
    planned = plan("{burn: wall, light: blue, seconds: 8}", paper="paper: plain\nreciprocity: 0.9\n")
    by_hand = iso_range(slow.curve.curve, 8.0, 5 * 2.6**0.9).r
    assert range_at(planned, "wall", BENCH, slow).r == pytest.approx(by_hand)
    assert abs(by_hand - iso_range(slow.curve.curve, 8.0, 13.0).r) > 0.5
    assert range_at(planned, None, BENCH, slow).r == pytest.approx(iso_range(slow.curve.curve, 8.0, 5.0).r)


def test_why_a_range_is_not_known_is_said(golden: Golden) -> None:
    def why(planned: Plan, on: Paper, bench: Bench = BENCH) -> str:
        with pytest.raises(ValueError) as caught:
            range_at(planned, None, bench, on)
        return str(caught.value)

    glossy = paper("demo-fibre-glossy")
    assert glossy.curve is not None
    golden(why(plan(), paper("demo-resin-pearl")))
    lux = glossy.model_copy(update={"curve": glossy.curve.model_copy(update={"unit": "lux seconds"})})
    golden(why(plan(), lux))
    free = plan_of(print_of("{base: soft, light: green, pedal: free}", BASES[1]))
    golden(why(free, glossy))
    white = read(TWO_STATION.replace("colour: green", "colour: white").encode(), "bench.yaml", "bench").value
    two = plan("{negative: other}", "{base: more, light: green, seconds: 3}")
    golden(why(two, glossy))
    golden(why(plan(), glossy, white))


# -- an edition ------------------------------------------------------------------------------------------------------


def printed(number: int, begun: float | None, planned: Plan, /, **given: float) -> Printed:
    by_n = {step.n: dose for step in planned.steps for name, dose in given.items() if step.area == name}
    return Printed(number, begun, as_given(planned, sheet_of(planned, by_n)))


def test_an_edition_is_each_sheet_off_the_plan() -> None:
    planned = plan("{burn: wall, light: green, stops: 1}", "{burn: sky, light: blue, stops: 1/2}")
    hour = 3600.0
    sheets = [
        printed(9, 3 * hour, planned, soft=8 * 2**0.3), printed(7, hour, planned, soft=8 * 2**0.1, sky=0.0),
        printed(8, 2 * hour, planned, soft=8 * 2**0.2, wall=8 * 2**0.2 * (2**1.5 - 1)), printed(20, 30 * hour, planned),
    ]  # fmt: skip
    found = edition(planned, sheets)
    assert [one.sheet for one in found.sheets] == [7, 8, 9, 20]
    rows = {row.what: row for row in found.steps}
    assert rows["base soft, green"].off == pytest.approx((0.1, 0.2, 0.3, 0.0))
    assert rows["base soft, green"].mean == pytest.approx(0.15)
    assert rows["base soft, green"].stops == pytest.approx(0.3)
    assert rows["base hard, blue"].off == (0.0, 0.0, 0.0, 0.0)
    assert rows["burn wall, green"].off[1] == pytest.approx(0.5)
    assert rows["burn wall, green"].off[3] == 0.0
    assert rows["burn sky, blue"].off == (None, 0.0, 0.0, 0.0)
    assert (rows["burn sky, blue"].mean, rows["burn sky, blue"].stops) == (0.0, 0.0)
    areas = {(row.what, row.light): row for row in found.areas}
    assert areas["sky", "blue"].off[0] == pytest.approx(-0.5)
    assert areas[None, "green"].off == pytest.approx((0.1, 0.2, 0.3, 0.0))
    green, blue = found.drifts
    assert (green.light, green.sheets, green.hours) == ("green", (7, 8, 9), 2.0)
    assert (green.stops, green.an_hour) == (pytest.approx(0.2), pytest.approx(0.1))
    assert (blue.light, blue.stops, blue.an_hour) == ("blue", 0.0, 0.0)


def test_a_drift_is_the_line_that_no_other_line_lies_nearer_to() -> None:
    planned = plan()
    off = [0.00, 0.11, 0.02, 0.09, 0.21]
    at = [0.0, 700.0, 1500.0, 3200.0, 5000.0]
    sheets = [printed(i, t, planned, soft=8 * 2**stops) for i, (t, stops) in enumerate(zip(at, off, strict=True), 1)]
    drift = edition(planned, sheets).drifts[0]

    def miss(slope: float, start: float) -> float:
        return sum((start + slope * t / 3600 - stops) ** 2 for t, stops in zip(at, off, strict=True))

    least = min((miss(a / 10000, b / 10000), a / 10000) for a in range(0, 3000, 2) for b in range(-400, 800, 5))
    assert drift.an_hour == pytest.approx(least[1], abs=0.003)


def test_evenings_lie_six_hours_apart() -> None:
    planned = plan()
    at = [0.0, 5.9 * 3600, 11.8 * 3600, 17.9 * 3600, None]
    sheets = [Printed(i, wall, planned) for i, wall in enumerate(at, 1)]
    assert [[one.sheet for one in evening] for evening in evenings(sheets)] == [[1, 2, 3], [4]]
    assert edition(planned, sheets).drifts[0].sheets == (1, 2, 3)
    with pytest.raises(ValueError, match="there is no sheet"):
        edition(planned, [])
