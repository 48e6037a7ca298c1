"""Which sheets of a book somebody must look at: those with a step of which nobody knows what it was given."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Sequence

from timerd.book.reading import Reader
from timerd.sheet.record import Record
from timerd.sheet.unsure import unsure

_TOLD = ("dark", "recovered", "line low", "note", "rated")
_LOST = ("recovered", "fault")
"""Where no record of these kinds is, every light's end was seen."""


def doubts(reader: Reader, sheets: Sequence[int]) -> dict[int, tuple[int, ...]]:
    """Of these sheets, those that must be looked at, with the steps that are unsure."""
    if not sheets:
        return {}
    within = f"sheet BETWEEN {min(sheets)} AND {max(sheets)}"
    lost = {sheet for (sheet,) in reader.each(f"SELECT sheet FROM records WHERE kind IN {_LOST} AND {within}")}
    found = {}
    for sheet in sorted(lost.intersection(sheets)):
        rows = reader.each(
            f"SELECT kind, step, facts FROM records WHERE sheet = {sheet} AND kind IN {_TOLD} ORDER BY number"
        )
        with contextlib.suppress(ValueError, KeyError, TypeError):  # a damaged record is told by whoever reads it whole
            if steps := unsure(
                Record.read(kind, 0.0, sheet, step, facts=json.loads(facts)) for kind, step, facts in rows
            ):
                found[sheet] = steps
    return found
