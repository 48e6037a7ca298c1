"""Why a press or an order was not taken: one class a reason, with what its words need. The words are in `telling`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, get_args

from timerd.sheet.codes import coded_of, codes_of


@dataclass(frozen=True, slots=True)
class TooSoonAfterLight:
    """A light that no foot put out has just gone out."""


@dataclass(frozen=True, slots=True)
class TooSoonAfterPress:
    """The same foot has just pressed, or the contact bounces."""


@dataclass(frozen=True, slots=True)
class TooSoonAtTrays:
    """The same foot has just pressed at the trays."""


@dataclass(frozen=True, slots=True)
class Late:
    """The press reached the engine too long after the foot."""


@dataclass(frozen=True, slots=True)
class OtherDown:
    """Another pedal is down."""

    other: str


@dataclass(frozen=True, slots=True)
class OtherStation:
    """The pedal serves one station, and the sheet is at another."""

    serves: str
    station: str | None


@dataclass(frozen=True, slots=True)
class NotNow:
    """The order means nothing where the bench stands: at a row of the table."""

    order: str
    row: str


@dataclass(frozen=True, slots=True)
class NotSafe:
    """White light would spoil a sheet, that `where` tells of; None where the book is damaged and nobody knows."""

    spoils: int
    where: str | None


@dataclass(frozen=True, slots=True)
class NoSuchLight:
    """The bench has no such light to look by: `viewing` or `paper-safe`, at a station."""

    purpose: str
    station: str | None


@dataclass(frozen=True, slots=True)
class LampWarmsUp:
    """A lamp that stays on is not warm yet, for so many seconds."""

    seconds: int


@dataclass(frozen=True, slots=True)
class FilterUnderLens:
    """A filter that was swung in to look by is still under the lens."""

    filter: str


@dataclass(frozen=True, slots=True)
class SheetUnderWay:
    """Nothing is loaded then."""


@dataclass(frozen=True, slots=True)
class NoFault:
    """There is nothing to clear."""


@dataclass(frozen=True, slots=True)
class NoPrint:
    """None is loaded."""


@dataclass(frozen=True, slots=True)
class NoSheetLeft:
    """All sheets that were loaded are done."""


@dataclass(frozen=True, slots=True)
class NoSheetOut:
    """No sheet is in hand."""


@dataclass(frozen=True, slots=True)
class SheetNotOut:
    """It is armed, and has not been taken out."""


@dataclass(frozen=True, slots=True)
class NothingToSetAside:
    """No sheet is out."""


@dataclass(frozen=True, slots=True)
class NothingToTakeUp:
    """No sheet is offered; `which` is the one that was asked for."""

    which: int | None


@dataclass(frozen=True, slots=True)
class NothingSetAside:
    """No sheet is."""


@dataclass(frozen=True, slots=True)
class NothingToGiveUp:
    """No sheet is at hand or offered."""


@dataclass(frozen=True, slots=True)
class SheetNotOffered:
    """So it is not given up."""

    which: int


@dataclass(frozen=True, slots=True)
class SheetAtTrays:
    """It is in the printer's other hand."""

    which: int


@dataclass(frozen=True, slots=True)
class SheetOver:
    """It is not taken up again: its outcome."""

    which: int
    outcome: str


@dataclass(frozen=True, slots=True)
class SheetOfOtherBench:
    """It was begun on that one."""

    which: int
    bench: str


@dataclass(frozen=True, slots=True)
class OtherUnfinished:
    """Another sheet is to be seen to first."""

    which: int


@dataclass(frozen=True, slots=True)
class NoSuchStep:
    """The plan's steps are 1 to `last`."""

    which: int | None
    last: int


@dataclass(frozen=True, slots=True)
class StepByItself:
    """Nobody goes to it: the first and the last come of themselves."""

    which: int


@dataclass(frozen=True, slots=True)
class StepOver:
    """It has ended, and how: `dose`, `skipped`, or otherwise."""

    which: int
    how: str


@dataclass(frozen=True, slots=True)
class StepWithoutLight:
    """It cannot be owed again."""

    which: int


@dataclass(frozen=True, slots=True)
class StepOwed:
    """It is owed already."""

    which: int


@dataclass(frozen=True, slots=True)
class StepComplete:
    """It has all its light."""

    which: int


@dataclass(frozen=True, slots=True)
class NoSheetAtTrays:
    """A press at the trays for which there is nothing."""


@dataclass(frozen=True, slots=True)
class ViewingLightOn:
    """No sheet goes from its box into the trays then."""


Refusal = (
    TooSoonAfterLight | TooSoonAfterPress | TooSoonAtTrays | Late | OtherDown | OtherStation | NotNow | NotSafe
    | NoSuchLight | LampWarmsUp | FilterUnderLens | SheetUnderWay | NoFault | NoPrint | NoSheetLeft | NoSheetOut
    | SheetNotOut | NothingToSetAside | NothingToTakeUp | NothingSetAside | NothingToGiveUp | SheetNotOffered
    | SheetAtTrays | SheetOver | SheetOfOtherBench | OtherUnfinished | NoSuchStep | StepByItself | StepOver
    | StepWithoutLight | StepOwed | StepComplete | NoSheetAtTrays
    | ViewingLightOn
)  # fmt: skip


def refusal_of(facts: Mapping[str, Any]) -> Refusal | str:
    """The reason that is written there; what this version knows no class for is the text itself.

    >>> refusal_of({"why": "other down", "other": "end", "at": 1.5}), refusal_of({"why": "it is Sunday"})
    (OtherDown(other='end'), 'it is Sunday')
    """
    found: Refusal | str = coded_of(facts, CODES)
    return found


CODES: Mapping[str, Any] = codes_of(get_args(Refusal))
"""Every reason by its code, as books and clients know it."""
