"""What is spoken: of the present state, of what has just happened, and which words a plan will need.

The words are those of `timerd.sheet.words`, put so that a voice reads them right. A word that only the evening can know
(what is owed, why a press was refused) is worked out from the status when it is needed.
"""

from __future__ import annotations

import math
import re

from timerd.panel.burst import owed_seconds
from timerd.sheet.plan.value import LIGHTS, PROMPTS, Cue, Plan, Step
from timerd.sheet.progress import NEAR_ENOUGH
from timerd.sheet.refusal import NoPrint
from timerd.sheet.status import Offered, Status
from timerd.sheet.telling import (
    fault_words,
    mind_words,
    reason_words,
    refusal_words,
    unplugged_words,
    warming_words,
    white_light_words,
    worn_words,
)
from timerd.sheet.words import (
    area_words,
    cue_speech,
    spoken_number,
    spoken_seconds,
    spoken_span,
    step_speech,
    step_words,
)

LONGEST = 1000
"""Letters that are spoken at the most: a card, a note and two dodges with theirs."""
TEN_LEFT = "ten seconds left"
LAMP_WARM = "the lamp is warm"
NO_DAEMON = "the daemon does not answer"
_KEEP_HOLDING = {"fault": "keep holding to clear the fault", "idle": "keep holding to give the sheet up"}
_ABANDON = "keep holding to abandon the sheet"
_END_HERE = "hold end to end the step here"

_ALOUD = (
    (re.compile(r"\bf/(?=\d)"), "f "),
    (re.compile(r"(\d) mm\b"), r"\1 millimetres"),
    (re.compile(r"(\d) s\b"), r"\1 seconds"),
    (re.compile(r"(?<=\d)-(?=\d)"), ", "),
    (re.compile(r"[\[\]<>\x00-\x20\x7f-\x9f]+"), " "),  # brackets would be read as orders by the voice
)


def aloud(text: str) -> str:
    """A text as it is given to the voice: on one line, `f/8` as `f 8`, `15 mm` as `15 millimetres`.

    >>> aloud("lens at f/8, negative 24-117-08, left 30 mm\\n[[x]]")
    'lens at f 8, negative 24, 117, 08, left 30 millimetres x'
    """
    for pattern, instead in _ALOUD:
        text = pattern.sub(instead, text)
    return text.strip()[:LONGEST]


def number_words(n: int) -> str | None:
    """A counted number: in words below a hundred; from there on whole minutes alone, since more would not fit.

    >>> number_words(5), number_words(90), number_words(110), number_words(120)
    ('five', 'ninety', None, 'two minutes')
    """
    if n < 100:
        return spoken_number(n)
    minutes, seconds = divmod(n, 60)
    return None if seconds else f"{spoken_number(minutes)} minutes"


def move_words(area: str, mm: float | None, way: str) -> str:
    """The announcement of a hand's move: `breakwater out`."""
    return aloud(f"{area_words(area, mm)} {way}")


# -- the present state -----------------------------------------------------------------------------------------------


def present_words(status: Status, plan: Plan | None) -> str:
    """How the bench stands, as it is spoken; the plan is the one that the status names, if it is known."""
    step = step_at_hand(status, plan)
    match status.state:
        case "idle":
            words = _idle(status, plan)
        case "prompt":
            words = _prompt(status, step)
        case "ready" | "paused" if status.shown is not None:
            words = "paper-safe light on"
        case "ready" | "paused" if status.shows is not None:
            words = f"go shows the {status.shows}"
        case "ready":
            words = _ready(status, step)
        case "lead-in":
            words = f"{_short(step)}, the light is about to come on"
        case "exposing":
            words = _exposing(status, step)
        case "paused":
            words = _paused(status, step)
        case "done":
            words = _done(status, plan)
        case "abandoned":
            words = f"sheet {status.sheet} is abandoned. hold go for the next sheet, end to take it up again"
        case _:
            words = _fault(status)
    return aloud(words)


