"""What does not go together is found whole: every message, at the print's line and place."""

import pytest
from sheet.plan_files import HAND_FILTERED, SLOW_LAMPS, TWO_STATION, WET_PAPER, faults_of, print_of

SOFT = "{base: soft, light: green, seconds: 12}"
HARD = "{base: hard, light: blue, seconds: 8.5}"

CASES = {
    "a light that the bench lacks, and what is near": [
        "{base: soft, light: gren, seconds: 12}",
        "{base: hard, light: infrared, seconds: 8}",
    ],
    "a burn over the base of an unknown light says nothing more": [
        "{base: soft, light: gren, seconds: 12}",
        "{burn: sky, light: gren, stops: 1}",
    ],
    "a carry to an unknown station, once": ["{flash: all, light: flash, seconds: 1}", "{carry: enlager}", SOFT],
    "a sheet that was not carried, once": ["{flash: all, light: flash, seconds: 1}", SOFT, HARD],
    "a carry that comes too late is the same fault": [
        "{flash: all, light: flash, seconds: 1}",
        SOFT,
        "{carry: enlarger}",
        HARD,
    ],
    "a carry to where the sheet is": [SOFT, "{carry: enlarger}", HARD],
    "a carry before any light": ["{carry: enlarger}", SOFT],
    "a carry before a light that is not known": ["{carry: enlarger}", "{base: soft, light: ultraviolet, seconds: 3}"],
    "more dodges at once than hands": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/2, start: 0}, "
        "{area: sky, stops: 1/2, start: 1}, {area: chimney, stops: 1/3, start: 2}]}"
    ],
    "one area held back twice at once": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/3, start: 0}, "
        "{area: wall, stops: 1/3, start: 1}]}"
    ],
    "an area held back to nothing": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1}, {area: wall, stops: 1}]}"
    ],
    "an area held back for more than a burn gives": [
        SOFT,
        "{burn: sky, light: green, stops: 1, leave: [{area: wall, stops: 0}], "
        "dodge: [{area: wall, stops: 1/2, apart: true}]}",
    ],
    "dodges that do not fit": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, start: 6.5}]}",
        "{base: hard, light: blue, seconds: 8, dodge: [{area: wall, stops: 1}, {area: sky, stops: 1}]}",
    ],
    "a dodge that does not fit in the shared burst": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, apart: true}, "
        "{area: sky, stops: 1 1/2, start: 0}]}"
    ],
    "an area left in a burn that does not fit": [
        SOFT,
        "{burn: sky, light: green, stops: 1, leave: [{area: wall, stops: 0, start: 1}]}",
    ],
    "dodges apart that are longer than the base together": [
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, apart: true}, "
        "{area: sky, stops: 1 1/2, apart: true}]}"
    ],
    "an area left more than the burn in seconds gives": [
        SOFT,
        "{burn: sky, light: green, seconds: 3, leave: [{area: wall, stops: 1/2}]}",
    ],
    "amounts that no lamp follows, and of which numbers without an end would come": [
        "{base: soft, light: green, seconds: 5e-324}",
        "{base: soft, light: blue, seconds: 12, dodge: [{area: wall, stops: 1e-320}]}",
        "{burn: sky, light: blue, stops: 1e-300}",
        "{burn: wall, light: blue, percent: 0.005}",
        "{burn: wall, light: blue, percent: 5e-324}",
        "{burn: wall, light: blue, stops: 1, leave: [{area: sky, stops: 0.9999999999}]}",
        "{burn: wall, light: blue, stops: 9, density: 3}",
    ],
    "doses that no lamp follows": [
        SOFT,
        "{base: hard, light: blue, seconds: 12, dodge: [{area: wall, stops: 1e-320}]}",
        "{burn: sky, light: blue, stops: 1e-300}",
        "{burn: wall, light: blue, percent: 0.005}",
        "{burn: wall, light: blue, stops: 1, leave: [{area: sky, stops: 0.9999999999}]}",
        "{burn: wall, light: blue, stops: 9, density: 3}",
    ],
    "a burn over a base that is not there": [
        SOFT,
        "{burn: sky, light: blue, stops: 1}",
        "{burn: sky, light: blue, percent: 20}",
        "{burn: sky, light: blue, seconds: 6, leave: [{area: wall, stops: 1/2}]}",
    ],
    "a burn over a base that is not there by name": [
        SOFT,
        HARD,
        "{burn: sky, light: green, stops: 1, over: sofd}",
        "{burn: sky, light: green, stops: 1, over: base}",
        "{burn: sky, light: green, stops: 1, over: hard}",
    ],
    "a burn over a free base": [
        "{base: soft, light: green, pedal: free}",
        "{burn: sky, light: green, stops: 1}",
        "{burn: sky, light: green, percent: 20, over: soft}",
    ],
    "then: next before a prompt, a carry, a held step, trays, nothing": [
        "{flash: all, light: flash, seconds: 1, then: next}",
        "{carry: enlarger}",
        "{base: soft, light: green, seconds: 12, then: next}",
        "{burn: sky, light: green, stops: 1, pedal: hold}",
        "{burn: wall, light: green, stops: 1, then: next}",
        "{develop: trays-by-the-window}",
    ],
    "then: next at the end, and on a free step": [
        "{base: soft, light: green, pedal: free, then: next}",
        "{base: hard, light: blue, seconds: 8, then: next}",
    ],
    "a threshold that the paper has not": ["{flash: all, light: flash, threshold: 60 %}"],
    "set aside where there is nothing to set aside": [
        "{box: drawer}",
        SOFT,
        "{box: drawer}",
        "{negative: 24-117-09}",
        "{box: drawer}",
        HARD,
    ],
    "a burn over bases of two negatives": [
        SOFT,
        "{negative: 24-117-09}",
        "{base: sky, light: green, seconds: 6}",
        "{burn: sky, light: green, stops: 1}",
        "{burn: wall, light: green, percent: 50}",
        "{burn: wall, light: green, seconds: 6, leave: [{area: sky, stops: 1/4}]}",
        "{burn: sky, light: green, stops: 1, over: sky}",
        "{burn: wall, light: green, seconds: 6}",
    ],
    "apertures that are no marks, or two": [
        SOFT,
        "{burn: sky, light: green, stops: 1, aperture: 13}",
        "{burn: sky, light: green, stops: 1, aperture: 12}",
    ],
    "a burn in several lights, one without a base": [
        SOFT,
        "{burn: sky, light: [green, blue], stops: 1}",
        "{burn: sky, light: [green, blue], seconds: 6}",
        "{burn: sky, light: [green, green], seconds: 6}",
    ],
    "a burn in several lights without a base of its own": [
        SOFT,
        "{burn: sky, light: [green, blue], stops: 1}",
        "{burn: sky, light: [green, blue], seconds: 6}",
        "{burn: sky, light: [green, grene], stops: 1}",
    ],
}


