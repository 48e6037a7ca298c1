"""The pair as a picture: the straight print on the left, the worked one on the right, a scale of densities below.

Made and written in bands of rows on all cores, so that a scan of 24 million pixels needs little room.
"""

from __future__ import annotations

import math
import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import IO

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from timerd.desk.proof.ground import Light, Spread, spreads
from timerd.desk.proof.negative import Negative, Values
from timerd.desk.proof.png import Writer, packed
from timerd.desk.proof.tones import Levels, densities, fast_levels, levels
from timerd.printing.paper import Curve

_BAND = 32
_GROUND = 0.35
"""Density of the grey that the pair lies on."""
_INK, _WHITE = 0, 255
_STEP = 0.2

Rows = tuple[int, int]
Floats32 = NDArray[np.float32]
Outline = tuple[str, tuple[tuple[tuple[float, float], ...], ...]]
"""A label and rings of corners, in fractions of the image from its top left."""


@dataclass(frozen=True, slots=True)
class Pair:
    """A negative, the paper's curve, the light of the straight print and of the worked one, what to draw over it."""

    negative: Negative
    curve: Curve
    straight: Light
    worked: Light
    captions: tuple[str, str]
    outlines: tuple[Outline, ...] = ()

    def write(self, file: IO[bytes], progress: Callable[[float], None] | None = None) -> None:
        """Write the picture as a grey PNG; `progress` is told the share that is done."""
        frame = _Frame(self.negative.width, self.negative.height)
        prints = [_Printed(self.negative, self.curve, light) for light in (self.straight, self.worked)]
        writer = Writer(file, frame.width, frame.height)

        def image_rows(rows: Rows) -> tuple[bytes, bytes]:
            values = self.negative.rows(*rows, 1)
            band = frame.band([printed.levels(values, rows) for printed in prints], self.curve)
            if self.outlines:
                band = _outlined(band, rows[0], frame, self.outlines)
            return packed(band, last=False)

        writer.put(*packed(frame.head(self.curve), last=False))
        cores = len(os.sched_getaffinity(0))
        with ThreadPoolExecutor(cores) as pool:
            ahead: deque[tuple[int, Future[tuple[bytes, bytes]]]] = deque()
            for rows in _bands(self.negative.height):
                ahead.append((rows[1], pool.submit(image_rows, rows)))
                if len(ahead) > 2 * cores:
                    self._take(ahead, writer, progress)
            while ahead:
                self._take(ahead, writer, progress)
        writer.put(*packed(frame.foot(self.curve, self.captions), last=True))
        writer.close()

    def worked_densities(self, top: int, bottom: int) -> Floats32:
        """Densities of the worked print in rows of pixels from `top` to before `bottom`, as its picture is made."""
        values = self.negative.rows(top, bottom, 1)
        return _Printed(self.negative, self.curve, self.worked).densities(values, (top, bottom))

    def _take(
        self, ahead: deque[tuple[int, Future[tuple[bytes, bytes]]]], writer: Writer,
        progress: Callable[[float], None] | None,
    ) -> None:  # fmt: skip
        done, band = ahead.popleft()
        writer.put(*band.result())
        if progress is not None:
            progress(done / self.negative.height)


class _Printed:
    """One print: rows of a negative's values become densities, and levels of a picture."""

    def __init__(self, negative: Negative, curve: Curve, light: Light) -> None:
        self._curve = curve
        self._through = np.power(np.float32(10.0), -negative.densities)
        image, flash = light.of_parts(curve)
        self._image = spreads(image, negative.width, negative.height)
        self._flash = spreads(flash, negative.width, negative.height)
        self._table: Levels | None = None
        if all(np.ptp(field) == 0.0 for field in (*image, *flash)):  # light is the same everywhere: so is each value
            self._table = fast_levels(self._developed(self._through, (0, 1)))

    def levels(self, values: Values, rows: Rows) -> Levels:
        if self._table is not None:
            found: Levels = self._table.take(values, mode="clip")
            return found
        return fast_levels(self.densities(values, rows))

    def densities(self, values: Values, rows: Rows) -> Floats32:
        return self._developed(self._through.take(values, mode="clip"), rows)

    def _developed(self, through: Floats32, rows: Rows) -> Floats32:
        parts = zip(self._image, self._flash, strict=True)
        found = densities(self._curve, (_exposure(through, image, flash, rows) for image, flash in parts))
        return found.astype(np.float32, copy=False)


def _exposure(through: Floats32, image: Spread, flash: Spread, rows: Rows) -> Floats32:
    exposure = through * image.band(*rows)
    fogged = flash.band(*rows)
    if np.ndim(fogged) or fogged:
        exposure += fogged
    return exposure


