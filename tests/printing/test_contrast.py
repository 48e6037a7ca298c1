"""Green and blue solved together: targets that can be met are met, and what cannot is as near as brute force finds."""

from __future__ import annotations

import math
import random
from itertools import pairwise

import pytest
from printing.random_papers import THREE, mix, paper, tones

from timerd.printing.contrast import Mixed, Spot, _lightness, for_range, for_tones
from timerd.printing.paper import Curve, Emulsion, Mix, iso_range


def given(curve: Curve, mixed: Mixed, spot: Spot) -> float:
    return curve.density(mixed.green_s * spot.green, mixed.blue_s * spot.blue)


def test_tones_that_some_mix_gives_are_reached() -> None:
    """300 of the 10,000 of tests/measure/paper_solvers.py."""
    chance = random.Random(1)
    tried = 0
    while tried < 300:
        curve = paper(chance)
        if (spots := tones(chance, curve)) is None:
            continue
        tried += 1
        (found,) = for_tones(curve, *spots)
        for spot, density in zip(spots, (found.highlight, found.shadow), strict=True):
            assert density == given(curve, found, spot)
            assert density == pytest.approx(spot.density, abs=0.001)
        assert found.reached and found.gives_way is None


def test_what_cannot_be_reached_is_as_near_as_brute_force_finds() -> None:
    chance = random.Random(2)
    seen = {"highlight": 0, "shadow": 0}
    for _ in range(60):
        curve = Curve(0.05, paper(chance).parts)
        light = 10 ** -chance.uniform(0.2, 2.2)
        net = curve.dmax - curve.dmin
        highlight = Spot(curve.dmin + chance.uniform(0.03, 0.2) * net, light, light)
        shadow = Spot(curve.dmin + 0.95 * net, 1.0, 1.0)
        for found in for_tones(curve, highlight, shadow):
            if found.reached:
                continue
            assert found.gives_way in ("highlight", "shadow")
            seen[found.gives_way] += 1
            held, other = (highlight, shadow) if found.gives_way == "shadow" else (shadow, highlight)
            assert given(curve, found, held) == pytest.approx(held.density, abs=1e-9)
            miss = abs(given(curve, found, other) - other.density)
            for k in range(-60, 61):
                green, blue = 1.0, 10 ** (k / 10)
                times = curve.multiple(held.density, green * held.green, blue * held.blue)
                there = curve.density(times * green * other.green, times * blue * other.blue)
                assert abs(there - other.density) >= miss - 1e-9
    assert min(seen.values()) >= 10


def test_the_first_answer_is_the_miss_that_an_eye_sees_least() -> None:
    """CIE 1976 L* of 10^-D: 0.05 more in a highlight is seen before 0.2 in a black."""
    nearest, otherwise = for_tones(THREE, Spot(0.12, 0.02, 0.02), Spot(1.95, 1.0, 1.0))
    assert (nearest.gives_way, otherwise.gives_way) == ("shadow", "highlight")
    assert nearest.highlight == pytest.approx(0.12) and otherwise.shadow == pytest.approx(1.95)


def test_the_first_of_two_answers_misses_by_less_lightness_whichever_tone_gives_way() -> None:
    """By L* worked out here (CIE 1976, the part above Y 0.0089 alone: no density over 2 is in it)."""

    def apart(got: float, wanted: float) -> float:
        return abs(116 * (10 ** (-got / 3) - 10 ** (-wanted / 3)))

    chance = random.Random(7)
    first = {"highlight": 0, "shadow": 0}
    while min(first.values()) < 5:
        curve = Curve(0.05, paper(chance).parts)
        light = 10 ** -chance.uniform(0.2, 2.2)
        net = min(curve.dmax, 1.9) - curve.dmin
        highlight = Spot(curve.dmin + chance.uniform(0.03, 0.3) * net, light, light)
        shadow = Spot(curve.dmin + chance.uniform(0.4, 0.9) * net, 1.0, 1.0)
        found = for_tones(curve, highlight, shadow)
        if len(found) < 2 or max(given(curve, one, shadow) for one in found) > 2.0:
            continue
        misses = [
            apart(given(curve, one, highlight), highlight.density) + apart(given(curve, one, shadow), shadow.density)
            for one in found
        ]  # of each the other tone is held, and misses by nothing
        assert misses == sorted(misses)
        assert found[0].gives_way is not None and found[0].gives_way != "range"
        first[found[0].gives_way] += 1


