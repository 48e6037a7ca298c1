"""Which step gives how much green and blue exposure, to which area, as planned or as a sheet was given it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from timerd.printing.flash import SEEN
from timerd.printing.paper import Curve
from timerd.sheet.map import area_at_hand
from timerd.sheet.places import negatives
from timerd.sheet.plan.value import LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.progress import SheetProgress
from timerd.sheet.words import step_words

Spot = tuple[str, float | None]
"""An area by its name and, for a strip along the edge, its width in mm."""


@dataclass(frozen=True, slots=True)
class Easel:
    """What a second of each light gives on the easel without a negative, in the paper's unit; the flash's own two where
    they are known, green and blue."""

    green: float = 1.0
    blue: float = 1.0
    flash: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class HeldCard:
    """A card over an area, from one dose of the step to another."""

    area: Spot
    start: float
    stop: float


@dataclass(frozen=True, slots=True)
class StepLit:
    """One step's light: its dose, what each second of it gives in green and blue, and the cards held in it."""

    kind: Literal["base", "burn", "flash"]
    area: Spot
    dose: float
    green: float
    blue: float
    held: tuple[HeldCard, ...] = ()


def lit(
    plan: Plan, bench: Bench, paper: Paper, curve: Curve, easel: Easel, sheet: SheetProgress | None = None
) -> tuple[tuple[StepLit, ...], tuple[str, ...]]:  # fmt: skip
    """What each step gives, in order, and what had to be assumed; with `sheet`, what that one was given.

    Work is done from doses: what a card held back is what fell between the doses at which it went in and out.
    ValueError for a light of which the curve does not know what it gives, or where there is no base.
    """
    if len(negatives(plan.steps)) > 1:
        raise ValueError(
            f"'{plan.print}' is printed from more negatives than one: there is no proof of such a print yet"
        )
    found: list[StepLit] = []
    said: dict[str, None] = {}
    for step in plan.steps:
        if step.kind not in LIGHTS or step.light is None:
            continue
        dose = _dose(step, sheet, said)
        if dose <= 0.0:
            continue
        # Through a density or another aperture it takes `scale` seconds for what one does without.
        green, blue = (rate / step.scale for rate in _rates(step, step.light, bench, paper, curve, easel, said))
        held = tuple(
            HeldCard((cue.area, cue.mm), cue.start, min(cue.stop, dose)) for cue in step.dodges if cue.start < dose
        )
        assert step.kind in ("base", "burn", "flash")
        found.append(StepLit(step.kind, area_at_hand(step), dose, green, blue, held))
    if sheet is not None and any(one.held for one in found):
        said["cards are shown as they were planned: the book knows the light, not the hands"] = None
    bases = [step for step in plan.steps if step.kind == "base"]
    outlined = {area.name for area in plan.sheet.areas} if plan.sheet is not None else set()
    if len(bases) > 1 and all(step.area in outlined for step in bases):
        raise ValueError(f"'{plan.print}' is a test strip: its patches are what there is to look at")
    if not any(one.kind == "base" for one in found):
        raise ValueError(f"'{plan.print}' has no base with a dose: there is no print to show")
    return tuple(found), tuple(said)


def _dose(step: Step, sheet: SheetProgress | None, said: dict[str, None]) -> float:
    if sheet is None:
        if step.dose is None:
            said[f"{step_words(step)}: has no planned dose, and is left out"] = None
        return step.dose or 0.0
    given = sheet.steps[step.n]
    if not given.exact:
        said[f"{step_words(step)}: {given.given_lo:.1f} to {given.most:.1f} s were given; shown is the most"] = None
    return given.most


def _rates(
    step: Step, light: str, bench: Bench, paper: Paper, curve: Curve, easel: Easel, said: dict[str, None]
) -> tuple[float, float]:  # fmt: skip
    """What a second of a step's light gives, in green and in blue."""
    known = bench.lights.get(light)
    colour = known.colour if known is not None else light
    own: Mapping[str, tuple[float, float]] = {"green": (easel.green, 0.0), "blue": (0.0, easel.blue)}
    if step.kind != "flash":
        if colour not in own:
            raise ValueError(
                f"{step_words(step)}: light '{light}' is {colour}, and the paper's curve knows green and blue alone"
            )
        return own[colour]
    if easel.flash is not None:
        return easel.flash
    threshold = paper.threshold.get(light)
    if threshold is None:
        if colour in own:
            return own[colour]
        raise ValueError(
            f"{step_words(step)}: paper '{paper.paper}' has no threshold in light '{light}': "
            "say what a second of it gives, --flash-green X --flash-blue X"
        )
    unit = (0.0, 1.0) if colour == "blue" else (1.0, 0.0)
    rate = curve.multiple(curve.dmin + SEEN, *unit) / threshold
    said["the flash's threshold is taken as an eye's first tone, 0.02 over white (from memory)"] = None
    if colour not in own:
        said[f"the flash '{light}' is taken as green light (common practice, no source)"] = None
    return rate * unit[0], rate * unit[1]
