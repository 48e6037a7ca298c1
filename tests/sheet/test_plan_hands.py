"""What is too short for hands: every held step, and the cures in their order, doses by formulas of their own."""

import pytest
from sheet.plan_files import SLOW_LAMPS, TWO_STATION, plan_of, print_of

SOFT = "{base: soft, light: green, seconds: 12}"
LENS = "aperture: 8"
PAPER = "paper: plain\nthreshold: {flash: 2, green: 2}\n"
SAID = "is too short for hands"
ONE_STATION = TWO_STATION.replace("station: flashing", "station: enlarger")


def short(plan):
    return [caution for caution in plan.cautions if SAID in caution]


def whole(mark, seconds):
    return f"make the whole print at f/{mark} (timerd enlarge PRINT --aperture {mark}: {seconds} s here)"


def on_step(key, value, seconds):
    return f"write {key}: {value} on the step ({seconds} s)"


def test_the_whole_print_at_a_smaller_aperture_comes_before_another_aperture_on_the_step():
    plan = plan_of(print_of(SOFT, "{burn: sky, light: green, stops: 1/12}", more=LENS))
    seconds = 12 * (2 ** (1 / 12) - 1)
    assert 0.5 < seconds < 1
    assert short(plan) == [
        f"burn/sky/green: {seconds:.1f} s {SAID}: {whole(16, f'{4 * seconds:.1f}')}, or "
        + on_step("aperture", 16, f"{4 * seconds:.1f}")
    ]
    cured = plan_of(print_of(SOFT, "{burn: sky, light: green, stops: 1/12, aperture: 16}", more=LENS))
    assert short(cured) == []


@pytest.mark.parametrize("seconds", [1.0, 1.8])
def test_a_held_flash_is_told_and_without_a_lens_there_a_density_is_its_cure(seconds):
    held = f"{{flash: sky, light: flash, seconds: {seconds}, pedal: hold}}"
    steps = (held, "{carry: enlarger}", SOFT)
    assert short(plan_of(print_of(*steps, more=LENS), paper=PAPER)) == [
        # 10^0.3 is 1.995: of 1.0 s that makes 1.995 s, so another filter
        f"flash/sky/flash: {seconds} s {SAID}: write density: {'0.6' if seconds == 1 else '0.3'} on the step "
        f"({seconds * 10 ** (0.6 if seconds == 1 else 0.3):.1f} s)"
    ]
    cured = steps[0].replace("pedal", f"density: {'0.6' if seconds == 1 else '0.3'}, pedal")
    assert short(plan_of(print_of(cured, *steps[1:], more=LENS), paper=PAPER)) == []


def test_a_held_flash_under_the_lens_goes_with_the_print():
    steps = (SOFT, "{flash: sky, light: flash, threshold: 50 %, pedal: hold}")
    assert short(plan_of(print_of(*steps, more=LENS), ONE_STATION, PAPER)) == [
        f"flash/sky/flash: 1.0 s {SAID}: {whole(11, '2.0')}, or {on_step('aperture', 11, '2.0')}"
    ]


@pytest.mark.parametrize(
    ("step", "told"),
    [
        ("{base: more, light: green, seconds: 1.5, pedal: hold}", ["base/more/green: 1.5 s"]),
        ("{burn: all, light: green, seconds: 1.5, pedal: hold}", ["burn/all/green: 1.5 s"]),
        ("{flash: all, light: flash, seconds: 1.5, pedal: hold}", ["flash/all/flash: 1.5 s"]),
        ("{burn: sky, light: green, seconds: 1.5}", ["burn/sky/green: 1.5 s"]),
        ("{burn: sky, light: [green, blue], seconds: 3}", ["burn/sky/green: 1.8 s", "burn/sky/blue: 1.2 s"]),
        ("{base: more, light: green, seconds: 1.8, dodge: [{area: sky, stops: 1}]}",
         ["base/more/green: sky held back for 0.9 s"]),
        ("{burn: sky, light: green, seconds: 4, leave: [{area: wall, stops: 0.4}]}",
         [f"burn/sky/green: wall held back for {4 - 12 * (2 ** 0.4 - 1):.1f} s"]),
        # nobody's hand is in these: all of the image, a card that lies there, a burst of its own, 2 s and more
        ("{base: more, light: green, seconds: 1.5}", []),
        ("{burn: all, light: green, seconds: 1.5}", []),
        ("{flash: sky, light: flash, seconds: 1.5}", []),
        ("{base: more, light: green, seconds: 3, dodge: [{area: sky, stops: 1/2, apart: true}]}", []),
        ("{burn: sky, light: green, seconds: 2, pedal: hold}", []),
        ("{burn: sky, light: green, pedal: free}", []),
    ],
)  # fmt: skip
def test_every_step_that_hands_or_feet_make(step, told):
    plan = plan_of(print_of(SOFT, "{base: hard, light: blue, seconds: 8}", step, more=LENS), ONE_STATION, PAPER)
    assert [caution.split(f" {SAID}")[0] for caution in short(plan)] == told


