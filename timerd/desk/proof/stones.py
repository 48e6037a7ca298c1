"""The scene's breakwater: heaped stones, smaller with the distance, lit from the right, dark and wet at the foot."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter
from scipy.spatial import cKDTree

from timerd.desk.proof.noise import Noise, Plane

_STONES = 2200  # more than are seen: they lie beyond the heap's edges too
_ACROSS, _DEEP = 1.55, 1.85  # stones in a unit of the picture, as large as at the horizon they would be
_VANISHING = 0.36
_END = 0.475
"""How far across the picture the heap goes."""

Places = NDArray[np.floating]


def rising(x: Plane) -> Plane:
    """From 0 below -1/2 to 1 above 1/2, smoothly.

    >>> print(rising(np.array([-1.0, 0.0, 0.5])))
    [0.  0.5 1. ]
    """
    t = np.clip(x + 0.5, 0.0, 1.0)
    found: Plane = t * t * (3.0 - 2.0 * t)
    return found


def heap(width: int, height: int) -> tuple[Plane, Plane]:
    """How much of each pixel the stones cover, and the light that comes from them."""
    rng = np.random.default_rng(1907)
    shape = width / height
    covered = np.zeros((height, width), dtype=np.float32)
    light = np.zeros((height, width), dtype=np.float32)
    rows, columns = np.nonzero(_near_the_heap(width, height))
    if not len(rows):
        return covered, light
    u, v = ((columns + 0.5) / width).astype(np.float32), ((rows + 0.5) / height).astype(np.float32)
    middles = _flat(rng.uniform(-0.06, 0.56, _STONES), rng.uniform(0.44, 0.97, _STONES), shape)
    places = _flat(u, v, shape)
    away, which = cKDTree(middles).query(places, k=2)
    stone = which[:, 0]
    toward = (places - middles[stone]) / (away.mean(axis=1)[:, None] + 1e-6)
    facing = _facing(toward, stone, rng)
    pitted = Noise(19)(u * 130.0, v * 130.0, 4, 0.65)
    up = _up(u, v)
    foot = rising((0.36 - up + 0.3 * (Noise(20)(u * 14.0, v * 14.0, 3) - 0.5)) / 0.30)  # weed and water
    gap = np.clip((away[:, 1] - away[:, 0]) / 0.17, 0.0, 1.0) ** 0.6
    own = rng.uniform(0.60, 1.25, _STONES)[stone] * (0.60 + 0.8 * pitted)
    lit = (0.020 + 0.150 * facing) * own * (1.0 - 0.60 * foot) * (0.10 + 0.90 * gap)
    lit += 0.045 * foot * rising((facing * pitted - 0.40) / 0.10) * gap  # wet edges catch the sky
    # A stone is there where its middle lies in the heap: so the heap's edge is made of stones.
    middle_u, middle_v = _unflat(middles[stone], shape)
    covered[rows, columns] = (_up(middle_u, middle_v) > 0.0) & (_up(middle_u, middle_v) < 1.0)
    light[rows, columns] = lit
    soft = 0.4 * width / 900.0
    return gaussian_filter(covered, soft), gaussian_filter(light, soft)


def _facing(toward: Places, stone: NDArray[np.intp], rng: np.random.Generator) -> Places:
    """How much of the light from above right each place of a stone gets: round, tilted, and broken along an edge."""
    tilt = rng.normal(0.0, 0.40, (_STONES, 2))[stone]
    edge = rng.uniform(-0.5, 0.5, (_STONES, 3))[stone]
    side = np.sign(toward[:, 0] * edge[:, 0] + toward[:, 1] * edge[:, 1] + 0.2 * edge[:, 2])
    across = 0.8 * toward[:, 0] + tilt[:, 0] + 0.30 * side
    deep = 0.8 * toward[:, 1] + tilt[:, 1] - 0.22 * side
    steep = np.sqrt(1.0 + across**2 + deep**2)
    return np.clip((0.60 * across - 0.66 * deep + 0.28) / steep, 0.0, None)


def _near_the_heap(width: int, height: int) -> NDArray[np.bool_]:
    u = ((np.arange(width) + 0.5) / width)[None, :]
    v = ((np.arange(height) + 0.5) / height)[:, None]
    up = (_foot(u) - v) / (_foot(u) - _top(u))
    found: NDArray[np.bool_] = (up > -0.15) & (up < 1.15) & (u < _END + 0.06)
    return found


def _up(u: Places, v: Places) -> Places:
    """How far up the heap a place lies: 0 at the foot, 1 at the top; beside the heap below 0."""
    return np.where(u < _END, (_foot(u) - v) / (_foot(u) - _top(u)), -1.0)


def _top(u: Places) -> Places:
    top: Places = (
        0.530 + 0.014 * np.sin(23.0 * u) + 0.10 * np.clip(u - 0.36, 0.0, 1.0) ** 1.2 + 0.006 * np.sin(61.0 * u)
    )
    return top


def _foot(u: Places) -> Places:
    foot: Places = 0.865 - 0.46 * np.clip(u, 0.0, 0.5) + 0.012 * np.sin(31.0 * u) + 0.007 * np.sin(77.0 * u)
    return foot


def _flat(u: Places, v: Places, shape: float) -> Places:
    """Places in which stones of one size lie everywhere: nearer ones are larger in the picture."""
    near = v - _VANISHING
    return np.stack([(u - 0.2) * shape / near * _ACROSS, np.log(near) * _DEEP], axis=1)


def _unflat(places: Places, shape: float) -> tuple[Places, Places]:
    near = np.exp(places[:, 1] / _DEEP)
    return places[:, 0] * near / _ACROSS / shape + 0.2, near + _VANISHING