@pytest.mark.parametrize("steps", CASES.values(), ids=CASES.keys())
def test_all_faults_are_told(golden, steps):
    golden(faults_of(print_of(*steps, more="aperture: 8")))


def test_hands_are_the_prints_own(golden):
    step = (
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/3, start: 0}, "
        "{area: sky, stops: 1/3, start: 1}]}"
    )
    assert faults_of(print_of(step, more="hands: 2")) == []
    golden(faults_of(print_of(step, more="hands: 1")))


def test_dodges_that_touch_do_not_overlap():
    step = (
        "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, start: 0}, "
        "{area: sky, stops: 1, start: 6}]}"
    )
    assert faults_of(print_of(step, more="hands: 1")) == []


@pytest.mark.parametrize(
    ("steps", "expected"),
    [
        (
            ["{base: a, light: warm, seconds: 20.01}"],
            ["8: steps[0].seconds: the burst is 20.0 s long, lamp 'filament' may burn 20 s at once"],
        ),
        (
            ["{base: a, light: cold, seconds: 19}", "{burn: sky, light: cold, stops: 1 1/6}"],
            ["9: steps[1].stops: the burst is 23.6 s long, lamp 'lagging' may burn 20 s at once"],
        ),
        (
            ["{base: a, light: cold, seconds: 19}", "{burn: sky, light: cold, percent: 150}"],
            ["9: steps[1].percent: the burst is 28.4 s long, lamp 'lagging' may burn 20 s at once"],
        ),
        (
            ["{base: a, light: cold, seconds: 50, dodge: [{area: sky, stops: 1, apart: true}]}"],
            [
                "8: steps[0].seconds: burst 1 of 2 is 25.1 s long, lamp 'lagging' may burn 20 s at once",
                "8: steps[0].seconds: burst 2 of 2 is 25.1 s long, lamp 'lagging' may burn 20 s at once",
            ],
        ),
        (
            ["{base: a, light: cold, seconds: 0.12}"],
            ["8: steps[0].seconds: 0.12 s give no light: the lamp loses 0.13 s of a burst"],
        ),
    ],
)
def test_what_the_lamp_cannot_do(steps, expected):
    assert faults_of(print_of(*steps), SLOW_LAMPS) == [f"print.yaml:{line}" for line in expected]


def test_a_burst_as_long_as_the_limit_is_allowed():
    steps = ["{base: a, light: warm, seconds: 20}", "{base: b, light: cold, seconds: 20}"]
    assert faults_of(print_of(*steps), SLOW_LAMPS) == []


def test_a_filter_is_a_prompt_that_nothing_passes_by_itself(golden):
    steps = ["{base: soft, light: green, seconds: 12, then: next}", "{base: hard, light: hard, seconds: 8}"]
    golden(faults_of(print_of(*steps), HAND_FILTERED))


def test_a_threshold_in_another_light_is_named(golden):
    steps = ["{flash: all, light: green, threshold: 60 %}"]
    golden(faults_of(print_of(*steps), TWO_STATION, WET_PAPER))
