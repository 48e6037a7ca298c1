"""A bath line: the trays a sheet goes through (profiles/baths/*.yaml). Read and listed, not yet run."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from timerd.sheet.profile.fields import Name, Part, Text


class Bath(Part):
    """One tray. `capacity` in 8x10 in sheets a litre; `per_degree` is how much a degree shortens."""

    name: Text
    kind: Literal["developer", "stop bath", "fixer", "rinse", "hypo clear", "wash", "toner"]
    seconds: Annotated[float, Field(gt=0, le=86400)]
    drain_s: Annotated[float, Field(ge=0, le=120)] = 0
    at_c: Annotated[float, Field(ge=5, le=50)] = 20
    per_degree: Annotated[float, Field(ge=0, le=0.3)] = 0
    capacity: Annotated[float, Field(gt=0, le=10000)] | None = None


class BathLine(Part):
    """A bath line's file, whole."""

    bath: Name
    base: Literal["fibre", "resin"] | None = None
    baths: Annotated[list[Bath], Field(min_length=1, max_length=20)]
