"""What a sheet was given, as a plan: each light with the dose it gave, its cards as far as it went, skipped steps not.

A step that was run to its planned dose is the plan's own, to the last bit. One that was ended early, overran or had no
planned dose has the dose it gave; its stops are counted anew, over the bases as they were given. Doses stay lamp doses,
so that dry-down, a lamp's lag and reciprocity, which made them, are not applied to them again.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import NamedTuple

from timerd.printing.stops import format_stops
from timerd.sheet.plan.summing import cautions, lamp_seconds, totals
from timerd.sheet.plan.value import LIGHTS, Cue, Plan, Step
from timerd.sheet.progress import SheetProgress, StepProgress

RUN_BY_PLAN = 1 / 1000
"""So near to its planned dose, in stops, a step that ended by its dose was run by its plan."""
TWELFTH_WITHIN = 1 / 400
"""So near to a twelfth, in stops, what was given counts as it."""
_NOTHING = 1e-9


class Gave(NamedTuple):
    """One step of a sheet, as it was planned and as it was given. A prompt is as it was planned.

    `by_plan`: it was run to its planned dose. `lo` is the least that may have been given where that is not known, as
    after a power cut: then the step has the most.
    """

    planned: Step
    step: Step
    by_plan: bool = True
    lo: float | None = None


def as_given(plan: Plan, sheet: SheetProgress) -> Plan:
    """The plan that a sheet's doses come to; that of an unfinished sheet has what it got so far."""
    found = gave(plan, sheet)
    if all(one.step is one.planned for one in found) and len(found) == len(plan.steps):
        return plan
    steps = tuple(one.step.model_copy(update={"n": n}) for n, one in enumerate(found, 1))
    return plan.model_copy(
        update={
            "steps": steps, "cautions": cautions(steps, plan.sheet),
            "totals": totals(steps, plan.reciprocity, plan.sheet), "lamp_seconds": lamp_seconds(steps),
        }
    )  # fmt: skip


def gave(plan: Plan, sheet: SheetProgress) -> list[Gave]:
    """Each step of a sheet that gave light, with the prompts between; steps keep the numbers that they had."""
    kept = [step for step in plan.steps if step.kind not in LIGHTS or _given(sheet.steps[step.n]) > _NOTHING]
    numbers = {step.n for step in kept}
    found = []
    for step in kept:
        progress = sheet.steps[step.n]
        if step.kind not in LIGHTS:
            found.append(Gave(step, step))
            continue
        by_plan = run_by_plan(step, progress)
        made = step if by_plan else _with_dose(step, _given(progress))
        if made.then_next and step.n + 1 not in numbers:
            made = made.model_copy(update={"then_next": False})
        found.append(Gave(step, made, by_plan, None if progress.exact else progress.given_lo))
    return _counted_anew(plan, found)


def run_by_plan(step: Step, progress: StepProgress) -> bool:
    """Whether a step ended by its planned dose, and within 1/1000 stop of it."""
    if step.dose is None or progress.ended_by != "dose" or progress.most <= 0:
        return False
    return abs(math.log2(progress.most / step.dose)) <= RUN_BY_PLAN


def near_stops(stops: float) -> Fraction:
    """Stops as a twelfth where one is within 1/400 stop, else to three decimals.

    >>> near_stops(0.3355), near_stops(1.354)
    (Fraction(1, 3), Fraction(677, 500))
    """
    part = Fraction(round(stops * 12), 12)
    return part if abs(stops - part) <= TWELFTH_WITHIN else Fraction(round(stops * 1000), 1000)