def test_the_shortest_says_how_small_the_aperture_must_be_and_each_tells_its_own_seconds():
    plan = plan_of(print_of(SOFT, "{burn: sky, light: green, seconds: 1.6}", "{burn: wall, light: green, seconds: 0.9}",
                            "{burn: edges, mm: 9, light: green, seconds: 0.3, aperture: 16}", more=LENS))  # fmt: skip
    assert [caution.split(f"{SAID}: ")[1] for caution in short(plan)] == [
        f"{whole(16, '6.4')}, or {on_step('aperture', 11, '3.2')}",
        f"{whole(16, '3.6')}, or {on_step('aperture', 16, '3.6')}",
        # has a lens of its own already, so the print's would change nothing: 0.3 s at f/8 are 1.2 s at f/16
        on_step("aperture", 22, "2.4"),
    ]


def test_marks_are_those_that_every_lens_has():
    burn = "{burn: sky, light: green, seconds: 1.1}"
    # f/6.3 is a third above f/5.6: f/11 is 1 2/3 stops down, f/8 only 2/3
    assert whole(11, f"{1.1 * 2 ** (5 / 3):.1f}") in short(plan_of(print_of(SOFT, burn, more="aperture: 6.3")))[0]
    last = plan_of(print_of(SOFT, burn, more="aperture: 64"))
    assert short(last) == [f"burn/sky/green: 1.1 s {SAID}: {on_step('density', 0.3, '2.2')}"]


def test_reciprocity_and_a_lamps_lag_are_in_the_seconds():
    burn = "{burn: sky, light: green, seconds: 1.1}"
    slow = plan_of(print_of(SOFT, burn, more=LENS), paper="paper: plain\nreciprocity: 0.9\n")
    assert whole(11, f"{1.1 * 2 ** (1 / 0.9):.1f}") in short(slow)[0]
    # 2 s of 1.04 s are a dose of 1.923: 0.943 stop of light by the law of reciprocity, 0.849 on this paper
    slow = plan_of(
        print_of(SOFT, "{burn: sky, light: green, seconds: 1.04}", more=LENS), paper="paper: plain\nreciprocity: 0.9\n"
    )
    now = f"{1.04 * 2 ** (1 / 0.9):.1f}"
    assert short(slow) == [f"burn/sky/green: 1.0 s {SAID}: {whole(11, now)}, or {on_step('aperture', 11, now)}"]
    burn = "{burn: sky, light: cold, seconds: 1.1}"
    lagging = plan_of(print_of("{base: soft, light: cold, seconds: 9}", burn, more=LENS), SLOW_LAMPS)
    # of 1.1 s the lamp gives 0.9667: one stop down twice that, and the lag but once
    now = 2 * (1.1 - 0.1333) + 0.1333
    assert short(lagging) == [
        f"burn/sky/cold: 1.1 s {SAID}: {whole(11, f'{now:.1f}')}, or {on_step('aperture', 11, f'{now:.1f}')}"
    ]


def test_what_no_lamp_may_burn_so_long_is_not_offered():
    burn = "{burn: sky, light: cold, seconds: 1.1}"
    for base, offered in ((10.0, True), (10.1, False)):  # lamps that may burn 20 s; one stop down is 19.9 or 20.1 s
        plan = plan_of(print_of(f"{{base: soft, light: cold, seconds: {base}}}", burn, more=LENS), SLOW_LAMPS)
        assert ("timerd enlarge" in short(plan)[0]) is offered
