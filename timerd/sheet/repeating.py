"""A sheet to be given again, dose for dose: its plan with what it was given in it, fit for the bench as it is now."""

from __future__ import annotations

from timerd.sheet.given import as_given, gave
from timerd.sheet.plan.boxes import from_box
from timerd.sheet.plan.summing import burst_seconds, lamp_seconds
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import printable
from timerd.sheet.progress import SheetProgress
from timerd.sheet.words import step_words


def repeated(plan: Plan, sheet: SheetProgress, bench: Bench) -> Plan:
    """The plan that gives a sheet's doses once more, each to the last bit; ValueError in one line where none can.

    What was run by its plan has the plan's doses. A step ended early, or free, has the dose that it gave, and is held
    to it; pauses are not repeated, a skipped step is left out, prompts stay. Nothing is taken off for dry-down and
    nothing added for reciprocity a second time: doses are light, as it was given. Seconds are those of the bench's
    lamps as they are now, with a lag that was measured meanwhile. Which box the paper is from now nobody says.

    Refused: a sheet that was not finished; one of which a dose is only known to lie between two; another bench, or one
    whose lights have changed place.
    """
    n = sheet.sheet
    if sheet.outcome != "complete":
        raise ValueError(
            f"sheet {n} was not finished ({sheet.outcome}, at step {sheet.at_hand}): only a whole sheet is repeated; "
            "load its print instead"
        )
    for one in gave(plan, sheet):
        if one.lo is not None:
            raise ValueError(
                f"sheet {n}, step {one.planned.n} ({_words(one.planned)}): {one.lo:.1f} to {one.step.dose:.1f} s were "
                "given, nobody knows more: it cannot be given again exactly; load its print instead"
            )
    if plan.bench != bench.bench:
        raise ValueError(f"sheet {n} was made on the bench '{printable(plan.bench)}'; served is '{bench.bench}'")
    given = from_box(as_given(plan, sheet), None).model_copy(update={"box": None, "batch": None})
    if not any(step.kind in LIGHTS for step in given.steps):
        raise ValueError(f"sheet {n} was given no light: there is nothing to repeat")
    steps = tuple(_on(step, bench, n) if step.kind in LIGHTS else step for step in given.steps)
    if steps == given.steps:
        return given
    return given.model_copy(update={"steps": steps, "lamp_seconds": lamp_seconds(steps)})


def _on(step: Step, bench: Bench, sheet: int) -> Step:
    """A step's doses from the lamp as it is on the bench now; a free burn longer than it may burn in several bursts."""
    light = bench.lights.get(step.light or "")
    if light is None:
        raise ValueError(f"sheet {sheet}: bench '{bench.bench}' has no light '{printable(str(step.light))}' any more")
    lamp = bench.lamps[light.lamp]
    if (light.lamp, lamp.station) != (step.lamp, step.station):
        raise ValueError(
            f"sheet {sheet}: the light '{step.light}' was lamp '{printable(str(step.lamp))}' at the "
            f"{printable(str(step.station))}; it is '{light.lamp}' at the {lamp.station} now"
        )
    dose = step.dose or 0.0
    now = step.model_copy(
        update={
            "response": lamp.response, "longest_s": float(lamp.longest_s), "seconds": lamp.response.seconds(dose),
        }
    )  # fmt: skip
    if _fits(now):
        return now
    if len(step.parts) == 1:
        for bursts in range(2, 100):
            parts = (*(dose * k / bursts for k in range(1, bursts)), dose)
            if _fits(split := now.model_copy(update={"parts": parts})):
                return split
    longest = max(burst_seconds(now))
    raise ValueError(
        f"sheet {sheet}, step {step.n} ({_words(step)}): a burst of {longest:.1f} s, lamp '{light.lamp}' may burn "
        f"{lamp.longest_s:g} s at once"
    )


def _fits(step: Step) -> bool:
    return max(burst_seconds(step)) <= step.longest_s * (1 + 1e-9)


def _words(step: Step) -> str:
    return printable(step_words(step))
