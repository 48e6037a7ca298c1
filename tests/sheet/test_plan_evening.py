"""What changes at the lens, at the box and between lights: doses by formulas of their own, set-ups and names whole."""

import json
import math

import pytest
from sheet.plan_files import HAND_FILTERED, TWO_STATION, faults_of, plan_of, print_of

from timerd.desk.stepswritten import between_rounds
from timerd.sheet.plan.evening import checklist
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.reading import read
from timerd.sheet.words import step_words

SOFT = "{base: soft, light: green, seconds: 12}"
HARD = "{base: hard, light: blue, seconds: 8}"
LENS = "aperture: 8"
RATIOS = "paper: plain\nspeed_ratio: {green: 1, blue: 0.25}\n"


def near(value):
    return pytest.approx(value, rel=1e-9)


def named(plan):
    return [step.name for step in plan.steps]


def dose(plan, name):
    (step,) = [step for step in plan.steps if step.name == name]
    return step.dose


def total(plan, area, light):
    (row,) = [row for row in plan.totals if (row.area, row.light) == (area, light)]
    return row.stops


# -- the lens and the density ---------------------------------------------------------------------------------------


def test_a_step_through_a_smaller_lens_takes_longer_and_its_stops_stay():
    # f/8 to f/16 is two stops, ISO 517: four times the seconds
    steps = [SOFT, "{burn: sky, light: green, stops: 1/2, aperture: 16, dodge: [{area: wall, stops: 1/3}]}", HARD]
    plan, plain = (
        plan_of(print_of(*steps, more=LENS)),
        plan_of(print_of(*steps, more=LENS).replace("aperture: 16, ", "")),
    )
    burnt = 12 * (math.sqrt(2) - 1)
    assert named(plan) == ["wait", "base/soft/green", "aperture/16", "burn/sky/green", "aperture/8", "base/hard/blue"]
    assert [step.asks for step in plan.steps if step.kind == "aperture"] == [("lens at f/16",), ("lens at f/8",)]
    burn = plan.steps[3]
    assert (burn.dose, burn.scale, burn.aperture) == (near(4 * burnt), near(4), 16)
    assert burn.dodges[0].seconds == near(4 * burnt * (1 - 2 ** (-1 / 3)))
    assert plan.totals == tuple(
        row.model_copy(update={"stops": near(row.stops), "added": near(row.added), "held_back": near(row.held_back)})
        for row in plain.totals
    )


def test_the_lens_stays_as_it_is_while_the_next_light_wants_it_so(golden):
    small = "aperture: 11"
    plan = plan_of(
        print_of(SOFT, f"{{burn: sky, light: green, stops: 1, {small}}}",
                 f"{{burn: wall, light: green, stops: 1, {small}, density: 0.3}}", "{develop: fibre}", more=LENS)
    )  # fmt: skip
    assert named(plan) == [
        "wait", "base/soft/green", "aperture/11", "burn/sky/green", "density/0.3", "burn/wall/green", "aperture/8",
        "density/none", "develop/fibre",
    ]  # fmt: skip
    assert dose(plan, "burn/wall/green") == near(12 * 2 * 10**0.3)
    golden(plan.steps[0].asks)


def test_reciprocity_counts_when_a_step_gets_less_light_for_longer():
    # Schwarzschild: light is intensity times seconds^p, so a quarter of it takes 4^(1/p) times as long
    paper = "paper: plain\nreciprocity: 0.9\n"
    plan = plan_of(print_of("{base: soft, light: green, seconds: 12, aperture: 16}", more=LENS), paper=paper)
    assert plan.steps[2].dose == near(12 * 4 ** (1 / 0.9))


def test_a_lens_of_its_own_needs_the_prints_own(golden):
    with golden.raises(Exception):
        read(print_of("{base: soft, light: green, seconds: 12, aperture: 16}").encode(), "p.yaml", "print")
    golden(faults_of(print_of("{base: soft, light: green, seconds: 12, aperture: 16}", more="aperture: 13")))


# -- burns in other terms ---------------------------------------------------------------------------------------------


def test_a_burn_in_the_bases_mix_is_one_step_a_light_each_over_its_own_base():
    plan = plan_of(print_of(SOFT, HARD, "{burn: sky, light: [green, blue], stops: 1 1/2, "
                            "leave: [{area: chimney, stops: 1/2}]}"))  # fmt: skip
    assert named(plan)[3:] == ["burn/sky/green", "burn/sky/blue"]
    for light, base in (("green", 12), ("blue", 8)):
        assert dose(plan, f"burn/sky/{light}") == near(base * (2**1.5 - 1))
        assert total(plan, "sky", light) == near(1.5)
        assert total(plan, "chimney", light) == near(0.5)


