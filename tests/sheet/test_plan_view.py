"""The plan as text and as JSON, and the words that screen, speech, plan and report share."""

import json

import pytest
from sheet.plan_files import HAND_FILTERED, SLOW_LAMPS, TWO_STATION, WET_PAPER, plan_of, print_of

from timerd.sheet.plan.view import WIDTH, plan_facts, plan_table
from timerd.sheet.words import dose_span, seconds_words, spoken_seconds, step_speech, step_words

PIER = """\
print: Pier in drizzle
negative: 19-040-11
paper: dries-down
bench: two-station
sheet: 8x10 in
aperture: 5.6
judged: wet
areas: {pier: [[0.4, 0.1], [0.8, 0.1], [0.4, 0.5]], haze: [[0, 0], [1, 0], [1, 1], [0, 1]]}
steps:
  - {flash: haze, light: flash, threshold: 60 %, pedal: hold}
  - {carry: enlarger}
  - {base: soft, light: green, seconds: 12, dodge: [{area: pier, stops: 1/3, card: small oval}], then: next}
  - {base: hard, light: blue, seconds: 8.5, dodge: [{area: pier, stops: 1/2, apart: true}]}
  - {burn: haze, light: green, stops: 1 1/4, pedal: hold, card: "L cut, keep it moving",
     leave: [{area: pier, stops: 1/2}]}
  - {burn: top, mm: 20, light: blue, percent: 30, lead_in: 5, leave: [{area: pier, stops: 0}]}
  - {burn: edges, mm: 10, light: green, pedal: free, lead_in_again: true, note: until it holds the eye in}
  - {develop: fibre-two-bath}
"""

TABLE = """\
Pier in drizzle
negative 19-040-11, paper dries-down, bench two-station

     step                                                       seconds  pedal
  1  start prompt, station flashing
       lens at f/5.6
       negative 19-040-11
       paper out
       pencil the sheet's number on the back of its top left corner
  2  flash haze                                                     1.0  hold
       60 % of the threshold
  3  carry to the enlarger
  4  base soft, green                                              11.0  press
       dry-down 8 %: 1.0 s taken off 12.0 s
       then the next step by itself
         dodge pier 1/3 stop: in 0.0, out 2.3 (2.3 s)
           small oval
  5  base hard, blue                                                7.8  press
       dry-down 8 %: 0.7 s taken off 8.5 s
       in 2 bursts, each with its own press: 5.5 + 2.3 s
         dodge pier 1/2 stop: apart, in 5.5, out 7.8 (2.3 s)
  6  burn haze, green, 1 1/4 stops                                 15.2  hold
       L cut, keep it moving
         leave pier 1/2 stop of the burn: in 0.0, out 10.6 (10.6 s)
  7  burn top 20 mm, blue, 0.38 stop                                2.3  press
       lead-in 5 s
         keep pier out of the burn: in 0.0, out 2.3 (2.3 s)
  8  burn edges 10 mm, green                                          -  free
       the lead-in comes again after each lift
       until it holds the eye in
  9  develop, fibre-two-bath

in all, in stops over the base of the same light:
   +0.27  pier, green: 11.0 + 15.2 - 12.9 s
  +1 1/4  haze, green: 11.0 + 15.2 s, on 75 % of it
    -1/2  pier, blue: 7.8 - 2.3 s
   +0.38  top 20 mm, blue: 7.8 + 2.3 s

mind:
  - flash/haze/flash: 1.0 s is too short for hands: write density: 0.6 on the
    step (3.8 s)

to have at hand, for each sheet:
  under the lamp  37.4 s in 5 lights, and 1 as long as the foot is down
  stations        flashing, then enlarger
  cards           small oval; L cut, keep it moving
  prompts         2: start prompt, carry to the enlarger"""


def pier():
    return plan_of(PIER, TWO_STATION, WET_PAPER)


def test_the_table_whole():
    assert plan_table(pier()) == TABLE


