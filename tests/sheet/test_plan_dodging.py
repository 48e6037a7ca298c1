"""Where in a step's dose areas are held back: packed, at a start of their own, or apart in a burst of their own."""

import pytest
from sheet.plan_files import plan_of, print_of


def cues_and_parts(*dodges, seconds=12, more="hands: 2"):
    """Each cue as area, start, stop and apart; and the parts, all to a ten thousandth."""
    step = f"{{base: soft, light: green, seconds: {seconds}, dodge: [{', '.join(dodges)}]}}"
    base = plan_of(print_of(step, more=more)).steps[1]
    cues = [(cue.area, round(cue.start, 4), round(cue.stop, 4), cue.apart) for cue in base.dodges]
    return cues, [round(part, 4) for part in base.parts]


def test_packed_in_the_order_of_the_file_with_a_second_for_the_hands():
    # 12 s: half a stop is 12 * 0.2929 = 3.5147 s, a third 12 * 0.2063 = 2.4756 s. SOURCES: ladders.
    cues, parts = cues_and_parts("{area: wall, stops: 1/2}", "{area: sky, stops: 1/3}", "{area: chimney, stops: 1/3}")
    assert cues == [
        ("wall", 0, 3.5147, False),
        ("sky", 4.5147, 6.9903, False),
        ("chimney", 7.9903, 10.4659, False),
    ]
    assert parts == [12]


def test_starts_that_overlap_take_two_hands():
    cues, parts = cues_and_parts(
        "{area: wall, stops: 1, start: 0}", "{area: sky, stops: 1, start: 3.5}", "{area: chimney, stops: 1/2, start: 6}"
    )
    assert cues == [("wall", 0, 6, False), ("sky", 3.5, 9.5, False), ("chimney", 6, 9.5147, False)]
    assert parts == [12]


def test_what_is_packed_goes_after_the_largest_stop_so_far():
    cues, _ = cues_and_parts(
        "{area: wall, stops: 1/3, start: 5}", "{area: sky, stops: 1/3}", "{area: chimney, stops: 1/3, start: 0}"
    )
    assert cues == [("wall", 5, 7.4756, False), ("sky", 8.4756, 10.9512, False), ("chimney", 0, 2.4756, False)]


def test_apart_dodges_follow_the_shared_burst_in_bursts_of_their_own():
    cues, parts = cues_and_parts(
        "{area: wall, stops: 1/3, apart: true}", "{area: sky, stops: 1/2}", "{area: chimney, stops: 1/2, apart: true}"
    )
    # 12 - 2.4756 - 3.5147 = 6.0097 shared, then the wall's 2.4756, then the chimney's 3.5147.
    assert cues == [("wall", 6.0097, 8.4853, True), ("sky", 0, 3.5147, False), ("chimney", 8.4853, 12, True)]
    assert parts == [6.0097, 8.4853, 12]


def test_two_areas_a_stop_apart_share_nothing():
    cues, parts = cues_and_parts("{area: wall, stops: 1, apart: true}", "{area: sky, stops: 1, apart: true}")
    assert cues == [("wall", 0, 6, True), ("sky", 6, 12, True)]
    assert parts == [6, 12]


def test_a_dodge_that_ends_with_the_light_ends_with_it_exactly():
    step = "{base: soft, light: green, seconds: 11.1, dodge: [{area: wall, stops: 1, start: 5.55}]}"
    base = plan_of(print_of(step)).steps[1]
    assert base.dodges[0].stop == base.dose == base.parts[-1] == 11.1


@pytest.mark.parametrize("hands", [3, 8])
def test_more_hands_hold_more(hands):
    dodges = [f"{{area: {area}, stops: 1/2, start: 0}}" for area in ("wall", "sky", "chimney")]
    cues, _ = cues_and_parts(*dodges, more=f"hands: {hands}")
    assert [cue[1:] for cue in cues] == [(0, 3.5147, False)] * 3


def test_left_areas_come_before_dodges_in_a_burn():
    burn = plan_of(
        print_of(
            "{base: soft, light: green, seconds: 12}",
            "{burn: sky, light: green, stops: 1, dodge: [{area: wall, stops: 1/3}],"
            " leave: [{area: chimney, stops: 2/3, card: fork}]}",
        )
    ).steps[2]
    # Left 2/3 of a burn of 1 stop: 12 * (2 - 1.5874) = 4.9512 s; the dodge is 12 * 0.2063 = 2.4756 s.
    assert [(c.area, round(c.start, 4), round(c.stop, 4), c.leave, c.card) for c in burn.dodges] == [
        ("chimney", 0, 4.9512, True, "fork"),
        ("wall", 5.9512, 8.4268, False, None),
    ]
