"""Why a press or an order was not taken: one class a reason, with what its words need. The words are in `telling`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from timerd.wire.codec import Coded, by_word, read_code


class TooSoonAfterLight(Coded):
    """A light that no foot put out has just gone out."""


class TooSoonAfterPress(Coded):
    """The same foot has just pressed, or the contact bounces."""


class TooSoonAtTrays(Coded):
    """The same foot has just pressed at the trays."""


class Late(Coded):
    """The press reached the engine too long after the foot."""


class OtherDown(Coded):
    """Another pedal is down."""

    other: str


class OtherStation(Coded):
    """The pedal serves one station, and the sheet is at another."""

    serves: str
    station: str | None


class NotNow(Coded):
    """The order means nothing where the bench stands: at a row of the table."""

    order: str
    row: str


class NotSafe(Coded):
    """White light would spoil a sheet, that `where` tells of; None where the book is damaged and nobody knows."""

    spoils: int
    where: str | None


class NoSuchLight(Coded):
    """The bench has no such light to look by: `viewing` or `paper-safe`, at a station."""

    purpose: str
    station: str | None


class LampWarmsUp(Coded):
    """A lamp that stays on is not warm yet, for so many seconds."""

    seconds: int


class FilterUnderLens(Coded):
    """A filter that was swung in to look by is still under the lens."""

    filter: str


class SheetUnderWay(Coded):
    """Nothing is loaded then."""


class NoFault(Coded):
    """There is nothing to clear."""


class NoPrint(Coded):
    """None is loaded."""


class NoSheetLeft(Coded):
    """All sheets that were loaded are done."""


class NoSheetOut(Coded):
    """No sheet is in hand."""


class SheetNotOut(Coded):
    """It is armed, and has not been taken out."""


class NothingToSetAside(Coded):
    """No sheet is out."""


class NothingToTakeUp(Coded):
    """No sheet is offered; `which` is the one that was asked for."""

    which: int | None


class NothingSetAside(Coded):
    """No sheet is."""


class NothingToGiveUp(Coded):
    """No sheet is at hand or offered."""


class SheetNotOffered(Coded):
    """So it is not given up."""

    which: int


class SheetAtTrays(Coded):
    """It is in the printer's other hand."""

    which: int


class SheetOver(Coded):
    """It is not taken up again: its outcome."""

    which: int
    outcome: str


class SheetOfOtherBench(Coded):
    """It was begun on that one."""

    which: int
    bench: str


class OtherUnfinished(Coded):
    """Another sheet is to be seen to first."""

    which: int


class NoSuchStep(Coded):
    """The plan's steps are 1 to `last`."""

    which: int | None
    last: int


class StepByItself(Coded):
    """Nobody goes to it: the first and the last come of themselves."""

    which: int


class StepOver(Coded):
    """It has ended, and how: `dose`, `skipped`, or otherwise."""

    which: int
    how: str


class StepWithoutLight(Coded):
    """It cannot be owed again."""

    which: int


class StepOwed(Coded):
    """It is owed already."""

    which: int


class StepComplete(Coded):
    """It has all its light."""

    which: int


class NoSheetAtTrays(Coded):
    """A press at the trays for which there is nothing."""


class ViewingLightOn(Coded):
    """No sheet goes from its box into the trays then."""


class KeeperRefuses(Coded):
    """The keeper did not take a burst: its code, and what that is of."""

    how: str
    what: str | None


Refusal = (
    TooSoonAfterLight | TooSoonAfterPress | TooSoonAtTrays | Late | OtherDown | OtherStation | NotNow | NotSafe
    | NoSuchLight | LampWarmsUp | FilterUnderLens | SheetUnderWay | NoFault | NoPrint | NoSheetLeft | NoSheetOut
    | SheetNotOut | NothingToSetAside | NothingToTakeUp | NothingSetAside | NothingToGiveUp | SheetNotOffered
    | SheetAtTrays | SheetOver | SheetOfOtherBench | OtherUnfinished | NoSuchStep | StepByItself | StepOver
    | StepWithoutLight | StepOwed | StepComplete | NoSheetAtTrays
    | ViewingLightOn | KeeperRefuses
)  # fmt: skip


def refusal_of(facts: Mapping[str, Any]) -> Refusal | str:
    """The reason that is written there; what this version knows no class for is the text itself.

    >>> refusal_of({"why": "other down", "other": "end", "at": 1.5}), refusal_of({"why": "it is Sunday"})
    (OtherDown(other='end'), 'it is Sunday')
    """
    found: Refusal | str = read_code(CODES, facts)
    return found


CODES: Mapping[str, Any] = by_word(get_args(Refusal))
"""Every reason by its code, as books and clients know it."""
