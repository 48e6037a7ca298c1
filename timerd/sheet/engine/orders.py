"""Moves that are asked for by name: go to a step, owe one again, take a sheet up, arm the next. None of them lights."""

from __future__ import annotations

from timerd.sheet import facts as fa
from timerd.sheet import refusal as no
from timerd.sheet.engine import rows
from timerd.sheet.engine.events import Told
from timerd.sheet.engine.lamps import lamps_of, still_cold
from timerd.sheet.engine.sheets import arm_next, give_up, go_on, take_it_up
from timerd.sheet.engine.standing import Standing
from timerd.sheet.plan.value import LIGHTS, Step
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Record

_NEVER = ("wait", "develop")
"""Steps that nobody goes to: the first and the last come of themselves."""


def take_up_told(s: Standing, event: Told, at: float) -> None:
    """The sheet of that number, or without one the sheet that is offered."""
    here = s.sheet if s.row == rows.ABANDONED else s.progress.unfinished
    sheet = s.progress.sheets.get(event.n) if event.n is not None else here or s.offer
    if sheet is None:
        s.refuse(no.NothingSetAside() if event.n is None else no.NothingToTakeUp(event.n))
    elif here is not None and here is not sheet:
        s.refuse(no.OtherUnfinished(here.sheet))
    elif not (sheet.resumable or sheet.outcome == "set aside"):
        s.refuse(no.SheetOver(sheet.sheet, "given up" if sheet.given_up else sheet.outcome))
    elif not s.other_is_down(None):
        take_it_up(s, sheet, at)


def give_up_told(s: Standing, event: Told, at: float) -> None:
    """The sheet that is offered; by its number also one that the book is damaged of, which is offered no more."""
    offered = s.sheet or s.offer
    if event.n is None or (offered is not None and offered.sheet == event.n):
        give_up(s, None, at)
    elif event.n in s.progress.damaged.out:
        record = Record(fa.GivenUp(), at, event.n)
        s.progress.apply(record)
        s.out.append(record)
    else:
        s.refuse(no.SheetNotOffered(event.n))


def next_armed(s: Standing, contact: None, at: float) -> None:
    """A new sheet of the print that is loaded, whatever lies in the box."""
    if s.loaded is None or not s.sheets_left:
        s.refuse(no.NoSheetLeft())
    elif not s.other_is_down(None) and not still_cold(s, lamps_of(s.loaded), None):
        arm_next(s, s.loaded, at)


def go_to(s: Standing, event: Told, at: float) -> None:
    """Another step is at hand; what is passed by is still owed."""
    found = _step(s, event)
    if found is None:
        return
    sheet, step = found
    ended = sheet.steps[step.n].ended_by
    if step.kind in _NEVER:
        s.refuse(no.StepByItself(step.n))
    elif ended is not None and step.kind in LIGHTS:
        s.refuse(no.StepOver(step.n, ended))
    else:
        s.write(fa.StepGoneTo(sheet.at_hand), at, step.n)
        go_on(s, at)


def owe_again(s: Standing, event: Told, at: float) -> None:
    """A step that was ended or skipped in error is owed what it did not get, and is at hand."""
    found = _step(s, event)
    if found is None:
        return
    sheet, step = found
    progress = sheet.steps[step.n]
    lacks = progress.planned is None or progress.planned - progress.most > progress.owed_slack
    if step.kind not in LIGHTS:
        s.refuse(no.StepWithoutLight(step.n))
    elif progress.ended_by is None:
        s.refuse(no.StepOwed(step.n))
    elif not lacks:
        s.refuse(no.StepComplete(step.n))
    else:
        s.write(fa.StepOwedAgain(sheet.at_hand), at, step.n)
        go_on(s, at)


def _step(s: Standing, event: Told) -> tuple[SheetProgress, Step] | None:
    """The step that is meant, of a sheet that is out; None where it is refused."""
    sheet = s.sheet
    if sheet is None or not sheet.out:
        s.refuse(no.SheetNotOut() if sheet is not None and sheet.outcome != "complete" else no.NoSheetOut())
        return None
    if sheet.at_trays:
        s.refuse(no.SheetAtTrays(sheet.sheet))
        return None
    steps = s.plans[sheet.sheet].steps
    if event.n is None or not 1 <= event.n <= len(steps):
        s.refuse(no.NoSuchStep(event.n, len(steps)))
        return None
    return sheet, steps[event.n - 1]