def step_at_hand(status: Status, plan: Plan | None) -> Step | None:
    """The step of a status in its plan."""
    n = status.step
    return plan.steps[n - 1] if plan is not None and n is not None and 0 < n <= len(plan.steps) else None


def _prompt(status: Status, step: Step | None) -> str:
    """What is asked for; the start prompt has the sheet's number. What the plan did not foresee stands by itself."""
    asks = status.asks or ()
    if step is None:
        return ", ".join(asks) or "waiting for you"
    if asks and tuple(asks) != step.asks:
        return ", ".join([*asks, f"for {_short(step)}"])
    return (f"sheet {status.sheet}, " if step.kind == "wait" else "") + step_speech(step)


def _idle(status: Status, plan: Plan | None) -> str:
    white = "" if status.white_safe else f". white light {white_light_words(status.white_light_spoils)}"
    if status.burst is not None:
        return "viewing light on"
    if status.shows is not None:
        return f"go shows the {status.shows}"
    for told in status.goes_to:
        to_trays = told.where == "trays"
        white += f". press go {'to send' if to_trays else 'when'} sheet {told.sheet} "
        white += "to the trays" if to_trays else "is in the fixer"
    if (offer := status.unfinished) is not None:
        return f"{_offer(offer, plan)}. hold go to take it up, both pedals to give it up{white}"
    if status.print is None:
        return f"{refusal_words(NoPrint())}{white}"
    warming = warming_words(status.warming, status.now)
    return f"{status.print}, {_sheets(status.sheets_left)} to do{white}{warming and f'. {warming}'}"


def _offer(offer: Offered, plan: Plan | None) -> str:
    words = f"sheet {offer.sheet} is {'unfinished' if offer.aside is None else 'set aside'}"
    if (n := offer.step) is None:
        return words
    step = plan.steps[n - 1] if plan is not None and n <= len(plan.steps) else None
    words += f": step {n}" + ("" if step is None else f", {_short(step)}")
    if offer.given is None or (step is not None and step.kind not in LIGHTS):
        return words
    return f"{words}, {_given_and_owed(offer, step)}"


def _given_and_owed(doses: Status | Offered, step: Step | None) -> str:
    given = doses.given or 0.0
    words = f"given {spoken_span(given if doses.given_lo is None else doses.given_lo, given)}"
    owed = _owed(doses, step)
    return words if owed is None else f"{words}, {spoken_seconds(owed)} owed"


def _owed(doses: Status | Offered, step: Step | None) -> float | None:
    """What is owed, in seconds that the light burns for it: as the screen has it."""
    return doses.owed if step is None or doses.owed is None else owed_seconds(step, doses.given or 0.0)


def _ready(status: Status, step: Step | None) -> str:
    if step is None:
        return "ready"
    part = _part_at_hand(step, status.given or 0.0)
    return step_speech(step) if part is None else part


def _part_at_hand(step: Step, given: float) -> str | None:
    """What a later burst of a step is for: the dodge that is done apart. None before the first."""
    slack = (step.dose or 0.0) * NEAR_ENOUGH
    if given <= slack:
        return None
    end = next((part for part in step.parts if part - given > slack), None)
    if end is None:
        return None
    words = [_short(step)]
    for cue in step.dodges:
        if cue.start - given < slack < cue.stop - given:
            words += [cue_speech(cue), *_carded(cue)]
    words.insert(1, spoken_seconds(step.response.seconds(end - given)))
    return ", ".join(words)


def _carded(cue: Cue) -> list[str]:
    return [text for text in (cue.card, cue.note) if text is not None]


def _short(step: Step | None) -> str:
    """A step without its stops: what is done, and where."""
    if step is None:
        return "the step"
    return f"{step.kind} {area_words(step.area, step.mm)}" if step.kind in LIGHTS else step_words(step)


