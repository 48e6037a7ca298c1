"""How a paper's parts differ from the logistic: steeper or flatter, from the first tone to the last black.

The logistic is a straight line of one slope where log(share / (1 - share)) is drawn over log exposure. A real paper's
line bends. Here its slope is that at half density, times a number at each of six places along it; straight between
them, as at the last one beyond.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

PLACES = (-5.0, -3.0, -1.5, 1.5, 3.0, 5.0)
"""Where the slope is told: log(share / (1 - share)) of a logistic, shares of 0.7, 5, 18, 82, 95 and 99.3 per cent."""
NODES = (*PLACES[:3], 0.0, *PLACES[3:])
"""The same with the middle, half density, whose slope is the curve's own."""


@dataclass(frozen=True, slots=True)
class Bend:
    """The bent line, worked out once: `at` where a straight one would be, its slope there, and the way back.

    `times` are the six slopes beside that at half density, each over 0; ValueError for another number of them.

    >>> bend = Bend((0.5, 0.5, 0.5, 2.0, 2.0, 2.0))
    >>> bend.at(-3.0), bend.at(0.0), bend.at(1.5), bend.steep(7.0), bend.back(bend.at(2.5))
    (-1.875, 0.0, 2.25, 2.0, 2.5)
    """

    times: tuple[float, ...]
    _slopes: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _reached: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        if len(self.times) != len(PLACES) or not all(0.0 < times < math.inf for times in self.times):
            raise ValueError(f"a bend has {len(PLACES)} slopes over 0; found {self.times}")
        slopes = (*self.times[:3], 1.0, *self.times[3:])
        gained = [(b - a) * (s + t) / 2.0 for a, b, s, t in zip(NODES, NODES[1:], slopes, slopes[1:], strict=False)]
        below = sum(gained[:3])
        object.__setattr__(self, "_slopes", slopes)
        object.__setattr__(self, "_reached", tuple(sum(gained[:k]) - below for k in range(len(NODES))))

    def at(self, u: float) -> float:
        """What the straight line's u becomes."""
        k = self._piece(NODES, u)
        t = u - NODES[k]
        return self._reached[k] + t * (self._slopes[k] + self._climb(k, u) * t / 2.0)

    def steep(self, u: float) -> float:
        """The slope there, beside that at half density."""
        k = self._piece(NODES, u)
        return self._slopes[k] + self._climb(k, u) * (u - NODES[k])

    def back(self, eta: float) -> float:
        """Where the straight line is when the bent one is at `eta`: the inverse of `at`."""
        k = self._piece(self._reached, eta)
        rest, slope = eta - self._reached[k], self._slopes[k]
        beyond = not self._reached[0] <= eta <= self._reached[-1]
        climb = 0.0 if beyond else self._climb(k, NODES[k])
        return NODES[k] + 2.0 * rest / (slope + math.sqrt(max(0.0, slope * slope + 2.0 * climb * rest)))

    @staticmethod
    def _piece(along: Sequence[float], value: float) -> int:
        """The node below, the first one where there is none; beyond the last one the last."""
        return max(0, bisect_right(along, value) - 1)

    def _climb(self, k: int, u: float) -> float:
        """How the slope changes from node k on; not at all beyond the ends."""
        if u < NODES[0] or k + 1 >= len(NODES):
            return 0.0
        return (self._slopes[k + 1] - self._slopes[k]) / (NODES[k + 1] - NODES[k])
