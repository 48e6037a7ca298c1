"""A paper's fitted curve as its file has it: the model's numbers, how sure they are, and what was read."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from timerd.printing.paper import Curve, Mix, Part
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
    """One mix of lights that was read: the least and the most exposure in each."""

    green: LeastMost
    blue: LeastMost


class PaperCurve(fields.Part):
    """Density = dmin + sum of density / (1 + exp(-slope * log10(blue * B + green * G))) over the parts.

    `by` says what it was fitted to: `readings` of a densitometer, or two `patches` judged by eye. `scatter` is how far
    the readings lie from it, one standard deviation in density.
    """

    unit: Unit
    by: Literal["readings", "patches"] = "readings"
    readings: Annotated[int, Field(ge=1, le=100000)]
    scatter: Annotated[float, Field(ge=0, le=4)] | None = None
    dmin: Annotated[float, Field(ge=0, le=2)]
    slope: Slope | None = None
    blue: Speed | None = None
    parts: Annotated[list[CurvePart], Field(min_length=1, max_length=3)]
    within: CurveWithin | None = None
    mixes: Annotated[list[CurveMix], Field(min_length=1, max_length=MOST_MIXES)]

    @property
    def curve(self) -> Curve:
        """The curve to reckon with. Only for a file in which nothing is wrong."""
        parts = tuple(
            Part(
                part.density, _either(part.slope, self.slope), part.green, _either(part.blue, self.blue)
            ) for part in self.parts
        )  # fmt: skip
        mixes = tuple(Mix((mix.green[0], mix.green[1]), (mix.blue[0], mix.blue[1])) for mix in self.mixes)
        return Curve(self.dmin, parts, mixes)


def _either(own: float | None, shared: float | None) -> float:
    value = own if own is not None else shared
    if value is None:
        raise ValueError("a part of the curve has no slope, or no speed in blue")
    return value
