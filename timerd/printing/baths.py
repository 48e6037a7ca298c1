"""Baths: how long a sheet stays in one, and how much paper one can take.

Area is counted in sheets of 8x10 in, as capacities are published. Times and capacities of a real bath are its maker's;
what is here is only the arithmetic between them.
"""

import math
from collections.abc import Mapping
from typing import Literal, NamedTuple

EIGHT_BY_TEN_MM2 = 203.2 * 254.0
"""The area of a sheet of 8x10 in, 0.05161 m2."""
NEAR = 0.8
"""A bath that has taken this share of what it can take is told to be near its end."""


def eight_by_tens(width_mm: float, height_mm: float) -> float:
    """A sheet's area in sheets of 8x10 in. Sides over 0, else ValueError.

    >>> round(eight_by_tens(16 * 25.4, 20 * 25.4), 9)
    4.0
    """
    if not (0.0 < width_mm < math.inf and 0.0 < height_mm < math.inf):
        raise ValueError(f"a sheet's sides are over 0 mm; found {width_mm:g} and {height_mm:g}")
    return width_mm * height_mm / EIGHT_BY_TEN_MM2


def seconds_at(seconds: float, at_c: float, now_c: float, per_degree: float) -> float:
    """A bath's time at another temperature: seconds * exp(-per_degree * (now_c - at_c)).

    `seconds` hold at `at_c`; `per_degree` is the share by which one degree more shortens, 0 to 0.3. No law is published
    for paper developers: the form is that of the charts for film (from memory), so it is good for a few degrees.

    >>> round(seconds_at(120.0, 20.0, 24.0, 0.08), 1), round(seconds_at(120.0, 20.0, 18.0, 0.08), 1)
    (87.1, 140.8)
    """
    if not (0.0 < seconds < math.inf and 0.0 <= per_degree <= 0.3):
        raise ValueError(f"a bath's seconds are over 0, per degree 0 to 0.3; found {seconds:g} and {per_degree:g}")
    return seconds * math.exp(-per_degree * (now_c - at_c))


def seconds_by_emergence(emerged_s: float, factor: float) -> float:
    """The whole time in a developer, from the seconds after which the image first showed: factor * emerged.

    It makes up for temperature and for exhaustion at once. Both over 0, else ValueError.

    >>> seconds_by_emergence(15.0, 10.0)
    150.0
    """
    if not (0.0 < emerged_s < math.inf and 0.0 < factor < math.inf):
        raise ValueError(f"seconds to emergence and their factor are over 0; found {emerged_s:g} and {factor:g}")
    return emerged_s * factor


def used_share(sheets: Mapping[str, float], per_litre: Mapping[str, float], litres: float) -> float:
    """Which share of a bath's capacity is used: 1 at the limit, over 1 beyond it.

    `sheets` are the sheets of 8x10 in that went through, by kind of paper; `per_litre` the capacity for each kind. Each
    sheet takes its share of its own kind's capacity. A kind whose capacity is not told is counted by the least one.
    Capacities and litres over 0, else ValueError.

    >>> used_share({"fibre": 20.0, "resin": 20.0}, {"fibre": 40.0, "resin": 80.0}, 1.0)
    0.75
    """
    if not (0.0 < litres < math.inf and per_litre and all(0.0 < most < math.inf for most in per_litre.values())):
        raise ValueError(f"a bath's litres and capacities are over 0; found {litres:g} l and {dict(per_litre)}")
    least = min(per_litre.values())
    return sum(count / (per_litre.get(kind, least) * litres) for kind, count in sheets.items())


def sheets_left(sheets: Mapping[str, float], per_litre: Mapping[str, float], litres: float, kind: str) -> float:
    """How many more sheets of 8x10 in of one kind of paper a bath can take; 0 at the limit and beyond.

    >>> sheets_left({"fibre": 30.0}, {"fibre": 40.0, "resin": 80.0}, 1.0, "resin")
    20.0
    """
    share = used_share(sheets, per_litre, litres)
    return max(0.0, (1.0 - share) * per_litre.get(kind, min(per_litre.values())) * litres)


class TwoBath(NamedTuple):
    """Where two fixing baths stand: in which round (from 1), the share of it that is used, and what is to be done."""

    cycle: int
    used: float
    due: Literal["", "near", "move", "renew both"]


def two_bath(used: float, moves: int, cycles: int) -> TwoBath:
    """What two fixing baths need after `used` of the first one's capacity since it was renewed last.

    At the first bath's limit it is thrown away, the second takes its place and a fresh one is mixed for second; each
    time is a move. After so many rounds both are renewed. Used 0 or more, moves 0 or more, cycles 1 or more.

    >>> two_bath(1.0, 0, 5).due, two_bath(1.0, 4, 5).due
    ('move', 'renew both')
    """
    if not (0.0 <= used < math.inf and moves >= 0 and cycles >= 1):
        raise ValueError(f"used and moves are 0 or more, rounds 1 or more; found {used:g}, {moves} and {cycles}")
    due: Literal["", "near", "move", "renew both"] = "near" if used >= NEAR else ""
    if used >= 1.0:
        due = "renew both" if moves + 1 >= cycles else "move"
    return TwoBath(moves + 1, used, due)