def test_seconds_of_a_mix_are_shared_out_as_the_bases_are():
    plan = plan_of(print_of(SOFT, HARD, "{burn: sky, light: [green, blue], seconds: 10}"))
    assert (dose(plan, "burn/sky/green"), dose(plan, "burn/sky/blue")) == (near(6), near(4))
    assert total(plan, "sky", "green") == near(math.log2(1.5)) == near(total(plan, "sky", "blue"))
    wet = plan_of(print_of(SOFT, HARD, "{burn: sky, light: [green, blue], seconds: 10}", more="judged: wet"),
                  paper="paper: plain\ndry_down: 10 %\n")  # fmt: skip
    assert (dose(wet, "burn/sky/green"), dose(wet, "burn/sky/blue")) == (near(5.4), near(3.6))


def test_a_mix_over_a_base_named_counts_over_that_name_in_each_light():
    both = ["{base: soft, light: green, seconds: 12}", "{base: soft, light: blue, seconds: 6}",
            "{base: more, light: green, seconds: 4}"]  # fmt: skip
    plan = plan_of(print_of(*both, "{burn: sky, light: [green, blue], percent: 50, over: soft}"))
    assert (dose(plan, "burn/sky/green"), dose(plan, "burn/sky/blue")) == (near(6), near(3))


def test_a_burn_over_a_base_in_another_light_counts_by_the_papers_measured_speeds(golden):
    # one second of green is worth four of blue on this paper
    plan = plan_of(print_of(SOFT, "{burn: sky, light: blue, stops: 1, over: soft}"), paper=RATIOS)
    assert dose(plan, "burn/sky/blue") == near(12 * 4)
    golden(faults_of(print_of(SOFT, "{burn: sky, light: blue, stops: 1, over: soft}")))


def test_a_mix_through_filters_put_in_by_hand_has_a_prompt_between():
    plan = plan_of(
        print_of(SOFT, "{base: hard, light: hard, seconds: 8}", "{burn: sky, light: [green, hard], stops: 1}"),
        HAND_FILTERED,
    )
    assert named(plan) == ["wait", "base/soft/green", "filter/hard", "base/hard/hard", "filter/green",
                           "burn/sky/green", "filter/hard/2", "burn/sky/hard"]  # fmt: skip


# -- the box ------------------------------------------------------------------------------------------------------


def test_box_and_negative_stand_in_the_plan_and_the_set_up_after_them(golden):
    plan = plan_of(
        print_of(SOFT, "{box: drawer, note: emulsion down}", "{negative: 24-117-09}", HARD).replace(
            "  - {box: drawer, note: emulsion down}\n", ""
        ) + "  - {box: drawer, note: emulsion down}\n",
    )  # fmt: skip
    assert named(plan) == ["wait", "base/soft/green", "negative", "base/hard/blue", "box"]
    golden(plan.steps[2].asks)
    assert (plan.steps[4].asks, plan.steps[4].note) == (("box the sheet: drawer",), "emulsion down")
    first, last = plan.steps[1].set_up, plan.steps[3].set_up
    golden(dict(first))
    assert plan.steps[3].asked_after(first) == ("negative 24-117-09",)
    assert plan.steps[1].asked_after(last) == ("the print's own negative",)
    assert plan.steps[1].asked_after(first) == ()


TEN = """\
print: Ten of one
negative: 31-004-02
paper: plain
bench: two-station
sheet: 8x10 in
aperture: 8
areas: {sky: [[0, 0], [1, 0], [1, 1]]}
steps:
  - {flash: sky, light: flash, seconds: 2}
  - {carry: enlarger}
  - {base: soft, light: green, seconds: 12}
  - {base: hard, light: blue, seconds: 8}
  - {burn: sky, light: green, stops: 1/2, aperture: 16}
  - {develop: fibre}
"""


def by_step(print_, bench=TWO_STATION):
    files = ((print_, "print"), (bench, "bench"), ("paper: plain\n", "paper"))
    return make_plan(*(read(text.encode(), f"{kind}.yaml", kind) for text, kind in files), by_step=True)


