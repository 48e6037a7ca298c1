"""One typeface, shipped with its licence, and texts fitted into rectangles: whole, or visibly shortened.

DejaVu Sans Bold; its licence (fonts/LICENSE-DejaVu.txt) lets it be shipped. All its figures are equally wide, so a
number that counts does not jump.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import pygame
import pygame.font

from timerd.panel.layout import Rect

FILE = Path(__file__).parent / "fonts" / "DejaVuSans-Bold.ttf"
SHORTENED = "…"
_ABOVE = 0.76
"""How far letters rise above the line, in parts of the type's size; rarer accents rise higher."""
_BELOW = 0.22
_FIGURE_ABOVE, _FIGURE_HIGH = 0.745, 0.76
"""The same for figures alone: round ones reach a little below the line."""
LINE_HIGH = _ABOVE + _BELOW
"""How much height a line of type needs for itself."""


@lru_cache(maxsize=128)
def font(size: int) -> pygame.font.Font:
    """The typeface in a size of pixels per em."""
    if not pygame.font.get_init():
        pygame.font.init()
    return pygame.font.Font(str(FILE), size)


@lru_cache(maxsize=4096)
def width(text: str, size: int) -> int:
    """How many pixels a text is wide."""
    return int(font(size).size(text)[0])


@lru_cache(maxsize=1024)
def _reach(text: str, size: int) -> tuple[int, int]:
    """How far a text rises above the line that it stands on, and how far (below 0) it reaches under it."""
    glyphs = [glyph for glyph in font(size).metrics(text) if glyph is not None]
    return max((glyph[3] for glyph in glyphs), default=0), min((glyph[2] for glyph in glyphs), default=0)


class TextLine(NamedTuple):
    """A line of text in its place: `at` is where its ink begins on the line that the letters stand on."""

    text: str
    size: int
    x: int
    baseline: int
    whole: bool = True

    @property
    def ink(self) -> Rect:
        """The pixels that the text blackens at the most."""
        top, bottom = _reach(self.text, self.size)
        return Rect(self.x, self.baseline - top, width(self.text, self.size), top - bottom)


@lru_cache(maxsize=512)
def line(text: str, rect: Rect, largest: int, smallest: int, right: bool = False, caps: bool = False) -> TextLine:
    """One line in a rectangle, in its middle: as large as it goes between two sizes, at the smallest shortened.

    `right` puts it at the right end; with `caps` it is figures alone, and nothing reaches below the line.
    """
    above, high = (_FIGURE_ABOVE, _FIGURE_HIGH) if caps else (_ABOVE, LINE_HIGH)
    top = max(1, min(largest, int(rect.h / high)))
    low = min(top, smallest)
    size = next((size for size in range(top, low, -1) if width(text, size) <= rect.w), low)
    fitted = shortened(text, rect.w, size)
    x = rect.right - width(fitted, size) if right else rect.x
    baseline = rect.y + round((rect.h - high * size) / 2 + above * size)
    return TextLine(fitted, size, x, baseline, fitted == text)


class Spacing(NamedTuple):
    """How far apart lines are, in parts of the type's size: line to line, more between paragraphs, and how far a
    paragraph's further lines are moved in."""

    pitch: float
    paragraph: float
    indent: float


LOOSE = Spacing(1.18, 0.22, 0.7)
CLOSE = Spacing(1.06, 0.1, 0.7)
TIGHT = Spacing(0.98, 0.0, 0.0)


@lru_cache(maxsize=256)
def block(
    texts: tuple[str, ...], rect: Rect, largest: int, smallest: int, spacing: Spacing = LOOSE
) -> tuple[TextLine, ...]:
    """Paragraphs in a rectangle, from its top: all in one size, the largest in which they fit. Where they do not fit
    in the smallest, the last line that there is room for is shortened, and what follows is left out."""
    texts = tuple(text for text in texts if text)
    found: list[TextLine] | None = None
    low, high = smallest, largest
    while low <= high:
        middle = (low + high + 1) // 2
        lines = _set(texts, rect, middle, spacing)
        if lines is not None and all(one.whole for one in lines):
            found, low = lines, middle + 1
        else:
            high = middle - 1
    return tuple(_set(texts, rect, smallest, spacing, cut=True) or ()) if found is None else tuple(found)


def shortened(text: str, most: int, size: int) -> str:
    """The text if it is no wider than that many pixels, else its beginning with three dots."""
    if width(text, size) <= most:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        if width(text[:middle].rstrip() + SHORTENED, size) <= most:
            low = middle
        else:
            high = middle - 1
    return text[:low].rstrip() + SHORTENED


def _set(texts: Sequence[str], rect: Rect, size: int, spacing: Spacing, cut: bool = False) -> list[TextLine] | None:
    """The paragraphs in one size; None where they are too high, unless they are to be cut."""
    lines: list[TextLine] = []
    y = float(rect.y)
    for number, text in enumerate(texts):
        y += spacing.paragraph * size if number else 0.0
        for i, words in enumerate(_wrapped(text, rect.w, size, spacing)):
            if y + LINE_HIGH * size > rect.bottom:
                if not cut:
                    return None
                return _shorten_last(lines, rect, size)
            indent = round(spacing.indent * size) if i else 0
            fitted = shortened(words, rect.w - indent, size)
            baseline = round(y + _ABOVE * size)
            lines.append(TextLine(fitted, size, rect.x + indent, baseline, fitted == words))
            y += spacing.pitch * size
    return lines


def _shorten_last(lines: list[TextLine], rect: Rect, size: int) -> list[TextLine]:
    if lines:
        last = lines[-1]
        text = last.text.removesuffix(SHORTENED)
        while text and width(text + SHORTENED, size) > rect.right - last.x:
            text = text[:-1]
        lines[-1] = last._replace(text=text.rstrip() + SHORTENED, whole=False)
    return lines


def _wrapped(text: str, most: int, size: int, spacing: Spacing) -> list[str]:
    """A text in lines: the first as wide as allowed, the others with room for their indent. No word is broken."""
    lines: list[str] = []
    for word in text.split():
        room = most - (round(spacing.indent * size) if len(lines) > 1 else 0)
        if lines and width(f"{lines[-1]} {word}", size) <= room:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return lines