def _exposing(status: Status, step: Step | None) -> str:
    burst = status.burst
    if burst is None or burst.deadline is None or step is None or step.dose is None:
        return f"{_short(step)}, the light is on"
    return f"{_short(step)}, {spoken_seconds(max(0.0, burst.deadline - status.now))} left"


def _paused(status: Status, step: Step | None) -> str:
    """Why it is dark, where that was not a foot, and what is owed. Why a press was not taken was told by itself."""
    reason = None if status.refused is not None and status.reason == status.refused.why else status.reason
    words = "paused" if reason is None else f"paused, {reason_words(reason, status.unplugged)}"
    if status.given is None:
        return words
    lo = status.given if status.given_lo is None else status.given_lo
    exact = math.isclose(status.given, lo, rel_tol=1e-9, abs_tol=1e-9)
    if exact and (owed := _owed(status, step)) is not None:
        return f"{words}, {spoken_seconds(owed)} owed"
    return f"{words}, {_given_and_owed(status, step)}"


def _done(status: Status, plan: Plan | None) -> str:
    words = f"sheet {status.sheet} is done"
    if plan is not None and plan.steps and plan.steps[-1].kind == "develop":
        words += f", {step_words(plan.steps[-1])}"
    if (to := goes_to(status)) is not None:
        words += ". press go to send it to the trays" if to == "trays" else ". press go when it is in the fixer"
    return words + (f". {_sheets(status.sheets_left)} left" if status.sheets_left else "")


def goes_to(status: Status) -> str | None:
    """Where a press of `go` at done says that the sheet at hand is: `trays` or `fixer`; None where it is there."""
    return next((told.where for told in status.goes_to if told.sheet == status.sheet), None)


def _sheets(count: int) -> str:
    return "no sheet" if not count else f"{spoken_number(count)} sheet{'' if count == 1 else 's'}"


def _fault(status: Status) -> str:
    fault = fault_words(status.fault)
    return f"fault. {fault.what}. {' '.join(fault.do)}"


# -- what has just happened ------------------------------------------------------------------------------------------


def change_words(before: Status | None, after: Status, plan: Plan | None) -> str | None:
    """What is to be said now, after what was told before; None when there is nothing new to say.

    Of a first status the present state is spoken, unless a light burns or is about to. One thing is said at a time:
    a refusal's reason before the state that it leads back to. What there is to mind about the book is said once, in
    idle, after the rest.
    """
    words = _change_words(before, after, plan)
    known = () if before is None else before.mind
    minds = [mind_words(mind) for mind in after.mind if mind not in known] if after.state == "idle" else []
    return aloud(". ".join([*([] if words is None else [words]), *minds])) if minds else words


def _change_words(before: Status | None, after: Status, plan: Plan | None) -> str | None:
    lighting = after.state in ("lead-in", "exposing")
    if before is None:
        return None if lighting else present_words(after, plan)
    words = _change(before, after, plan, lighting)
    if _said_anew(before, after) == "worn" and after.worn is not None:  # beside what came of the tap
        return aloud(". ".join(text for text in (worn_words(after.worn), words) if text))
    return words


def _change(before: Status, after: Status, plan: Plan | None, lighting: bool) -> str | None:
    if (refused := after.refused) is not None and (before.refused is None or before.refused.number != refused.number):
        return aloud(refusal_words(refused.why))
    if after.since.number != before.since.number and not lighting:
        return _entered(before, after, plan)
    if (told := _plugs(before, after)) is not None:
        return aloud(told)
    if (said := _said_anew(before, after)) not in (None, "worn"):
        return aloud(_said(said, after, plan))
    if after.state == before.state == "idle":
        if after.burst is not None and before.burst is None:
            return present_words(after, plan)
        if (after.plan, after.sheets_left) != (before.plan, before.sheets_left):
            return present_words(after, plan)
    return None


def _plugs(before: Status, after: Status) -> str | None:
    """The pedals that were unplugged since, or one that was plugged in again."""
    was, now = before.unplugged, after.unplugged
    if told := unplugged_words({pedal: why for pedal, why in now.items() if was.get(pedal) != why}):
        return "; ".join(told)
    return next((f"pedal {pedal} is plugged in again" for pedal in was if pedal not in now), None)


