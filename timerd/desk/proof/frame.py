"""What stands around the two prints of a pair: white borders on a grey ground, what each is, a scale of densities."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from timerd.desk.proof.tones import Levels, levels
from timerd.printing.paper import Curve

_GROUND = 0.35
"""Density of the grey that the pair lies on."""
_INK = 0
_STEP = 0.2


class Frame:
    """Where two prints of `width` by `height` pixels lie in the picture; all sizes in pixels."""

    def __init__(self, width: int, height: int, curve: Curve, captions: tuple[str, str]) -> None:
        self._wide, self._curve, self._captions = width, curve, captions
        self._border = max(2, width // 40)
        self._margin = max(6, width // 25)
        self.letter = max(11, width // 30)
        """How large letters are."""
        self.lefts = (self._margin + self._border, 2 * self._margin + 3 * self._border + width)
        """Where each print begins."""
        self.top = self._margin + self._border
        self._foot = self._border + 5 * self.letter + self._margin
        self.width = 3 * self._margin + 4 * self._border + 2 * width
        self.height = self.top + height + self._foot

    def head(self) -> Levels:
        """The rows above the prints."""
        return self._rows(self.top, slice(self._margin, None))

    def band(self, prints: Sequence[Levels]) -> Levels:
        """Rows with both prints in them."""
        found = self._rows(len(prints[0]), slice(None))
        for left, print_ in zip(self.lefts, prints, strict=True):
            found[:, left : left + self._wide] = print_
        return found

    def foot(self) -> Levels:
        """The rows below the prints: what they are, and the scale."""
        image = Image.fromarray(self._rows(self._foot, slice(0, self._border)))
        draw = ImageDraw.Draw(image)
        font = ImageFont.load_default(self.letter)
        top = self._border + self.letter // 2
        for left, caption in zip(self.lefts, self._captions, strict=True):
            draw.text((left - self._border, top), caption, fill=_INK, font=font)
        top += 2 * self.letter
        steps = scale(self._curve)
        left, wide = self._margin, (self.width - 2 * self._margin) / len(steps)
        free = -1.0
        for i, density in enumerate(steps):
            box = (round(left + i * wide), top, round(left + (i + 1) * wide) - 1, top + round(1.3 * self.letter))
            draw.rectangle(box, fill=int(levels(np.array(density))))
            if box[0] > free:
                draw.text((box[0], box[3] + self.letter // 5), f"{density:.2f}", fill=_INK, font=font)
                free = box[0] + draw.textlength(f"{density:.2f} ", font=font)
        return np.array(image)

    def _rows(self, count: int, white: slice) -> Levels:
        found = np.full((count, self.width), int(levels(np.array(_GROUND))), dtype=np.uint8)
        for left in self.lefts:
            found[white, left - self._border : left + self._wide + self._border] = int(
                levels(np.array(self._curve.dmin))
            )
        return found


def scale(curve: Curve) -> list[float]:
    """The densities of the scale: the paper's white, steps of 0.2, and the black that it tends to.

    >>> from timerd.printing.paper import Emulsion
    >>> scale(Curve(0.06, (Emulsion(0.7, 10.0, 1.0, 1.0),)))
    [0.06, 0.2, 0.4, 0.6, 0.76]
    """
    first, last = math.floor(curve.dmin / _STEP + 0.5) + 1, math.ceil(curve.dmax / _STEP - 0.5) - 1
    between = [round(_STEP * i, 2) for i in range(first, last + 1)]
    return [curve.dmin, *between, curve.dmax]
