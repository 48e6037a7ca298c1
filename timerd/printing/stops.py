"""Stops as printers write them, exact fractions, and the doses they come to, in seconds of full light."""

import math
import re
from fractions import Fraction

_MOST = 10  # stops: a thousandfold; more is a slip of the pen
_FINEST = 12  # finest part of a stop that is written and spoken as a fraction
_HOW = "write stops as 1/3, 1 1/4 or 0.5"
# [0-9], not \d, which takes the digits of every script.
_WRITTEN = re.compile(
    r"(?P<sign>[+-]?)"
    r"(?:(?:(?P<whole>[0-9]{1,12}) +)?(?P<top>[0-9]{1,12})/(?P<under>[0-9]{1,12})"
    r"|(?P<number>[0-9]{1,12}(?:\.[0-9]{1,12})?))"
)
_COUNT = (
    *("zero", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
_PART = (
    *("-", "-", "half", "third", "quarter", "fifth", "sixth"),
    *("seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"),
)

_FULL = (1, 1.4, 2, 2.8, 4, 5.6, 8, 11, 16, 22, 32, 45, 64)
_HALF = (1.2, 1.7, 2.4, 3.4, 4.8, 6.7, 9.5, 13, 19, 27, 38)
_THIRD = (
    *(1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6),
    *(6.3, 7.1, 8, 9, 10, 11, 13, 14, 16, 18, 20, 22, 25, 29, 32),
)
_ALSO = {
    1.25: Fraction(2, 3),
    3.3: Fraction(7, 2),
    3.6: Fraction(11, 3),
    # not engraved anywhere: with 1.25 the way to say which reading of 1.2 or 13 is meant
    1.19: Fraction(1, 2),
    12.7: Fraction(22, 3),
    13.5: Fraction(15, 2),
}


def parse_stops(text: str | int | float) -> Fraction:
    """Stops as written in a print or at a prompt, exact; from -10 to 10.

    `1/3`, `1 3/4`, `+5/6`, `-1/2`, `2`, `0.5`: a sign counts for the whole (`-1 1/4` is -5/4). A float is
    taken as it prints, so 0.1 is 1/10. Anything else is a ValueError, one line long: other signs and letters,
    exponents, a part not below one after a whole number (`1 4/3`), a number of over 12 characters.

    >>> parse_stops("1 3/4"), parse_stops("-1 1/4"), parse_stops(0.1)
    (Fraction(7, 4), Fraction(-5, 4), Fraction(1, 10))
    >>> parse_stops("abc")
    Traceback (most recent call last):
    ValueError: write stops as 1/3, 1 1/4 or 0.5; found 'abc'
    """
    stops = _read(text)
    if stops is None:
        raise ValueError(f"{_HOW}; found {_shown(text)}")
    if abs(stops) > _MOST:
        raise ValueError(f"{_HOW}, from -{_MOST} to {_MOST}; found {_shown(text)}")
    return stops


def _read(text: object) -> Fraction | None:
    if isinstance(text, bool):
        return None
    if isinstance(text, int):
        return Fraction(int(text))
    if isinstance(text, float):
        # float.__repr__, because a YAML reader's and numpy's kinds of float print themselves otherwise
        return Fraction(float.__repr__(text)) if math.isfinite(text) else None
    if not isinstance(text, str):
        return None
    written = _WRITTEN.fullmatch(text.strip(" \t\r\n"))
    if written is None:
        return None
    sign = -1 if written["sign"] == "-" else 1
    if written["number"] is not None:
        return sign * Fraction(written["number"]) if len(written["number"]) <= 12 else None
    whole, top, under = int(written["whole"] or 0), int(written["top"]), int(written["under"])
    if under == 0 or (written["whole"] is not None and top >= under):
        return None
    return sign * (whole + Fraction(top, under))


def _shown(found: object) -> str:
    if isinstance(found, int) and abs(found) >= 10**12:
        return "a whole number of over 12 digits"  # Python refuses to print the very long ones
    if isinstance(found, str | int | float):
        return repr(found) if not isinstance(found, str) or len(found) <= 40 else f"{found[:40]!r}..."
    return f"a {type(found).__name__}"


def format_stops(stops: Fraction) -> str:
    """Stops as printers write them, the way `parse_stops` reads them back (exactly, down to twelfths).

    What is finer than twelfths is written in decimals, rounded to three places. Never raises.

    >>> [format_stops(Fraction(s)) for s in ("1/3", "7/4", "-1/2", "2", "27/20")]
    ['1/3', '1 3/4', '-1/2', '2', '1.35']
    """
    sign = "-" if stops < 0 else ""
    if stops.denominator > _FINEST:
        whole, thousandths = divmod(round(abs(stops) * 1000), 1000)
        digits = f"{whole}.{thousandths:03}".rstrip("0").rstrip(".")
        return digits if digits == "0" else sign + digits
    whole, part = divmod(abs(stops), 1)
    return sign + (f"{whole} {part}" if whole and part else f"{whole or part}")


def spoken_stops(stops: Fraction) -> str:
    """Stops in words, for screen and speech; in decimals where finer than twelfths. Never raises.

    >>> [spoken_stops(Fraction(s)) for s in ("1/3", "1/2", "1", "5/4")]
    ['a third of a stop', 'half a stop', 'one stop', 'one and a quarter stops']
    >>> spoken_stops(Fraction("-5/6")), spoken_stops(Fraction("1.35"))
    ('minus five sixths of a stop', '1.35 stops')
    """
    if stops.denominator > _FINEST:
        stops = round(stops, 3)
    if stops < 0:
        return f"minus {spoken_stops(-stops)}"
    if stops.denominator > _FINEST:
        return f"{format_stops(stops)} stops"
    whole, part = divmod(stops, 1)
    count = _COUNT[whole] if whole < len(_COUNT) else str(whole)
    if not part:
        return "one stop" if whole == 1 else f"{count} stops"
    name = _PART[part.denominator]
    one = f"an {name}" if name.startswith("e") else f"a {name}"
    if whole:
        return f"{count} and {one if part.numerator == 1 else f'{_COUNT[part.numerator]} {name}'} stops"
    if name == "half":
        return "half a stop"
    return f"{one if part.numerator == 1 else f'{_COUNT[part.numerator]} {name}s'} of a stop"


def burn_dose(base: float, stops: Fraction, reciprocity: float = 1.0) -> float:
    """Dose to add to a base so that an area gets `stops` more: base * (2^(s/p) - 1).

    Doses in seconds of full light, base over 0; stops from 0 to 10; reciprocity p from 0.1 to 10, 1 unless
    measured. ValueError outside. From the definition of a stop, a doubling of exposure; p is Schwarzschild's.

    >>> burn_dose(8.0, Fraction(1)), burn_dose(8.0, Fraction(2))
    (8.0, 24.0)
    """
    return _above("base", base) * (_power("burn", stops, reciprocity) - 1.0)


def dodge_dose(base: float, stops: Fraction, reciprocity: float = 1.0) -> float:
    """Dose to hold back from a base so that an area gets `stops` less: base * (1 - 2^(-s/p)).

    Doses in seconds of full light, base over 0; stops from 0 to 10; reciprocity p from 0.1 to 10, 1 unless
    measured. ValueError outside. From the definition of a stop, a doubling of exposure.

    >>> dodge_dose(8.0, Fraction(1)), dodge_dose(8.0, Fraction(2))
    (4.0, 6.0)
    """
    return _above("base", base) * (1.0 - 1.0 / _power("dodge", stops, reciprocity))


def left_dose(base: float, burn: Fraction, left: Fraction, reciprocity: float = 1.0) -> float:
    """Dose to hold back in a burn so that an area gets only `left` stops of it: base * (2^(s/p) - 2^(r/p)).

    Doses in seconds of full light, base over 0; stops 0 <= left <= burn <= 10; reciprocity p from 0.1 to 10.
    ValueError outside. From the definition of a stop: what the burn adds, less what the area may have.

    >>> left_dose(8.0, Fraction(2), Fraction(1)), left_dose(8.0, Fraction(2), Fraction(0))
    (16.0, 24.0)
    """
    if left > burn:
        raise ValueError(
            f"an area left at {format_stops(left)} stops is not held back in a burn of {format_stops(burn)}"
        )
    more, less = _power("burn", burn, reciprocity), _power("part left of a burn", left, reciprocity)
    return _above("base", base) * (more - less)


def total_stops(base: float, added: float = 0.0, withheld: float = 0.0) -> float:
    """Stops an area gets over its base in all: log2((base + added - withheld) / base).

    Doses in seconds of full light: base over 0, the others 0 or more. Burns and dodges that overlap add as
    doses, never as stops, so sum the doses first. ValueError outside, and where nothing would be left.
    From the definition of a stop, a doubling of exposure.

    >>> total_stops(10.0, added=10.0), total_stops(10.0, withheld=5.0)
    (1.0, -1.0)
    """
    under = _above("base", base)
    for name, dose in (("added", added), ("withheld", withheld)):
        if not (math.isfinite(dose) and dose >= 0.0):
            raise ValueError(f"a dose {name} must be 0 or more; found {dose!r}")
    ratio = (under + added - withheld) / under
    if not ratio > 0.0:
        raise ValueError(f"nothing is left of {under + added!r} when {withheld!r} is held back")
    return math.log2(ratio)


def aperture_stops(mark: float) -> Fraction:
    """Stops from f/1 down to an aperture mark, 1 to 64: full, half and third stops, exact.

    A mark is a label for an exact power of two (11 stands for 2^(7/2) = 11.31), after ISO 517 (its marks from
    memory). ValueError for a number that is no mark, naming the nearest ones, and for 1.2 and 13, which stand
    in both the half and the third series: write 1.19 or 1.25, 13.5 or 12.7.

    >>> [str(aperture_stops(mark)) for mark in (5.6, 8, 6.3, 6.7)]
    ['5', '6', '16/3', '11/2']
    >>> aperture_stops(13)
    Traceback (most recent call last):
    ValueError: f/13 is in two series: write 13.5 for the half stop (7 1/2) or 12.7 for the third (7 1/3)
    """
    readings = _MARKS.get(mark)
    if readings is None:
        if not 0.0 < mark < math.inf:
            raise ValueError(f"an aperture is a mark of the lens, from 1 to 64; found {mark!r}")
        below, above = [m for m in _MARKS if m < mark], [m for m in _MARKS if m > mark]
        near = " and ".join(f"{m:g}" for m in (*below[-1:], *above[:1]))
        raise ValueError(f"f/{mark!r} is no mark of full, half or third stops; nearest: {near}")
    if len(readings) == 1:
        return readings[0]
    half, third = readings
    longer = {stops: m for m, stops in _ALSO.items()}
    raise ValueError(
        f"f/{mark:g} is in two series: write {longer[half]:g} for the half stop "
        f"({format_stops(half)}) or {longer[third]:g} for the third ({format_stops(third)})"
    )


def aperture_factor(old: float, new: float) -> float:
    """What to multiply a dose by when the lens goes from mark `old` to mark `new`: over 1 when stopped down.

    Marks and ValueErrors as in `aperture_stops`; from the exact powers they stand for, so f/8 to f/11 is 2,
    where the numbers taken as written would give 1.89.

    >>> aperture_factor(8, 11), aperture_factor(8, 4)
    (2.0, 0.25)
    """
    return math.exp2(aperture_stops(new) - aperture_stops(old))


def smaller_mark(mark: float, stops: float) -> float | None:
    """The first full mark, as every lens has them, at least so many stops down from `mark`; None where the series ends
    before it. ValueErrors as above.

    >>> smaller_mark(8, 1), smaller_mark(8, 1.2), smaller_mark(6.3, 1), smaller_mark(45, 2)
    (11.0, 16.0, 11.0, None)
    """
    wanted = aperture_stops(mark) + stops
    return next((float(full) for full in _FULL if aperture_stops(full) >= wanted), None)


def _marks() -> dict[float, tuple[Fraction, ...]]:
    found: dict[float, set[Fraction]] = {mark: {stops} for mark, stops in _ALSO.items()}
    series = (
        *((mark, Fraction(k)) for k, mark in enumerate(_FULL)),
        *((mark, Fraction(2 * k + 1, 2)) for k, mark in enumerate(_HALF)),
        *((mark, Fraction(k, 3)) for k, mark in enumerate(_THIRD)),
    )
    for mark, stops in series:
        found.setdefault(float(mark), set()).add(stops)
    # the half-stop reading first
    return {mark: tuple(sorted(found[mark], key=lambda stops: stops.denominator)) for mark in sorted(found)}


_MARKS = _marks()


def _above(name: str, dose: float) -> float:
    if not 0.0 < dose < math.inf:
        raise ValueError(f"the {name} must be over 0 seconds; found {dose!r}")
    return float(dose)


def _power(name: str, stops: Fraction, reciprocity: float) -> float:
    """2^(s/p); within a range in which no caller can overflow."""
    if not 0 <= stops <= _MOST:
        raise ValueError(f"a {name} is 0 to {_MOST} stops; found {format_stops(stops)}")
    if not 0.1 <= reciprocity <= 10.0:
        raise ValueError(f"reciprocity is from 0.1 to 10, and 1 unless measured; found {reciprocity!r}")
    return math.exp2(stops / reciprocity)