def _said_anew(before: Status, after: Status) -> str | None:
    """What is to be said that was not before."""
    was, now = before.said, after.said
    return now.what if now is not None and (was is None or now.number != was.number) else None


def _entered(before: Status, after: Status, plan: Plan | None) -> str | None:
    if after.state == before.state == "idle":
        return present_words(after, plan) if (after.burst is None) != (before.burst is None) else None
    same = (after.sheet, after.step, after.given) == (before.sheet, before.step, before.given)
    if after.state == "ready" and before.state == "lead-in" and same:
        return (
            "called off"
            if after.reason is None
            else aloud(f"called off, {reason_words(after.reason, after.unplugged)}")
        )
    words = present_words(after, plan)
    return f"in the box. {words}" if _said_anew(before, after) == "set aside" else words


def _said(what: str | None, status: Status, plan: Plan | None) -> str:
    match what:
        case "both held":
            return _KEEP_HOLDING.get(status.state, _ABANDON)
        case "ten seconds left":
            return TEN_LEFT
        case "owed" if status.state == "paused":
            return f"{present_words(status, plan)}. {_END_HERE}"
        case "lamp warm":
            return LAMP_WARM
        case "in the fixer":
            return "in the fixer. white light is not safe yet"
        case "to the trays":
            return "to the trays"
        case "given":
            return _sheet_given(status, plan)
        case _:
            return present_words(status, plan)


def _sheet_given(status: Status, plan: Plan | None) -> str:
    """What was given to the sheet that was left: of the step it was left at, after the steps that were complete."""
    if (offer := status.unfinished) is not None:
        return _offer(offer, plan)
    step = step_at_hand(status, plan)
    if step is None or status.given is None:
        return present_words(status, plan)
    if step.kind in PROMPTS:
        return f"sheet {status.sheet}: step {step.n}, {_short(step)}"
    return f"sheet {status.sheet}: step {step.n}, {_short(step)}, {_given_and_owed(status, step)}"


# -- which words will be needed --------------------------------------------------------------------------------------


NUMBER_FITS_S = 0.7
"""A spoken number must be over before the next beat."""
MINUTES_FIT_S = 1.6
"""Whole minutes may take the place of two beats."""
MOVE_FITS_S = 0.9
"""So must each of the moves that are announced together."""


def words_needed(plan: Plan) -> dict[str, float | None]:
    """Words that a plan is sure to need, or may, in the order in which they will be: to be rendered before the light.
    Each has the seconds in which it must fit, or None.

    What only the evening can tell is not among them; the moves announced together are `beats.announcements`.
    """
    needed: dict[str, float | None] = {}
    longest = 5.0
    for step in plan.steps:
        if step.kind not in LIGHTS:
            continue
        needed[aloud(step_speech(step))] = None
        for cue in step.dodges:
            needed |= {move_words(cue.area, cue.mm, way): MOVE_FITS_S for way in ("in", "out")}
        parts = (_part_at_hand(step, end) for end in step.parts[:-1])
        needed |= {aloud(part): None for part in parts if part is not None}
        longest = max(longest, step.longest_s if step.seconds is None else step.seconds)
    needed |= {"in": NUMBER_FITS_S, "out": NUMBER_FITS_S}
    for n in range(1, min(1800, math.ceil(longest) + 5) + 1):
        if (words := number_words(n)) is not None:
            needed[words] = NUMBER_FITS_S if n < 100 else MINUTES_FIT_S
    needed |= dict.fromkeys([TEN_LEFT, _ABANDON, "called off"])
    needed |= {aloud(step_speech(step)): None for step in plan.steps if step.kind in PROMPTS}
    return needed | dict.fromkeys([*_KEEP_HOLDING.values(), NO_DAEMON, "viewing light on", LAMP_WARM])
