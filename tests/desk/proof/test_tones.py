"""Density to sRGB against a colour library, and a paper's curve for arrays against the one that takes one place."""

from __future__ import annotations

import math

import numpy as np
import pytest
from PIL import Image, ImageCms

from timerd.desk.proof.tones import contrasts, densities, encoded, fast_levels, levels
from timerd.printing.paper import Curve, Emulsion

PAPER = Curve(0.07, (Emulsion(0.7, 9.0, 0.3, 0.13), Emulsion(0.75, 8.0, 0.08, 0.13), Emulsion(0.72, 11.0, 0.025, 0.15)))


def test_neutral_tones_as_littlecms_has_them() -> None:
    """Little CMS, the colour library inside Pillow: L* by its own sRGB profile, all 256 of 8 bits.

    L* to reflectance by CIE 15 (Y = ((L + 16) / 116) ** 3, or L / 903.3 below 8).
    """
    to_srgb = ImageCms.buildTransform(
        ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC, 0x0100,  # its flag NOOPTIMIZE: every value by itself
    )  # fmt: skip
    lightness = np.zeros((1, 256, 3), dtype=np.uint8)
    lightness[0, :, 0] = np.arange(256)
    theirs = np.asarray(ImageCms.applyTransform(Image.fromarray(lightness, "LAB"), to_srgb))[0].astype(int)
    star = np.arange(256) / 255 * 100
    reflectance = np.where(star > 8, ((star + 16) / 116) ** 3, star / 903.3)
    assert np.abs(theirs - 255 * encoded(reflectance)[:, None]).max() <= 0.501  # as near as whole levels come
    with np.errstate(divide="ignore"):
        ours = levels(-np.log10(reflectance)).astype(int)
    assert np.abs(theirs - ours[:, None]).max() <= 1 and (theirs == ours[:, None]).mean() > 0.99


def test_the_standard_itself() -> None:
    """IEC 61966-2-1: 0.0031308 is where the straight part ends; the inverse as in WCAG 2 gives the light back."""
    assert 255 * float(encoded(np.array(0.0031308))) == pytest.approx(255 * 12.92 * 0.0031308)
    for level in range(256):
        c = level / 255
        light = c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        assert 255 * float(encoded(np.array(light))) == pytest.approx(level, abs=0.01)
        if level > 0:
            assert int(levels(np.array(-math.log10(light)))) == level
    # WCAG 2: #777777 has a contrast of 4.478 to white, so it is 0.1845 of its light.
    assert int(levels(np.array(-math.log10(1.05 / 4.478 - 0.05)))) == 0x77


def test_the_table_of_levels_is_the_formula() -> None:
    asked = np.linspace(-0.5, 9.0, 40001)
    by_table = fast_levels(asked.astype(np.float32))
    off = np.abs(by_table.astype(int) - levels(np.clip(asked, 0, None)).astype(int))
    assert off.max() <= 1 and (off > 0).mean() < 0.002  # at a level's very edge


@pytest.mark.parametrize("kind", [np.float64, np.float32])
def test_the_curve_for_arrays_is_the_curve(kind: type) -> None:
    rng = np.random.default_rng(5)
    green, blue = 10 ** rng.uniform(-4, 4, (2, 500)) * (rng.random((2, 500)) > 0.1)
    flash = 10 ** rng.uniform(-3, 0, 500)
    whole = [(part.green * (green + flash) + part.blue * blue).astype(kind) for part in PAPER.parts]
    image = [(part.green * green + part.blue * blue).astype(kind) for part in PAPER.parts]
    within = 1e-12 if kind is np.float64 else 2e-6
    slopes = contrasts(PAPER, image, whole)
    found = densities(PAPER, whole)
    for i in range(500):
        assert found[i] == pytest.approx(PAPER.density(green[i] + flash[i], blue[i]), abs=within)
        assert slopes[i] == pytest.approx(PAPER.contrast(green[i], blue[i], flash[i], 0.0), abs=30 * within)


def test_no_light_is_paper_white_and_more_than_any_is_black() -> None:
    none, all_of_it = np.zeros(2), np.full(2, 1e300)
    assert densities(PAPER, [none.copy() for _ in PAPER.parts]).tolist() == [0.07, 0.07]
    assert densities(PAPER, [all_of_it.copy() for _ in PAPER.parts]) == pytest.approx([PAPER.dmax] * 2)
    assert contrasts(PAPER, [none] * 3, [none] * 3).tolist() == [0.0, 0.0]
