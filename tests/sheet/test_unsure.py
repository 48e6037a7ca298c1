"""A sheet on which a light went out that nobody saw go is marked until somebody has looked at it."""

from __future__ import annotations

from typing import Any

import pytest
from records import wrote

from timerd.sheet.record import Record
from timerd.sheet.unsure import unsure


def dark(step: int, given: float, given_lo: float | None = None, kind: str = "dark") -> Record:
    facts: dict[str, Any] = {"lit": 1.0, "dark": 2.0, "given": given, "why": "keeper gone"}
    return wrote(kind, 9.0, 4, step, 7, facts if given_lo is None else {**facts, "given_lo": given_lo})


def lost(step: int, given: float, given_lo: float) -> Record:
    return dark(step, given, given_lo, "recovered")


NOTE, RATED = wrote("note", 10.0, 4, facts={"text": "x"}), wrote("rated", 10.0, 4, facts={"rating": 3})
LATE = wrote("line low", 9.5, 4, 2, 7, {"more": 1.0})


@pytest.mark.parametrize(
    ("records", "steps"),
    [
        ([], ()),
        ([dark(2, 6.0), dark(3, 2.0, 2.0)], ()),
        ([dark(2, 6.0, 5.11)], (2,)),
        ([lost(3, 6.0, 2.36), dark(2, 6.0, 5.0)], (2, 3)),
        # a light of which nothing is known
        ([lost(2, 1.0, 0.0)], (2,)),
        # a 24th of a stop: 2.9 % of the dose
        ([dark(2, 6.0, 5.85)], ()),
        ([dark(2, 6.0, 5.8)], (2,)),
        # over what the step has in all
        ([dark(2, 20.0), dark(2, 1.0, 0.6)], ()),
        ([dark(2, 1.0, 0.6), dark(2, 2.0)], (2,)),
        # a line that would not go low
        ([dark(2, 6.0), LATE], (2,)),
        # somebody looked
        ([dark(2, 6.0, 5.11), NOTE], ()),
        ([lost(2, 6.0, 5.11), RATED], ()),
        # and it happened again
        ([NOTE, dark(2, 6.0, 5.11)], (2,)),
        ([dark(2, 6.0, 5.11), NOTE, dark(3, 6.0, 5.0)], (3,)),
        ([dark(2, 6.0, 5.11), NOTE, dark(2, 1.0)], ()),
    ],
)
def test_what_is_unsure_until_somebody_looks(records: list[Record], steps: tuple[int, ...]) -> None:
    assert unsure(records) == steps
