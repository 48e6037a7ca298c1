"""Where an area is, for light: 1 inside, 0 outside, and a soft edge between, since a card is kept moving.

The edge is as wide as the penumbra, half of it on each side of the outline: a smooth ramp, 3u^2 - 2u^3 (common
practice, no source). Where the outline runs along the image's own edge there is none: the card is held clear of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from timerd.sheet.map import Ring

_ON_THE_EDGE = 1e-6  # of the image's size

Field = NDArray[np.float64]


def covered(rings: Sequence[Ring], across: Field, down: Field, image: Ring, penumbra_mm: float) -> Field:
    """How much of an area lies at each node of a grid, 0 to 1: rows `down`, columns `across`, in mm, both rising.

    `rings` are closed outlines, one inside the other where there is a hole; `image` the image's corners. The nodes lie
    in the image.

    >>> square = ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0))
    >>> left = ((0.0, 0.0), (4.0, 0.0), (4.0, 10.0), (0.0, 10.0))
    >>> print(covered([left], np.array([0.0, 2.0, 4.0, 5.0, 9.0]), np.array([0.0, 5.0]), square, 4.0))
    [[1.      1.      0.5     0.15625 0.     ]
     [1.      1.      0.5     0.15625 0.     ]]
    """
    # A node on an outline that runs along the image's edge is inside.
    lefts, tops = [point[0] for point in image], [point[1] for point in image]
    slack = _ON_THE_EDGE * max(max(lefts) - min(lefts), max(tops) - min(tops))
    x = np.clip(across, min(lefts) + slack, max(lefts) - slack)
    y = np.clip(down, min(tops) + slack, max(tops) - slack)
    inside = np.zeros((len(y), len(x)), dtype=bool)
    reach = penumbra_mm / 2.0
    nearest = np.full((len(y), len(x)), reach)
    for ring in rings:
        for begin, end in pairwise((*ring, ring[0])):
            _cross(inside, x, y, begin, end)
            if not _along_the_edge(begin, end, (min(lefts), max(lefts)), (min(tops), max(tops)), slack):
                near(nearest, x, y, begin, end, reach)
    u = 0.5 + np.where(inside, nearest, -nearest) / penumbra_mm
    return u * u * (3.0 - 2.0 * u)


def _cross(inside: NDArray[np.bool_], x: Field, y: Field, begin: tuple[float, float], end: tuple[float, float]) -> None:
    """Turn inside and outside about, left of one edge (the even-odd rule)."""
    (x0, y0), (x1, y1) = begin, end
    if y0 == y1:
        return
    first, last = np.searchsorted(y, sorted((y0, y1)))
    rows = y[first:last]
    at = x0 + (rows - y0) * (x1 - x0) / (y1 - y0)
    inside[first:last] ^= x[None, :] < at[:, None]


def near(
    nearest: Field, x: Field, y: Field, begin: tuple[float, float], end: tuple[float, float], reach: float
) -> None:
    """Take in how far each place of a grid (rows y, columns x, both rising) is from one edge, where that is nearer.

    Places beyond reach may be left out.
    """
    (x0, y0), (x1, y1) = begin, end
    left, right = np.searchsorted(x, (min(x0, x1) - reach, max(x0, x1) + reach))
    top, bottom = np.searchsorted(y, (min(y0, y1) - reach, max(y0, y1) + reach))
    if left >= right or top >= bottom:
        return
    dx, dy = x[None, left:right] - x0, y[top:bottom, None] - y0
    length = (x1 - x0) ** 2 + (y1 - y0) ** 2
    along = np.clip((dx * (x1 - x0) + dy * (y1 - y0)) / length, 0.0, 1.0) if length > 0.0 else np.zeros(())
    away = np.hypot(dx - along * (x1 - x0), dy - along * (y1 - y0))
    part = nearest[top:bottom, left:right]
    np.minimum(part, away, out=part)


def _along_the_edge(
    begin: tuple[float, float], end: tuple[float, float], across: tuple[float, float], down: tuple[float, float],
    slack: float,
) -> bool:  # fmt: skip
    return any(
        abs(begin[axis] - side) <= slack and abs(end[axis] - side) <= slack
        for axis, sides in enumerate((across, down)) for side in sides
    )  # fmt: skip
