"""Why a press or an order was not taken, and whether white light is safe, in words."""

from __future__ import annotations

from typing import assert_never

from timerd.sheet import refusal as no
from timerd.sheet.refusal import Refusal

_OVER = {"dose": "has all its light", "skipped": "was skipped"}


def refusal_words(why: Refusal | str) -> str:
    """A reason in words; one that is text already as it is.

    >>> refusal_words(no.StepOver(3, "skipped"))
    'step 3 was skipped: to give what it lacks, owe it again (owe 3)'
    >>> refusal_words("go was pressed since")
    'go was pressed since'
    """
    match why:
        case str():
            return why
        case no.TooSoonAfterLight():
            return "too soon after the light went out"
        case no.TooSoonAfterPress():
            return "too soon after the last press"
        case no.TooSoonAtTrays():
            return "too soon after the last press at the trays"
        case no.Late():
            return "late"
        case no.OtherDown(other):
            return f"{other} is down"
        case no.OtherStation(serves, station):
            return f"this pedal serves the {serves}; the sheet is at the {station}"
        case no.NotNow(order, row):
            return f"{order}: not now, the bench is at {row}"
        case no.NotSafe():
            return f"white light {white_light_words(why)}"
        case no.NoSuchLight(purpose, station):
            return f"there is no {purpose} light{'' if station is None else f' at the {station}'}"
        case no.LampWarmsUp(seconds):
            return f"the lamp warms up, {seconds} s"
        case no.FilterUnderLens(filter_):
            return f"take the {filter_} filter out first"
        case no.SheetUnderWay():
            return "a sheet is under way: nothing is loaded"
        case no.NoFault():
            return "there is no fault to clear"
        case no.NoPrint():
            return "no print is loaded"
        case no.NoSheetLeft():
            return "no sheet is left to do: load the print again"
        case no.NoSheetOut():
            return "no sheet is out"
        case _:
            return _of_sheets_and_steps(why)


def white_light_words(spoils: no.NotSafe | str | None) -> str:
    """Whether white light is safe: which sheet it would spoil, and where that is.

    >>> white_light_words(no.NotSafe(4, "in the developer")), white_light_words(None)
    ('not yet: sheet 4 in the developer', 'safe')
    """
    if not isinstance(spoils, no.NotSafe):
        return "safe" if spoils is None else spoils
    return f"not yet: sheet {spoils.spoils} {spoils.where or 'may be out, the book is damaged there'}"


_OfSheetsAndSteps = (
    no.SheetNotOut | no.NothingToSetAside | no.NothingToTakeUp | no.NothingSetAside | no.NothingToGiveUp
    | no.SheetNotOffered | no.SheetAtTrays | no.SheetOver | no.SheetOfOtherBench | no.OtherUnfinished | no.NoSuchStep
    | no.StepByItself | no.StepOver | no.StepWithoutLight | no.StepOwed | no.StepComplete | no.NoSheetAtTrays
    | no.ViewingLightOn
)  # fmt: skip


def _of_sheets_and_steps(why: _OfSheetsAndSteps) -> str:
    match why:
        case no.SheetNotOut():
            return "the sheet is not out yet"
        case no.NothingToSetAside():
            return "the sheet is not out yet: there is nothing to set aside"
        case no.NothingToTakeUp(which):
            return f"there is no sheet {'' if which is None else f'{which} '}to take up"
        case no.NothingSetAside():
            return "no sheet is set aside"
        case no.NothingToGiveUp():
            return "there is no sheet to give up"
        case no.SheetNotOffered(which):
            return f"sheet {which} is not offered: it is not given up"
        case no.SheetAtTrays(which):
            return f"sheet {which} is at the trays"
        case no.SheetOver(which, outcome):
            return f"sheet {which} is {outcome}: it is not taken up again"
        case no.SheetOfOtherBench(which, bench):
            return f"sheet {which} was begun on the bench '{bench}'"
        case no.OtherUnfinished(which):
            return f"sheet {which} is unfinished: take it up, set it aside or give it up first"
        case no.NoSuchStep(which, last):
            return f"there is no step {which}: they are 1 to {last}"
        case no.StepByItself(which):
            return f"step {which} comes of itself"
        case no.StepOver(which, how):
            again = "" if how == "dose" else f": to give what it lacks, owe it again (owe {which})"
            return f"step {which} {_OVER.get(how, 'was ended')}{again}"
        case no.StepWithoutLight(which):
            return f"step {which} gives no light"
        case no.StepOwed(which):
            return f"step {which} is owed already: to go to it, step {which}"
        case no.StepComplete(which):
            return f"step {which} has all its light"
        case no.NoSheetAtTrays():
            return "no sheet is at the trays"
        case no.ViewingLightOn():
            return "the viewing light is on: put it off first"
        case _:
            assert_never(why)
