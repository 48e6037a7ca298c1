"""The pair as a picture: the straight print on the left, the worked one on the right, a scale of densities below.

Made and written in bands of rows on all cores, so that a scan of 24 million pixels needs little room.
"""

from __future__ import annotations

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import IO

import numpy as np
from numpy.typing import NDArray

from timerd.desk.proof.frame import Frame
from timerd.desk.proof.ground import GridLight, GridValues, spreads
from timerd.desk.proof.negative import Negative, Values
from timerd.desk.proof.outlines import Outline, Outlines
from timerd.desk.proof.png import PngWriter, packed
from timerd.desk.proof.tones import Levels, densities, fast_levels
from timerd.printing.paper import Curve

_BAND = 16

Rows = tuple[int, int]
Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Pair:
    """A negative, the paper's curve, the light of the straight print and of the worked one, what to draw over it."""

    negative: Negative
    curve: Curve
    straight: GridLight
    worked: GridLight
    captions: tuple[str, str]
    outlines: tuple[Outline, ...] = ()

    def write(self, file: IO[bytes], progress: Callable[[float], None] | None = None) -> None:
        """Write the picture as a grey PNG; `progress` is told the share that is done."""
        width, height = self.negative.width, self.negative.height
        frame = Frame(width, height, self.curve, self.captions)
        outlines = Outlines(self.outlines, width, height, frame.letter) if self.outlines else None
        prints = [PicturePrint(self.negative, self.curve, light) for light in (self.straight, self.worked)]
        writer = PngWriter(file, frame.width, frame.height)

        def image_rows(rows: Rows) -> tuple[bytes, bytes]:
            values = self.negative.rows(*rows, 1)
            shown = [printed.levels(values, rows) for printed in prints]
            if outlines is not None:
                shown = [outlines.draw(print_, rows[0]) for print_ in shown]
            return packed(frame.band(shown), last=False)

        writer.put(*packed(frame.head(), last=False))
        cores = len(os.sched_getaffinity(0))
        with ThreadPoolExecutor(cores) as pool:
            ahead: deque[tuple[int, Future[tuple[bytes, bytes]]]] = deque()
            for rows in bands(height):
                ahead.append((rows[1], pool.submit(image_rows, rows)))
                if len(ahead) > 2 * cores:
                    self._take(ahead, writer, progress)
            while ahead:
                self._take(ahead, writer, progress)
        writer.put(*packed(frame.foot(), last=True))
        writer.close()

    def _take(
        self, ahead: deque[tuple[int, Future[tuple[bytes, bytes]]]], writer: PngWriter,
        progress: Callable[[float], None] | None,
    ) -> None:  # fmt: skip
        done, band = ahead.popleft()
        writer.put(*band.result())
        if progress is not None:
            progress(done / self.negative.height)


class PicturePrint:
    """One print: rows of a negative's values become densities, and levels of a picture."""

    def __init__(self, negative: Negative, curve: Curve, light: GridLight) -> None:
        self._curve = curve
        self._through = np.power(np.float32(10.0), -negative.densities)
        image, flash = light.of_parts(curve)
        self._image = spreads(image, negative.width, negative.height)
        self._flash = spreads(flash, negative.width, negative.height)
        self._table: Levels | None = None
        if all(np.ptp(field) == 0.0 for field in (*image, *flash)):  # light is the same everywhere: so is each value
            self._table = fast_levels(self._developed(self._through, (0, 1)))

    def levels(self, values: Values, rows: Rows) -> Levels:
        """What the picture has for the values in rows from the first to before the second."""
        if self._table is not None:
            found: Levels = self._table.take(values, mode="clip")
            return found
        return fast_levels(self.densities(values, rows))

    def densities(self, values: Values, rows: Rows) -> Floats32:
        """The densities there, in 32 bits."""
        return self._developed(self._through.take(values, mode="clip"), rows)

    def _developed(self, through: Floats32, rows: Rows) -> Floats32:
        parts = zip(self._image, self._flash, strict=True)
        found = densities(self._curve, (_exposure(through, image, flash, rows) for image, flash in parts))
        return found.astype(np.float32, copy=False)


def _exposure(through: Floats32, image: GridValues, flash: GridValues, rows: Rows) -> Floats32:
    exposure = through * image.band(*rows)
    fogged = flash.band(*rows)
    if np.ndim(fogged) or fogged:
        exposure += fogged
    return exposure


def bands(height: int) -> Iterator[Rows]:
    """The rows that are worked on together, from the first to before the second: few, so that they stay in a cache."""
    for top in range(0, height, _BAND):
        yield top, min(height, top + _BAND)
