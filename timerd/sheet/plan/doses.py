"""How much light each step gives: bases, then what is counted over them. Doses are seconds of full light."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from fractions import Fraction

from timerd.printing.search import root
from timerd.printing.stops import burn_dose, dodge_dose, format_stops, left_dose
from timerd.sheet.plan.dodging import Complain, Held
from timerd.sheet.plan.names import Names, position
from timerd.sheet.profile.benchfile import Bench, Lamp
from timerd.sheet.profile.faults import Place, did_you_mean
from timerd.sheet.profile.fields import LEAST_S
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import (
    BaseStep,
    BurnStep,
    Dodge,
    FlashStep,
    Leave,
    LightStep,
    NegativeStep,
    Print,
    lights_of,
)

_LEAST_SHARE = 1e-4
"""Of what lamps without a lag would give: less is no light to speak of."""


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
    negative: str | None


class Doses:
    """The doses of a print's steps on a bench and a paper; what cannot be worked out goes to `complain`."""

    def __init__(self, print_: Print, bench: Bench, paper: Paper, complain: Complain) -> None:
        self._bench = bench
        self._paper = paper
        self._complain = complain
        self._dry_down = paper.dry_down if print_.judged == "wet" else 0.0
        self._given: dict[tuple[int, str], Given | None] = {}
        self._bases: list[_Base] = []
        names = Names()
        negative = print_.negative
        for i, step in enumerate(print_.steps):
            if isinstance(step, NegativeStep):
                negative = step.negative
            elif isinstance(step, BaseStep):
                given = self._given[i, step.light] = self._of(i, step, step.light)
                name = names.of(f"base/{step.base}/{step.light}")
                dose = given.dose if given is not None else None
                self._bases.append(_Base(name, step.light, dose, step.pedal == "free", negative))
        for i, step in enumerate(print_.steps):
            if isinstance(step, BurnStep | FlashStep):
                mix = self._mix(i, step)
                for light in lights_of(step):
                    self._given[i, light] = self._of(i, step, light) if mix is None else mix.get(light)

    def of(self, i: int, light: str | None = None) -> Given | None:
        """What the step at this place in the file gives in this light, or in its one light; None where a fault was
        found. Doses are as at the print's aperture without a density, whatever the step itself is given through."""
        return self._given[i, light] if light is not None else next(g for (k, _), g in self._given.items() if k == i)

    def held(self, i: int, step: BaseStep | BurnStep, given: Given) -> list[Held]:
        """The areas that this step holds back, in the order of the file, those left in a burn first."""
        held: list[Held] = []
        for j, leave in enumerate(step.leave if isinstance(step, BurnStep) else ()):
            self._hold(held, ("steps", i, "leave", j), leave, self._left(step, leave, given))
        for j, dodge in enumerate(step.dodge):
            if given.dose is not None:
                p = self._paper.reciprocity
                dose = given.dose if dodge.stops is None else dodge_dose(given.dose, dodge.stops, p)
                self._hold(held, ("steps", i, "dodge", j), dodge, dose)
        return held

    def _hold(self, held: list[Held], place: Place, item: Dodge | Leave, dose: float | None) -> None:
        dodge = item if isinstance(item, Dodge) else None
        if dose is None or dose < LEAST_S:
            if dose is not None and dodge is None and dose <= 0:
                self._complain((*place, "stops"), "is as much as the burn gives or more: nothing is held back")
            elif dose is not None:
                self._complain((*place, "stops"), f"holds back {dose:g} s of light: at least {LEAST_S:g} s can be")
            return
        held.append(
            Held(
                place=place, area=item.area, mm=item.mm, dose=dose,
                stops=None if item.stops is None else float(item.stops),
                stops_written=None if item.stops is None else format_stops(item.stops),
                start=item.start, card=item.card, leave=dodge is None,
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

    def _of(self, i: int, step: LightStep, light: str) -> Given | None:
        place: Place = ("steps", i)
        lamp = self._lamp(light)
        if lamp is None:
            return None
        if step.pedal == "free":
            return Given()
        match step:
            case BaseStep() if step.seconds is not None:
                return self._seconds(place, lamp, step.seconds, dries=True)
            case FlashStep() if step.threshold is not None:
                return self._threshold(place, light, step.threshold)
            case FlashStep() if step.seconds is not None:
                given = self._seconds(place, lamp, step.seconds, dries=False)
                threshold = self._paper.threshold.get(light)
                if given is None or given.dose is None or threshold is None:
                    return given
                return replace(given, threshold=given.dose / threshold)
            case BurnStep():
                return self._burn(place, lamp, step, light)
        self._complain(place, "says not how much light")
        return None

    def _lamp(self, light: str) -> Lamp | None:
        known = self._bench.lights.get(light)
        return self._bench.lamps.get(known.lamp) if known is not None else None

    def _mix(self, i: int, step: LightStep) -> dict[str, Given] | None:
        """A burn in seconds of several lights, in the mix of the bases: doses in the proportion of these.

        Its seconds are those of all its bursts together, each from cold, as the seconds of one light are. None where
        the step is none; without the lights between which something is wrong.
        """
        if not isinstance(step, BurnStep) or isinstance(step.light, str) or step.seconds is None:
            return None
        lights = [light for light in step.light if self._lamp(light) is not None]
        over = {light: self._over(("steps", i), step, light) for light in lights}
        known = {light: dose for light, dose in over.items() if dose is not None}
        if len(known) < len(step.light):
            return {}
        share = self._share(known, step.seconds)
        if share is None:
            lost = ", ".join(f"{light} {self._lost(light):.2f} s" for light in known)
            self._complain(("steps", i, "seconds"), f"{step.seconds:g} s give no light: of a burst are lost {lost}")
            return {}
        stops = math.log2(1 + share) * self._paper.reciprocity
        dry_down = self._dry_down or None
        return {
            light: Given(dose=dose * share, dry_down=dry_down, stops=stops, over=dose) for light, dose in known.items()
        }

    def _share(self, over: dict[str, float], seconds: float) -> float | None:
        """Which part of the bases comes to so many seconds of bursts from cold; None where all of them are lost."""
        responses = {light: self._bench.lamp_of(light).response for light in over}

        def longer(share: float) -> float:
            doses = {light: dose * share / (1 - self._dry_down) for light, dose in over.items()}
            return sum(responses[light].seconds(dose) for light, dose in doses.items()) - seconds

        least = seconds / sum(over.values())
        low, high = least * _LEAST_SHARE, least
        if longer(low) >= 0:
            return None
        while longer(high) < 0:
            high *= 2
        return root(longer, low, high)

    def _lost(self, light: str) -> float:
        return self._bench.lamp_of(light).response.seconds(1.0) - 1.0

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
                (*place, "threshold"), f"paper '{self._paper.paper}' has no threshold in light '{light}'{there}"
            )
            return None
        return Given(dose=fraction * threshold, threshold=fraction)

    def _burn(self, place: Place, lamp: Lamp, step: BurnStep, light: str) -> Given | None:
        over = self._over(place, step, light)
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

    def _over(self, place: Place, step: BurnStep, light: str) -> float | None:
        """The base dose, in the burn's own light, that it counts over; None where there is none, as a burn in seconds
        may have."""
        bases = [base for base in self._bases if base.light == light]
        key = next((k for k in ("stops", "percent", "seconds") if getattr(step, k) is not None), "burn")
        worth = 1.0
        if step.over is not None:
            key = "over"
            there = self._bases if isinstance(step.light, str) else bases  # of a mix, each light over its own
            try:
                bases = [there[position([base.name for base in there], step.over, "base")]]
            except LookupError as error:
                self._complain((*place, key), str(error.args[0]))
                return None
            if bases[0].light != light:
                measured = self._worth(bases[0].light, light)
                if measured is None:
                    self._complain((*place, key), self._no_ratio(bases[0], light))
                    return None
                worth = measured
        needed = step.seconds is None or step.leave or step.over is not None or not isinstance(step.light, str)
        if len({base.negative for base in bases}) > 1:  # of two images, each has a base of its own
            if needed:
                those = ", ".join(base.name for base in bases)
                self._complain((*place, key), f"there are bases of several negatives ({those}): say which, as over:")
            return None
        doses = [base.dose for base in bases if base.dose is not None]
        if bases and len(doses) == len(bases):
            return sum(doses) * worth
        free = [base.name for base in bases if base.free]
        if needed and free:
            found_free = f"{', '.join(free)} is free and has no planned dose"
            self._complain((*place, key), f"must be counted over a planned dose: {found_free}")
        elif needed and not bases:
            self._complain((*place, key), f"there is no base in light '{light}' to count over")
        return None

    def _worth(self, base: str, burn: str) -> float | None:
        """Seconds of the burn's light that do on this paper what one of the base's does; None where not measured."""
        ratios = self._paper.speed_ratio
        return ratios[base] / ratios[burn] if base in ratios and burn in ratios else None

    def _no_ratio(self, base: _Base, light: str) -> str:
        missing = [name for name in (base.light, light) if name not in self._paper.speed_ratio]
        return (
            f"{base.name} is in {base.light}, the burn in {light}: paper '{self._paper.paper}' has no speed_ratio of "
            f"{' and '.join(missing)}: measure it"
        )
