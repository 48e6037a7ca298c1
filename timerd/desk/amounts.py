"""Amounts as a print's file writes them: seconds in as few figures as tell them, stops exactly."""

from __future__ import annotations

import math
from fractions import Fraction

from timerd.printing.stops import parse_stops

EXACT_STOPS = 1e-11
TIDY_STOPS = 1 / 4000
"""Nobody sees a difference so small, in stops: figures beyond it are left out."""


def tidy(value: float, within_stops: float = EXACT_STOPS) -> float:
    """The number with the fewest figures that is this one, to so many stops.

    >>> tidy(12.880000000000001), tidy(8.993472, 1 / 4000)
    (12.88, 8.993)
    """
    for figures in range(1, 17):
        short = float(f"{value:.{figures}g}")
        if value > 0 and abs(math.log2(short / value)) <= within_stops:
            return short
    return value


def own_stops(stops: float, written: str) -> Fraction:
    """Stops as they were written, or as exact as they were where those had more figures than are shown."""
    shown = parse_stops(written)
    if abs(float(shown) - stops) <= 1e-12:
        return shown
    part = Fraction(stops).limit_denominator(144)
    return part if abs(float(part) - stops) <= 1e-12 else Fraction(f"{stops:.9f}")


def stops_value(stops: Fraction) -> str | float:
    """The same as the file takes it without quotes."""
    text = stops_text(stops)
    return text if "/" in text else float(text)


def stops_text(stops: Fraction) -> str:
    """Stops exactly, as the file takes them: as a part of a stop, or in decimals where these end.

    >>> stops_text(Fraction(4, 3)), stops_text(Fraction("1.354")), stops_text(Fraction(1, 24))
    ('1 1/3', '1.354', '1/24')
    """
    if stops.denominator > 12 and 10**9 % stops.denominator == 0:
        return f"{float(stops):.9f}".rstrip("0").rstrip(".")
    whole, part = divmod(stops, 1)
    return f"{whole} {part}" if whole and part else f"{whole or part}"
