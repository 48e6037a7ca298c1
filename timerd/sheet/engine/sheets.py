"""Moves from sheet to sheet and step to step: arm, go on, skip, end, abandon, take up, give up. None of them lights."""

from __future__ import annotations

from typing import TYPE_CHECKING

from timerd.sheet.engine import table
from timerd.sheet.engine.events import Load
from timerd.sheet.engine.feet import Contact
from timerd.sheet.plan.value import LIGHTS, PROMPTS, Plan, Step
from timerd.sheet.record import Record

if TYPE_CHECKING:
    from timerd.sheet.engine.machine import Engine


def load(e: Engine, event: Load, at: float) -> None:
    e.loaded, e.sheets_left = event.plan, event.sheets
    e.write("loaded", at, print=event.plan.print, sheets=event.sheets)


def arm(e: Engine, contact: Contact, at: float) -> None:
    if e.other_is_down(contact):
        return
    if e.loaded is None:
        e.refuse("no print is loaded", contact)
    elif not e.sheets_left:
        e.refuse("no sheet is left to do: load the print again", contact)
    else:
        arm_next(e, e.loaded, at)


def arm_next(e: Engine, plan: Plan, at: float) -> None:
    e.sheets_left -= 1
    number = max(e.progress.sheets, default=0) + 1
    e.plans[number] = plan
    steps = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in plan.steps]
    record = Record("armed", at, number, facts={"print": plan.print, "steps": steps})
    e.progress.apply(record)
    e.out.append(record)
    e.sheet = e.progress.sheets[number]
    e.reason = None
    begin_step(e, at)


def take_up(e: Engine, contact: Contact, at: float) -> None:
    sheet = e.sheet or e.progress.unfinished
    if sheet is None or e.other_is_down(contact):
        return
    e.sheet, e.reason = sheet, None
    e.write("taken up", at, sheet.at_hand)
    step = e.step
    if step is None or step.kind not in LIGHTS or sheet.steps[step.n].given <= 0:
        begin_step(e, at)
    elif step.dose is not None and sheet.owed == 0:
        e.write("ended", at, step.n, by="dose")
        begin_step(e, at)
    else:
        e.enter(table.PAUSED, at)


def give_up(e: Engine, contact: None, at: float) -> None:
    e.sheet = e.progress.unfinished
    e.write("given up", at)
    e.to_idle(at)


def begin_step(e: Engine, at: float, by_itself: bool = False) -> bool:
    """The step at hand is announced. With `by_itself`: whether its lead-in is to begin now, without a press."""
    step = e.step
    if step is None or step.kind == "develop":
        e.write("done", at)
        e.enter(table.DONE, at)
    elif step.kind in PROMPTS:
        e.enter(table.PROMPT, at)
    else:
        e.write("ready", at, step.n, owed=step.dose)
        by_itself = by_itself and step.pedal == "press"
        starts = by_itself and e.feet.other_down(None) is None
        ready(e, step, at, stay_dark=starts)
        if by_itself and not starts:
            e.other_is_down(None)
        return starts
    return False


def ready(e: Engine, step: Step, at: float, stay_dark: bool = False) -> None:
    e.enter(table.READY if step.pedal == "press" else table.READY_HELD, at, stay_dark)


def pass_prompt(e: Engine, contact: Contact, at: float) -> None:
    _, step, _ = e.hands()
    if step.kind == "wait":
        e.write("sheet out", at, step.n)
    e.write("passed", at, step.n)
    begin_step(e, at)


def skip(e: Engine, contact: Contact, at: float) -> None:
    _, step, _ = e.hands()
    e.write("ended", at, step.n, by="skipped")
    begin_step(e, at)


def end_here(e: Engine, contact: Contact, at: float) -> None:
    _, step, _ = e.hands()
    e.write("ended", at, step.n, by="printer")
    begin_step(e, at)


def into_stop_bath(e: Engine, contact: Contact, at: float) -> None:
    here = e.sheet
    for number in e.progress.sheets_out:
        e.sheet = e.progress.sheets[number]
        if e.sheet.outcome == "complete":
            e.write("stop bath", at)
            e.say("stop bath", at)
    e.sheet = here


def abandon(e: Engine, contact: None, at: float) -> None:
    sheet, _, _ = e.hands()
    e.write("abandoned", at, sheet.at_hand)
    e.enter(table.ABANDONED, at)


def next_sheet(e: Engine, contact: Contact, at: float) -> None:
    if e.other_is_down(contact):
        return
    if e.row == table.ABANDONED:
        e.write("given up", at)
    if e.loaded is None or not e.sheets_left:
        e.to_idle(at)
    else:
        arm_next(e, e.loaded, at)


def rest(e: Engine, contact: Contact, at: float) -> None:
    e.to_idle(at)


def say_again(e: Engine, contact: Contact, at: float) -> None:
    e.say("step", at)


def say_given(e: Engine, contact: Contact, at: float) -> None:
    e.say("given", at)


def say_fault(e: Engine, contact: Contact, at: float) -> None:
    e.say("fault", at)
