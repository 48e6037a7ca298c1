"""Light on the paper to density by its curve, and density to what a screen shows (IEC 61966-2-1), for whole arrays."""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from timerd.printing.bend import NODES, Bend
from timerd.printing.paper import Curve, Emulsion

Floats = NDArray[np.floating]
Levels = NDArray[np.uint8]

_FINE = 8192  # densities told apart per unit of density; a level of the picture is 30 times coarser or more
_DEEPEST = 65535 / _FINE
_FAR, _ENTRIES = 18.0, 65536  # of a bend's table: from a share of 1e-8 to one of all but that


def densities(curve: Curve, exposures: Iterable[Floats]) -> Floats:
    """Density from the exposure of each part of the emulsion: blue_i * B + green_i * G, in the order of the parts.

    An array of 0 or more for each part, alike in shape and kind of number, which is used up: its room is worked in.
    The same numbers as `Curve.density`, which takes one place at a time.

    >>> paper = Curve(0.1, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
    >>> print(densities(paper, [np.array([0.0, 1.0, 1e6])]))
    [0.1 1.1 2.1]
    """
    total: Floats | None = None
    bent = _bent(curve.bend) if curve.bend is not None else None
    with np.errstate(divide="ignore", over="ignore"):
        for part, exposure in zip(curve.parts, exposures, strict=True):
            share = _share(part, exposure, bent)
            share *= part.density
            total = share if total is None else np.add(total, share, out=total)
    if total is None:
        raise ValueError("a curve has at least one part")
    total += curve.dmin
    return total


def contrasts(curve: Curve, image: Iterable[Floats], all_light: Iterable[Floats]) -> Floats:
    """Density per decade of image light: `image` is each part's exposure by the image, `all_light` with the flash.

    The same numbers as `Curve.contrast`. Nothing is used up.

    >>> paper = Curve(0.1, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
    >>> print(contrasts(paper, [np.array([0.5, 1.0])], [np.array([1.0, 1.0])]))
    [2.5 5. ]
    """
    steep: Floats | None = None
    bent = _bent(curve.bend) if curve.bend is not None else None
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        for part, own, whole in zip(curve.parts, image, all_light, strict=True):
            share = _share(part, whole.copy(), bent)
            one = part.density * part.slope * share * (1.0 - share) * np.nan_to_num(own / whole)
            if bent is not None:
                one *= bent.steep(part.slope * np.log10(whole))
            steep = one if steep is None else steep + one
    if steep is None:
        raise ValueError("a curve has at least one part")
    return steep


def _share(part: Emulsion, exposure: Floats, bent: _Bent | None) -> Floats:
    """How much of a part's density an exposure brings out, in place: 1 / (1 + exp(-slope * log10(exposure)))."""
    np.log(exposure, out=exposure)
    if bent is not None:
        exposure *= part.slope / math.log(10.0)
        return bent.share(exposure)
    exposure *= -part.slope / math.log(10.0)
    np.exp(exposure, out=exposure)
    exposure += 1.0
    return np.reciprocal(exposure, out=exposure)


@lru_cache(maxsize=64)
def _bent(bend: Bend) -> _Bent:
    return _Bent(bend)


class _Bent:
    """A bend for arrays: shares by a table. To 1e-4 in 32 bits, which are for pictures; else straight between entries,
    and so to 1e-7."""

    def __init__(self, bend: Bend) -> None:
        self._low, high = bend.back(-_FAR), bend.back(_FAR)
        self._scale = (_ENTRIES - 1) / (high - self._low)
        self._steep = np.array([bend.steep(u) for u in NODES])
        at = self._along(bend, self._low + np.arange(_ENTRIES) / self._scale)
        self._shares = 1.0 / (1.0 + np.exp(-at))
        self._short = self._shares.astype(np.float32)

    def _along(self, bend: Bend, u: Floats) -> Floats:
        """`Bend.at` for many at once: from the node below on by its slope, which changes evenly up to the next."""
        nodes = np.array(NODES)
        piece = np.clip(np.searchsorted(nodes, u, "right") - 1, 0, len(nodes) - 1)
        climbs = np.append(np.diff(self._steep) / np.diff(nodes), 0.0)
        past = u - nodes[piece]
        climb = np.where(past < 0.0, 0.0, climbs[piece])
        return np.asarray(
            np.array([bend.at(u) for u in NODES])[piece] + past * (self._steep[piece] + climb * past / 2.0)
        )

    def share(self, u: Floats) -> Floats:
        """The share at u; what is handed in is used up."""
        u -= self._low
        u *= self._scale
        if u.dtype == np.float32:
            u += 0.5
            np.clip(u, 0.0, _ENTRIES - 1, out=u)
            return np.take(self._short, u.astype(np.uint16), out=u, mode="clip")
        return np.asarray(np.interp(u, np.arange(_ENTRIES), self._shares))

    def steep(self, u: Floats) -> Floats:
        """How steep the bend is there."""
        return np.asarray(np.interp(u, NODES, self._steep))


def encoded(reflectance: Floats) -> Floats:
    """sRGB of a neutral tone, 0 to 1, from its reflectance, 0 to 1 (IEC 61966-2-1:1999, its transfer function).

    >>> print(np.round(255.0 * encoded(np.array([0.0, 0.18, 1.0])), 2))
    [  0.   117.65 255.  ]
    """
    light = np.clip(reflectance, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1.0 / 2.4) - 0.055)


def levels(density: Floats) -> Levels:
    """What an 8-bit sRGB picture has for densities: 10 ** -D of the light comes back, neutral, nothing for the paper's
    colour.

    >>> print(levels(np.array([0.0, 0.7447, 2.2])))
    [255 118  19]
    """
    found: Levels = np.floor(255.0 * encoded(np.power(10.0, -density)) + 0.5).astype(np.uint8)
    return found


def fast_levels(density: NDArray[np.float32]) -> Levels:
    """`levels` by a table, with density rounded to 1/8192; what is handed in is used up."""
    np.clip(density, 0.0, _DEEPEST, out=density)
    density *= _FINE
    found: Levels = _TABLE.take(density.astype(np.uint16), mode="clip")
    return found


_TABLE = levels((np.arange(65536) + 0.5) / _FINE)