def test_the_table_never_is_too_wide():
    long = "x" * 40
    text = print_of(
        f"{{base: {long}, light: green, seconds: 12, note: {'say it again ' * 20}}}",
        f"{{burn: sky, light: green, stops: 1, card: {'w' * 80}, dodge: [{{area: wall, stops: 0.123}}]}}",
    ).replace("Gasworks wall", "y" * 80)
    table = plan_table(plan_of(text)).splitlines()
    assert max(map(len, table)) <= WIDTH
    assert any(line.startswith(f"  2  base {long}, green") for line in table)


def test_slow_lamps_say_what_light_they_give():
    steps = ["{base: soft, light: warm, seconds: 12}", "{base: hard, light: cold, seconds: 8.5}"]
    lines = plan_table(plan_of(print_of(*steps), SLOW_LAMPS)).splitlines()
    assert [line.strip() for line in lines if "full light" in line] == [
        "gives 11.9 s of full light", "gives 8.4 s of full light",
    ]  # fmt: skip


def test_filters_are_asked_for_by_name_and_colour(golden):
    steps = ["{base: soft, light: green, seconds: 12}", "{base: hard, light: hard, seconds: 8}"]
    plan = plan_of(print_of(*steps), HAND_FILTERED)
    assert "  3  put the hard filter in (deep blue)" in plan_table(plan).splitlines()
    assert step_words(plan.steps[2]) == "filter hard in"
    golden(step_speech(plan.steps[2]))


def test_json_has_the_keys_that_others_read():
    facts = json.loads(json.dumps(plan_facts(pier())))
    assert list(facts) == [
        "print", "negative", "paper", "bench", "steps", "cautions", "totals", "lamp_seconds", "reciprocity",
    ]  # fmt: skip
    assert {tuple(step) for step in facts["steps"]} == {
        ("n", "kind", "name", "light", "station", "dose", "seconds", "stops", "pedal", "lead_in", "dry_down",
         "dodges", "area", "mm", "parts", "threshold", "then_next", "aperture", "density", "scale", "asks", "card",
         "note"),
    }  # fmt: skip
    assert [step["n"] for step in facts["steps"]] == list(range(1, 10))
    soft = facts["steps"][3]
    assert soft == {
        "n": 4, "kind": "base", "name": "base/soft/green", "light": "green", "station": "enlarger",
        "dose": pytest.approx(11.04), "seconds": pytest.approx(11.04), "stops": None, "pedal": "press", "lead_in": 3.0,
        "dry_down": 0.08,
        "dodges": [{
            "area": "pier", "start": 0, "stop": pytest.approx(2.277546), "seconds": pytest.approx(2.277546),
            "stops": pytest.approx(1 / 3), "mm": None, "apart": False, "leave": False, "card": "small oval",
            "note": None,
        }],
        "area": "soft", "mm": None, "parts": [pytest.approx(11.04)], "threshold": None, "then_next": True,
        "aperture": None, "density": None, "scale": 1.0, "asks": None, "card": None, "note": None,
    }  # fmt: skip
    carry = {key for key, value in facts["steps"][2].items() if value is not None}
    assert carry == {"n", "kind", "name", "station", "asks"}
    free = facts["steps"][7]
    assert (free["dose"], free["seconds"], free["dodges"], free["parts"]) == (None, None, [], [])
    assert facts["totals"][1] == {
        "area": "haze", "light": "green", "stops": pytest.approx(1.25), "base": pytest.approx(11.04),
        "added": pytest.approx(15.217693), "held_back": 0,
        "reach": pytest.approx(1 - 0.08 - (1 - 183.2 * 234 / (203.2 * 254))),  # not the pier, not the free burn's edges
    }  # fmt: skip
    assert facts["lamp_seconds"] == pytest.approx(0.96 + 11.04 + 7.82 + 15.217693 + 2.346)