def test_blue_lights_the_highlights_too() -> None:
    """Green chosen for the highlight alone, and blue for the shadow on top, overshoots: they are solved together."""
    highlight, shadow = Spot(0.2, 0.1, 0.1), Spot(1.9, 1.0, 1.0)
    (found,) = for_tones(THREE, highlight, shadow)
    alone = THREE.multiple(0.2, 0.1, 0.0)
    assert 0.0 < found.green_s < alone
    assert THREE.density(alone * 0.1, found.blue_s * 0.1) > 0.2 + 0.04


def test_the_blue_light_may_have_readings_of_its_own() -> None:
    even = for_tones(THREE, Spot(0.2, 0.1, 0.1), Spot(1.9, 1.0, 1.0))[0]
    half = for_tones(THREE, Spot(0.2, 0.1, 0.05), Spot(1.9, 1.0, 0.5))[0]
    assert half.green_s == pytest.approx(even.green_s) and half.blue_s == pytest.approx(2 * even.blue_s)
    assert half.r == pytest.approx(even.r)


def test_only_mixes_that_were_read_are_given() -> None:
    full = (0.0005, 50.0)
    curve = Curve(0.0, THREE.parts, (Mix(full, full), Mix((0.0005, 50.0), (0.00025, 25.0))))
    highlight, shadow = Spot(0.2, 0.1, 0.1), Spot(1.9, 1.0, 1.0)
    (free,) = for_tones(THREE, highlight, shadow)
    assert free.blue_s / free.green_s < 0.4
    found = for_tones(curve, highlight, shadow)
    assert [mixed.reached for mixed in found] == [False, False]
    for mixed in found:
        assert mixed.blue_s / mixed.green_s == pytest.approx(0.5)


def test_a_tone_off_the_curve_gives_way_and_two_of_them_are_refused() -> None:
    found = for_tones(THREE, Spot(0.2, 0.1, 0.1), Spot(2.5, 1.0, 1.0))
    assert [mixed.gives_way for mixed in found] == ["shadow"]
    assert found[0].highlight == pytest.approx(0.2)
    with pytest.raises(ValueError, match="neither tone"):
        for_tones(Curve(0.1, THREE.parts), Spot(0.05, 0.1, 0.1), Spot(2.5, 1.0, 1.0))


