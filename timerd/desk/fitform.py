"""The curves that a fit chooses from: their numbers, the densities they give, and how these change with each number."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from timerd.printing.bend import NODES, PLACES, Bend
from timerd.printing.deviation import Deviation
from timerd.printing.paper import Curve, Emulsion, Mix

Floats = np.ndarray[Any, np.dtype[np.float64]]

BENDS = len(PLACES)
_FAR = 40.0  # natural logarithm beyond which a search has lost its way
_LN10 = math.log(10.0)


@dataclass(frozen=True, slots=True)
class Data:
    """Readings as arrays; `mix` is the number of the mix that each was read in, -1 for an unexposed patch."""

    green: Floats
    blue: Floats
    density: Floats
    mix: np.ndarray[Any, np.dtype[np.int_]]

    def __len__(self) -> int:
        return len(self.density)

    @property
    def mixes(self) -> int:
        """How many mixes there are."""
        return int(self.mix.max()) + 1

    def kept(self, some: np.ndarray[Any, np.dtype[np.bool_]]) -> Data:
        """Those of the readings alone."""
        return Data(self.green[some], self.blue[some], self.density[some], self.mix[some])

    def shifted(self, logs: Floats) -> Data:
        """The same with each mix's exposures higher by so many decades."""
        times = np.where(self.mix < 0, 1.0, np.power(10.0, logs[self.mix]))
        return Data(self.green * times, self.blue * times, self.density, self.mix)


@dataclass(frozen=True, slots=True)
class Form:
    """Which numbers a candidate has: dmin, then natural logarithms of slopes, blue speeds, densities, green speeds.

    Behind these six numbers of the bend may stand: by how much the natural logarithm of the slope changes from half
    density outwards, place by place. In readings of one light alone the parts differ in that light, and the other has
    no speed.
    """

    parts: int
    own_slopes: bool = False
    own_blues: bool = False
    greens: bool = True
    blues: bool = True

    @property
    def own(self) -> bool:
        """Whether parts have what the emulsion's parts usually share."""
        return self.own_slopes or (self.own_blues and self.greens)

    @property
    def words(self) -> str:
        own = [name for name, there in (("slopes", self.own_slopes), ("speeds in blue", self.own_blues)) if there]
        return f"{self.parts} part{'s' if self.parts > 1 else ''}" + (f", own {' and '.join(own)}" if own else "")

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """How many slopes, blue speeds, densities, green speeds."""
        n = self.parts
        return n if self.own_slopes else 1, (n if self.own_blues else 1) * self.blues, n, n * self.greens

    @property
    def size(self) -> int:
        """How many numbers there are without a bend."""
        return 1 + sum(self.counts)

    def apart(self, theta: Floats) -> Floats:
        """The numbers of the form in which the parts share slope and speed in blue, each with a copy of its own."""
        copies = (1, self.counts[0], self.counts[1])
        shared = [np.full(n, value) for n, value in zip(copies, theta[:3], strict=True)]
        return np.concatenate([*shared, theta[3:]])

    def cut(self, theta: Floats) -> list[Floats]:
        """Slopes, blue speeds, densities, green speeds, one for each part."""
        places = np.cumsum((1, *self.counts))
        pieces = [np.exp(np.clip(theta[a:b], -_FAR, _FAR)) for a, b in pairwise(places)]
        return [np.resize(piece, self.parts) if len(piece) else np.zeros(self.parts) for piece in pieces]

    def residuals(self, theta: Floats, data: Data) -> Floats:
        """The curve's densities, less those read."""
        inside = _Inside(self, theta, data)
        found: Floats = theta[0] + inside.densities @ inside.share - data.density
        return found

    def jacobian(self, theta: Floats, data: Data) -> Floats:
        """How the residuals change with each of the numbers in theta."""
        inside = _Inside(self, theta, data)
        steep = inside.per_log
        columns = [np.ones((1, len(data)))]
        slope, blue = steep * inside.log, steep * inside.blue_share / _LN10
        columns.append(slope if self.own_slopes else slope.sum(axis=0, keepdims=True))
        if self.blues:
            columns.append(blue if self.own_blues else blue.sum(axis=0, keepdims=True))
        columns.append(inside.densities[:, None] * inside.share)
        if self.greens:
            columns.append(steep * (1.0 - inside.blue_share) / _LN10)
        if len(theta) > self.size:
            columns.append(inside.per_bend())
        return np.concatenate(columns).T

    def per_log(self, theta: Floats, data: Data) -> Floats:
        """By how much each density changes for a decade of exposure."""
        found: Floats = _Inside(self, theta, data).per_log.sum(axis=0)
        return found

    def curve(self, theta: Floats, mixes: tuple[Mix, ...] = ()) -> Curve:
        """The curve that these numbers are."""
        slopes, blues, densities, greens = self.cut(theta)
        parts = tuple(
            Emulsion(float(densities[i]), float(slopes[i]), float(greens[i]), float(blues[i]))
            for i in self._order(theta)
        )
        bend = theta[self.size :]
        times = tuple(float(one) for one in np.exp(OUTWARDS @ bend)) if bend.any() else None
        return Curve(max(0.0, float(theta[0])), parts, mixes, Bend(times) if times is not None else None)

    def deviation(self, theta: Floats, row: Floats) -> Deviation:
        """A change of all the numbers at once, as it is told of the curve: parts in the curve's order."""
        places = np.cumsum((1, *self.counts))
        pieces = [row[a:b] for a, b in pairwise(places)]
        order = self._order(theta)
        slopes, blues, densities, greens = (
            tuple(float(piece[0 if len(piece) == 1 else i]) for i in order) if len(piece) else (0.0,) * self.parts
            for piece in pieces
        )
        bend = tuple(float(one) for one in OUTWARDS @ row[self.size :])
        return Deviation(float(row[0]), slopes, blues, densities, greens, bend)

    def _order(self, theta: Floats) -> list[int]:
        """The parts from the fastest in green to the slowest."""
        _, blues, _, greens = self.cut(theta)
        return sorted(range(self.parts), key=lambda i: (-greens[i], -blues[i]))


