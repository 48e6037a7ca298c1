"""The negative that comes along: an invented breakwater at low tide, in haze, made up in code at any size.

Light is put together as it would fall: sky, sea and sand in perspective, heaped stones lit from the right, a boat, haze
that thickens with the distance, and what a film makes of that. It stands in where there is no scan.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from timerd.desk.proof.negative import Negative, of_values
from timerd.desk.proof.noise import Noise, Plane
from timerd.desk.proof.stones import heap, rising

NAME = "an invented scene"
LOW, HIGH = 0.10, 1.60
"""Densities of the negative's thinnest and densest value."""

_HORIZON = 0.345
_SUN = (0.80, 0.15)
_FLARE = 0.006  # light that the camera spreads over all
_GAMMA = 0.65  # density per decade of light, as negatives are commonly developed (from memory)
_GRAIN = 0.011


class _Box(NamedTuple):
    """A part of the scene: which rows and columns, its places across and down from 0 to 1 and, for those below the
    horizon, how far and how far aside they are."""

    where: tuple[slice, slice]
    u: Plane
    v: Plane
    shape: float

    @property
    def far(self) -> Plane:
        found: Plane = np.float32(0.1) / np.maximum(self.v - np.float32(_HORIZON), np.float32(0.002))
        return found

    @property
    def aside(self) -> Plane:
        found: Plane = (self.u - np.float32(0.55)) * np.float32(self.shape) * self.far
        return found


@lru_cache(maxsize=2)
def scene(width: int, height: int) -> Negative:
    """The scene as a negative of so many pixels, the same every time."""
    light = np.zeros((height, width), dtype=np.float32)
    _sky(light, _box(light, 0.0, _HORIZON))
    _sea(light, _box(light, _HORIZON, 0.80))
    _headland(light, _box(light, 0.25, 0.36))
    _haze(light, _box(light, 0.05, 0.60))
    _sand(light, _box(light, 0.58, 1.0))
    _boat(light, _box(light, 0.29, 0.42, 0.60, 0.77))
    _posts(light, _box(light, 0.40, 0.76, 0.44, 0.66))
    covered, stones = heap(width, height)
    shadow = np.clip(gaussian_filter(covered, width * 0.012, truncate=2.0), 0.0, 1.0)
    light *= 1.0 - 0.45 * shadow
    light += covered * (stones - light)
    whole = _box(light, 0.0, 1.0)
    light *= 1.0 - 0.25 * ((whole.u - 0.5) ** 2 + (whole.v - 0.5) ** 2)
    return of_values(NAME, _film(light), LOW, HIGH)


def _box(light: Plane, top: float, bottom: float, left: float = 0.0, right: float = 1.0) -> _Box:
    high, wide = light.shape
    rows, columns = slice(int(top * high), int(bottom * high)), slice(int(left * wide), int(right * wide))
    u = ((np.arange(wide, dtype=np.float32) + 0.5) / wide)[None, columns]
    v = ((np.arange(high, dtype=np.float32) + 0.5) / high)[rows, None]
    return _Box((rows, columns), u, v, wide / high)


def _sky(light: Plane, box: _Box) -> None:
    """A veiled sun, and long clouds that draw together towards the horizon."""
    up = np.maximum(_HORIZON - box.v, 0.0) + 0.05
    clouds = Noise(2)((box.u - 0.4) * 0.9 / up, 0.42 / up, 6, 0.55)
    veil = Noise(3)(box.u * 2.2, box.v * 9.0, 4)
    away = np.hypot((box.u - _SUN[0]) * box.shape, box.v - _SUN[1])
    glow = 0.42 * np.exp(-((away / 0.15) ** 2)) + 0.26 * np.exp(-away / 0.28)
    own = 0.21 + 0.24 * box.v / _HORIZON + glow
    light[box.where] = own * (0.60 + 0.52 * rising((clouds - 0.50) / 0.40) + 0.20 * (veil - 0.5))


def _sea(light: Plane, box: _Box) -> None:
    """Small waves in perspective, with the sun on them."""
    waves = Noise(4)(box.aside * 11.0, box.far * 44.0, 5, 0.62)
    swell = Noise(5)(box.aside * 2.0, box.far * 11.0, 3)
    away = np.abs(box.u - _SUN[0]) * box.shape / (0.06 + 0.45 * np.maximum(box.v - _HORIZON, 0.0))
    glitter = np.exp(-(away**2)) * rising((waves - 0.60) / 0.16)
    light[box.where] = np.maximum(0.085 + 0.17 * (waves - 0.40) + 0.13 * (swell - 0.5) + 0.42 * glitter, 0.02)


def _headland(light: Plane, box: _Box) -> None:
    """A far coast from the left."""
    tall = 0.060 * np.clip(1.0 - box.u / 0.62, 0.0, 1.0) ** 0.8
    top = _HORIZON - tall * (0.55 + 0.9 * Noise(6)(box.u * 7.0, box.u, 5))
    there = rising((box.v - top) / 0.003) * rising((_HORIZON + 0.002 - box.v) / 0.003)
    light[box.where] += (0.09 - light[box.where]) * there * 0.85


def _haze(light: Plane, box: _Box) -> None:
    """Mist that lies on the water, and thins upwards and towards the eye."""
    below, above = np.maximum(box.v - _HORIZON, 0.0), np.maximum(_HORIZON - box.v, 0.0)
    drift = 0.70 + 0.55 * Noise(7)(box.u * 3.0, box.v * 16.0, 4)
    thick = np.clip(0.78 * np.exp(-below / 0.055 - above / 0.060) * drift, 0.0, 0.92)
    lit = 0.58 + 0.24 * np.exp(-(((box.u - _SUN[0]) / 0.35) ** 2))
    light[box.where] += (lit - light[box.where]) * thick


