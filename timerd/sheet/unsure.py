"""Steps of which nobody can be sure what they were given, until somebody has looked at the sheet. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable

from timerd.sheet.facts import BurstDark, BurstRecovered, LineLow, NoteWritten, SheetRated
from timerd.sheet.record import Record

NOTICED = 1 / 24
"""Doses farther apart than this many stops may show: half of the twelfth in which prints are judged (common practice,
no source)."""


def unsure(records: Iterable[Record]) -> tuple[int, ...]:
    """The steps of one sheet, by their n, whose dose lies between two that may show, since nobody saw when a light of
    theirs went out; none that was so before the last note or rating.

    >>> lost = Record(BurstRecovered(None, None, given=6.0, given_lo=5.1, why="power"), 9.0, 1, 2)
    >>> unsure([lost]), unsure([lost, Record(SheetRated(4), 12.0, 1)])
    ((2,), ())
    """
    least: dict[int, float] = {}
    most: dict[int, float] = {}
    new: set[int] = set()
    for record in records:
        step = record.step
        match record.fact:
            case NoteWritten() | SheetRated():
                new.clear()
            case BurstDark() | BurstRecovered() as burst:
                least[step] = least.get(step, 0.0) + burst.least
                most[step] = most.get(step, 0.0) + burst.given
                if burst.least != burst.given:
                    new.add(step)
            case LineLow(more):
                most[step] = most.get(step, 0.0) + more
                new.add(step)
    return tuple(sorted(step for step in new if _shows(least.get(step, 0.0), most[step])))


def _shows(least: float, most: float) -> bool:
    return most > 0 and (least <= 0 or math.log2(most / least) > NOTICED)
