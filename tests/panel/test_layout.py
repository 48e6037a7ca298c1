"""The rectangles: inside the screen, none on another, large enough to be read from two metres."""

from __future__ import annotations

from itertools import combinations, product
from typing import get_args

import pytest

from timerd.panel.layout import BURST_CAPS, CAP, FIGURE_CAPS, Rect, layout
from timerd.panel.shown import Kind

SIZES = [(800, 480), (1024, 600), (1024, 768), (1280, 720), (1280, 800), (1366, 768), (1600, 900), (1920, 1080)]
KINDS: tuple[Kind, ...] = get_args(Kind)
SCREEN_MM = 86.0
"""How high the picture of a 7-inch screen of 800x480 is: 7 inches across at 5:3, 91.5 mm, less its odd pixels; the
smaller figure is taken. From memory of panels' sheets, so a ruler beats it."""


def holds(one: Rect, other: Rect) -> bool:
    """Whether the other lies in this one."""
    return one.x <= other.x and one.y <= other.y and other.right <= one.right and other.bottom <= one.bottom


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("kind", KINDS)
def test_parts_are_on_the_screen_and_none_is_on_another(kind: Kind, size: tuple[int, int]) -> None:
    screen = Rect(0, 0, *size)
    for digits, cues, card, told in product((2, 3), (0, 1, 2, 4, 8), (False, True), (False, True)):
        parts = layout(kind, size, digits, cues, card, told=told).parts
        assert ("told" in parts) == (told and kind not in ("burst", "nothing"))
        for name, part in parts.items():
            assert holds(screen, part) and part.w > 0 and part.h > 0, (name, digits, cues, card)
        for (one, a), (other, b) in combinations(parts.items(), 2):
            assert not a.meets(b), (one, other, digits, cues, card)
        assert bool(parts) == (kind != "nothing")


@pytest.mark.parametrize("size", SIZES, ids=str)
def test_the_figure_is_a_third_of_the_screen_and_25_mm_high(size: tuple[int, int]) -> None:
    assert FIGURE_CAPS >= 1 / 3 and FIGURE_CAPS * SCREEN_MM >= 25
    for kind in ("burst", "steps", "marks", "offer"):
        figure = layout(kind, size).parts["figure"]
        assert figure.h >= size[1] / 3
        assert figure.w >= 1.78 * FIGURE_CAPS * size[1] / CAP, "two digits and a point"


@pytest.mark.parametrize("size", SIZES, ids=str)
@pytest.mark.parametrize("cues", [0, 1, 2])
def test_what_is_needed_in_a_burst_has_room_for_letters_of_8_mm(size: tuple[int, int], cues: int) -> None:
    assert BURST_CAPS * SCREEN_MM >= 8
    parts = layout("burst", size, 2, cues).parts
    needed = [parts["band"], parts["heading"], *(parts[f"cue {i}"] for i in range(cues))]
    if cues < 2:
        needed.append(parts["lines"])
    assert all(part.h * CAP / 0.98 >= BURST_CAPS * size[1] - 1 for part in needed)


def test_rows_cut_a_rectangle_and_stay_in_it() -> None:
    rect = Rect(10, 20, 300, 101)
    rows = rect.rows(3, gap=2)
    assert rows == [Rect(10, 20, 300, 32), Rect(10, 54, 300, 32), Rect(10, 88, 300, 32)]
    assert all(holds(rect, row) for row in rows)
