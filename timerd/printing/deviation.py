"""How far off a number may be that is worked out on a paper's curve, by how far off the curve itself may be.

A curve's numbers are not sure one by one: where one is larger another is smaller. So what is known of them is a few
deviations, each a change of all numbers at once, that have nothing to do with each other; what each does to a result
adds up as squares.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from timerd.printing.bend import PLACES, Bend
from timerd.printing.paper import Curve, Emulsion

Pair = tuple[Curve, Curve]
"""A curve that is off by one deviation to the one side, and to the other."""


@dataclass(frozen=True, slots=True)
class Deviation:
    """One standard deviation of one cause: dmin in density, all else as a change of the natural logarithm.

    Slopes, blue speeds, densities and green speeds as many as the curve has parts; the bend's six slopes.
    """

    dmin: float
    slopes: tuple[float, ...]
    blues: tuple[float, ...]
    densities: tuple[float, ...]
    greens: tuple[float, ...]
    bend: tuple[float, ...] = ()

    def pair(self, curve: Curve) -> Pair:
        """The curve with this deviation, and with its opposite.

        >>> curve = Curve(0.1, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
        >>> more, less = Deviation(0.01, (0.0,), (0.0,), (math.log(1.1),), (0.0,)).pair(curve)
        >>> round(more.dmax, 3), round(less.dmax, 3)
        (2.31, 1.908)
        """
        return self._moved(curve, 1.0), self._moved(curve, -1.0)

    def _moved(self, curve: Curve, by: float) -> Curve:
        parts = tuple(
            Emulsion(
                part.density * math.exp(by * density), part.slope * math.exp(by * slope),
                part.green * math.exp(by * green), part.blue * math.exp(by * blue),
            )
            for part, slope, blue, density, green in zip(
                curve.parts, self.slopes, self.blues, self.densities, self.greens, strict=True
            )
        )  # fmt: skip
        bend = curve.bend
        if any(self.bend):
            times = bend.times if bend is not None else (1.0,) * len(PLACES)
            bend = Bend(tuple(one * math.exp(by * off) for one, off in zip(times, self.bend, strict=True)))
        return replace(curve, dmin=max(0.0, curve.dmin + by * self.dmin), parts=parts, bend=bend)


def deviations(
    worked_out: Callable[[Curve], Sequence[float | None]], curve: Curve, pairs: Sequence[Pair]
) -> tuple[float | None, ...]:  # fmt: skip
    """One standard deviation of each number that `worked_out` finds on a curve; None where it cannot be told.

    `pairs` are those of the curve's deviations; without any nothing is known. A number that one of a pair has not
    (None, or a ValueError for all of them) is told from the other one and the curve itself.

    >>> curve = Curve(0.1, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
    >>> pairs = [Deviation(0.01, (0.0,), (0.0,), (0.0,), (0.0,)).pair(curve)]
    >>> [round(one, 3) for one in deviations(lambda c: (c.dmin, c.dmax - c.dmin), curve, pairs)]
    [0.01, 0.0]
    """
    here = worked_out(curve)
    if not pairs:
        return (None,) * len(here)
    squares: list[float | None] = [0.0] * len(here)
    for pair in pairs:
        more, less = (_or_none(worked_out, one, len(here)) for one in pair)
        for i, value in enumerate(here):
            squares[i] = _plus(squares[i], _half(value, more[i], less[i]))
    return tuple(math.sqrt(one) if one is not None else None for one in squares)


def deviation(worked_out: Callable[[Curve], float], curve: Curve, pairs: Sequence[Pair]) -> float | None:
    """One standard deviation of one number; see `deviations`."""
    return deviations(lambda one: (worked_out(one),), curve, pairs)[0]


def _or_none(
    worked_out: Callable[[Curve], Sequence[float | None]], curve: Curve, count: int
) -> Sequence[float | None]:  # fmt: skip
    try:
        return worked_out(curve)
    except ValueError:
        return (None,) * count


def _half(here: float | None, more: float | None, less: float | None) -> float | None:
    if here is None:
        return None
    if more is not None and less is not None:
        return (more - less) / 2.0
    one = more if more is not None else less
    return one - here if one is not None else None


def _plus(squares: float | None, one: float | None) -> float | None:
    return None if squares is None or one is None else squares + one * one
