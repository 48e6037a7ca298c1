"""Steps of which nobody can be sure what they were given, until somebody has looked at the sheet. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable

from timerd.sheet.record import Record

NOTICED = 1 / 24
"""Doses farther apart than this many stops may show: half of the twelfth in which prints are judged (common practice,
no source)."""
LOOKED = ("note", "rated")
"""Whoever writes one of these about a sheet has looked at it."""


def unsure(records: Iterable[Record]) -> tuple[int, ...]:
    """The steps of one sheet, by their n, whose dose lies between two that may show, since nobody saw when a light of
    theirs went out; none that was so before the last note or rating.

    >>> lost = Record("recovered", 9.0, 1, 2, facts={"given": 6.0, "given_lo": 5.1})
    >>> unsure([lost]), unsure([lost, Record("rated", 12.0, 1)])
    ((2,), ())
    """
    least: dict[int, float] = {}
    most: dict[int, float] = {}
    new: set[int] = set()
    for record in records:
        step, facts = record.step, record.facts
        if record.kind in LOOKED:
            new.clear()
        elif record.kind in ("dark", "recovered"):
            lo = facts.get("given_lo", facts["given"])
            least[step] = least.get(step, 0.0) + lo
            most[step] = most.get(step, 0.0) + facts["given"]
            if lo != facts["given"]:
                new.add(step)
        elif record.kind == "line low":
            most[step] = most.get(step, 0.0) + facts["more"]
            new.add(step)
    return tuple(sorted(step for step in new if _shows(least.get(step, 0.0), most[step])))


def _shows(least: float, most: float) -> bool:
    return most > 0 and (least <= 0 or math.log2(most / least) > NOTICED)
