"""A paper's fitted curve as its file has it: the model's numbers, how sure they are, and what was read.

A file without `deviations` is as good as one with them, but nothing worked out from it has a plus or minus.
"""

from __future__ import annotations

from itertools import accumulate
from typing import Annotated, Literal

from pydantic import Field

from timerd.printing.bend import PLACES, Bend
from timerd.printing.deviation import Deviation, Pair
from timerd.printing.paper import Curve, Emulsion, Mix
from timerd.sheet.profile import fields

MOST_MIXES = 400
MOST_SLOPE = 100.0
MOST_SPEED = 1e15
MOST_DENSITY = 4.0

Unit = Literal["lux seconds", "seconds", "relative"]
"""What exposures are counted in: lux seconds of each light, seconds of each light, or any one unit."""

NetDensity = Annotated[float, Field(gt=0, le=MOST_DENSITY)]
Slope = Annotated[float, Field(gt=0, le=MOST_SLOPE)]
Speed = Annotated[float, Field(ge=0, le=MOST_SPEED)]
Exposure = Annotated[float, Field(ge=0, le=1e9)]
Uncertainty = Annotated[float, Field(ge=0, le=1e15)]
LeastMost = Annotated[list[Exposure], Field(min_length=2, max_length=2)]
Steepness = Annotated[float, Field(gt=0, le=1000)]
Change = Annotated[float, Field(ge=-20, le=20)]
Changes = Annotated[list[Change], Field(min_length=5 + len(PLACES), max_length=13 + len(PLACES))]
MOST_DEVIATIONS = 32


class PartWithin(fields.Part):
    """One standard deviation of each number of a part, where known."""

    density: Uncertainty | None = None
    green: Uncertainty | None = None
    slope: Uncertainty | None = None
    blue: Uncertainty | None = None


class CurvePart(fields.Part):
    """A part of the emulsion: its density, its speed in green; slope and speed in blue where they are its own."""

    density: NetDensity
    green: Speed
    slope: Slope | None = None
    blue: Speed | None = None
    within: PartWithin | None = None


class CurveWithin(fields.Part):
    """One standard deviation of each number that all parts share, where known."""

    dmin: Uncertainty | None = None
    slope: Uncertainty | None = None
    blue: Uncertainty | None = None


class CurveMix(fields.Part):
    """One mix of lights that was read: the least and the most exposure in each, its ISO range R, one deviation of R."""

    green: LeastMost
    blue: LeastMost
    range: Annotated[float, Field(ge=0, le=1e5)] | None = None
    within: Uncertainty | None = None


class PaperCurve(fields.Part):
    """Density = dmin + sum of density / (1 + exp(-slope * log10(blue * B + green * G))) over the parts.

    `by` says what it was fitted to: `readings` of a densitometer, or two `patches` judged by eye. `scatter` is how far
    the readings lie from it, one standard deviation in density. `bend` is how steep all parts are at 0.7, 5, 18, 82,
    95 and 99.3 per cent of their density, times their slope at half of it; without it they are as the formula says.
    `deviations` are the ways in which all this may be off, one standard deviation each, that have nothing to do with
    each other: what they do to a result adds up as squares. Each changes all numbers at once: dmin in density, the
    others by their natural logarithm (0.01 is 1 per cent more), in the order dmin, slope, blue (one, or one for each
    part where they are the parts' own), every part's density, every part's green, the six of the bend.
    """

    unit: Unit
    by: Literal["readings", "patches"] = "readings"
    readings: Annotated[int, Field(ge=1, le=100000)]
    scatter: Annotated[float, Field(ge=0, le=4)] | None = None
    dmin: Annotated[float, Field(ge=0, le=2)]
    slope: Slope | None = None
    blue: Speed | None = None
    parts: Annotated[list[CurvePart], Field(min_length=1, max_length=3)]
    bend: Annotated[list[Steepness], Field(min_length=len(PLACES), max_length=len(PLACES))] | None = None
    within: CurveWithin | None = None
    mixes: Annotated[list[CurveMix], Field(min_length=1, max_length=MOST_MIXES)]
    deviations: Annotated[list[Changes], Field(max_length=MOST_DEVIATIONS)] = Field(default_factory=list)

    @property
    def curve(self) -> Curve:
        """The curve to reckon with. Only for a file in which nothing is wrong."""
        parts = tuple(
            Emulsion(
                part.density, _either(part.slope, self.slope), part.green, _either(part.blue, self.blue)
            ) for part in self.parts
        )  # fmt: skip
        mixes = tuple(Mix((mix.green[0], mix.green[1]), (mix.blue[0], mix.blue[1])) for mix in self.mixes)
        return Curve(self.dmin, parts, mixes, Bend(tuple(self.bend)) if self.bend is not None else None)

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """For each deviation the curve that has it, and that which has its opposite."""
        curve = self.curve
        return tuple(self._deviation(changes).pair(curve) for changes in self.deviations)

    @property
    def counts(self) -> tuple[int, ...]:
        """How many numbers a deviation has of dmin, slope, blue, density, green and the bend."""
        parts = len(self.parts)
        shared = (1 if self.slope is not None else parts, 1 if self.blue is not None else parts)
        return 1, *shared, parts, parts, len(PLACES)

    def _deviation(self, changes: list[float]) -> Deviation:
        ends = list(accumulate(self.counts))
        pieces = [changes[begin:end] for begin, end in zip((0, *ends), ends, strict=False)]
        of_parts = [tuple(piece) if len(piece) > 1 else (piece[0],) * len(self.parts) for piece in pieces[1:5]]
        return Deviation(changes[0], of_parts[0], of_parts[1], of_parts[2], of_parts[3], tuple(pieces[5]))


def _either(own: float | None, shared: float | None) -> float:
    value = own if own is not None else shared
    if value is None:
        raise ValueError("a part of the curve has no slope, or no speed in blue")
    return value