def counted_over(plan: Plan, burn: Step) -> tuple[Step, ...]:
    """The bases that a burn's stops are counted over; none where that cannot be told from the plan.

    All of its light where it had no `over`, or where no stops were planned; else the one whose dose fits.
    """
    bases = [step for step in plan.steps if step.kind == "base" and step.light == burn.light]
    if burn.dose is None or burn.stops is None:
        return tuple(bases)
    over = paper_dose(burn) / math.expm1(burn.stops / plan.reciprocity * math.log(2))
    known = [step for step in bases if step.dose is not None]
    for choice in ([bases] if len(known) == len(bases) else []) + [[base] for base in known]:
        if choice and math.isclose(sum(paper_dose(base) for base in choice), over, rel_tol=1e-6):
            return tuple(choice)
    return ()


def paper_dose(step: Step) -> float:
    """A step's dose as the paper counts it beside those of others: as at the print's aperture, without a density."""
    return (step.dose or 0.0) / step.scale


# -- how a step becomes what it gave -----------------------------------------------------------------------------


def _given(progress: StepProgress) -> float:
    return progress.most if progress.light else 0.0


def _with_dose(step: Step, dose: float) -> Step:
    """A step with another dose: its bursts and cards as far as it went; a free one is held to its dose."""
    parts = tuple(part for part in step.parts[:-1] if part < dose * (1 - 1e-9))
    cues = tuple(
        cue.model_copy(update={"stop": min(cue.stop, dose)}) for cue in step.dodges if cue.start < dose * (1 - 1e-9)
    )
    threshold = step.threshold * dose / step.dose if step.threshold is not None and step.dose else step.threshold
    return step.model_copy(
        update={
            "dose": dose, "seconds": step.response.seconds(dose), "parts": (*parts, dose), "dodges": cues,
            "pedal": "hold" if step.pedal == "free" else step.pedal, "dry_down": None, "threshold": threshold,
        }
    )  # fmt: skip


def _counted_anew(plan: Plan, found: list[Gave]) -> list[Gave]:
    """Stops of burns and of cards over what the bases gave, wherever any of it is not as planned."""
    bases = {one.planned.n: one for one in found if one.step.kind == "base"}
    made = []
    for one in found:
        step = one.step
        over = _over(plan, one, bases) if step.kind == "burn" else None
        if step.kind == "burn" and not (one.by_plan and over is None):
            stops = None if over is None or over <= 0 else _over_base(paper_dose(step), over, plan.reciprocity)
            step = step.model_copy(update={"stops": stops, "stops_written": None})
        if step.dodges and step is not one.planned:
            step = step.model_copy(update={"dodges": _cards(step, over, plan.reciprocity)})
        made.append(one._replace(step=step))
    return made


def _over(plan: Plan, burn: Gave, bases: dict[int, Gave]) -> float | None:
    """The base dose that a burn was given over; None where all of it is as planned, and 0 where there is none."""
    planned = counted_over(plan, burn.planned)
    counts = planned or (plan.steps if burn.planned.stops is not None else ())
    as_planned = all(base.n in bases and bases[base.n].by_plan for base in counts if base.kind == "base")
    if burn.by_plan and as_planned:
        return None
    return sum(paper_dose(bases[base.n].step) for base in planned if base.n in bases)


def _over_base(dose: float, over: float, reciprocity: float) -> float:
    return math.log2(1 + dose / over) * reciprocity


def _cards(step: Step, over: float | None, reciprocity: float) -> tuple[Cue, ...]:
    """Each card's stops from the doses: how much less of the step, or how much of the burn all the same."""
    return tuple(_card(step, cue, over, reciprocity) for cue in step.dodges)


def _card(step: Step, cue: Cue, over: float | None, reciprocity: float) -> Cue:
    dose = step.dose or 0.0
    left = max(0.0, dose - cue.seconds)
    if not cue.leave:
        if left <= dose * _NOTHING:  # the card was in all the while
            return cue.model_copy(update={"stops": None, "stops_written": None})
        stops = -math.log2(left / dose) * reciprocity
    elif over:
        stops = _over_base(left * paper_dose(step) / dose, over, reciprocity)
    else:
        return cue
    return cue.model_copy(update={"stops": stops, "stops_written": format_stops(near_stops(stops))})
