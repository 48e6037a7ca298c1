"""Noise for the made-up scene: smooth at every size, the same for the same seed whatever the picture's size."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.floating[Any]]
_BITS = 8
_MASK = (1 << _BITS) - 1


class Noise:
    """Sums of smooth random values on lattices, each twice as fine and half as strong as the one before."""

    def __init__(self, seed: int) -> None:
        self._values = np.random.default_rng(seed).random(1 << 2 * _BITS, dtype=np.float32)

    def __call__(self, x: Plane, y: Plane, octaves: int, rough: float = 0.5) -> Plane:
        """From 0 to 1, mostly near a half, at places x and y (1 apart: a lattice's step); arrays that go together.

        >>> noise = Noise(1)
        >>> place = np.array([0.25, 7.5], dtype=np.float32)
        >>> bool((noise(place, place, 3) == Noise(1)(place, place, 3)).all())
        True
        """
        x, y = x.astype(np.float32), y.astype(np.float32)
        total: Plane = np.zeros(np.broadcast_shapes(x.shape, y.shape), dtype=np.float32)
        strength, whole = 1.0, 0.0
        for octave in range(octaves):
            total += np.float32(strength) * self._one(
                x * np.float32(2**octave) + np.float32(17.3 * octave),
                y * np.float32(2**octave) + np.float32(5.9 * octave),
            )
            whole += strength
            strength *= rough
        return total / np.float32(whole)

    def _one(self, x: Plane, y: Plane) -> Plane:
        left, top = np.floor(x), np.floor(y)
        u, v = x - left, y - top
        u, v = u * u * (3.0 - 2.0 * u), v * v * (3.0 - 2.0 * v)
        i, j = left.astype(np.int32) & _MASK, (top.astype(np.int32) & _MASK) << _BITS
        i1, j1 = (i + 1) & _MASK, (j + (_MASK + 1)) & (_MASK << _BITS)
        flat = self._values
        a, b = flat.take(i + j), flat.take(i + j1)
        a += (flat.take(i1 + j) - a) * u
        b += (flat.take(i1 + j1) - b) * u
        b -= a
        b *= v
        a += b
        return a
