"""Whole plans: every step and every key, with doses worked out here by other formulas than the code's own."""

import math
from fractions import Fraction

import pytest
from sheet.plan_files import (
    HAND_FILTERED,
    PLAIN_PAPER,
    SLOW_LAMPS,
    TWO_STATION,
    WET_PAPER,
    plan_of,
    print_of,
)

from timerd.printing.light import Response
from timerd.sheet.plan.names import resolve
from timerd.sheet.plan.value import Plan

BREAKWATER = """\
print: Breakwater, low tide
negative: 24-117-08
paper: dries-down
bench: two-station
sheet: 8x10 in
image_mm: {left: 12, top: 12, width: 179, height: 230}
lens_mm: 80
aperture: 8
magnification: 4.1
judged: wet
areas:
  breakwater: [[0.08, 0.55], [0.46, 0.52], [0.46, 0.80], [0.08, 0.84]]
  haze: [[0, 0.18], [1, 0.14], [1, 0.40], [0, 0.42]]
steps:
  - {flash: haze, light: flash, threshold: 60 %, pedal: hold}
  - {carry: enlarger}
  - base: soft
    light: green
    seconds: 12
    dodge:
      - {area: breakwater, stops: 1/3, card: small oval}
  - {base: hard, light: blue, seconds: 8.5}
  - {burn: haze, light: green, stops: 1 1/4, pedal: hold, card: "L cut, keep it moving",
     leave: [{area: breakwater, stops: 1/2}]}
  - {develop: fibre-two-bath}
"""

NO_LAG = {"rise_s": 0.0, "fall_s": 0.0, "lag_s": 0.0, "relay_on_s": 0.0, "relay_off_s": 0.0}


def power(stops):
    """2^s by e, not by the code's own power."""
    return math.exp(math.log(2) * float(Fraction(stops)))


def near(value, digits=9):
    return pytest.approx(value, abs=10**-digits)


def prompt(n, kind, name, station, light=None, card=None, note=None):
    """Every key of a step that gives no light."""
    return {
        "n": n, "kind": kind, "name": name, "station": station, "area": None, "mm": None, "light": light, "lamp": None,
        "dose": None, "seconds": None, "stops": None, "stops_written": None, "pedal": None, "lead_in": None,
        "lead_in_again": False, "then_next": False, "dry_down": None, "dodges": (), "parts": (), "response": NO_LAG,
        "longest_s": 300.0, "card": card, "note": note, "threshold": None, "aperture": None,
        "density": None, "scale": 1.0, "threshold_dose": None,
    }  # fmt: skip


def lit(n, name, lamp, station, dose, **more):
    """Every key of a plain `press` step on a lamp without lag."""
    kind, area, light = name.split("/")[:3]
    return prompt(n, kind, name, station) | {
        "area": area, "light": light, "lamp": lamp, "dose": near(dose), "seconds": near(dose), "pedal": "press",
        "lead_in": 3.0, "parts": (near(dose),),
    } | more  # fmt: skip


HELD = {"pedal": "hold", "lead_in": 0.2}


def cue(area, start, stop, stops, written, **more):
    return {
        "area": area, "mm": None, "start": near(start), "stop": near(stop), "stops": near(stops),
        "stops_written": written, "card": None, "note": None, "apart": False, "leave": False,
    } | more  # fmt: skip


def steps_of(plan):
    """All keys but what is asked for, and how the bench is set up: that is compared in test_plan_evening."""
    return [step.model_dump(exclude={"set_up", "asks", "puts", "says"}) for step in plan.steps]