def test_by_step_the_sheet_is_boxed_where_it_leaves_its_place():
    assert named(by_step(TEN)) == [
        "wait", "flash/sky/flash", "box", "carry/enlarger", "base/soft/green", "base/hard/blue", "aperture/16",
        "burn/sky/green", "aperture/8", "develop/fibre",
    ]  # fmt: skip
    assert [s.dose for s in by_step(TEN).steps if s.dose] == [s.dose for s in plan_of(TEN).steps if s.dose]


def test_by_step_filters_negatives_and_flashes_in_one_place_part_rounds_too():
    steps = ["{flash: all, light: flash, seconds: 1}", "{flash: sky, light: flash, seconds: 1}", SOFT,
             "{burn: sky, light: green, stops: 1}", "{base: hard, light: hard, seconds: 8}",
             "{negative: 31-004-03}", "{burn: wall, light: hard, stops: 1}"]  # fmt: skip
    assert named(by_step(print_of(*steps), HAND_FILTERED)) == [
        "wait", "flash/all/flash", "flash/sky/flash", "box", "filter/green", "base/soft/green", "burn/sky/green",
        "box/2", "filter/hard", "base/hard/hard", "box/3", "burn/wall/hard",
    ]  # fmt: skip


# -- the checklist ------------------------------------------------------------------------------------------------


def test_the_checklist_of_an_evening_whole(golden):
    plan = plan_of(TEN.replace("stops: 1/2, aperture: 16", "stops: 1/2, aperture: 16, density: 0.3, card: comb"))
    # 2 + 12 + 8 + 12 * (sqrt(2) - 1) * 4 * 10^0.3
    golden(checklist(plan))


def test_the_checklist_of_filters_and_negatives(golden):
    steps = [SOFT, "{base: hard, light: hard, seconds: 8, card: comb}", "{negative: 31-004-03}",
             "{burn: wall, light: green, stops: 1, card: comb}", "{burn: wall, light: green, pedal: free}"]  # fmt: skip
    golden(checklist(plan_of(print_of(*steps), HAND_FILTERED)))


# -- what a prompt puts in its place ---------------------------------------------------------------------------------


EVERY_PROMPT = print_of(
    "{base: soft, light: green, seconds: 9}", "{base: crisp, light: hard, seconds: 5}",
    "{burn: sky, light: hard, stops: 1, aperture: 16, density: 0.3}", "{box: drawer}",
    "{base: thin, light: amber, seconds: 3}", "{negative: 31-2}", "{base: flat, light: white, seconds: 2}",
    "{develop: trays}", more=LENS,
)  # fmt: skip


def test_each_prompt_keeps_what_it_puts_in_its_place(golden):
    plan = plan_of(EVERY_PROMPT, HAND_FILTERED)
    assert [(step.kind, dict(step.puts), step.says) for step in plan.steps if step.puts or step.says] == [
        ("wait", {"lens": "8", "negative": "the print's own negative", "filter": "green"}, None),
        ("filter", {"filter": "hard", "colour": "deep blue"}, None), ("aperture", {"lens": "16"}, None),
        ("density", {"density": "0.3"}, None), ("aperture", {"lens": "8"}, None), ("density", {"density": None}, None),
        ("box", {}, "drawer"), ("filter", {"filter": "amber"}, None), ("negative", {"negative": "31-2"}, None),
        ("filter", {"filter": None}, None),
        ("develop", {}, "trays"),
    ]  # fmt: skip
    golden(dict(checklist(plan))["filters"])


def test_a_plan_from_before_has_what_its_texts_say():
    """A book's older plans: all but the first filter and colours, which nothing needs of them, come from the texts."""
    for by_step in (False, True):
        plan = make_plan(
            read(EVERY_PROMPT.encode(), "print.yaml", "print"), read(HAND_FILTERED.encode(), "bench.yaml", "bench"),
            read(b"paper: plain\n", "paper.yaml", "paper"), by_step,
        )  # fmt: skip
        facts = json.loads(plan.model_dump_json())
        for step in facts["steps"]:
            del step["puts"], step["says"]
        read_ = Plan.model_validate_json(json.dumps(facts))
        for then, now in zip(read_.steps[1:], plan.steps[1:], strict=True):
            assert {**dict(now.puts), **dict(then.puts)} == dict(now.puts) and then.says == now.says
            assert step_words(then) == step_words(now) and between_rounds(then) == between_rounds(now)
        assert dict(read_.steps[0].puts) == {"lens": "8"}
