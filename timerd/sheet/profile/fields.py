"""The kinds of value that the YAML files are made of: names, stops, percentages, sizes, seconds."""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Annotated, Any

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer, WithJsonSchema

from timerd.printing.stops import format_stops, parse_stops
from timerd.sheet.profile.faults import shown

RESERVED_AREAS = ("all", "edges", "left", "right", "top", "bottom")
"""Areas that need no outline. All but `all` are a strip of so many `mm` along the image's edge."""

STRIP_AREAS = RESERVED_AREAS[1:]


class Part(BaseModel):
    """One mapping of a file: unknown keys and values of another type are refused, and it is never changed."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


# Stops

_STOPS_SCHEMA = {
    "description": "Stops as printers write them: 1/3, 1 3/4, +5/6, -1/2, 0.5",
    "anyOf": [
        {"type": "string", "pattern": r"^\s*[+-]?(([0-9]+ +)?[0-9]+/[0-9]+|[0-9]+(\.[0-9]+)?)\s*$"},
        {"type": "number", "minimum": -10, "maximum": 10},
    ],
}


def _stops(value: Any) -> Fraction:
    if isinstance(value, Fraction):
        return value
    if not isinstance(value, str | int | float) or isinstance(value, bool):
        raise ValueError(f"write stops as 1/3, 1 1/4 or 0.5; found {shown(value)}")
    return parse_stops(value)


Stops = Annotated[
    Fraction,
    BeforeValidator(_stops),
    PlainSerializer(format_stops, return_type=str, when_used="json"),
    WithJsonSchema(_STOPS_SCHEMA),
]

# Percentages

_PERCENT = re.compile(r"\s*([0-9]{1,5}(?:\.[0-9]{1,3})?)\s*%\s*", re.ASCII)
_PERCENT_SCHEMA = {
    "type": "string",
    "pattern": r"^\s*[0-9]+(\.[0-9]+)?\s*%\s*$",
    "description": "A percentage with its sign, as in 8 %",
}

_LEAST_PERCENT = 0.001
_SHARE_SCHEMA = {"anyOf": [{"type": "number", "minimum": _LEAST_PERCENT, "maximum": 10000}, _PERCENT_SCHEMA]}


def _up_to(most: int) -> BeforeValidator:
    """Reads `8 %` as 0.08, up to so many percent."""

    def percent(value: Any) -> float:
        found = _PERCENT.fullmatch(value) if isinstance(value, str) else None
        if found is None or Fraction(found[1]) > most:
            raise ValueError(f"write a percentage up to {most} %, as in 8 %; found {shown(value)}")
        return float(Fraction(found[1]) / 100)

    return BeforeValidator(percent)


def _share(value: Any) -> Any:
    """Reads `40 %` as 40, which may be written without its sign too."""
    found = _PERCENT.fullmatch(value) if isinstance(value, str) else None
    return float(found[1]) if found is not None else value


Percent = Annotated[float, _up_to(200), WithJsonSchema(_PERCENT_SCHEMA)]
PercentOfHalf = Annotated[float, _up_to(50), WithJsonSchema(_PERCENT_SCHEMA)]
"""A percentage that can be a half at most."""

PercentMore = Annotated[
    float, BeforeValidator(_share), Field(ge=_LEAST_PERCENT, le=10000), WithJsonSchema(_SHARE_SCHEMA)
]
"""So many percent more light: 40, or 40 %."""

# Sizes of paper

_SIZE = re.compile(r"\s*([0-9]{1,5}(?:\.[0-9]{1,3})?)\s*x\s*([0-9]{1,5}(?:\.[0-9]{1,3})?)\s*(in|cm|mm)\s*", re.ASCII)
_MM = {"in": 25.4, "cm": 10.0, "mm": 1.0}
_SIZE_SCHEMA = {
    "description": "8x10 in, 20x25 cm, or [203, 254] in mm: width, height as it lies on the easel",
    "anyOf": [
        {"type": "string", "pattern": r"^\s*[0-9]+(\.[0-9]+)?\s*x\s*[0-9]+(\.[0-9]+)?\s*(in|cm|mm)\s*$"},
        {"type": "array", "items": {"type": "number", "minimum": 10, "maximum": 3000}, "minItems": 2, "maxItems": 2},
    ],
}


def _sheet_size(value: Any) -> tuple[float, float]:
    """Width and height in mm as the sheet lies on the easel."""
    size: tuple[float, float] | None = None
    if isinstance(value, str) and (found := _SIZE.fullmatch(value)):
        size = (float(found[1]) * _MM[found[3]], float(found[2]) * _MM[found[3]])
    elif isinstance(value, list | tuple) and len(value) == 2:
        numbers = [float(v) for v in value if isinstance(v, int | float) and not isinstance(v, bool)]
        size = (numbers[0], numbers[1]) if len(numbers) == 2 else None
    if size is None or not all(10 <= side <= 3000 for side in size):
        raise ValueError(f"write a size of 10 to 3000 mm as 8x10 in, 20x25 cm or [203, 254]; found {shown(value)}")
    return size


SheetSize = Annotated[tuple[float, float], BeforeValidator(_sheet_size), WithJsonSchema(_SIZE_SCHEMA)]

# Words

_NAME = r"^[a-z0-9]+(-[a-z0-9]+)*$"
WORDS = r"^[^\W_]+([ -][^\W_]+)*$"
_COLOUR = r"^[a-z]{3,}([ -][a-z]+)*$"
_SURFACE = r"^[a-z]+([ -][a-z]+)*$"
_NOT_BLANK = r"\S"

_FOLDER = r"^/[^\x00-\x1f\x7f]+$"

PATTERNS = {
    _NAME: "small letters, digits and single hyphens, as in 'low-tide-2'",
    WORDS: "words of letters and digits, as in 'small boat'",
    _COLOUR: "a colour's word in small letters, as in 'green'",
    _SURFACE: "words in small letters, as in 'glossy'",
    _NOT_BLANK: "more than blanks",
    _FOLDER: "a folder's whole path, from / on, as in '/media/copies/book'",
}
"""What a text must be to match a pattern, in words."""

Name = Annotated[str, Field(pattern=_NAME, max_length=40)]
"""What files, stations, lamps and lights are called: small letters, digits and single hyphens."""

AreaName = Annotated[str, Field(pattern=WORDS, max_length=40)]
"""What the printer calls a place on the image, or a base: words of letters and digits."""

Colour = Annotated[str, Field(pattern=_COLOUR, max_length=40)]
Surface = Annotated[str, Field(pattern=_SURFACE, max_length=40)]
Text = Annotated[str, Field(pattern=_NOT_BLANK, max_length=80)]
Folder = Annotated[str, Field(pattern=_FOLDER, max_length=200)]
"""A folder of this machine."""
Note = Annotated[str, Field(pattern=_NOT_BLANK, max_length=400)]

# Numbers

LEAST_S, MOST_S = 0.001, 3600.0
"""The least and the most seconds that a file may give, and the least and the most dose of a step: what is shorter no
lamp follows, and of what is far shorter the arithmetic makes numbers without an end."""
Seconds = Annotated[float, Field(ge=LEAST_S, le=MOST_S)]
Millimetres = Annotated[float, Field(ge=0, le=3000)]
StripWidth = Annotated[float, Field(gt=0, le=3000)]
Milliseconds = Annotated[float, Field(ge=0, le=10000)]
Fractional = Annotated[float, Field(ge=0, le=1)]
Aperture = Annotated[float, Field(ge=1, le=64)]
"""A mark of the lens, in the range of those that `aperture_stops` knows."""
Density = Annotated[float, Field(ge=0, le=6)]
