"""A size of paper as it is typed behind an option."""

from __future__ import annotations

from pydantic import TypeAdapter, ValidationError

from timerd.sheet.profile.fields import SheetSize


def sheet_size(option: str, text: str) -> tuple[float, float]:
    """A size of paper in mm, written as in a print's file: `8x10 in`, `20x25 cm`."""
    try:
        size: tuple[float, float] = TypeAdapter(SheetSize).validate_python(text)
    except ValidationError as error:
        raise ValueError(f"{option}: {error.errors()[0]['ctx']['error']}") from None
    return size