def test_the_breakwater_whole(golden):
    soft = 12 * 0.92  # dry-down once, on the base: 11.04
    hard = 8.5 * 0.92
    burnt = soft * (power("5/4") - 1)  # over the reduced base, not reduced again: 15.2177
    oval = soft - soft / power("1/3")
    not_left = soft * power("5/4") - soft * power("1/2")
    plan = plan_of(BREAKWATER, TWO_STATION, WET_PAPER)
    assert steps_of(plan) == [
        prompt(1, "wait", "wait", "flashing"),
        lit(2, "flash/haze/flash", "flasher", "flashing", 0.96, threshold=0.6, threshold_dose=1.6, **HELD),
        prompt(3, "carry", "carry/enlarger", "enlarger"),
        lit(
            4, "base/soft/green", "head-green", "enlarger", soft, dry_down=0.08,
            dodges=(cue("breakwater", 0, oval, 1 / 3, "1/3", card="small oval"),),
        ),
        lit(5, "base/hard/blue", "head-blue", "enlarger", hard, dry_down=0.08),
        lit(
            6, "burn/haze/green", "head-green", "enlarger", burnt, stops=1.25, stops_written="1 1/4",
            card="L cut, keep it moving", dodges=(cue("breakwater", 0, not_left, 0.5, "1/2", leave=True),), **HELD,
        ),
        prompt(7, "develop", "develop/fibre-two-bath", "enlarger"),
    ]  # fmt: skip
    assert burnt == near(15.217693, 6)
    assert oval == near(2.277546, 6)
    assert plan.lamp_seconds == near(0.96 + soft + hard + burnt)
    golden([step.asks for step in plan.steps])
    golden(plan.cautions)
    # The breakwater lies below the haze: it gets nothing of its burn, and the card there holds nothing back.
    assert [total.model_dump() for total in plan.totals] == [
        {
            "area": "breakwater", "light": "green", "stops": near(-1 / 3), "base": near(soft), "added": 0.0,
            "held_back": near(oval), "reach": 1.0, "rest": None, "negative": None,
        },
        {
            "area": "haze", "light": "green", "stops": near(1.25), "base": near(soft), "added": near(burnt),
            "held_back": 0.0, "reach": 1.0, "rest": None, "negative": None,
        },
    ]  # fmt: skip
    assert (plan.print, plan.negative, plan.paper, plan.bench) == (
        "Breakwater, low tide", "24-117-08", "dries-down", "two-station",
    )  # fmt: skip


def test_the_breakwater_judged_dry_is_not_reduced():
    plan = plan_of(BREAKWATER.replace("judged: wet", "judged: dry"), TWO_STATION, WET_PAPER)
    assert [step.dose for step in plan.steps if step.dose is not None] == [
        near(0.96), 12, 8.5, near(12 * (power("5/4") - 1)),
    ]  # fmt: skip
    assert {step.dry_down for step in plan.steps} == {None}


def test_a_paper_that_does_not_dry_down_has_no_line_for_it():
    plan = plan_of(print_of("{base: soft, light: green, seconds: 12}", more="judged: wet"))
    assert (plan.steps[1].dose, plan.steps[1].dry_down) == (12, None)


def test_dry_down_falls_on_bases_and_burns_in_seconds_alone():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: sky, light: green, percent: 25}",
            "{burn: sky, light: green, seconds: 5}",
            "{burn: sky, light: green, pedal: free}",
            "{carry: flashing}",
            "{flash: sky, light: flash, seconds: 0.5}",
            "{flash: wall, light: flash, threshold: 50 %}",
            more="judged: wet",
        ),
        TWO_STATION,
        WET_PAPER,
    )
    assert [(step.dose, step.dry_down) for step in plan.steps if step.light] == [
        (near(11.04), 0.08), (near(11.04), None), (near(2.76), None), (near(4.6), 0.08), (None, None),
        (0.5, None), (0.8, None),
    ]  # fmt: skip
    burns = [step for step in plan.steps if step.kind == "burn"]
    assert [step.stops for step in burns] == [
        1, near(math.log(1.25) / math.log(2)), near(math.log(1 + 4.6 / 11.04) / math.log(2)), None,
    ]  # fmt: skip
    assert [step.stops_written for step in burns] == ["1", None, None, None]
    assert [step.threshold for step in plan.steps if step.kind == "flash"] == [near(0.3125), 0.5]


