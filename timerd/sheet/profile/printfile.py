"""A print: the picture, its areas and the steps that make it (profiles/prints/*.yaml)."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Discriminator, Field, Tag

from timerd.sheet.profile.fields import (
    Aperture,
    AreaName,
    Density,
    Fractional,
    Millimetres,
    Name,
    Note,
    Part,
    Percent,
    PercentMore,
    Seconds,
    SheetSize,
    Stops,
    StripWidth,
    Text,
)

Outline = Annotated[
    list[Annotated[list[Fractional], Field(min_length=2, max_length=2)]], Field(min_length=3, max_length=200)
]
"""Corners in fractions of the finished image, face up, from its top left: [across, down]."""


class ImageBox(Part):
    """Where the image lies on the sheet, in mm from the sheet's top left corner, face up."""

    left: Millimetres
    top: Millimetres
    width: Annotated[float, Field(gt=0, le=3000)]
    height: Annotated[float, Field(gt=0, le=3000)]


class FileStep(Part):
    """What every step may carry."""

    card: Text | None = None
    note: Note | None = None


class LightStep(FileStep):
    """A step that gives light: a base, a burn or a flash."""

    pedal: Literal["press", "hold", "free"] = "press"
    lead_in: Annotated[float, Field(ge=0.2, le=60)] | None = None
    lead_in_again: bool = False
    then: Literal["next"] | None = None
    aperture: Aperture | None = None
    density: Density | None = None


class Dodge(Part):
    """An area held back during a base or a burn, by so many stops of that exposure, or covered throughout."""

    area: AreaName
    mm: StripWidth | None = None
    stops: Stops | None = None
    hold_back: Literal["all"] | None = None
    start: Annotated[float, Field(ge=0, le=3600)] | None = None
    apart: bool = False
    card: Text | None = None
    note: Note | None = None


class Leave(Part):
    """An area that gets only so many stops of a burn."""

    area: AreaName
    mm: StripWidth | None = None
    stops: Stops
    start: Annotated[float, Field(ge=0, le=3600)] | None = None
    card: Text | None = None


class FlashStep(LightStep):
    """A flash: light without an image, as a share of the paper's threshold or in seconds."""

    flash: AreaName
    mm: StripWidth | None = None
    light: Name
    threshold: Percent | None = None
    seconds: Seconds | None = None


class BaseStep(LightStep):
    """A base: the exposure of the whole image in one light, with areas held back."""

    base: AreaName
    light: Name
    seconds: Seconds | None = None
    dodge: Annotated[list[Dodge], Field(max_length=40)] = Field(default_factory=list)


def _one_or_mix(light: Any) -> str:
    return "<mix>" if isinstance(light, list) else "<one>"


class BurnStep(LightStep):
    """A burn: more light for one area, in stops or percent over a base, or in seconds."""

    burn: AreaName
    mm: StripWidth | None = None
    light: Annotated[
        Annotated[Name, Tag("<one>")] | Annotated[list[Name], Field(min_length=2, max_length=4), Tag("<mix>")],
        Discriminator(_one_or_mix),
    ]
    stops: Stops | None = None
    seconds: Seconds | None = None
    percent: PercentMore | None = None
    over: Text | None = None
    leave: Annotated[list[Leave], Field(max_length=40)] = Field(default_factory=list)
    dodge: Annotated[list[Dodge], Field(max_length=40)] = Field(default_factory=list)


def lights_of(step: LightStep) -> tuple[str, ...]:
    """The lights that a step is given in, one after the other: a burn may have several."""
    light: str | list[str] = getattr(step, "light")  # noqa: B009 (every kind that gives light has it)
    return (light,) if isinstance(light, str) else tuple(light)


class CarryStep(FileStep):
    """The sheet is taken to another station."""

    carry: Name


class DevelopStep(FileStep):
    """The sheet goes into the baths: always last."""

    develop: Name


