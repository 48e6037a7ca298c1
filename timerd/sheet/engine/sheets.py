"""Moves from sheet to sheet and from step to step: arm, go on, skip, end, set aside, take up, abandon. None lights."""

from __future__ import annotations

from timerd.sheet import facts as fa
from timerd.sheet import refusal as no
from timerd.sheet.engine import rows
from timerd.sheet.engine.events import Load
from timerd.sheet.engine.feet import TOO_SOON_S, Contact
from timerd.sheet.engine.lamps import keep_on, lamps_of, still_cold
from timerd.sheet.engine.standing import Standing
from timerd.sheet.map import own_corner
from timerd.sheet.plan.boxes import from_box
from timerd.sheet.plan.prompts import take_up_asks
from timerd.sheet.plan.value import ASIDE, LIGHTS, PROMPTS, Plan, Step
from timerd.sheet.progress import SET_UPS, SheetProgress
from timerd.sheet.record import Record


def load(s: Standing, event: Load, at: float) -> None:
    s.loaded, s.sheets_left = event.plan, event.sheets
    s.write(fa.PrintLoaded(event.plan.print, event.sheets), at)
    keep_on(s, lamps_of(event.plan))
    if s.row in (rows.IDLE, rows.ASIDE) and s.row != s.idle_row():
        s.enter(s.idle_row(), at)


def arm(s: Standing, contact: Contact | None, at: float) -> None:
    if s.other_is_down(contact):
        return
    if s.loaded is None:
        s.refuse(no.NoPrint(), contact)
    elif not s.sheets_left:
        s.refuse(no.NoSheetLeft(), contact)
    elif not still_cold(s, lamps_of(s.loaded), contact):
        arm_next(s, s.loaded, at)


def arm_next(s: Standing, plan: Plan, at: float) -> None:
    s.sheets_left -= 1
    number = s.progress.last_sheet + 1
    s.plans[number] = plan
    record = Record(fa.SheetArmed(print=plan.print, steps=plan.as_armed), at, number)
    s.loaded = from_box(plan, None)
    s.progress.apply(record)
    s.out.append(record)
    s.sheet = s.progress.sheets[number]
    s.reason = None
    begin_step(s, at)


def take_up(s: Standing, contact: Contact | None, at: float) -> None:
    sheet = s.sheet or s.offer
    if sheet is None or sheet.given_up:
        s.refuse(no.NothingToTakeUp(None), contact)
    elif not s.other_is_down(contact):
        take_it_up(s, sheet, at, contact)


def take_it_up(s: Standing, sheet: SheetProgress, at: float, contact: Contact | None = None) -> None:
    """Go on with a sheet: from its box through a start prompt, else where it was left."""
    plan = s.plans[sheet.sheet]
    if plan.bench != s.bench.bench:
        s.refuse(no.SheetOfOtherBench(sheet.sheet, plan.bench), contact)
        return
    if still_cold(s, lamps_of(plan), contact):
        return
    s.sheet, s.reason = sheet, None
    s.write(fa.TakenUp(), at, sheet.at_hand)
    if sheet.boxed is None:
        go_on(s, at)
    else:
        step = _ahead(s)
        if step is None:
            asks: tuple[str, ...] = (f"take sheet {sheet.sheet} out of its box",)
        else:
            turn = s.bench.stations[step.station].turn if step.station in s.bench.stations else 0
            asks = take_up_asks(sheet.sheet, step.set_up, own_corner(turn), plan.sheet is not None)
        s.ask((*_swung_out(s), *asks), at)


def _ahead(s: Standing) -> Step | None:
    """The step for which the bench is set up when the sheet at hand comes out of its box; None before the baths."""
    sheet = s.sheet
    assert sheet is not None
    steps = s.plans[sheet.sheet].steps[sheet.at_hand - 1 :]
    return next((step for step in steps if step.kind not in (*SET_UPS, "develop")), None)


def _swung_out(s: Standing) -> tuple[str, ...]:
    swung = s.sheet.swung if s.sheet is not None else None
    return () if swung is None else (f"take the {swung} filter out",)


def go_on(s: Standing, at: float) -> None:
    """With the step at hand, which may have been given some of its light; the bench is set up for it first."""
    sheet, step = s.sheet, s.step
    if sheet is None or step is None or step.kind not in LIGHTS or sheet.steps[step.n].most <= 0 or missing(s, step):
        begin_step(s, at)
    elif step.dose is not None and sheet.owed == 0:
        s.write(fa.StepEnded("dose"), at, step.n)
        begin_step(s, at)
    else:
        s.enter(rows.PAUSED, at)


def missing(s: Standing, step: Step) -> tuple[str, ...]:
    """What must be changed on the bench before a step can be done; of a prompt that changes the bench, all of it."""
    sheet = s.sheet
    assert sheet is not None
    if step.kind not in (*LIGHTS, *SET_UPS, "safelight"):
        return _swung_out(s)
    if sheet.set_for == step.n:
        return _swung_out(s)
    there = s.plans[sheet.sheet].steps[sheet.set_for - 1].set_up if sheet.set_for > 0 else ()
    if there == step.set_up:
        return _swung_out(s)
    return (*_swung_out(s), *step.asked_after(there))