@pytest.mark.parametrize(
    ("highlight", "shadow", "said"),
    [
        (Spot(1.9, 0.1, 0.1), Spot(0.2, 1.0, 1.0), "the highlight must be lighter"),
        (Spot(0.2, 1.0, 1.0), Spot(1.9, 0.1, 0.1), "are they swapped"),
        (Spot(0.2, 1.0, 1.0), Spot(1.9, 1.0, 1.0), "are they swapped"),
    ],
)
def test_what_cannot_be_meant_is_refused(highlight: Spot, shadow: Spot, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        for_tones(THREE, highlight, shadow)


def test_a_range_and_one_tone() -> None:
    chance = random.Random(4)
    for _ in range(60):
        curve = paper(chance)
        r = iso_range(curve, *mix(chance, curve)).r
        anchor = Spot(curve.dmin + chance.uniform(0.05, 0.9) * (curve.dmax - curve.dmin), 0.3, 0.3)
        found = for_range(curve, r, anchor)
        assert found.reached and found.r == pytest.approx(r, abs=0.05)
        assert given(curve, found, anchor) == pytest.approx(anchor.density, abs=1e-9)
        assert iso_range(curve, found.green_s, found.blue_s).r == pytest.approx(found.r)


def test_a_range_that_no_mix_has() -> None:
    assert for_range(THREE, 300.0, Spot(0.2, 1.0, 1.0)).r == pytest.approx(136.7, abs=0.05)
    found = for_range(THREE, 20.0, Spot(1.5, 1.0, 1.0), "shadow")
    assert found.gives_way == "range" and found.r == pytest.approx(61.4, abs=0.05)
    assert found.shadow == pytest.approx(1.5) and found.highlight is None


def test_a_range_that_is_missed_by_more_than_a_twentieth_gives_way() -> None:
    anchor = Spot(0.2, 1.0, 1.0)
    softest = for_range(THREE, 300.0, anchor).r
    assert softest is not None
    told = {miss: for_range(THREE, softest + miss, anchor).gives_way for miss in (-0.5, 0.03, 0.07, 0.5)}
    assert told == {-0.5: None, 0.03: None, 0.07: "range", 0.5: "range"}


def test_where_r_turns_round_both_sides_are_looked_at() -> None:
    """R need not fall all the way from green to blue: every crossing is found, and the shortest seconds win."""
    from timerd.printing.paper import Emulsion

    curve = Curve(0.05, (Emulsion(1.0, 12.0, 2.0, 1.0), Emulsion(1.0, 12.0, 0.3, 1.6), Emulsion(0.5, 12.0, 1.0, 0.2)))
    places = [k / 50 for k in range(-200, 201)]
    ranges = [iso_range(curve, 1.0, 10**place).r for place in places]
    turns = sum(
        (b - a) * (c - b) < 0 for (a, b), (_, c) in zip(pairwise(ranges), list(pairwise(ranges))[1:], strict=False)
    )
    assert turns >= 1
    wanted = (min(ranges) + min(ranges[0], ranges[-1])) / 2
    crossings = [
        curve.multiple(1.0, 1.0, 10**place) * (1.0 + 10**place)
        for place, (here, after) in zip(places, pairwise(ranges), strict=False)
        if (here - wanted) * (after - wanted) < 0
    ]
    assert len(crossings) >= 2
    found = for_range(curve, wanted, Spot(1.0, 1.0, 1.0))
    assert found.reached and math.isclose(found.green_s + found.blue_s, min(crossings), rel_tol=0.05)


def test_equal_tones_are_no_pair() -> None:
    with pytest.raises(ValueError, match="must be lighter"):
        for_tones(THREE, Spot(1.0, 0.1, 0.1), Spot(1.0, 1.0, 1.0))


def test_a_range_at_either_end_is_of_one_light_alone() -> None:
    softest, hardest = (for_range(THREE, r, Spot(0.5, 1.0, 1.0)) for r in (300.0, 20.0))
    assert (softest.blue_s, hardest.green_s) == (0.0, 0.0)
    assert softest.green_s == pytest.approx(THREE.multiple(0.5, 1.0, 0.0))
    assert hardest.blue_s == pytest.approx(THREE.multiple(0.5, 0.0, 1.0))


@pytest.mark.parametrize(
    ("luminance", "lightness"), [(1.0, 100.0), (0.184187, 50.0), (0.125, 42.0), (0.008856, 8.0), (0.001, 0.9033)]
)
def test_lightness_is_the_standards(luminance: float, lightness: float) -> None:
    """CIE 1976 (ISO/CIE 11664-4): 116 * Y^(1/3) - 16, below (6/29)^3 903.3 * Y; computed from that."""
    assert _lightness(-math.log10(luminance)) == pytest.approx(lightness, abs=2e-3)


def test_a_paper_of_one_part_is_not_searched_where_every_mix_is_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each mix has the same R: none is nearer than the ones beside it, however finely they are looked through."""
    asked = []

    def counted(curve: Curve, green: float, blue: float) -> object:
        asked.append((green, blue))
        return iso_range(curve, green, blue)

    monkeypatch.setattr("timerd.printing.contrast.iso_range", counted)
    found = for_range(Curve(0.06, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),)), 90.0, Spot(0.1, 1.0, 1.0))
    assert found.gives_way == "range" and found.r == pytest.approx(60.89, abs=0.01)
    assert len(asked) < 2 * 81 + 4, "once for each of the mixes that are looked at first, and for the one that is told"