class SafelightStep(FileStep):
    """The sheet lies so many seconds under the safelight alone, as in a test of it; a press of `go` ends it."""

    safelight: Seconds


class BoxStep(FileStep):
    """The sheet is set aside in its box, to be taken up later."""

    box: Text


class NegativeStep(FileStep):
    """Another negative is put in and composed while the sheet is boxed."""

    negative: Text


STEPS: dict[str, type[FileStep]] = {
    "flash": FlashStep, "base": BaseStep, "burn": BurnStep, "carry": CarryStep, "safelight": SafelightStep,
    "develop": DevelopStep, "box": BoxStep, "negative": NegativeStep,
}  # fmt: skip
"""Each kind of step, by the key that makes it one."""
STEP_KINDS = tuple(STEPS)
STEP_KEYS = frozenset(key for step in STEPS.values() for key in step.model_fields)


def kinds_of(step: object) -> list[str]:
    """The kinds of step that the keys of a mapping make it: a good step has one."""
    keys = step if isinstance(step, dict) else type(step).model_fields if isinstance(step, FileStep) else ()
    return [kind for kind in STEP_KINDS if kind in keys]


def _tag_of(step: Any) -> str | None:
    """A step's kind is the key that is present, so that one fault gives one message and not one per kind."""
    kinds = kinds_of(step)
    return f"<{kinds[0]}>" if len(kinds) == 1 else None


AnyStep = Annotated[
    Annotated[FlashStep, Tag("<flash>")]
    | Annotated[BaseStep, Tag("<base>")]
    | Annotated[BurnStep, Tag("<burn>")]
    | Annotated[CarryStep, Tag("<carry>")]
    | Annotated[SafelightStep, Tag("<safelight>")]
    | Annotated[DevelopStep, Tag("<develop>")]
    | Annotated[BoxStep, Tag("<box>")]
    | Annotated[NegativeStep, Tag("<negative>")],
    Discriminator(_tag_of, custom_error_type="step_kind", custom_error_message="not one kind of step"),
]


class Ladder(Part):
    """What the patches of a test strip got in one light: seconds of one burst each, from patch 1, the least."""

    light: Name
    base: Text | None = None
    seconds: Annotated[list[Seconds], Field(min_length=2, max_length=24)]


class Strip(Part):
    """That this print is a test strip: what it finds, and what its patches got, from patch 1, the least.

    `base` has a ladder, or two of them where one light goes against another on one sheet; `threshold` has one;
    `dry-down` has the percent, `safelight` the minutes of each patch.
    """

    finds: Literal["base", "threshold", "dry-down", "safelight"]
    print: Text | None = None
    ladders: Annotated[list[Ladder], Field(max_length=2)] = Field(default_factory=list)
    percent: Annotated[list[Annotated[float, Field(ge=0, le=50)]], Field(max_length=24)] = Field(default_factory=list)
    minutes: Annotated[list[Annotated[float, Field(ge=0, le=60)]], Field(max_length=24)] = Field(default_factory=list)


class Print(Part):
    """A print's file, whole. `origin` is the print that it was worked out from, by name.

    `head_height_mm` is how far the lens stands from the paper; `magnification` tells the same of a lens of `lens_mm`.
    """

    print: Text
    origin: Text | None = None
    strip: Strip | None = None
    negative: Text | None = None
    paper: Name
    bench: Name
    sheet: SheetSize
    image_mm: ImageBox | None = None
    lens_mm: Annotated[float, Field(gt=0, le=2000)] | None = None
    aperture: Aperture | None = None
    magnification: Annotated[float, Field(gt=0, le=100)] | None = None
    head_height_mm: Annotated[float, Field(gt=0, le=5000)] | None = None
    judged: Literal["wet", "dry"] = "dry"
    hands: Annotated[int, Field(ge=1, le=8)] = 2
    areas: Annotated[dict[AreaName, Outline], Field(max_length=100)] = Field(default_factory=dict)
    steps: Annotated[list[AnyStep], Field(min_length=1, max_length=200)]
