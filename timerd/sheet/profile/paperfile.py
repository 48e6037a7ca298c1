"""A paper: what was measured of it (profiles/papers/*.yaml)."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from timerd.sheet.profile.curvefile import PaperCurve
from timerd.sheet.profile.fields import Name, Part, PercentOfHalf, Seconds, Surface, Text

SpeedRatio = Annotated[float, Field(ge=0.001, le=1000)]


class Paper(Part):
    """A paper's file, whole. Thresholds are doses: seconds of full light of that light."""

    paper: Name
    surface: Surface | None = None
    base: Literal["fibre", "resin"] | None = None
    threshold: Annotated[dict[Name, Seconds], Field(max_length=32)] = Field(default_factory=dict)
    speed_ratio: Annotated[dict[Name, SpeedRatio], Field(max_length=32)] = Field(default_factory=dict)
    dry_down: PercentOfHalf = 0.0
    reciprocity: Annotated[float, Field(ge=0.5, le=1.5)] = 1.0
    safelight_s: Seconds | None = None
    box: Text | None = None
    batch: Text | None = None
    curve: PaperCurve | None = None