def test_table_values_for_a_burn_and_a_dodge():
    """25.4 s: dodge 1/3 is 5.2 s, burn 1/2 is 10.5 s. SOURCES: timing table."""
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 25.4, dodge: [{area: wall, stops: 1/3}]}",
            "{burn: sky, light: green, stops: 1/2}",
        )
    )
    assert round(plan.steps[1].dodges[0].seconds, 1) == 5.2
    assert round(plan.steps[2].dose, 1) == 10.5


def test_a_burn_in_percent_and_what_it_is_in_stops():
    """A burn of 20 % is +0.263 stop (SOURCES: percent)."""
    plan = plan_of(print_of("{base: soft, light: green, seconds: 20}", "{burn: sky, light: green, percent: 20}"))
    assert (plan.steps[2].dose, round(plan.steps[2].stops, 3)) == (4, 0.263)


def test_reciprocity_stretches_doses_and_leaves_stops():
    """A doubling at p = 0.9 needs 2.1601 times the time (SOURCES: reciprocity)."""
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 10, dodge: [{area: wall, stops: 1}]}",
            "{burn: sky, light: green, stops: 1, leave: [{area: chimney, stops: 1/2}]}",
            "{burn: sky, light: green, seconds: 11.601}",
        ),
        TWO_STATION,
        "paper: slow\nreciprocity: 0.9\n",
    )
    _, base, burn, timed = plan.steps
    assert base.dodges[0].seconds == near(10 * (1 - 1 / 2.1601), 3)
    assert burn.dose == near(11.601, 3)
    assert burn.dodges[0].seconds == near(10 * (2 ** (1 / 0.9) - 2 ** (0.5 / 0.9)))
    assert timed.stops == near(1, 3)
    assert {t.area: round(t.stops, 3) for t in plan.totals} == {
        "wall": -1, "sky": round(0.9 * math.log2(1 + 2 * 1.1601), 3),
        "chimney": round(0.9 * math.log2(2 ** (0.5 / 0.9) + 1.1601), 3),  # left half a stop, and in the timed burn too
    }  # fmt: skip


def test_several_bases_of_a_light_are_counted_together_unless_one_is_named():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 8}",
            "{base: softer, light: green, seconds: 4}",
            "{base: soft, light: blue, seconds: 3}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: sky, light: green, stops: 1, over: softer}",
            "{burn: sky, light: green, stops: 1, over: base/soft/green}",
            "{burn: sky, light: blue, percent: 50, over: soft/blue}",
            "{burn: sky, light: green, seconds: 4, over: softer}",
        )
    )
    assert [step.dose for step in plan.steps if step.kind == "burn"] == [12, 4, 8, 1.5, 4]
    assert [step.stops for step in plan.steps if step.kind == "burn"] == [1, 1, 1, near(math.log2(1.5)), 1]
    assert [(t.light, t.base, t.added) for t in plan.totals] == [("green", 12, 28), ("blue", 3, 1.5)]


def test_a_burn_may_come_before_its_base():
    plan = plan_of(print_of("{burn: sky, light: green, stops: 1}", "{base: soft, light: green, seconds: 8}"))
    assert plan.steps[1].dose == 8


def test_a_burn_in_seconds_needs_no_base():
    plan = plan_of(print_of("{base: soft, light: green, seconds: 8}", "{burn: sky, light: blue, seconds: 5}"))
    assert (plan.steps[2].dose, plan.steps[2].stops) == (5, None)
    assert plan.totals == ()


def test_an_area_left_in_burns_told_in_seconds_and_percent():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 8}",
            "{burn: sky, light: green, seconds: 8, leave: [{area: chimney, stops: 1/2}]}",
            "{burn: sky, light: green, percent: 100, leave: [{area: chimney, stops: 0}]}",
        )
    )
    assert [c.seconds for step in plan.steps for c in step.dodges] == [near(8 * (2 - power("1/2"))), near(8)]
    assert {t.area: t.stops for t in plan.totals} == {"sky": near(math.log2(3)), "chimney": near(0.5)}


