"""Which step gives how much green and blue: bases and burns by their light's colour, a flash by what is known of it."""

from __future__ import annotations

import pytest
from sheet.plan_files import TWO_STATION, plan_of, print_of

from timerd.desk.proof.lights import Easel, StepLit, lit
from timerd.printing.paper import Curve, Emulsion, Mix
from timerd.sheet.profile.reading import read

CURVE = Curve(
    0.05,
    (Emulsion(1.0, 8.0, 1.0, 3.0), Emulsion(1.0, 8.0, 0.2, 3.0)),
    (Mix((1e-4, 1e3), (0, 0)), Mix((0, 0), (1e-4, 1e3))),
)
BASE = "{base: soft, light: green, seconds: 8}"
FLASH = "{flash: sky, light: flash, seconds: 2}"
EASEL = Easel(green=2.0, blue=0.5)


def lights(
    *steps: str, colour: str = "white", threshold: float | None = 1.6, easel: Easel = EASEL
) -> tuple[StepLit, ...]:  # fmt: skip
    return told(*steps, colour=colour, threshold=threshold, easel=easel)[0]


def told(
    *steps: str, colour: str = "white", threshold: float | None = 1.6, easel: Easel = EASEL
) -> tuple[tuple[StepLit, ...], tuple[str, ...]]:
    paper = "paper: plain\n" + (f"threshold: {{flash: {threshold}}}\n" if threshold else "")
    bench = TWO_STATION.replace("flash: {lamp: flasher, colour: white}", f"flash: {{lamp: flasher, colour: {colour}}}")
    plan = plan_of(print_of(*steps, more="aperture: 8"), bench, paper)
    return lit(plan, read(bench.encode(), "b", "bench").value, read(paper.encode(), "p", "paper").value, CURVE, easel)


def seen(green: float, blue: float) -> float:
    """The dose that shows 0.02 over white in a mix, by halving."""
    low, high = 0.0, 10.0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if CURVE.density(middle * green, middle * blue) < 0.07 else (low, middle)
    return low


def test_bases_and_burns_give_their_lights_alone() -> None:
    found = lights(BASE, "{base: hard, light: blue, seconds: 6}", "{burn: sky, light: blue, stops: 1}")
    assert [(one.kind, one.dose, one.green, one.blue) for one in found] == [
        ("base", 8, 2.0, 0.0), ("base", 6, 0.0, 0.5), ("burn", pytest.approx(6), 0.0, 0.5),
    ]  # fmt: skip


def test_through_a_smaller_lens_each_second_gives_less_of_the_same_dose() -> None:
    found = lights(BASE, "{burn: sky, light: green, stops: 1, aperture: 11}")
    assert (found[1].dose, found[1].green) == (pytest.approx(16), pytest.approx(1.0))


@pytest.mark.parametrize(("colour", "which"), [("green", "green"), ("white", "green"), ("blue", "blue")])
def test_a_flash_of_its_threshold_gives_what_an_eye_first_sees(colour: str, which: str) -> None:
    found, said = told(FLASH, "{carry: enlarger}", BASE, colour=colour)
    rate = seen(1, 0) / 1.6 if which == "green" else seen(0, 1) / 1.6
    expected = (rate, 0.0) if which == "green" else (0.0, rate)
    assert (found[0].green, found[0].blue) == pytest.approx(expected, rel=1e-6)
    assert ("the flash 'flash' is taken as green light (common practice, no source)" in said) is (colour == "white")


def test_a_flash_whose_light_was_measured_or_has_a_colour_needs_no_threshold() -> None:
    measured = lights(FLASH, "{carry: enlarger}", BASE, easel=Easel(2.0, 0.5, (0.3, 0.7)))
    assert (measured[0].green, measured[0].blue) == (0.3, 0.7)
    own = lights(FLASH, "{carry: enlarger}", BASE, colour="blue", threshold=None)
    assert (own[0].green, own[0].blue) == (0.0, 0.5)
    with pytest.raises(ValueError, match="threshold in light 'flash'"):
        lights(FLASH, "{carry: enlarger}", BASE, threshold=None)


def test_only_a_print_whose_bases_are_all_patches_is_a_strip() -> None:
    patches = ["{base: sky, light: green, seconds: 4}", "{base: wall, light: green, seconds: 4}"]
    with pytest.raises(ValueError, match="is a test strip"):
        lights(*patches)
    assert len(lights(patches[0])) == 1 and len(lights(patches[0], BASE)) == 2


def test_what_is_free_is_left_out_and_said() -> None:
    found, said = told(BASE, "{burn: sky, light: green, pedal: free}")
    assert [one.kind for one in found] == ["base"]
    assert said == ("burn sky, green: has no planned dose, and is left out",)
