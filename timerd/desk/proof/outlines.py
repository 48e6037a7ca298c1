"""The areas' outlines over a print, white on black so that they are seen on any tone, each with its number."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from timerd.desk.proof.cards import near
from timerd.desk.proof.tones import Levels

_INK, _WHITE = 0, 255

Outline = tuple[str, tuple[tuple[tuple[float, float], ...], ...]]
"""A label and rings of corners, in fractions of the image from its top left."""


class Outlines:
    """Outlines for a print of so many pixels, drawn onto bands of its rows; letters so many pixels large."""

    def __init__(self, outlines: Sequence[Outline], width: int, height: int, letter: int) -> None:
        self._edges = [
            ((x0 * width, y0 * height), (x1 * width, y1 * height))
            for _, rings in outlines for ring in rings for (x0, y0), (x1, y1) in pairwise((*ring, ring[0]))
        ]  # fmt: skip
        self._thick = max(1, width // 500)
        self._letter = letter
        self._labels: list[tuple[str, int, int]] = []
        for label, rings in outlines:
            x, y = min(rings[-1], key=lambda place: place[0] + place[1])
            self._label(label, round(x * width + letter / 2), round(y * height + letter / 2))

    def _label(self, label: str, x: int, y: int) -> None:
        """A label beside those that are there already."""
        while any(
            abs(x - there[1]) < 1.4 * self._letter and abs(y - there[2]) < self._letter for there in self._labels
        ):
            x += round(1.5 * self._letter)
        self._labels.append((label, x, y))

    def draw(self, rows: Levels, top: int) -> Levels:
        """Rows of the print, from row `top` on, with what of the outlines lies in them."""
        across = np.arange(rows.shape[1], dtype=np.float64) + 0.5
        down = np.arange(top, top + len(rows), dtype=np.float64) + 0.5
        reach = 1.5 * self._thick + 0.5
        away = np.full(rows.shape, reach)
        for begin, end in self._edges:
            near(away, across, down, begin, end, reach)
        there = np.nonzero(away < reach)
        drawn, tones = rows.copy(), rows[there].astype(float)
        for tone, half in ((_INK, 1.5 * self._thick), (_WHITE, 0.5 * self._thick)):
            tones += (tone - tones) * np.clip(half + 0.5 - away[there], 0.0, 1.0)
        drawn[there] = np.round(tones)
        labels = [one for one in self._labels if -2 * self._letter < one[2] - top < len(rows) + self._letter]
        return self._labelled(drawn, top, labels) if labels else drawn

    def _labelled(self, rows: Levels, top: int, labels: Sequence[tuple[str, int, int]]) -> Levels:
        image = Image.fromarray(rows)
        draw = ImageDraw.Draw(image)
        font = ImageFont.load_default(self._letter)
        for label, x, y in labels:
            draw.text((x, y - top), label, _WHITE, font, stroke_width=2 * self._thick, stroke_fill=_INK)
        return np.array(image)