def set_aside(s: Standing, contact: None, at: float) -> None:
    """Into the box for the moment: another sheet may be done, white light may be lit."""
    sheet = s.sheet or s.progress.unfinished
    if sheet is None or not (sheet.out or sheet.boxed):
        s.refuse(no.NothingToSetAside())
        return
    if sheet.at_trays:
        s.refuse(no.SheetAtTrays(sheet.sheet))
        return
    s.sheet = sheet
    into_box(s, "asked", at)


def into_box(s: Standing, why: str, at: float) -> None:
    sheet = s.sheet
    assert sheet is not None
    s.write(fa.SetAside(why), at, sheet.at_hand)
    s.say("set aside", at)
    s.to_idle(at)


def give_up(s: Standing, contact: None, at: float) -> None:
    s.sheet = s.sheet or s.offer
    if s.sheet is None:
        s.refuse(no.NothingToGiveUp())
        return
    s.write(fa.GivenUp(), at)
    s.to_idle(at)


def begin_step(s: Standing, at: float, by_itself: bool = False) -> bool:
    """The step at hand is announced. With `by_itself`: whether its lead-in is to begin now, without a press."""
    step = s.step
    if step is None or step.kind == "develop":
        s.write(fa.SheetDone(), at)
        s.enter(rows.DONE, at)
    elif step.kind in PROMPTS:
        asks = missing(s, step)
        if step.kind not in SET_UPS and step.kind != "safelight":
            asks += step.asks
        s.ask(asks or step.asks, at)
    elif asks := missing(s, step):
        s.ask(asks, at)
    elif s.sheet is not None and s.sheet.steps[step.n].most > 0:  # it was left for another, and is come back to
        s.write(fa.StepReady(s.sheet.owed), at, step.n)
        s.enter(rows.PAUSED, at)
    else:
        s.write(fa.StepReady(step.dose), at, step.n)
        by_itself = by_itself and step.pedal == "press"
        starts = by_itself and s.feet.other_down(None) is None and not still_cold(s, [step.lamp], None)
        ready(s, step, at, stay_dark=starts)
        if by_itself and not starts:
            s.other_is_down(None)
        return starts
    return False


def ready(s: Standing, step: Step, at: float, stay_dark: bool = False) -> None:
    s.enter(rows.READY if step.pedal == "press" else rows.READY_HELD, at, stay_dark)


def pass_prompt(s: Standing, contact: Contact, at: float) -> None:
    sheet, step = s.sheet, s.step
    assert sheet is not None
    s.feet.go_from = at + TOO_SOON_S
    if sheet.boxed is not None:
        asked = _ahead(s) is not None
        s.write(fa.SheetOut(s.progress.since(sheet.boxed_at, at), asked), at, sheet.at_hand)
        while asked and s.step is not None and s.step.kind in SET_UPS:  # all of it was asked for at once
            s.write(fa.PromptPassed(), at, s.step.n)
        go_on(s, at)
        return
    assert step is not None
    if step.kind in (*LIGHTS, "safelight") and missing(s, step):
        s.write(fa.BenchSetUp(), at, step.n)
        go_on(s, at)
        return
    if step.kind == "wait":
        s.write(fa.SheetOut(), at, step.n)
    s.write(fa.PromptPassed(), at, step.n)
    if step.kind in ASIDE:
        into_box(s, step.kind, at)
    else:
        go_on(s, at)


def skip(s: Standing, contact: Contact | None, at: float) -> None:
    _, step, _ = s.hands()
    s.write(fa.StepEnded("skipped"), at, step.n)
    begin_step(s, at)


def end_here(s: Standing, contact: Contact | None, at: float) -> None:
    _, step, _ = s.hands()
    s.write(fa.StepEnded("printer"), at, step.n)
    begin_step(s, at)


def into_baths(s: Standing, contact: Contact | None, at: float) -> None:
    here = s.sheet
    for number, where in s.goes_to.items():
        s.sheet = s.progress.sheets[number]
        if where == "trays" and (line := s.plans[number].baths) is not None:
            s.write(fa.SentToTrays(line.develop == "together"), at)
            s.say("to the trays", at)
        else:
            s.write(fa.InTheFixer(), at)
            s.say("in the fixer", at)
    s.sheet = here


def abandon(s: Standing, contact: None, at: float) -> None:
    sheet, _, _ = s.hands()
    s.write(fa.Abandoned(), at, sheet.at_hand)
    s.enter(rows.ABANDONED, at)


def next_sheet(s: Standing, contact: Contact | None, at: float) -> None:
    """After a sheet that is done or given up: one that waits in its box, or a new one, or none."""
    if s.other_is_down(contact):
        return
    coming = [s.plans[number] for number in s.progress.aside]
    coming += [s.loaded] if s.loaded is not None and s.sheets_left else []
    if still_cold(s, lamps_of(*coming), contact):
        return
    if s.row == rows.ABANDONED:
        s.write(fa.GivenUp(), at)
    if (offered := s.offer) is not None:
        take_it_up(s, offered, at, contact)
    elif s.loaded is None or not s.sheets_left:
        s.to_idle(at)
    else:
        arm_next(s, s.loaded, at)


def rest(s: Standing, contact: Contact | None, at: float) -> None:
    s.to_idle(at)


def say_again(s: Standing, contact: Contact | None, at: float) -> None:
    s.say("step", at)


def say_owed(s: Standing, contact: Contact | None, at: float) -> None:
    s.say("owed", at)


def say_given(s: Standing, contact: Contact | None, at: float) -> None:
    s.say("given", at)


def say_fault(s: Standing, contact: Contact | None, at: float) -> None:
    s.say("fault", at)