def test_a_dodge_in_a_burn_is_counted_over_the_burn():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 8}",
            "{burn: all, light: green, stops: 1, dodge: [{area: wall, stops: 1}]}",
        )
    )
    assert plan.steps[2].dodges[0].seconds == near(4)
    assert [(t.area, t.stops) for t in plan.totals] == [("all", 1), ("wall", near(math.log2(1.5)))]


def test_doses_add_up_as_doses():
    """Half a stop over one stop is +1.2716 stops, not 1.5; dodge and burn do not cancel: +0.585.

    SOURCES: overlapping burns.
    """
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 20, dodge: [{area: wall, stops: 1}]}",
            "{burn: sky, light: green, stops: 1/2}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: wall, light: green, stops: 1}",
        )
    )
    assert {t.area: round(t.stops, 4) for t in plan.totals} == {"wall": 0.585, "sky": 1.2716}


def test_a_free_step_has_no_plan_and_no_total(golden):
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 8}",
            "{base: hard, light: blue, pedal: free}",
            "{burn: sky, light: green, pedal: free}",
            "{burn: wall, light: green, stops: 1}",
        )
    )
    assert steps_of(plan)[2] == lit(3, "base/hard/blue", "head-blue", "enlarger", 0) | {
        "pedal": "free", "lead_in": 0.2, "dose": None, "seconds": None, "parts": (),
    }  # fmt: skip
    assert [t.area for t in plan.totals] == ["wall"]
    golden(plan.cautions)


def test_filters_changed_by_hand(golden):
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}",
            "{burn: wall, light: green, stops: 1/2}",
            "{flash: sky, light: flash, seconds: 3}",
            "{base: hard, light: hard, seconds: 8}",
            "{burn: sky, light: hard, seconds: 8}",
            "{base: flat, light: white, seconds: 2}",
            "{base: third, light: amber, seconds: 5}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: sky, light: amber, stops: 1}",
            more="negative: 31-002-17",
        ),
        HAND_FILTERED,
    )
    assert steps_of(plan) == [
        prompt(1, "wait", "wait", "easel"),
        lit(2, "base/soft/green", "head", "easel", 12),
        lit(3, "burn/wall/green", "head", "easel", 12 * (power("1/2") - 1), stops=0.5, stops_written="1/2"),
        lit(4, "flash/sky/flash", "flasher", "easel", 3),
        prompt(5, "filter", "filter/hard", "easel", light="hard"),
        lit(6, "base/hard/hard", "head", "easel", 8),
        lit(7, "burn/sky/hard", "head", "easel", 8, stops=1.0),
        prompt(8, "filter", "filter/none", "easel", light="white"),
        lit(9, "base/flat/white", "head", "easel", 2),
        prompt(10, "filter", "filter/amber", "easel", light="amber"),
        lit(11, "base/third/amber", "spare", "easel", 5),
        prompt(12, "filter", "filter/green", "easel", light="green"),
        lit(13, "burn/sky/green", "head", "easel", 12, stops=1.0, stops_written="1"),
        lit(14, "burn/sky/amber", "spare", "easel", 5, stops=1.0, stops_written="1"),
    ]  # fmt: skip
    golden([step.asks for step in plan.steps])


def test_a_first_light_without_a_filter_wants_an_empty_drawer(golden):
    plan = plan_of(
        print_of("{base: flat, light: white, seconds: 2}", "{base: soft, light: green, seconds: 2}"), HAND_FILTERED
    )  # fmt: skip
    golden(plan.steps[0].asks)
    assert [step.name for step in plan.steps] == [
        "wait", "base/flat/white", "filter/green", "base/soft/green",
    ]  # fmt: skip


