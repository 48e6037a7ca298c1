"""One area, four ways to a density: each gets there, or says why not; with the contrast that it leaves."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from printing.random_papers import THREE, mix, paper

from timerd.printing.area import Way, ways
from timerd.printing.exposure import exposure
from timerd.printing.paper import Curve, Emulsion, Mix


def after(way: Way, green: float, blue: float, flash: tuple[float, float] = (1.0, 0.0)) -> tuple[float, float]:
    assert way.green is not None and way.blue is not None and way.flash is not None
    return green + way.green + way.flash * flash[0], blue + way.blue + way.flash * flash[1]


def test_every_way_that_is_said_to_get_there_does() -> None:
    """300 of the 10,000 of tests/measure/paper_solvers.py; without limits of readings every burn gets there."""
    chance = random.Random(11)
    for _ in range(300):
        curve = replace(paper(chance), mixes=())
        green, blue = mix(chance, curve)
        net = curve.dmax - curve.dmin
        times = curve.multiple(curve.dmin + chance.uniform(0.01, 0.6) * net, green, blue)
        green, blue = green * times, blue * times
        wanted = chance.uniform(curve.density(green, blue), curve.dmin + 0.95 * net)
        flash = chance.choice([(1.0, 0.0), (0.0, 1.0), (0.3, 0.2)])
        for way in ways(curve, green, blue, wanted, *flash):
            assert way.reached, way
            there = after(way, green, blue, flash)
            assert curve.density(*there) == pytest.approx(wanted, abs=1e-9)


def test_stops_and_contrast() -> None:
    green, blue = 0.2, 0.1
    by = {way.by: way for way in ways(THREE, green, blue, 1.0)}
    assert list(by) == ["green", "blue", "both", "flash"]
    for name, base in (("green", green), ("blue", blue)):
        added = by[name].green if name == "green" else by[name].blue
        assert added is not None and by[name].stops == pytest.approx(math.log2((base + added) / base))
    both = by["both"]
    assert both.green is not None and both.stops == pytest.approx(math.log2(1 + both.green / green))
    for way in by.values():
        step = 1e-6
        image = (green + (way.green or 0), blue + (way.blue or 0))
        up, down = (THREE.density(image[0] * 10**s + (way.flash or 0), image[1] * 10**s) for s in (step, -step))
        assert way.contrast == pytest.approx((up - down) / (2 * step), abs=1e-4)
    contrasts = [by[name].contrast or 0.0 for name in ("flash", "green", "both", "blue")]
    assert contrasts == sorted(contrasts), "a flash leaves least, blue most"


@pytest.mark.parametrize("p", [0.8, 0.9, 1.1])
def test_on_a_paper_with_a_reciprocity_a_burn_gets_there_too_and_counts_as_the_plan_counts(p: float) -> None:
    """The exposure of the seconds that `ways` names gives the density; the stops are those of a burn so long."""
    green, blue = 0.2, 0.1
    for wanted in (0.3, 1.0, 1.8):
        plain = {way.by: way for way in ways(THREE, green, blue, wanted)}
        for way in ways(THREE, green, blue, wanted, reciprocity=p):
            assert way.green is not None and way.blue is not None and way.flash is not None
            at = exposure(green + way.green, green, p) + way.flash, exposure(blue + way.blue, blue, p)
            assert THREE.density(*at) == pytest.approx(wanted, abs=1e-9)
            assert (way.stops, way.contrast) == pytest.approx((plain[way.by].stops, plain[way.by].contrast))
            given = {"green": (green, way.green), "blue": (blue, way.blue), "both": (green, way.green)}.get(way.by)
            if given is not None:
                base, added = given
                assert way.stops == pytest.approx(math.log2(1 + added / base) * p)
    assert plain["flash"].flash == ways(THREE, green, blue, 1.8, reciprocity=p)[3].flash, "a flash counts as it is"


def test_holding_back_is_a_burn_below_0_and_a_flash_cannot() -> None:
    by = {way.by: way for way in ways(THREE, 0.7, 0.5, 0.5)}
    assert THREE.density(0.7, 0.5) > 0.5
    assert by["both"].stops is not None and by["both"].stops < 0
    assert by["green"].green is not None and -0.7 <= by["green"].green < 0
    assert not by["flash"].reached and by["flash"].why is not None and "already" in by["flash"].why
    by = {way.by: way for way in ways(THREE, 0.7, 0.5, 0.05)}
    least = f"is density {THREE.density(0.7, 0.0):.2f} with none of this light"
    assert by["blue"].why == least and by["blue"].stops is None


def test_without_a_base_there_is_nothing_to_count_stops_over() -> None:
    by = {way.by: way for way in ways(THREE, 0.0, 0.0, 0.6)}
    assert [by[name].stops for name in ("green", "blue", "flash")] == [None, None, None]
    assert by["green"].reached and not by["both"].reached
    assert by["flash"].over_low_point and by["flash"].contrast == 0.0, "a flash alone is fog"


def test_what_cannot_get_there_says_why() -> None:
    one_light = Curve(0.05, (Emulsion(2.0, 10.0, green=1.0, blue=0.0),))
    by = {way.by: way for way in ways(one_light, 0.5, 0.0, 1.0)}
    assert by["green"].reached and not by["blue"].reached
    assert by["blue"].why is not None and by["blue"].why.startswith("no exposure of this light")
    for way in ways(THREE, 0.5, 0.5, 2.2):
        assert not way.reached and way.green is None and way.why
    full = (0.001, 50.0)
    read = Curve(0.0, THREE.parts, (Mix(full, full), Mix((0.001, 50.0), (0.0005, 25.0))))
    by = {way.by: way for way in ways(read, 0.3, 0.2, 1.5)}
    assert by["both"].reached and not by["green"].reached and not by["blue"].reached
    for name in ("green", "blue"):
        assert "from green 1 : blue 0.5 to green 1 : blue 1" in str(by[name].why)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        ((-1.0, 1.0, 0.5), "found green -1"),
        ((1.0, 1.0, 0.0), "a density is over 0"),
        ((1.0, 1.0, 0.5, 0.0, 0.0), "a flash gives light"),
        ((1.0, math.inf, 0.5), "0 or more"),
    ],
)
def test_what_cannot_be_meant_is_refused(arguments: tuple[float, ...], said: str) -> None:
    with pytest.raises(ValueError, match=said):
        ways(THREE, *arguments)
