"""Every state in every size, drawn: red alone, texts in their places, and none cut without its three dots."""

from __future__ import annotations

from dataclasses import replace

import pygame
import pytest
from panel.screens import all_shown, longest_shown
from panel.test_layout import holds
from whole import first

from timerd.panel import typeface
from timerd.panel.drawing import Painter
from timerd.panel.layout import BURST_CAPS, FIGURE_CAPS, Rect
from timerd.panel.shown import CueBar, Shown
from timerd.panel.typeface import SHORTENED

SIZES = [(800, 480), (1920, 1080), (1024, 600), (1280, 800)]


@pytest.fixture(scope="module", params=first(SIZES, 2), ids=str)
def painter(request: pytest.FixtureRequest) -> Painter:
    return Painter(request.param)


def colours(surface: pygame.Surface) -> tuple[bool, bool, bool]:
    """Whether any pixel has red, green or blue in it."""
    raw = pygame.image.tobytes(surface, "RGB")
    red, green, blue = (bool(raw[i::3].strip(b"\0")) for i in range(3))
    return red, green, blue


def check(painter: Painter, shown: Shown, name: str) -> None:
    where = painter.draw(shown)
    assert colours(painter.canvas) == (shown.kind != "nothing", False, False), name
    screen = Rect(0, 0, *painter.size)
    for placed in painter.placed:
        part = where.parts[placed.part]
        assert holds(screen, placed.ink) and holds(part, placed.ink), (name, placed, part)
        assert placed.whole or placed.text.endswith(SHORTENED), (name, placed)
    by_part: dict[str, list[Rect]] = {}
    for placed in painter.placed:
        for other in by_part.setdefault(placed.part, []):
            assert not other.meets(placed.ink), (name, placed)
        by_part[placed.part].append(placed.ink)


@pytest.mark.parametrize("name", [*all_shown()])
def test_every_screen(painter: Painter, name: str) -> None:
    check(painter, all_shown()[name], name)


@pytest.mark.parametrize("name", [*longest_shown()])
def test_every_screen_with_the_longest_texts(painter: Painter, name: str) -> None:
    check(painter, longest_shown()[name], name)


def test_every_text_is_drawn_or_its_beginning_is(painter: Painter) -> None:
    """Nothing that belongs on a screen is left out in silence: what is missing follows a text with three dots."""
    for name, shown in all_shown().items():
        painter.draw(shown)
        drawn = " ".join(placed.text for placed in painter.placed)
        figure = "" if shown.kind == "map" else shown.figure
        wanted = [shown.state, shown.light, shown.notice or shown.heading, figure, shown.white, shown.sheet]
        if shown.kind == "steps":
            wanted += [row.words for row in shown.rows] + [row.amount for row in shown.rows]
        wanted += [cue.words for cue in shown.cues] + [*shown.side]
        for text in filter(None, wanted):
            whole = all(word in drawn for word in text.split())
            assert whole or any(p.text.endswith(SHORTENED) and text.startswith(p.text[:-1]) for p in painter.placed), (
                name,
                text,
            )


def test_the_shipped_prints_are_shortened_nowhere_but_where_it_is_known() -> None:
    """At the smallest size. A new cut is looked at before it is let in here."""
    painter = Painter((800, 480))
    cut = set()
    for name, shown in all_shown().items():
        painter.draw(shown)
        cut |= {(name, placed.text) for placed in painter.placed if not placed.whole}
    assert cut == {
        ("exposing-last-seconds", "stop short of the…"), ("exposing-free", "down…"),
    }  # fmt: skip


def test_the_figure_and_what_is_needed_in_a_burst_are_as_large_as_they_must_be(painter: Painter) -> None:
    height = painter.size[1]
    for name, shown in all_shown().items():
        painter.draw(shown)
        for placed in painter.placed:
            if placed.part == "figure" and shown.kind in ("burst", "steps", "marks", "offer"):
                assert placed.ink.h >= FIGURE_CAPS * height - 1, name
            if shown.kind == "burst" and shown.state == "exposing" and not shown.notice and (
                placed.part in ("band", "heading", "amount", "lines") or placed.part.startswith("cue")
            ):  # fmt: skip
                size = next(s for s in range(1, 400) if typeface.width(placed.text, s) >= placed.ink.w)
                capital = typeface.font(size).metrics("H")[0]
                assert capital is not None and capital[3] >= BURST_CAPS * height - 1, (name, placed)