class _Inside:
    """For each part and reading: the share of its density, its log10 exposure, the blue share of that."""

    def __init__(self, form: Form, theta: Floats, data: Data) -> None:
        slopes, blues, self.densities, greens = form.cut(theta)
        from_blue = blues[:, None] * data.blue[None, :]
        exposure = from_blue + greens[:, None] * data.green[None, :]
        dark = exposure <= 0.0
        self.log = np.log10(np.where(dark, 1.0, exposure))
        straight = slopes[:, None] * self.log
        steeper: Floats | float = 1.0
        if len(theta) > form.size:
            self._times: Floats = np.exp(np.clip(OUTWARDS @ theta[form.size :], -_FAR, _FAR))
            self._hats, self._gained = _along(straight)
            straight, steeper = self._bent(self._gained), self._bent(self._hats)
        share = 1.0 / (1.0 + np.exp(np.clip(-straight, -700.0, 700.0)))
        self.share = np.where(dark, 0.0, share)
        self.blue_share = np.where(dark, 0.0, from_blue / np.where(dark, 1.0, exposure))
        self._per_straight = self.densities[:, None] * self.share * (1.0 - self.share)
        self.per_log: Floats = self._per_straight * slopes[:, None] * steeper

    def _bent(self, basis: Floats) -> Floats:
        """The sum over the nodes, that in the middle once."""
        found: Floats = basis[_MIDDLE] + np.tensordot(self._times, basis[_OUTER], axes=1)
        return found

    def per_bend(self) -> Floats:
        """How the densities change with each of the bend's numbers, where there is one."""
        of_times = (self._gained[_OUTER] * self._per_straight[None, :, :]).sum(axis=1) * self._times[:, None]
        found: Floats = OUTWARDS.T @ of_times
        return found


# -- a bend for arrays: what `Bend` is for one number ----------------------------------------------------------

_NODES = np.array(NODES)
_WIDTHS = np.diff(_NODES)
_MIDDLE = NODES.index(0.0)
_OUTER = [k for k in range(len(NODES)) if k != _MIDDLE]
OUTWARDS = np.array(
    [[float(0 < other / place <= 1) for other in PLACES] for place in PLACES]
)  # sums of the steps between half density and each place
STEPS = np.sqrt(
    [min(abs(place - other) for other in NODES if abs(other) < abs(place) and other * place >= 0) for place in PLACES]
)
"""How far a step of the bend may lie from 0 beside another: the root of its length."""


def _along(u: Floats) -> tuple[Floats, Floats]:
    """For each node the hat over it at u, and the hat's sum from 0 to u."""
    flat = u.ravel()
    into = np.clip(flat - _NODES[:-1, None], 0.0, _WIDTHS[:, None])
    rising = into / _WIDTHS[:, None]
    hats = np.empty((len(_NODES), len(flat)))
    hats[0], hats[1:-1], hats[-1] = 1.0 - rising[0], rising[:-1] - rising[1:], rising[-1]
    gained = _SUMS[0] @ into + _SUMS[1] @ (into * into) - _SUMS_AT_0
    gained[0] += np.minimum(flat - _NODES[0], 0.0)
    gained[-1] += np.maximum(flat - _NODES[-1], 0.0)
    shape = (len(_NODES), *u.shape)
    return hats.reshape(shape), gained.reshape(shape)


def _sums() -> tuple[Floats, Floats]:
    """What the hats' sums are of how far u lies into each stretch, and of its square."""
    first, second = (np.zeros((len(_NODES), len(_WIDTHS))) for _ in range(2))
    for k, width in enumerate(_WIDTHS):
        first[k, k] = 1.0
        second[k, k], second[k + 1, k] = -0.5 / width, 0.5 / width
    return first, second


_SUMS = _sums()
_AT_0 = np.clip(-_NODES[:-1], 0.0, _WIDTHS)
_SUMS_AT_0 = (_SUMS[0] @ _AT_0 + _SUMS[1] @ (_AT_0 * _AT_0))[:, None]
