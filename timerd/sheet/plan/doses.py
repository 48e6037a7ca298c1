"""How much light each step gives: bases, then what is counted over them. Doses are seconds of full light."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from timerd.printing.stops import burn_dose, dodge_dose, format_stops, left_dose
from timerd.sheet.plan.dodging import Complain, Held
from timerd.sheet.plan.names import Names, position
from timerd.sheet.profile.benchfile import Bench, Lamp
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, BurnStep, Dodge, FlashStep, Leave, LightStep, Print


@dataclass(frozen=True, slots=True)
class Given:
    """A step's light. `over` is the base dose that a burn counts from; no dose is planned for `free`."""

    dose: float | None = None
    dry_down: float | None = None
    stops: float | None = None
    stops_written: str | None = None
    threshold: float | None = None
    over: float | None = None


@dataclass(frozen=True, slots=True)
class _Base:
    name: str
    light: str
    dose: float | None
    free: bool


class Doses:
    """The doses of a print's steps on a bench and a paper; what cannot be worked out goes to `complain`."""

    def __init__(self, print_: Print, bench: Bench, paper: Paper, complain: Complain) -> None:
        self._bench = bench
        self._paper = paper
        self._complain = complain
        self._dry_down = paper.dry_down if print_.judged == "wet" else 0.0
        self._given: dict[int, Given | None] = {}
        self._bases: list[_Base] = []
        names = Names()
        for i, step in enumerate(print_.steps):
            if isinstance(step, BaseStep):
                given = self._given[i] = self._of(i, step)
                name = names.of(f"base/{step.base}/{step.light}")
                dose = given.dose if given is not None else None
                self._bases.append(_Base(name, step.light, dose, step.pedal == "free"))
        for i, step in enumerate(print_.steps):
            if isinstance(step, BurnStep | FlashStep):
                self._given[i] = self._of(i, step)

    def of(self, i: int) -> Given | None:
        """What the step at this place in the file gives; None where a fault was found."""
        return self._given[i]

    def held(self, i: int, step: BaseStep | BurnStep, given: Given) -> list[Held]:
        """The areas that this step holds back, in the order of the file, those left in a burn first."""
        held: list[Held] = []
        for j, leave in enumerate(step.leave if isinstance(step, BurnStep) else ()):
            self._hold(held, ("steps", i, "leave", j), leave, self._left(step, leave, given))
        for j, dodge in enumerate(step.dodge):
            if given.dose is not None:
                dose = dodge_dose(given.dose, dodge.stops, self._paper.reciprocity)
                self._hold(held, ("steps", i, "dodge", j), dodge, dose)
        return held

    def _hold(self, held: list[Held], place: Place, item: Dodge | Leave, dose: float | None) -> None:
        if dose is None or dose <= 0:
            if dose is not None:
                self._complain((*place, "stops"), "is as much as the burn gives or more: nothing is held back")
            return
        dodge = item if isinstance(item, Dodge) else None
        held.append(
            Held(
                place=place, area=item.area, mm=item.mm, dose=dose, stops=float(item.stops),
                stops_written=format_stops(item.stops), start=item.start, card=item.card, leave=dodge is None,
                apart=dodge is not None and dodge.apart, note=dodge.note if dodge is not None else None,
            )
        )  # fmt: skip

    def _left(self, step: BaseStep | BurnStep, leave: Leave, given: Given) -> float | None:
        """What an area is not to get of a burn; None where the fault has been told."""
        if given.dose is None or given.over is None:
            return None
        stops = step.stops if isinstance(step, BurnStep) else None
        if stops is not None:
            return left_dose(given.over, stops, min(stops, leave.stops), self._paper.reciprocity)
        return given.dose - burn_dose(given.over, leave.stops, self._paper.reciprocity)

    # -- one step --------------------------------------------------------------------------------------------

    def _of(self, i: int, step: LightStep) -> Given | None:
        place: Place = ("steps", i)
        lamp = self._lamp(step)
        if lamp is None:
            return None
        if step.pedal == "free":
            return Given()
        match step:
            case BaseStep() if step.seconds is not None:
                return self._seconds(place, lamp, step.seconds, dries=True)
            case FlashStep() if step.threshold is not None:
                return self._threshold(place, step.light, step.threshold)
            case FlashStep() if step.seconds is not None:
                given = self._seconds(place, lamp, step.seconds, dries=False)
                threshold = self._paper.threshold.get(step.light)
                if given is None or given.dose is None or threshold is None:
                    return given
                return replace(given, threshold=given.dose / threshold)
            case BurnStep():
                return self._burn(place, lamp, step)
        self._complain(place, "says not how much light")
        return None

    def _lamp(self, step: LightStep) -> Lamp | None:
        name = getattr(step, "light", None)
        light = self._bench.lights.get(name) if isinstance(name, str) else None
        return self._bench.lamps.get(light.lamp) if light is not None else None

    def _seconds(self, place: Place, lamp: Lamp, seconds: float, dries: bool) -> Given | None:
        """Seconds of ONE burst from cold, less the dry-down where the seconds were judged wet."""
        off = self._dry_down if dries else 0.0
        dose = lamp.response.dose(seconds) * (1 - off)
        if dose <= 0:
            lost = lamp.response.seconds(1.0) - 1.0
            self._complain((*place, "seconds"), f"{seconds:g} s give no light: the lamp loses {lost:.2f} s of a burst")
            return None
        return Given(dose=dose, dry_down=off or None)

    def _threshold(self, place: Place, light: str, fraction: float) -> Given | None:
        threshold = self._paper.threshold.get(light)
        if threshold is None:
            there = did_you_mean(light, self._paper.threshold)
            self._complain(
                (*place, "threshold"),
                f"paper '{self._paper.paper}' has no threshold in light '{light}'{there}",
            )
            return None
        return Given(dose=fraction * threshold, threshold=fraction)

    def _burn(self, place: Place, lamp: Lamp, step: BurnStep) -> Given | None:
        over = self._over(place, step)
        if step.seconds is not None:
            given = self._seconds(place, lamp, step.seconds, dries=True)
            if given is None or given.dose is None:
                return None
            return replace(given, stops=self._stops(over, given.dose), over=over)
        if over is None:
            return None
        if step.percent is not None:
            dose = over * step.percent / 100
            return Given(dose=dose, stops=self._stops(over, dose), over=over)
        stops = step.stops or Fraction(0)
        dose = burn_dose(over, stops, self._paper.reciprocity)
        return Given(dose=dose, stops=float(stops), stops_written=format_stops(stops), over=over)

    def _stops(self, over: float | None, dose: float) -> float | None:
        return math.log2(1 + dose / over) * self._paper.reciprocity if over is not None else None

    def _over(self, place: Place, step: BurnStep) -> float | None:
        """The base dose that a burn counts over; None where there is none, as a burn in seconds may have."""
        bases = [base for base in self._bases if base.light == step.light]
        key = next((k for k in ("stops", "percent", "seconds") if getattr(step, k) is not None), "burn")
        if step.over is not None:
            key = "over"
            try:
                bases = [self._bases[position([base.name for base in self._bases], step.over, "base")]]
            except LookupError as error:
                self._complain((*place, key), str(error.args[0]))
                return None
            if bases[0].light != step.light:
                found = f"{bases[0].name} is in {bases[0].light}, the burn in {step.light}"
                self._complain((*place, key), f"a burn over another light is not built yet: {found}")
                return None
        doses = [base.dose for base in bases if base.dose is not None]
        if bases and len(doses) == len(bases):
            return sum(doses)
        free = [base.name for base in bases if base.free]
        needed = step.seconds is None or step.leave or step.over is not None
        if needed and free:
            found = f"{', '.join(free)} is free and has no planned dose"
            self._complain((*place, key), f"must be counted over a planned dose: {found}")
        elif needed and not bases:
            self._complain((*place, key), f"there is no base in light '{step.light}' to count over")
        return None