def test_a_filter_comes_after_the_carry(golden):
    bench = TWO_STATION.replace("colour: green}", "colour: green, filter: by hand}")
    plan = plan_of(
        print_of(
            "{flash: sky, light: flash, seconds: 3}", "{carry: enlarger}", "{base: soft, light: green, seconds: 12}"
        ),
        bench,
    )  # fmt: skip
    assert [(step.name, step.station) for step in plan.steps] == [
        ("wait", "flashing"), ("flash/sky/flash", "flashing"), ("carry/enlarger", "enlarger"),
        ("filter/green", "enlarger"), ("base/soft/green", "enlarger"),
    ]  # fmt: skip
    golden(plan.steps[0].asks)


def test_a_sheet_may_be_carried_to_and_fro():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}", "{carry: flashing, note: face down}",
            "{flash: sky, light: flash, seconds: 3}", "{carry: enlarger}", "{carry: flashing, card: black card}",
        )
    )  # fmt: skip
    assert [(step.name, step.station, step.card, step.note) for step in plan.steps] == [
        ("wait", "enlarger", None, None),
        ("base/soft/green", "enlarger", None, None),
        ("carry/flashing", "flashing", None, "face down"),
        ("flash/sky/flash", "flashing", None, None),
        ("carry/enlarger", "enlarger", None, None),
        ("carry/flashing/2", "flashing", "black card", None),
    ]


def test_lamps_that_are_slow_give_the_dose_of_one_burst():
    """A measured lag of 0.1333 s (SOURCES: lag) and a filament of 120 ms rise, 60 ms fall."""
    plan = plan_of(
        print_of(
            "{base: soft, light: warm, seconds: 10, dodge: [{area: wall, stops: 1, apart: true}]}",
            "{base: hard, light: cold, seconds: 10, dodge: [{area: wall, stops: 1, apart: true}]}",
            "{burn: sky, light: cold, stops: 1}",
        ),
        SLOW_LAMPS,
    )
    warm, cold, burn = plan.steps[1:]
    swing = 1 - math.exp(-10 / 0.12)
    assert warm.dose == near(10 - 0.12 * swing + 0.06 * swing)
    assert (warm.seconds, warm.response) == (near(10), Response(rise_s=0.12, fall_s=0.06))
    assert (cold.dose, cold.seconds) == (near(9.8667), near(10))
    assert cold.parts == (near(4.93335), near(9.8667))
    assert (burn.dose, burn.seconds) == (near(9.8667), near(10))
    # Each burst of a pair is topped up: 4.93335 s of light twice takes the lag twice.
    assert plan.lamp_seconds == near(2 * (4.93335 + 0.1333) + 10 + 2 * (warm.dose / 2 + 0.06), 6)


def test_a_strip_has_its_width_and_a_total_of_its_own():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12, dodge: [{area: top, mm: 30, stops: 1/2}]}",
            "{burn: edges, mm: 15, light: green, stops: 1/2}",
            "{burn: edges, mm: 25, light: green, stops: 1/3}",
        )
    )
    assert [(step.name, step.mm) for step in plan.steps] == [
        ("wait", None), ("base/soft/green", None), ("burn/edges/green", 15), ("burn/edges/green/2", 25),
    ]  # fmt: skip
    assert plan.steps[1].dodges[0].mm == 30
    assert [t.area for t in plan.totals] == ["top 30 mm", "edges 15 mm", "edges 25 mm"]