def test_cues_over_two_get_rows_of_their_own_and_none_is_left_out(painter: Painter) -> None:
    shown = replace(all_shown()["exposing-base"], cues=tuple(CueBar(f"out {i}: area {i}", 0.3) for i in range(5)))
    painter.draw(shown)
    assert [p.text for p in painter.placed if p.part.startswith("cue")] == [cue.words for cue in shown.cues]
    check(painter, shown, "five cues")


def test_a_cue_s_bar_fills_from_left_to_right() -> None:
    painter = Painter((800, 480))
    rows = []
    for filled in (0.0, 0.25, 0.5, 1.0):
        shown = Shown("burst", cues=(CueBar("out 3: boat", filled),))
        rect = painter.draw(shown).parts["cue 0"]
        y = rect.bottom - 5  # below the letters
        rows.append(sum(painter.canvas.get_at((x, y))[0] > 200 for x in range(rect.x, rect.right)) / rect.w)
    assert rows == pytest.approx([0.0, 0.25, 0.5, 1.0], abs=0.02)


def test_off_is_black() -> None:
    painter = Painter((800, 480))
    painter.draw(all_shown()["ready-burn"])
    painter.draw(Shown("nothing"))
    assert colours(painter.canvas) == (False, False, False) and not painter.placed


def test_the_edge_is_lit_on_a_beat_and_thicker_on_every_fifth() -> None:
    painter = Painter((800, 480))
    lit = []
    for edge in (0, 1, 2):
        painter.draw(replace(all_shown()["exposing-burn"], edge=edge))
        lit.append([painter.canvas.get_at((400, y))[0] > 0 for y in (0, 3, 5, 7)])
    assert lit == [[False] * 4, [True, True, False, False], [True] * 4]


def test_the_same_screen_is_the_same_picture_whatever_was_drawn_before(painter: Painter) -> None:
    fresh = Painter(painter.size)
    for name in ("exposing-base", "map-flash", "fault-line-not-low"):
        painter.draw(all_shown()["ready-burn"])
        painter.draw(all_shown()[name])
        fresh.draw(all_shown()[name])
        assert pygame.image.tobytes(painter.canvas, "RGB") == pygame.image.tobytes(fresh.canvas, "RGB")


def test_shortening_keeps_the_beginning_and_says_so() -> None:
    text = "straight edge, from the top down"
    for most in range(10, typeface.width(text, 30) + 5, 7):
        short = typeface.shortened(text, most, 30)
        assert short == text or (short.endswith(SHORTENED) and text.startswith(short[:-1]))
        assert typeface.width(short, 30) <= most or short == SHORTENED
    assert typeface.shortened(text, typeface.width(text, 30), 30) == text


def test_the_typeface_is_shipped_with_its_licence_and_its_figures_are_equally_wide() -> None:
    licence = typeface.FILE.parent / "LICENSE-DejaVu.txt"
    assert typeface.FILE.is_file() and "Permission is hereby granted, free of charge" in licence.read_text()
    assert len({typeface.width(digit, 200) for digit in "0123456789"}) == 1


@pytest.mark.parametrize("corner", ["top left", "top right", "bottom right", "bottom left"])
def test_the_corner_with_the_number_is_filled_and_no_other(painter: Painter, corner: str) -> None:
    shown = all_shown()["prompt-out-of-the-box"]
    assert shown.map is not None
    drawn = []
    for mark in ("", corner):
        painter.draw(replace(shown, map=replace(shown.map, corner=mark)))
        drawn.append(pygame.image.tobytes(painter.canvas, "RGB")[0::3])
    wide = painter.size[0]
    differs = [(i % wide, i // wide) for i, (a, b) in enumerate(zip(*drawn, strict=True)) if a != b]
    assert len(differs) > 50
    where = painter.draw(shown).parts["map"]
    middle = where.x + where.w / 2, where.y + where.h / 2
    assert {("right" if x > middle[0] else "left") for x, _ in differs} == {corner.split()[1]}
    assert {("bottom" if y > middle[1] else "top") for _, y in differs} == {corner.split()[0]}
