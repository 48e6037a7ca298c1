"""Where the patches of a test strip lie, and how its cards are moved, in words that can be spoken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from timerd.printing.strips import StripBurst

End = Literal["left", "right", "top", "bottom"]
"""Where patch 1 lies, the sheet face up before the printer."""

_NARROW = 1.5
"""A sheet that is longer than wide by more than this is a strip of paper, cut from a sheet of a usual size."""
_FAR: dict[End, End] = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}


@dataclass(frozen=True)
class StripMove:
    """One exposure of a strip: what it is called, what it reaches, and what the hands do before it."""

    name: str
    seconds: float
    outline: list[list[float]]
    card: str


def lies_from(sheet: tuple[float, float]) -> End:
    """Where patch 1 lies on a sheet of this width and height if nobody says it: on a long narrow one the patches lie
    along its long side.

    >>> lies_from((203.2, 254.0)), lies_from((50.8, 203.2)), lies_from((203.2, 50.8))
    ('left', 'top', 'left')
    """
    width, height = sheet
    return "top" if height > _NARROW * width else "left"


def moves(bursts: Sequence[StripBurst], end: End, by: str, what: str, white: bool = False) -> list[StripMove]:
    """The moves of a strip, in order; with `white`, a part before patch 1 stays covered throughout."""
    count = max(burst.last for burst in bursts)
    last_open = f"; the {end} end stays covered" if white else ": all lies open"
    if min(burst.first for burst in bursts) > 1:  # patch 1 gets nothing
        last_open = f"; {what} 1 stays covered"
    made = []
    for burst in bursts:
        card = _slit(burst, count, end, what) if by == "patch" else _uncovered(burst, count, end, what)
        if by == "uncover" and burst is bursts[-1]:
            card += last_open
        made.append(StripMove(_name(burst, what), burst.seconds, _outline(burst, count, end, white), card))
    return made


def cut_words(ends: Sequence[End], whats: Sequence[str], white: bool = False) -> str:
    """Where the first patch lies, and the corner to cut so that it is known again."""
    across = next((end for end in ends if end in ("left", "right")), "left")
    down = next((end for end in ends if end in ("top", "bottom")), "top")
    first = "the white part" if white else None
    lie = " and ".join(f"{first or f'{what} 1'} lies at the {end}" for end, what in zip(ends, whats, strict=True))
    return f"{lie}: cut off the {down} {across} corner to know it by"


def safelight_words(end: End) -> tuple[str, str, str]:
    """Which part of the sheet is open before, during and after the grey of a safelight test."""
    if end in ("left", "right"):
        return "lower two thirds", "cover the lowest third, open the rest", "upper third"
    return "right two thirds", "cover the rightmost third, open the rest", "left third"


def _name(burst: StripBurst, what: str) -> str:
    many = {"patch": "patches"}.get(what, f"{what}s")
    return f"{what} {burst.last}" if burst.first == burst.last else f"{many} {burst.first} to {burst.last}"


def _outline(burst: StripBurst, count: int, end: End, white: bool) -> list[list[float]]:
    """The part of the sheet that a burst reaches, as a rectangle in fractions of the sheet."""
    parts = count + white
    low, high = (burst.first - 1 + white) / parts, (burst.last + white) / parts
    if end in ("right", "bottom"):
        low, high = 1 - high, 1 - low
    low, high = round(low, 4), round(high, 4)
    if end in ("left", "right"):
        return [[low, 0], [high, 0], [high, 1], [low, 1]]
    return [[0, low], [1, low], [1, high], [0, high]]


def _slit(burst: StripBurst, count: int, end: End, what: str) -> str:
    where = {1: f", counted from the {end}", count: f", at the {_FAR[end]} end"}.get(burst.first, "")
    return f"cover all but {what} {burst.first} of {count}{where}"


def _uncovered(burst: StripBurst, count: int, end: End, what: str) -> str:
    if burst.first == count:
        return f"uncover {what} {count} alone, at the {_FAR[end]} end"
    return f"uncover {what} {burst.first} too"
