"""A bath line: the trays that a sheet goes through, in order (profiles/baths/*.yaml)."""

from __future__ import annotations

from typing import Annotated, Literal, NamedTuple

from pydantic import Field

from timerd.printing.baths import seconds_at
from timerd.sheet.profile.fields import Name, Part

Base = Literal["fibre", "resin"]
Sheets = Annotated[float, Field(gt=0, le=10000)]
BathSeconds = Annotated[float, Field(gt=0, le=86400)]
LEAST_FIXED_S = 30.0
"""So long at the least a sheet lies in its fixer before white light is called safe, unless the file says otherwise."""


class Agitation(Part):
    """The tray is rocked every `every_s`, each time for `for_s` (0: one rock)."""

    every_s: Annotated[float, Field(ge=1, le=3600)]
    for_s: Annotated[float, Field(ge=0, le=3600)] = 0


class Capacity(Part):
    """Sheets of 8x10 in that a litre can take, by the paper's base."""

    fibre: Sheets | None = None
    resin: Sheets | None = None

    @property
    def per_litre(self) -> dict[str, float]:
        """The capacity by base, as far as it is told."""
        told = {"fibre": self.fibre, "resin": self.resin}
        return {base: most for base, most in told.items() if most is not None}


class Bath(Part):
    """One tray. `seconds` hold at `at_c`, and one degree more shortens them by `per_degree`; with `factor` a press when
    the image first shows makes them that many times the seconds until then.

    `drain_s` are counted inside `seconds`, or come after them. A bath that is `followed_by` another of its kind gives
    way to it when it is used up; after `cycles` rounds both are renewed. `keeps_h` is how long a batch keeps in use.
    """

    name: Name
    kind: Literal["developer", "stop bath", "fixer", "rinse", "hypo clear", "wash", "toner"]
    seconds: BathSeconds
    drain_s: Annotated[float, Field(ge=0, le=120)] = 0
    drain: Literal["inside", "outside"] = "inside"
    agitate: Agitation | None = None
    at_c: Annotated[float, Field(ge=5, le=50)] = 20
    per_degree: Annotated[float, Field(ge=0, le=0.3)] = 0
    factor: Annotated[float, Field(gt=1, le=40)] | None = None
    capacity: Capacity | None = None
    litres: Annotated[float, Field(gt=0, le=200)] = 1
    keeps_h: Annotated[float, Field(gt=0, le=10000)] | None = None
    followed_by: Name | None = None
    cycles: Annotated[int, Field(ge=1, le=20)] = 5

    @property
    def words(self) -> str:
        """The bath as it is said: `fixer 1`."""
        return self.name.replace("-", " ")

    def move_after(self, celsius: float) -> float:
        """Seconds from the sheet's going in until it is to go on, drain and all, at a temperature."""
        seconds = seconds_at(self.seconds, self.at_c, celsius, self.per_degree)
        return seconds if self.drain == "inside" else seconds + self.drain_s


class WhiteLight(Part):
    """From when white light spoils a sheet no more: `after_s` from when it went into that bath. Without `bath` it is
    the first fixer; without `after_s` half of its time, and 30 s at the least (common practice, no source)."""

    bath: Name | None = None
    after_s: Annotated[float, Field(ge=5, le=86400)] | None = None


class WhiteFrom(NamedTuple):
    """The same in a bath line: the bath's place in it, the seconds, and how many of them must be over before the sheet
    goes on into a bath of another kind."""

    place: int
    after_s: float
    least_s: float


class BathLine(Part):
    """A bath line's file, whole.

    `carry_s` is how long the way to the first tray takes where no pedal stands at the trays. `develop` says whether
    sheets go in one by one, or wait in their box until all go in together. `cues` says what becomes of a cue from the
    trays while a light burns: it waits until it is dark, or is spoken softly. `white_light` says from when it is safe.
    """

    bath: Name
    base: Base | None = None
    carry_s: Annotated[float, Field(ge=0, le=600)] = 10
    develop: Literal["at once", "together"] = "at once"
    cues: Literal["wait", "softly"] = "wait"
    white_light: WhiteLight | None = None
    baths: Annotated[list[Bath], Field(min_length=1, max_length=20)]

    @property
    def white_from(self) -> WhiteFrom | None:
        """From when white light is safe; None in a line without a fixer: when a sheet is out of it."""
        told = self.white_light or WhiteLight()
        names = [bath.name for bath in self.baths]
        fixers = [i for i, bath in enumerate(self.baths) if bath.kind == "fixer"]
        if not fixers:
            return None
        index = fixers[0] if told.bath is None else names.index(told.bath)
        half = self.baths[index].seconds / 2
        return WhiteFrom(index, max(LEAST_FIXED_S, half) if told.after_s is None else told.after_s, half)