def _sand(light: Plane, box: _Box) -> None:
    """Ribbed wet sand with pools that give back the sky, and the line of foam where the water ends."""
    shore = 0.660 + 0.045 * (Noise(8)(box.u * 3.0, box.u * 0.0, 5) - 0.5) + 0.055 * (box.u - 0.5)
    bend = Noise(9)(box.aside * 6.0, box.far * 9.0, 3)
    ribs = Noise(10)(box.aside * 14.0 + 2.5 * bend, box.far * 190.0 + 9.0 * bend, 3, 0.5)
    fine = Noise(11)(box.aside * 900.0, box.far * 1400.0, 2, 0.7)
    low = Noise(12)(box.aside * 9.0, box.far * 30.0, 5, 0.5) + 0.16 * (ribs - 0.5)
    pool = rising((0.415 - low) / 0.03)
    sunny = np.exp(-(((box.u - _SUN[0]) / 0.26) ** 2))
    bare = 0.040 + 0.13 * np.clip(ribs - 0.30, 0.0, 1.0) + 0.05 * (fine - 0.5)
    bare += 0.055 * sunny * np.clip(1.3 - 2.2 * (box.v - 0.6), 0.2, 1.0)
    bare *= 1.0 - 0.45 * np.exp(-(((low - 0.440) / 0.016) ** 2))
    sky = (0.12 + 0.10 * sunny) * (1.15 - 0.9 * (box.v - 0.6)) * (0.85 + 0.3 * Noise(13)(box.u * 9.0, box.v * 40.0, 3))
    ground = np.maximum(bare, 0.012) * (1.0 - pool) + sky * pool
    there = light[box.where]
    there += (ground - there) * rising((box.v - shore) / 0.012)
    there += 0.20 * np.exp(-(((box.v - shore + 0.003) / 0.0028) ** 2)) * Noise(31)(box.u * 40.0, box.v * 90.0, 3)


def _boat(light: Plane, box: _Box) -> None:
    """A small boat at anchor, with its cabin, its mast and stays, and its reflection."""
    x, y = (box.u - 0.685) * box.shape / 0.779, box.v - 0.3685

    def inside(*by: tuple[Plane, float]) -> Plane:
        found = np.ones(np.broadcast_shapes(x.shape, y.shape), dtype=np.float32)
        for distance, soft in by:
            found *= rising(distance / soft)
        return found

    sheer = -0.010 - 0.9 * x * x - 0.05 * np.abs(x)
    hull = inside((0.047 - np.abs(x + 0.25 * y), 0.003), (y - sheer, 0.0022), (0.006 - y, 0.0022))
    cabin = inside((0.011 - np.abs(x + 0.012), 0.002), (y + 0.021, 0.002), (-0.006 - y, 0.002))
    mast = inside((0.0012 - np.abs(x - 0.006), 0.0016), (y + 0.060, 0.003), (-0.006 - y, 0.002))
    stay = inside((0.0005 - np.abs(y + 0.058 - 1.2 * np.abs(x - 0.006)), 0.0022), (-0.010 - y, 0.002))
    wobble = 0.02 * (Noise(14)(box.u * 30.0, box.v * 260.0, 3) - 0.5)
    below = np.clip(y - 0.006, 0.0, None)
    mirror = rising((0.042 - np.abs(x + wobble) - 0.3 * below) / 0.012) * (y > 0.004) * np.exp(-below / 0.014)
    there = light[box.where]
    there += (0.07 - there) * 0.55 * mirror
    there += (0.040 + 0.03 * (x > 0.02) - there) * np.maximum.reduce(
        [0.93 * hull, 0.8 * cabin, 0.75 * mast, 0.3 * stay]
    )


def _posts(light: Plane, box: _Box) -> None:
    """Old posts that go on from the stones into the water, smaller and paler as they go."""
    there = light[box.where]
    for i in range(11):
        go = i / 10.0
        size = 1.0 - 0.72 * go
        x, foot = 0.475 + 0.135 * go**0.8, 0.640 - 0.205 * go**0.72
        tall, wide = (0.052 + 0.014 * np.sin(2.3 * i)) * size, 0.0062 * size
        aside = (box.u - x) * box.shape
        leaning = np.abs(aside - 0.10 * np.sin(5.1 * i) * (foot - box.v)) / wide
        post = rising((1.0 - leaning) * 1.6) * rising((box.v - foot + tall) / 0.003) * rising((foot - box.v) / 0.003)
        tone = 0.020 + 0.035 * np.clip(aside / wide, -0.6, 1.0) + 0.16 * go**1.5
        bark = 0.7 + 0.6 * Noise(15)(box.u * 160.0, box.v * 25.0, 2)
        wobble = 0.008 * (Noise(16)(box.u * 20.0 + i, box.v * 150.0, 2) - 0.5)
        mirror = rising((1.2 - np.abs(aside + wobble) / wide) * 1.2) * (box.v > foot)
        there *= 1.0 - 0.5 * mirror * np.exp(-np.clip(box.v - foot, 0.0, None) / (0.8 * tall))
        there += (np.maximum(tone, 0.010) * bark - there) * post


def _film(light: Plane) -> NDArray[np.uint16]:
    """What a film makes of light, grain and all, as values evenly in density: 0 is the densest."""
    grain = gaussian_filter(np.random.default_rng(24).standard_normal(light.shape, dtype=np.float32), 0.6)
    grain *= _GRAIN / float(grain.std())
    density = 0.14 + _GAMMA * np.log10((np.maximum(light, 0.0) + _FLARE) / (0.008 + _FLARE))
    density += grain * (0.6 + 0.5 * density)
    return (65535.0 * np.clip((HIGH - density) / (HIGH - LOW), 0.0, 1.0) + 0.5).astype(np.uint16)
