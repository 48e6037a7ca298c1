"""What does not go together is found whole: every message, at the print's line and place."""

import pytest
from sheet.plan_files import HAND_FILTERED, SLOW_LAMPS, TWO_STATION, WET_PAPER, faults_of, print_of

SOFT = "{base: soft, light: green, seconds: 12}"
HARD = "{base: hard, light: blue, seconds: 8.5}"

CASES = {
    "a light that the bench lacks, and what is near": (
        ["{base: soft, light: gren, seconds: 12}", "{base: hard, light: infrared, seconds: 8}"],
        [
            "8: steps[0].light: bench 'two-station' has no light 'gren': did you mean 'green'?",
            "9: steps[1].light: bench 'two-station' has no light 'infrared' (there: green, blue, flash)",
        ],
    ),
    "a burn over the base of an unknown light says nothing more": (
        ["{base: soft, light: gren, seconds: 12}", "{burn: sky, light: gren, stops: 1}"],
        [
            "8: steps[0].light: bench 'two-station' has no light 'gren': did you mean 'green'?",
            "9: steps[1].light: bench 'two-station' has no light 'gren': did you mean 'green'?",
        ],
    ),
    "a carry to an unknown station, once": (
        ["{flash: all, light: flash, seconds: 1}", "{carry: enlager}", SOFT],
        ["9: steps[1].carry: bench 'two-station' has no station 'enlager': did you mean 'enlarger'?"],
    ),
    "a sheet that was not carried, once": (
        ["{flash: all, light: flash, seconds: 1}", SOFT, HARD],
        ["9: steps[1].light: 'green' is at the enlarger, the sheet is at the flashing: carry it there first"],
    ),
    "a carry that comes too late is the same fault": (
        ["{flash: all, light: flash, seconds: 1}", SOFT, "{carry: enlarger}", HARD],
        ["9: steps[1].light: 'green' is at the enlarger, the sheet is at the flashing: carry it there first"],
    ),
    "a carry to where the sheet is": (
        [SOFT, "{carry: enlarger}", HARD],
        ["9: steps[1].carry: the sheet is already at the enlarger: leave it out"],
    ),
    "a carry before any light": (
        ["{carry: enlarger}", SOFT],
        [
            "8: steps[0].carry: comes before any light: the sheet starts at the enlarger, where its first light "
            "is, leave it out"
        ],
    ),
    "a carry before a light that is not known": (
        ["{carry: enlarger}", "{base: soft, light: ultraviolet, seconds: 3}"],
        [
            "8: steps[0].carry: comes before any light: the sheet starts at its first light, leave it out",
            "9: steps[1].light: bench 'two-station' has no light 'ultraviolet' (there: green, blue, flash)",
        ],
    ),
    "more dodges at once than hands": (
        [
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/2, start: 0}, "
            "{area: sky, stops: 1/2, start: 1}, {area: chimney, stops: 1/3, start: 2}]}"
        ],
        [
            "8: steps[0].dodge[2]: needs 3 hands at once at 2.0 s (wall, sky, chimney), there are 2 hands",
        ],
    ),
    "one area held back twice at once": (
        [
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1/3, start: 0}, "
            "{area: wall, stops: 1/3, start: 1}]}"
        ],
        ["8: steps[0].dodge[1]: 'wall' is held back twice at once, at 1.0 s"],
    ),
    "an area held back to nothing": (
        ["{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1}, {area: wall, stops: 1}]}"],
        ["8: steps[0].dodge[1]: 'wall' is held back to nothing: 12.0 s of the base's 12.0 s"],
    ),
    "an area held back for more than a burn gives": (
        [
            SOFT,
            "{burn: sky, light: green, stops: 1, leave: [{area: wall, stops: 0}], "
            "dodge: [{area: wall, stops: 1/2, apart: true}]}",
        ],
        ["9: steps[1].dodge[0]: 'wall' is held back for more than the burn gives: 15.5 s of 12.0 s"],
    ),
    "dodges that do not fit": (
        [
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, start: 6.5}]}",
            "{base: hard, light: blue, seconds: 8, dodge: [{area: wall, stops: 1}, {area: sky, stops: 1}]}",
        ],
        [
            "8: steps[0].dodge[0]: 'wall' is held back from 6.5 to 12.5 s, which does not fit in the base's 12.0 "
            "s: start it earlier or do it apart",
            "9: steps[1].dodge[1]: 'sky' is held back from 5.0 to 9.0 s, which does not fit in the base's 8.0 s: "
            "give it a start or do it apart",
        ],
    ),
    "a dodge that does not fit in the shared burst": (
        [
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, apart: true}, "
            "{area: sky, stops: 1 1/2, start: 0}]}"
        ],
        [
            "8: steps[0].dodge[1]: 'sky' is held back from 0.0 to 7.8 s, which does not fit in the 6.0 s of the "
            "shared burst: do it apart"
        ],
    ),
    "an area left in a burn that does not fit": (
        [SOFT, "{burn: sky, light: green, stops: 1, leave: [{area: wall, stops: 0, start: 1}]}"],
        [
            "9: steps[1].leave[0]: 'wall' is held back from 1.0 to 13.0 s, which does not fit in the burn's 12.0 "
            "s: start it earlier"
        ],
    ),
    "dodges apart that are longer than the base together": (
        [
            "{base: soft, light: green, seconds: 12, dodge: [{area: wall, stops: 1, apart: true}, "
            "{area: sky, stops: 1 1/2, apart: true}]}"
        ],
        [
            "8: steps[0].dodge: dodges apart must fit in the base together, found 13.8 s held back apart, of "
            "12.0 s in all"
        ],
    ),
    "an area left more than the burn in seconds gives": (
        [SOFT, "{burn: sky, light: green, seconds: 3, leave: [{area: wall, stops: 1/2}]}"],
        ["9: steps[1].leave[0].stops: is as much as the burn gives or more: nothing is held back"],
    ),
    "amounts that no lamp follows, and of which numbers without an end would come": (
        [
            "{base: soft, light: green, seconds: 5e-324}",
            "{base: soft, light: blue, seconds: 12, dodge: [{area: wall, stops: 1e-320}]}",
            "{burn: sky, light: blue, stops: 1e-300}",
            "{burn: wall, light: blue, percent: 0.005}",
            "{burn: wall, light: blue, percent: 5e-324}",
            "{burn: wall, light: blue, stops: 1, leave: [{area: sky, stops: 0.9999999999}]}",
            "{burn: wall, light: blue, stops: 9, density: 3}",
        ],
        [
            "8: steps[0].seconds: must be at least 0.001, is 5e-324",
            "12: steps[4].percent: must be at least 0.001, is 5e-324",
        ],
    ),
    "doses that no lamp follows": (
        [
            SOFT,
            "{base: hard, light: blue, seconds: 12, dodge: [{area: wall, stops: 1e-320}]}",
            "{burn: sky, light: blue, stops: 1e-300}",
            "{burn: wall, light: blue, percent: 0.005}",
            "{burn: wall, light: blue, stops: 1, leave: [{area: sky, stops: 0.9999999999}]}",
            "{burn: wall, light: blue, stops: 9, density: 3}",
        ],
        [
            "9: steps[1].dodge[0].stops: holds back 0 s of light: at least 0.001 s can be",
            "10: steps[2].stops: comes to 0 s of full light: at least 0.001 s can be given",
            "11: steps[3].percent: comes to 0.0006 s of full light: at least 0.001 s can be given",
            "12: steps[4].leave[0].stops: holds back 1.66355e-09 s of light: at least 0.001 s can be",
            "13: steps[5].stops: comes to 6.132e+06 s of full light: at most 3600 s can be given",
        ],
    ),
    "a burn over a base that is not there": (
        [
            SOFT,
            "{burn: sky, light: blue, stops: 1}",
            "{burn: sky, light: blue, percent: 20}",
            "{burn: sky, light: blue, seconds: 6, leave: [{area: wall, stops: 1/2}]}",
        ],
        [
            "9: steps[1].stops: there is no base in light 'blue' to count over",
            "10: steps[2].percent: there is no base in light 'blue' to count over",
            "11: steps[3].seconds: there is no base in light 'blue' to count over",
        ],
    ),
    "a burn over a base that is not there by name": (
        [
            SOFT,
            HARD,
            "{burn: sky, light: green, stops: 1, over: sofd}",
            "{burn: sky, light: green, stops: 1, over: base}",
            "{burn: sky, light: green, stops: 1, over: hard}",
        ],
        [
            "10: steps[2].over: there is no base 'sofd': did you mean 'soft'?",
            "11: steps[3].over: 'base' fits 2 bases: base/soft/green, base/hard/blue",
            "12: steps[4].over: base/hard/blue is in blue, the burn in green: paper 'plain' has no speed_ratio of blue "
            "and green: measure it",
        ],
    ),
    "a burn over a free base": (
        [
            "{base: soft, light: green, pedal: free}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: sky, light: green, percent: 20, over: soft}",
        ],
        [
            "9: steps[1].stops: must be counted over a planned dose: base/soft/green is free and has no planned dose",
            "10: steps[2].over: must be counted over a planned dose: base/soft/green is free and has no planned dose",
        ],
    ),
    "then: next before a prompt, a carry, a held step, trays, nothing": (
        [
            "{flash: all, light: flash, seconds: 1, then: next}",
            "{carry: enlarger}",
            "{base: soft, light: green, seconds: 12, then: next}",
            "{burn: sky, light: green, stops: 1, pedal: hold}",
            "{burn: wall, light: green, stops: 1, then: next}",
            "{develop: trays-by-the-window}",
        ],
        [
            "8: steps[0].then: the next step is a prompt (carry/enlarger): leave it out",
            "10: steps[2].then: the next step waits for the foot (pedal: hold): leave it out",
            "12: steps[4].then: the next step gives no light (develop/trays-by-the-window): leave it out",
        ],
    ),
    "then: next at the end, and on a free step": (
        [
            "{base: soft, light: green, pedal: free, then: next}",
            "{base: hard, light: blue, seconds: 8, then: next}",
        ],
        [
            "8: steps[0].then: a free step does not end by itself: leave it out",
            "9: steps[1].then: there is no next step: leave it out",
        ],
    ),
    "a threshold that the paper has not": (
        ["{flash: all, light: flash, threshold: 60 %}"],
        ["8: steps[0].threshold: paper 'plain' has no threshold in light 'flash'"],
    ),
    "set aside where there is nothing to set aside": (
        ["{box: drawer}", SOFT, "{box: drawer}", "{negative: 24-117-09}", "{box: drawer}", HARD],
        [
            "8: steps[0].box: comes before any light: leave it out",
            "11: steps[3].negative: the sheet is in its box already: this step boxes it itself, leave the other out",
            "12: steps[4].box: the sheet is in its box already: leave it out",
        ],
    ),
    "a burn over bases of two negatives": (
        [
            SOFT,
            "{negative: 24-117-09}",
            "{base: sky, light: green, seconds: 6}",
            "{burn: sky, light: green, stops: 1}",
            "{burn: wall, light: green, percent: 50}",
            "{burn: wall, light: green, seconds: 6, leave: [{area: sky, stops: 1/4}]}",
            "{burn: sky, light: green, stops: 1, over: sky}",
            "{burn: wall, light: green, seconds: 6}",
        ],
        [
            f"{line}: steps[{line - 8}].{key}: there are bases of several negatives (base/soft/green, base/sky/green): "
            "say which, as over:"
            for line, key in ((11, "stops"), (12, "percent"), (13, "seconds"))
        ],
    ),
    "apertures that are no marks, or two": (
        [
            SOFT,
            "{burn: sky, light: green, stops: 1, aperture: 13}",
            "{burn: sky, light: green, stops: 1, aperture: 12}",
        ],
        [
            "9: steps[1].aperture: f/13 is in two series: write 13.5 for the half stop (7 1/2) or 12.7 for the third "
            "(7 1/3)",
            "10: steps[2].aperture: f/12.0 is no mark of full, half or third stops; nearest: 11 and 12.7",
        ],
    ),
    "a burn in several lights, one without a base": (
        [
            SOFT,
            "{burn: sky, light: [green, blue], stops: 1}",
            "{burn: sky, light: [green, blue], seconds: 6}",
            "{burn: sky, light: [green, green], seconds: 6}",
        ],
        [
            "11: steps[3].light[1]: 'green' is there already",
        ],
    ),
    "a burn in several lights without a base of its own": (
        [
            SOFT,
            "{burn: sky, light: [green, blue], stops: 1}",
            "{burn: sky, light: [green, blue], seconds: 6}",
            "{burn: sky, light: [green, grene], stops: 1}",
        ],
        [
            "9: steps[1].stops: there is no base in light 'blue' to count over",
            "10: steps[2].seconds: there is no base in light 'blue' to count over",
            "11: steps[3].light: bench 'two-station' has no light 'grene': did you mean 'green'?",
        ],
    ),
}


@pytest.mark.parametrize(("steps", "expected"), CASES.values(), ids=CASES.keys())
def test_all_faults_are_told(steps, expected):
    assert faults_of(print_of(*steps, more="aperture: 8")) == [f"print.yaml:{line}" for line in expected]


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