def test_steps_are_spoken(golden):
    golden([step_speech(step) for step in pier().steps])


@pytest.mark.parametrize(
    ("seconds", "written", "spoken"),
    [
        (0.04, "0.0 s", "zero seconds"),
        (0.96, "1.0 s", "one second"),
        (9.94, "9.9 s", "nine point nine seconds"),
        (9.96, "10.0 s", "ten seconds"),
        (19.5, "19.5 s", "twenty seconds"),
        (21.2, "21.2 s", "twenty one seconds"),
        (59.6, "59.6 s", "one minute"),
        (59.96, "1 min 0.0 s", "one minute"),
        (72.3, "1 min 12.3 s", "one minute twelve seconds"),
        (121, "2 min 1.0 s", "two minutes one second"),
        (7325, "122 min 5.0 s", "122 minutes five seconds"),
    ],
)
def test_seconds_in_words(seconds, written, spoken):
    assert (seconds_words(seconds), spoken_seconds(seconds)) == (written, spoken)


def test_a_dose_that_is_not_exact_says_how_far_it_reaches(golden):
    assert dose_span(7.0, 7.0) == "7.0 s"
    golden(dose_span(10.0, 10.0 * 2 ** (1 / 6)))
    assert dose_span(0, 0.5) == "0.0 to 0.5 s"


def test_dry_down_and_reciprocity_have_lines_of_their_own(golden):
    """At p = 0.9 a doubling takes 2.1601 times the time (SOURCES: reciprocity): 9.2 s over 9.2 s become 10.7 s."""
    text = print_of(
        "{base: soft, light: green, seconds: 10, dodge: [{area: wall, stops: 1}]}",
        "{burn: sky, light: green, stops: 1, leave: [{area: chimney, stops: 1/2}]}",
        "{burn: sky, light: green, percent: 50, leave: [{area: chimney, stops: 0}]}",
        more="judged: wet",
    )
    lines = plan_table(plan_of(text, TWO_STATION, "paper: plain\nreciprocity: 0.9\ndry_down: 8 %\n")).splitlines()
    told = [line.strip() for line in lines if "dry-down" in line or "reciprocity" in line]
    golden(told)
    fast = plan_table(plan_of(text, TWO_STATION, "paper: plain\nreciprocity: 1.1\n"))
    assert "reciprocity 1.1: 1.2 s taken off 10.0 s" in fast
    assert "reciprocity" not in plan_table(plan_of(text))


def test_a_time_under_the_safelight_is_told_and_spoken(golden):
    text = print_of(
        "{safelight: 240, card: 'uncover patch 4 alone', note: cut off the top left corner}",
        "{base: grey, light: green, seconds: 2}",
        "{safelight: 60}",
    )
    plan = plan_of(text)
    assert [(step.kind, step.name, step.station) for step in plan.steps] == [
        ("wait", "wait", "enlarger"), ("safelight", "safelight", "enlarger"), ("base", "base/grey/green", "enlarger"),
        ("safelight", "safelight/2", "enlarger"),
    ]  # fmt: skip
    assert step_words(plan.steps[1]) == "safelight alone, 4 min 0.0 s"
    golden(step_speech(plan.steps[1]))
    golden(plan.steps[1].asks)
    assert "  2  safelight alone, 4 min 0.0 s\n       uncover patch 4 alone\n" in plan_table(plan)
    assert plan.lamp_seconds == 2 and plan_facts(plan)["steps"][1]["seconds"] == 240


def test_a_strip_is_flashed_over_the_threshold_on_purpose(golden):
    flash = ["{flash: sky, light: flash, seconds: 3}"]
    strip = "strip: {finds: threshold, ladders: [{light: flash, seconds: [1, 3]}]}"
    assert any("of the threshold" in said for said in plan_of(print_of(*flash), paper=WET_PAPER).cautions)
    golden(plan_of(print_of(*flash, more=strip), paper=WET_PAPER).cautions)
