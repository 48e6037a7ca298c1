"""What a record says, in words: in the timeline of an evening, in a sheet's own account, and as it is exported."""

from __future__ import annotations

from timerd.sheet import facts as fa
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.record import Record
from timerd.sheet.telling import fault_in_short, refusal_words, worn_words
from timerd.sheet.telling.endings import why_words
from timerd.sheet.words import step_words

_LATE_S = 0.5


def timeline_words(plan: Plan, record: Record) -> str | None:
    """One record as a printer would tell it in an evening's timeline; None where it is of no interest beside the
    others."""
    n = record.step
    match record.fact:
        case fa.PrintLoaded(title, sheets):
            return f"loaded: {title}, {sheets} sheet{'s' if sheets != 1 else ''}"
        case fa.SheetArmed():
            return f"armed, no white light from here on: {'; '.join(plan.steps[0].asks)}"
        case fa.PromptPassed() if n > 1:
            return f"{n}  {step_words(_step(plan, n))}: done"
        case fa.StepReady():
            return f"{n}  {step_words(_step(plan, n))}: ready"
        case fa.BurstLit(light):
            return f"{n}  {light} on"
        case fa.BurstDark() as dark:
            return f"{n}  {_step(plan, n).light} off: {dark.given:.1f} s given ({why_words(dark.why)})"
        case fa.BurstCalledOff(why):
            return f"{n}  called off before the light ({why_words(why or '')})"
        case fa.LineLow(more):
            return f"{n}  dark at last: {more:.1f} s more may have been given"
        case fa.StepEnded("dose"):
            return None
        case fa.StepEnded(by):
            return f"{n}  {'skipped' if by == 'skipped' else 'ended here'}"
        case fa.PressRefused(_, reason):
            return f"nothing done: {refusal_words(reason)}"
        case fa.OutOfBath(late_s=late_s) if abs(late_s) < _LATE_S:
            return None  # it went as it was told to
        case fa.InBath(bath, _, celsius, planned_s):
            return f"in {bath} for {planned_s:.0f} s, at {celsius:g} °C"
        case _:
            return _beside_the_steps(record.fact)


def _step(plan: Plan, n: int) -> Step:
    return plan.steps[n - 1]


def _beside_the_steps(fact: fa.Fact) -> str | None:
    match fact:
        case fa.FaultCame(why):
            return f"FAULT: {fault_in_short(why)}; everything dark"
        case fa.PedalUnplugged(pedal, how):
            return f"pedal {pedal} {how}"
        case fa.PedalPluggedIn(pedal):
            return f"pedal {pedal} is plugged in again"
        case fa.PedalWorn(pedal):
            return worn_words(pedal)
        case fa.LampStaysOn(lamp, on):
            return f"lamp {lamp} {'on behind its shutter' if on else 'off'}"
        case fa.LightShown(lit):
            return "viewing light on" if lit else "viewing light off"
        case fa.TemperatureRead(bath, celsius):
            return f"{bath} has {celsius:g} °C"
        case fa.BathMixed(bath=bath, batch=batch):
            return f"{bath}: batch {batch}"
        case fa.SheetOut() | fa.SheetDone() | fa.Abandoned() | fa.TakenUp() | fa.GivenUp() | fa.FaultCleared():
            return fact.word
        case _:
            return of_a_sheet(fact)


def account_words(fact: fa.Fact) -> str | None:
    """What happened beside the light, in a sheet's own account; None for what its table says already, or another part
    of it."""
    match fact:
        case fa.PressRefused(pedal, why):
            return f"{'' if pedal is None else f'{pedal} '}not taken: {refusal_words(why)}"
        case fa.StepEnded("printer"):
            return "ended here, the rest not owed"
        case fa.StepEnded("skipped"):
            return "skipped"
        case fa.FaultCame(why):
            return f"FAULT: {fault_in_short(why)}; everything dark"
        case fa.StepGoneTo():
            return "gone to, out of the plan's order"
        case fa.SetAside(why):
            return f"set aside: {why}"
        case (
            fa.FaultCleared() | fa.Abandoned() | fa.TakenUp() | fa.GivenUp() | fa.StepOwedAgain() | fa.SheetDone()
        ):  # fmt: skip
            return fact.word
        case _:
            return of_a_sheet(fact)


def exported_words(fact: fa.Fact) -> str:
    """Its reason, or what it says, where what kind it is stands beside it already."""
    match fact:
        case fa.PressRefused(_, reason):
            return refusal_words(reason)
        case fa.FaultCame(fault):
            return fault_in_short(fault)
        case fa.SetAside(words) | fa.StepEnded(words):
            return words
        case fa.InStopBath() | fa.InTheFixer() | fa.SafeInWhiteLight():
            return ""
        case _:
            return of_a_sheet(fact) or ""


def of_a_sheet(fact: fa.Fact) -> str | None:
    """What a fact of the trays, the fixer or the safelight says that belongs to a sheet's own account.

    >>> of_a_sheet(fa.OutOfBath("fixer-1", 3, 20.0, 60.0, 95.0, 35.0, "press"))
    'fixer-1, batch 3, 20 °C: 95.0 s of 60.0, 35.0 s late'
    """
    match fact:
        case fa.SentToTrays(boxed):
            return "into its box, until all are developed together" if boxed else "to the trays"
        case fa.OutOfTheBox():
            return "out of its box"
        case fa.OutOfBath():
            return _out_of_bath(fact)
        case fa.BathTime(planned_s, celsius, emerged_s):
            shown = f", the image showed after {emerged_s:.1f} s" if emerged_s is not None else ""
            return f"{planned_s:.0f} s in all, at {celsius:g} °C{shown}"
        case fa.OutOfTheBaths(by):
            return "out of the baths" + (" by command" if by == "command" else "")
        case fa.SafelightSum():
            return _under_safelight(fact)
        case fa.InStopBath():
            return "in the stop bath"
        case fa.InTheFixer():
            return fact.word
        case fa.SafeInWhiteLight():
            return "fixed for long enough: white light does not spoil it"
        case _:
            return None


def _out_of_bath(fact: fa.OutOfBath) -> str:
    batch = f", batch {fact.batch}" if fact.batch else ""
    late = fact.late_s
    how = "" if abs(late) < _LATE_S else f", {abs(late):.1f} s {'late' if late > 0 else 'early'}"
    about = "about " if fact.approximate else ""
    times = f"{about}{fact.actual_s:.1f} s of {fact.planned_s:.1f}{how}"
    return f"{fact.bath}{batch}, {fact.celsius:g} °C: {times}"


def _under_safelight(fact: fa.SafelightSum) -> str:
    about = "at most " if fact.at_most else ""
    about += "about " if fact.approximate else ""
    seen = f"{about}{fact.seconds:.0f} s under the safelight"
    if fact.allowed_s is None:
        return f"{seen}; this paper's safe time was not tested"
    stands = {"none": ", flashed beyond: no margin left", "over": ", more than it may"}.get(fact.margin or "", "")
    return f"{seen}, of {fact.allowed_s:.0f} s{stands}"
