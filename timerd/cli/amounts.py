"""Numbers as they are typed behind an option: one line says what is wrong with one."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from timerd.printing.stops import parse_stops

_NUMBER = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,12})?|\.[0-9]{1,12}", re.ASCII)


def number(option: str, text: str, what: str, most: float, least: float = 0.0) -> float:
    """A number over `least` and up to `most`; `what` says what it counts: `seconds, as in 8 or 8.5`."""
    found = _NUMBER.fullmatch(text.strip())
    if found is None or not least < float(text) <= most:
        raise ValueError(f"{option}: write {what}, over {least:g} and {most:g} at most; found {_shown(text)}")
    return float(text)


def given(option: str, text: str | None, what: str, most: float) -> float | None:
    """As `number`, where the option may be left out."""
    return None if text is None else number(option, text, what, most)


def seconds(option: str, text: str) -> float:
    """Seconds, over 0."""
    return number(option, text, "seconds, as in 8 or 8.5", 3600)


def whole(option: str, text: str, least: int, most: int) -> int:
    """A whole number."""
    if not re.fullmatch("[0-9]{1,6}", text.strip(), re.ASCII) or not least <= int(text) <= most:
        raise ValueError(f"{option}: write a whole number from {least} to {most}; found {_shown(text)}")
    return int(text)


def stops(option: str, text: str) -> Fraction:
    """Stops as printers write them."""
    try:
        return parse_stops(text)
    except ValueError as error:
        raise ValueError(f"{option}: {error}") from None


def numbers(option: str, text: str, what: str, most: float) -> Sequence[float]:
    """Numbers with commas between, 0 among them allowed."""
    return [0.0 if part.strip() == "0" else number(option, part, what, most) for part in text.split(",")]


def _shown(text: str) -> str:
    return repr(text) if len(text) <= 40 else f"{text[:40]!r}..."
