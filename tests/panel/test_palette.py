"""The palette holds red alone, and what is drawn in it can be told from the ground by the W3C's formula."""

from __future__ import annotations

import pygame
import pytest

from timerd.panel.palette import BLACK, FAINT, FULL, contrast, palette


def test_contrast_is_the_w3c_s_on_colours_worked_out_elsewhere() -> None:
    # Values found with colour-science's sRGB and the WCAG 2 formula, to three decimals: facts of this project's notes.
    known = {(255, 0, 0): 5.252, (235, 0, 0): 4.532, (234, 0, 0): 4.498, (204, 0, 0): 3.567, (128, 0, 0): 1.918}
    for colour, ratio in known.items():
        assert contrast(colour, (0, 0, 0)) == pytest.approx(ratio, abs=0.002)
        assert contrast((0, 0, 0), colour) == contrast(colour, (0, 0, 0))
    assert contrast((119, 119, 119), (255, 255, 255)) == pytest.approx(4.478, abs=0.001)


def test_every_text_stands_out_4_5_to_1_and_the_lines_of_the_map_3_to_1_also_over_what_is_filled() -> None:
    full = palette(1.0)
    assert contrast(full[FULL], full[BLACK]) >= 4.5, (
        "texts, and the large figure, are drawn in FULL on BLACK or so turned"
    )
    assert contrast(full[FULL], full[FAINT]) >= 3.0, "outlines over the area at hand"


@pytest.mark.parametrize("brightness", [0.0, 0.05, 0.6, 1.0])
def test_no_level_has_green_or_blue(brightness: float) -> None:
    levels = palette(brightness)
    assert len(levels) == 256 and levels[0] == (0, 0, 0) and levels[255] == (round(255 * brightness), 0, 0)
    assert all(green == blue == 0 for _, green, blue in levels)
    assert [red for red, _, _ in levels] == sorted(red for red, _, _ in levels)


@pytest.mark.parametrize("brightness", [-0.1, 1.1, float("nan")])
def test_a_brightness_that_is_none_is_refused(brightness: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        palette(brightness)


def test_a_surface_with_it_cannot_hold_green_or_blue() -> None:
    surface = pygame.Surface((4, 4), depth=8)
    surface.set_palette(palette(1.0))
    for colour in ((0, 255, 0), (0, 0, 255), (255, 255, 255), (1, 200, 90)):
        surface.fill(colour)
        raw = pygame.image.tobytes(surface, "RGB")
        assert not any(raw[1::3]) and not any(raw[2::3])