def test_what_a_step_carries_is_kept():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12, lead_in: 5, then: next, note: breathe out}",
            "{base: hard, light: blue, seconds: 8}",
            "{burn: sky, light: green, stops: 1, pedal: hold, lead_in: 1.5, lead_in_again: true, card: fork,"
            " dodge: [{area: wall, stops: 1/3, card: disc, note: low}]}",
            "{develop: plain-tray, note: fresh developer}",
        )
    )
    soft, hard, burn, develop = plan.steps[1:]
    assert (soft.lead_in, soft.then_next, soft.note) == (5, True, "breathe out")
    assert (hard.lead_in, hard.then_next, hard.note) == (3, False, None)
    assert (burn.lead_in, burn.lead_in_again, burn.card) == (1.5, True, "fork")
    assert (burn.dodges[0].card, burn.dodges[0].note) == ("disc", "low")
    assert (develop.kind, develop.note) == ("develop", "fresh developer")


def test_cautions_in_plain_words(golden):
    plan = plan_of(
        print_of(
            "{flash: sky, light: flash, threshold: 70 %}",
            "{flash: wall, light: flash, threshold: 100 %}",
            "{flash: sky, light: flash, threshold: 40 %}",
            "{carry: enlarger}",
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/6},"
            " {area: chimney, stops: 1/12, apart: true}]}",
            "{burn: sky, light: green, stops: 1/6, leave: [{area: wall, stops: 1/12}]}",
            "{burn: all, light: green, stops: 1/12}",
            "{burn: edges, mm: 10, light: green, stops: 1/12}",
        ),
        TWO_STATION,
        WET_PAPER,
    )
    golden(plan.cautions)
    assert plan.lamp_seconds == near(2.1 * 1.6 + 12 + 12 * (power("1/6") - 1 + 2 * (power("1/12") - 1)))


@pytest.mark.parametrize(("sky", "all_", "cautioned"), [(99, 0, []), (60, 45, ["sky"]), (0, 120, ["flash"])])
def test_a_flash_of_the_whole_sheet_is_under_every_other(sky, all_, cautioned):
    shares = {"sky": sky, "all": all_}
    flashes = [f"{{flash: {area}, light: flash, threshold: {n} %}}" for area, n in shares.items() if n]
    plan = plan_of(print_of(*flashes), TWO_STATION, WET_PAPER)
    assert [caution.split(",")[0].split("/")[0] for caution in plan.cautions[:-1]] == cautioned


def test_steps_are_found_by_their_names():
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: wall, light: green, stops: 1}",
            "{burn: sky, light: green, stops: 1/2}",
            "{burn: chimney, light: green, stops: 1/2}",
        )
    )
    found = {
        text: resolve(plan.steps, text).n for text in (
            "wait", "soft", "base", "wall", "burn/wall", "wall/green", "chimney", "burn/sky/green", "sky/2",
            "burn/sky/green/2", " wall ",
        )
    }  # fmt: skip
    assert found == {
        "wait": 1, "soft": 2, "base": 2, "wall": 4, "burn/wall": 4, "wall/green": 4, "chimney": 6,
        "burn/sky/green": 3, "sky/2": 5, "burn/sky/green/2": 5, " wall ": 4,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("sky", "'sky' fits 2 steps: burn/sky/green, burn/sky/green/2"),
        ("skye", "there is no step 'skye': did you mean 'sky'?"),
        ("burn/skye/green", "there is no step 'burn/skye/green': did you mean 'burn/sky/green'?"),
        ("", "there is no step '' (there: wait, base/soft/green, burn/sky/green, burn/sky/green/2)"),
    ],
)
def test_a_name_that_leads_nowhere(text, message):
    plan = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: sky, light: green, stops: 1/2}",
        )
    )
    with pytest.raises(LookupError) as error:
        resolve(plan.steps, text)
    assert error.value.args == (message,)


def test_a_plan_survives_json():
    plan = plan_of(BREAKWATER, TWO_STATION, WET_PAPER)
    assert Plan.model_validate_json(plan.model_dump_json()) == plan
    slow = plan_of(print_of("{base: soft, light: warm, seconds: 10}"), SLOW_LAMPS, PLAIN_PAPER)
    again = Plan.model_validate_json(slow.model_dump_json())
    assert again == slow
    assert again.steps[1].response == Response(rise_s=0.12, fall_s=0.06)
