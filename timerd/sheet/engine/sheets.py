"""Moves from sheet to sheet and step to step: arm, go on, skip, end, abandon, take up, give up. None of them lights."""

from __future__ import annotations

from timerd.sheet.engine import table
from timerd.sheet.engine.events import Load
from timerd.sheet.engine.feet import Contact
from timerd.sheet.engine.standing import Standing
from timerd.sheet.plan.value import LIGHTS, PROMPTS, Plan, Step
from timerd.sheet.record import Record


def load(s: Standing, event: Load, at: float) -> None:
    s.loaded, s.sheets_left = event.plan, event.sheets
    s.write("loaded", at, print=event.plan.print, sheets=event.sheets)


def arm(s: Standing, contact: Contact, at: float) -> None:
    if s.other_is_down(contact):
        return
    if s.loaded is None:
        s.refuse("no print is loaded", contact)
    elif not s.sheets_left:
        s.refuse("no sheet is left to do: load the print again", contact)
    else:
        arm_next(s, s.loaded, at)


def arm_next(s: Standing, plan: Plan, at: float) -> None:
    s.sheets_left -= 1
    number = max(s.progress.sheets, default=0) + 1
    s.plans[number] = plan
    steps = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in plan.steps]
    record = Record("armed", at, number, facts={"print": plan.print, "steps": steps})
    s.progress.apply(record)
    s.out.append(record)
    s.sheet = s.progress.sheets[number]
    s.reason = None
    begin_step(s, at)


def take_up(s: Standing, contact: Contact, at: float) -> None:
    sheet = s.sheet or s.progress.unfinished
    if sheet is None or s.other_is_down(contact):
        return
    s.sheet, s.reason = sheet, None
    s.write("taken up", at, sheet.at_hand)
    step = s.step
    if step is None or step.kind not in LIGHTS or sheet.steps[step.n].most <= 0:
        begin_step(s, at)
    elif step.dose is not None and sheet.owed == 0:
        s.write("ended", at, step.n, by="dose")
        begin_step(s, at)
    else:
        s.enter(table.PAUSED, at)


def give_up(s: Standing, contact: None, at: float) -> None:
    s.sheet = s.progress.unfinished
    s.write("given up", at)
    s.to_idle(at)


def begin_step(s: Standing, at: float, by_itself: bool = False) -> bool:
    """The step at hand is announced. With `by_itself`: whether its lead-in is to begin now, without a press."""
    step = s.step
    if step is None or step.kind == "develop":
        s.write("done", at)
        s.enter(table.DONE, at)
    elif step.kind in PROMPTS:
        s.enter(table.PROMPT, at)
    else:
        s.write("ready", at, step.n, owed=step.dose)
        by_itself = by_itself and step.pedal == "press"
        starts = by_itself and s.feet.other_down(None) is None
        ready(s, step, at, stay_dark=starts)
        if by_itself and not starts:
            s.other_is_down(None)
        return starts
    return False


def ready(s: Standing, step: Step, at: float, stay_dark: bool = False) -> None:
    s.enter(table.READY if step.pedal == "press" else table.READY_HELD, at, stay_dark)


def pass_prompt(s: Standing, contact: Contact, at: float) -> None:
    _, step, _ = s.hands()
    if step.kind == "wait":
        s.write("sheet out", at, step.n)
    s.write("passed", at, step.n)
    begin_step(s, at)


def skip(s: Standing, contact: Contact, at: float) -> None:
    _, step, _ = s.hands()
    s.write("ended", at, step.n, by="skipped")
    begin_step(s, at)


def end_here(s: Standing, contact: Contact, at: float) -> None:
    _, step, _ = s.hands()
    s.write("ended", at, step.n, by="printer")
    begin_step(s, at)


def into_stop_bath(s: Standing, contact: Contact, at: float) -> None:
    here = s.sheet
    for number in s.progress.sheets_out:
        s.sheet = s.progress.sheets[number]
        if s.sheet.outcome != "complete" or s.sheet.at_trays:
            continue
        baths = s.plans[number].baths
        if baths is not None:
            s.write("to trays", at, boxed=baths.develop == "together")
            s.say("to the trays", at)
        else:
            s.write("stop bath", at)
            s.say("stop bath", at)
    s.sheet = here


def abandon(s: Standing, contact: None, at: float) -> None:
    sheet, _, _ = s.hands()
    s.write("abandoned", at, sheet.at_hand)
    s.enter(table.ABANDONED, at)


def next_sheet(s: Standing, contact: Contact, at: float) -> None:
    if s.other_is_down(contact):
        return
    if s.row == table.ABANDONED:
        s.write("given up", at)
    if s.loaded is None or not s.sheets_left:
        s.to_idle(at)
    else:
        arm_next(s, s.loaded, at)


def rest(s: Standing, contact: Contact, at: float) -> None:
    s.to_idle(at)


def say_again(s: Standing, contact: Contact, at: float) -> None:
    s.say("step", at)


def say_given(s: Standing, contact: Contact, at: float) -> None:
    s.say("given", at)


def say_fault(s: Standing, contact: Contact, at: float) -> None:
    s.say("fault", at)