def _bands(height: int) -> Iterator[Rows]:
    for top in range(0, height, _BAND):
        yield top, min(height, top + _BAND)


class _Frame:
    """Where the two prints lie in the picture, with white borders, and what stands below them."""

    def __init__(self, width: int, height: int) -> None:
        self._wide, self._high = width, height
        self.border = max(2, width // 40)
        self.margin = max(6, width // 25)
        self.letter = max(11, width // 30)
        self.lefts = (
            self.margin + self.border, 2 * self.margin + 3 * self.border + width,
        )  # fmt: skip
        self.width = 3 * self.margin + 4 * self.border + 2 * width
        self._head = self.margin + self.border
        self._foot = self.border + 5 * self.letter + self.margin
        self.height = self._head + height + self._foot

    def head(self, curve: Curve) -> Levels:
        """The rows above the prints."""
        return self._rows(curve, self._head, slice(self.margin, None))

    def band(self, prints: Sequence[Levels], curve: Curve) -> Levels:
        """Rows with both prints in them."""
        rows = len(prints[0])
        found = self._rows(curve, rows, slice(None))
        for left, print_ in zip(self.lefts, prints, strict=True):
            found[:, left : left + self._wide] = print_
        return found

    def foot(self, curve: Curve, captions: tuple[str, str]) -> Levels:
        """The rows below the prints: what they are, and the scale."""
        image = Image.fromarray(self._rows(curve, self._foot, slice(0, self.border)))
        draw = ImageDraw.Draw(image)
        font = ImageFont.load_default(self.letter)
        top = self.border + self.letter // 2
        for left, caption in zip(self.lefts, captions, strict=True):
            draw.text((left - self.border, top), caption, fill=_INK, font=font)
        top += 2 * self.letter
        steps = scale(curve)
        left, wide = self.margin, (self.width - 2 * self.margin) / len(steps)
        label_at = -1.0
        for i, density in enumerate(steps):
            box = (round(left + i * wide), top, round(left + (i + 1) * wide) - 1, top + round(1.3 * self.letter))
            draw.rectangle(box, fill=int(levels(np.array(density))))
            text = f"{density:.2f}"
            if box[0] > label_at:
                draw.text((box[0], box[3] + self.letter // 5), text, fill=_INK, font=font)
                label_at = box[0] + draw.textlength(text + " ", font=font)
        return np.array(image)

    def _rows(self, curve: Curve, count: int, white: slice) -> Levels:
        found = np.full((count, self.width), int(levels(np.array(_GROUND))), dtype=np.uint8)
        for left in self.lefts:
            across = slice(left - self.border, left + self._wide + self.border)
            found[white, across] = int(levels(np.array(curve.dmin)))
        return found


def scale(curve: Curve) -> list[float]:
    """The densities of the scale: the paper's white, steps of 0.2, and the black that it tends to.

    >>> from timerd.printing.paper import Part
    >>> scale(Curve(0.06, (Part(0.7, 10.0, 1.0, 1.0),)))
    [0.06, 0.2, 0.4, 0.6, 0.76]
    """
    first, last = math.floor(curve.dmin / _STEP + 0.5) + 1, math.ceil(curve.dmax / _STEP - 0.5) - 1
    between = [round(_STEP * i, 2) for i in range(first, last + 1)]
    return [curve.dmin, *between, curve.dmax]


def _outlined(band: Levels, top: int, frame: _Frame, outlines: Sequence[Outline]) -> Levels:
    """A band with the areas' outlines over both prints, white on black, each with its number."""
    image = Image.fromarray(band)
    draw = ImageDraw.Draw(image)
    wide, high = frame._wide, frame._high
    thick = max(1, wide // 500)
    font = ImageFont.load_default(frame.letter)
    for left in frame.lefts:
        for label, rings in outlines:
            places = [[(left + x * wide, y * high - top) for x, y in ring] for ring in rings]
            for colour, width in ((_INK, 3 * thick), (_WHITE, thick)):
                for ring in places:
                    draw.line([*ring, ring[0]], fill=colour, width=width)
            x, y = min(places[-1], key=lambda place: place[0] + place[1])
            draw.text(
                (x + frame.letter / 2, y + frame.letter / 2), label, fill=_WHITE, font=font,
                stroke_width=2 * thick, stroke_fill=_INK,
            )  # fmt: skip
    # Lines at the image's edge must not run out into the border.
    found = np.array(image)
    mask = np.ones(band.shape[1], dtype=bool)
    for left in frame.lefts:
        mask[left : left + wide] = False
    found[:, mask] = band[:, mask]
    return found
