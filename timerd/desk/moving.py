"""A print moved to another paper: tones of the old curve mapped to the new one's, bases and burns worked out anew.

Two tones are held: where the old paper begins to show a tone (its low point) and where it is nearly black (its high
point) are to be the new paper's own. That maps every tone of the image to one of the new paper, and a burned area is to
end at the tone that its old one maps to. What cannot be matched is named.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal

from timerd.desk.apart import TONE, papers_apart, tones_apart
from timerd.printing.contrast import Spot, for_tones
from timerd.printing.deviation import deviations
from timerd.printing.exposure import exposure
from timerd.printing.paper import SPEED_POINT, Curve, iso_range
from timerd.printing.search import root
from timerd.printing.stops import burn_dose, dodge_dose, format_stops
from timerd.sheet.plan.doses import Doses, Given
from timerd.sheet.plan.names import Names, position
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, BurnStep, FlashStep, Print, lights_of

Colour = Literal["green", "blue"]
_COLOURS: tuple[Colour, ...] = ("green", "blue")
_TOLD = ("r_before", "r_after", "green", "blue")
_SHORTEST_S = 0.05
_SAME = 1e-6  # relative: what differs by less has not changed
_STOPS = 1 / 12
_MOST_TIMES = 2.0**9  # of all bases of its light: a burn beyond it is none that a print's file takes


@dataclass(frozen=True, slots=True)
class Change:
    """One value of the print's file, as it was and as it is to be."""

    place: Place
    what: str
    was: str
    now: str
    value: object


@dataclass(slots=True)
class Moved:
    """What changes in the print's file, the ISO ranges, the doses of the bases, and what does not match.

    `within` has one standard deviation of `r_before`, `r_after`, `green` and `blue` (the doses on the new paper), as
    far as the two papers' curves tell it.
    """

    r_before: float
    r_after: float | None
    doses: dict[Colour, tuple[float, float]]
    within: dict[str, float | None] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    unmatched: list[str] = field(default_factory=list)


def move(
    print_: Print, bench: Bench, old: Paper, new: Paper, green_light: float = 1.0, blue_light: float = 1.0
) -> Moved:  # fmt: skip
    """The print on another paper; ValueError or LookupError, in one line, where it cannot be moved.

    Both papers need a curve, in one unit. The lights are what a second of each gives in that unit, only their ratio
    counting: 1 and 1 where exposures are in seconds of the bench's own lights.
    """
    if print_.strip is not None:
        raise ValueError(
            "this is a test strip, and its file says what its patches got: move the print, and make it anew"
        )
    lights: dict[Colour, float] = {"green": green_light, "blue": blue_light}
    curves = _curve_of(old), _curve_of(new)
    moved = _Moving(print_, bench, old, new, lights, curves).move()
    moved.within = _within(lambda *ends: _Moving(print_, bench, old, new, lights, ends), curves, (old, new))
    return moved


def _within(
    moving: Callable[[Curve, Curve], _Moving], curves: tuple[Curve, Curve], papers: tuple[Paper, Paper]
) -> dict[str, float | None]:  # fmt: skip
    """How far off the ranges and the new doses may be: what each paper's curve leaves open, added as squares."""
    old, new = (paper.curve.pairs if paper.curve is not None else () for paper in papers)
    if curves[0] == curves[1]:
        return dict(zip(_TOLD, deviations(lambda one: moving(one, one).told(), curves[0], old), strict=True))
    by_old = deviations(lambda one: moving(one, curves[1]).told(), curves[0], old)
    by_new = deviations(lambda one: moving(curves[0], one).told(), curves[1], new)
    return {
        name: math.hypot(first, second) if first is not None and second is not None else None
        for name, first, second in zip(_TOLD, by_old, by_new, strict=True)
    }


class _Moving:
    def __init__(
        self, print_: Print, bench: Bench, old: Paper, new: Paper, lights: dict[Colour, float],
        curves: tuple[Curve, Curve],
    ) -> None:  # fmt: skip
        self._print, self._bench, self._papers = print_, bench, (old, new)
        self._lights = lights
        self._curves = curves
        if old.curve is not None and new.curve is not None and old.curve.unit != new.curve.unit:
            raise ValueError(
                f"'{old.paper}' was read in {old.curve.unit} and '{new.paper}' in {new.curve.unit}: "
                "the two cannot be compared, read one of them again"
            )
        self._doses = Doses(print_, bench, old, _refuse)
        self._before = self._base_doses()
        self._same = self._curves[0] == self._curves[1]
        self._after, self._gives_way = self._new_doses()

    def _ranges(self) -> tuple[float, float | None]:
        before = iso_range(self._curves[0], *self._exposures(self._before)).r
        try:
            return before, iso_range(self._curves[1], *self._exposures(self._after)).r
        except ValueError:
            return before, None

    def told(self) -> tuple[float | None, ...]:
        """The numbers that `Moved.within` is about, in its order."""
        return (*self._ranges(), *(self._after[colour] for colour in _COLOURS))

    def move(self) -> Moved:
        moved = Moved(
            *self._ranges(), {colour: (self._before[colour], self._after[colour]) for colour in _COLOURS}
        )  # fmt: skip
        old, new = self._papers
        if old.paper != new.paper:
            moved.changes.append(Change(("paper",), "paper", old.paper, new.paper, new.paper))
        moved.unmatched += self._gives_way
        if not self._same:
            moved.unmatched += tones_apart(self._curves, self._exposures(self._before), self._exposures(self._after))
        for i, step in enumerate(self._print.steps):
            match step:
                case BaseStep():
                    moved.changes += self._base(i, step)
                    moved.unmatched += self._dodges(step)
                case BurnStep():
                    self._burn(i, step, moved)
                case FlashStep():
                    self._flash(i, step, moved)
        moved.unmatched += papers_apart(*self._papers)
        return moved

    # -- bases -----------------------------------------------------------------------------------------------

    def _colour(self, light: str) -> Colour | None:
        known = self._bench.lights.get(light)
        return next((colour for colour in _COLOURS if known is not None and known.colour == colour), None)

    def _base_doses(self) -> dict[Colour, float]:
        found: dict[Colour, float] = dict.fromkeys(_COLOURS, 0.0)
        for i, step in enumerate(self._print.steps):
            if not isinstance(step, BaseStep):
                continue
            given, colour = self._doses.of(i), self._colour(step.light)
            if colour is None:
                raise ValueError(f"base '{step.base}' is in light '{step.light}', which is neither green nor blue")
            if given is None or given.dose is None:
                raise ValueError(f"base '{step.base}' has no planned dose: there is nothing to move")
            found[colour] += given.dose
        if not sum(found.values()):
            raise ValueError("the print has no base: there is nothing to move")
        return found

    def _exposures(self, doses: dict[Colour, float]) -> tuple[float, float]:
        return doses["green"] * self._lights["green"], doses["blue"] * self._lights["blue"]

    def _new_doses(self) -> tuple[dict[Colour, float], list[str]]:
        """The doses of all green and all blue bases that hold both ends, as near as the lights in use come."""
        if self._same:
            return dict(self._before), []
        old, new = self._curves
        pair = self._exposures(self._before)
        iso_range(old, *pair)  # for what it refuses
        ends = [old.multiple(point, *pair) for point in (old.low_point, old.high_point)]
        spots = [
            Spot(density, times * self._lights["green"], times * self._lights["blue"])
            for density, times in zip((new.low_point, new.high_point), ends, strict=True)
        ]
        used = [colour for colour in _COLOURS if self._before[colour] > 0.0]
        if len(used) == 1:
            return self._one_light(used[0], spots)
        mixed = for_tones(new, *spots)[0]
        after: dict[Colour, float] = {"green": mixed.green_s, "blue": mixed.blue_s}
        for colour, dose in after.items():
            if dose < _SHORTEST_S:
                raise ValueError(
                    f"paper '{self._papers[1].paper}' wants no {colour} light for this print: "
                    f"take its {colour} base and burns out, and move it again"
                )
        got = {"highlight": mixed.highlight, "shadow": mixed.shadow}
        return after, [
            f"no mix of the new paper holds both ends: {tone} {got[tone]:.2f}, wanted {spot.density:.2f}"
            for tone, spot in zip(("highlight", "shadow"), spots, strict=True) if mixed.gives_way == tone
        ]  # fmt: skip

    def _one_light(self, colour: Colour, spots: list[Spot]) -> tuple[dict[Colour, float], list[str]]:
        """The highlight is held; one light alone cannot hold the shadow too."""
        highlight, shadow = spots
        unit = (highlight.green, 0.0) if colour == "green" else (0.0, highlight.blue)
        new = self._curves[1]
        iso_range(new, *unit)
        dose = new.multiple(highlight.density, *unit)
        after: dict[Colour, float] = dict.fromkeys(_COLOURS, 0.0)
        after[colour] = dose
        got = new.density(*((dose * shadow.green, 0.0) if colour == "green" else (0.0, dose * shadow.blue)))
        if abs(got - shadow.density) <= TONE:
            return after, []
        other = "blue" if colour == "green" else "green"
        return after, [
            f"shadow {got:.2f}, wanted {shadow.density:.2f}: {colour} alone holds the highlight, a base in {other} too "
            "would hold both"
        ]  # fmt: skip

    def _base(self, i: int, step: BaseStep) -> Iterator[Change]:
        given, colour = self._doses.of(i), self._colour(step.light)
        if given is None or given.dose is None or colour is None or step.seconds is None:
            return
        dose = {step.light: given.dose * self._ratio(colour)}
        yield from self._seconds(("steps", i, "seconds"), f"base {step.base}, {step.light}", step.seconds, dose)

    def _ratio(self, colour: Colour) -> float:
        """What the bases of a colour are multiplied by; 1 where there are none."""
        return self._after[colour] / self._before[colour] if self._before[colour] > 0.0 else 1.0

    def _seconds(self, place: Place, what: str, was: float, doses: dict[str, float]) -> Iterator[Change]:
        """Seconds of a burst in each light, before dry-down, that come to these doses on the new paper."""
        off = self._papers[1].dry_down if self._print.judged == "wet" else 0.0
        seconds = sum(self._bench.lamp_of(light).response.seconds(dose / (1.0 - off)) for light, dose in doses.items())
        if not math.isclose(seconds, was, rel_tol=_SAME):
            seconds = round(seconds, 2)
            yield Change(place, what, f"{was:g} s", f"{seconds:g} s", seconds)

    # -- burns and dodges ------------------------------------------------------------------------------------

    def _mapped(self, added: dict[Colour, float]) -> float | None:
        """How many times these doses, each grown as its colour's bases are, do over the new bases what they did over
        the old; None if none do. Below 0 they are held back.

        Each burn by itself, for an area that it brought to the old paper's mid tone: it is to come to what that maps
        to. Of a mix all lights are taken that many times, so that it stays the one mix that it was.
        """
        then, now = self._papers[0].reciprocity, self._papers[1].reciprocity
        if self._same and then == now:
            return 1.0
        if any(self._before[colour] + dose < 0.0 for colour, dose in added.items()):
            return None
        old, new = self._curves
        grown = {colour: dose * self._ratio(colour) for colour, dose in added.items()}

        def lit(bases: dict[Colour, float], doses: dict[Colour, float], times: float, p: float) -> tuple[float, float]:
            """The exposure of an area of full light."""
            return self._exposures(
                {colour: exposure(base + times * doses.get(colour, 0.0), base, p) for colour, base in bases.items()}
            )

        def miss(times: float) -> float:
            green, blue = lit(self._after, grown, times, now)
            return new.density(here * green, here * blue) - wanted

        middle = old.dmin + SPEED_POINT
        try:
            here = old.multiple(middle, *lit(self._before, added, 1.0, then))
            alike = old.multiple(middle, *lit(self._before, {}, 0.0, then))  # image light that comes there by itself
            green, blue = lit(self._after, {}, 0.0, now)
            wanted = new.density(alike * green, alike * blue)
            most = min(
                self._after[colour] / -dose if dose < 0.0 else _MOST_TIMES * (self._after[colour] or 1.0) / dose
                for colour, dose in grown.items()
            )
            times = root(miss, 0.0, most)
            green, blue = lit(self._after, grown, times, now)
            low, high = new.known(here * green, here * blue)
        except ValueError:
            return None
        return times if times > 0.0 and low <= wanted <= high else None

    def _burn(self, i: int, step: BurnStep, moved: Moved) -> None:
        what = f"burn {step.burn}"
        given: dict[str, Given] = {}
        for light in lights_of(step):
            of_light = self._doses.of(i, light)
            if of_light is not None and of_light.dose is not None:
                given[light] = of_light
        if len(given) < len(lights_of(step)):
            moved.unmatched.append(f"{what}: has no planned dose, and is left as it is")
            return
        others = [light for light in given if self._colour(light) is None]
        if others:
            which = "its light" if len(given) == 1 else f"its light {' and '.join(others)}"
            moved.unmatched.append(f"{what}: {which} is neither green nor blue, and it is left as it is")
            return
        named = f"{what}, {' and '.join(given)}"
        over_light = self._over_light(step)
        if over_light not in (None, *given):
            moved.unmatched.append(f"{named}: is counted over a base in {over_light}, and is left as it is")
            return
        doses = {light: of_light.dose or 0.0 for light, of_light in given.items()}
        times = self._mapped(self._by_colour(doses))
        kept = times is None
        over = {light: of_light.over for light, of_light in given.items() if of_light.over is not None}
        share = self._share(doses, over)
        if times is None:
            lights = " and ".join(given)
            moved.unmatched.append(f"{what}: no burn in {lights} does the same on the new paper: stops kept")
            times = 1.0 if share is None else self._as_many_stops(share) / share
        if step.seconds is not None:
            new = {light: dose * times * self._ratio_of(light) for light, dose in doses.items()}
            moved.changes += self._seconds(("steps", i, "seconds"), named, step.seconds, new)
        if len(over) < len(given) or share is None:
            return
        if step.percent is not None and not math.isclose(times, 1.0, rel_tol=_SAME):
            now = round(step.percent * times, 1)
            place: Place = ("steps", i, "percent")
            moved.changes.append(Change(place, named, f"{step.percent:g} %", f"{now:g} %", now))
        if step.stops is not None:
            moved.changes += self._stops(("steps", i, "stops"), named, step.stops, share * times)
        for j, leave in enumerate(step.leave):
            if kept or leave.stops == 0:
                continue
            left = {light: burn_dose(base, leave.stops, self._papers[0].reciprocity) for light, base in over.items()}
            left_times, left_share = self._mapped(self._by_colour(left)), self._share(left, over) or 0.0
            if left_times is None or not left_times * left_share < times * share:
                moved.unmatched.append(
                    f"{named}, leave {leave.area}: nothing does the same on the new paper: stops kept"
                )
            else:
                moved.changes += self._stops(
                    ("steps", i, "leave", j, "stops"), f"{named}, leave {leave.area}", leave.stops,
                    left_share * left_times,
                )  # fmt: skip

    def _over_light(self, step: BurnStep) -> str | None:
        """The light of the base that a burn names to be counted over; of a mix each light counts over its own."""
        if step.over is None or not isinstance(step.light, str):
            return None
        bases = [base for base in self._print.steps if isinstance(base, BaseStep)]
        names = Names()
        return bases[position([names.of(f"base/{base.base}/{base.light}") for base in bases], step.over, "base")].light

    def _ratio_of(self, light: str) -> float:
        colour = self._colour(light)
        return 1.0 if colour is None else self._ratio(colour)

    def _by_colour(self, doses: dict[str, float]) -> dict[Colour, float]:
        found: dict[Colour, float] = {}
        for light, dose in doses.items():
            if (colour := self._colour(light)) is not None:
                found[colour] = found.get(colour, 0.0) + dose
        return found

    def _share(self, doses: dict[str, float], over: dict[str, float]) -> float | None:
        """The burn as a part of what it counts over, alike in all its lights; None where there is no base in one."""
        light, dose = next(iter(doses.items()))
        colour = self._colour(light)
        if any(not self._before[each] > 0.0 for each in self._by_colour(doses)) or colour is None:
            return None
        return dose / over.get(light, self._before[colour])

    def _as_many_stops(self, share: float) -> float:
        """The part of its base that a burn is on the new paper, where it is as many stops as it was."""
        old, new = self._papers
        return math.pow(1.0 + share, old.reciprocity / new.reciprocity) - 1.0

    def _stops(self, place: Place, what: str, was: Fraction, share: float) -> Iterator[Change]:
        stops = math.log2(1.0 + share) * self._papers[1].reciprocity
        if not math.isclose(stops, was, rel_tol=_SAME):
            now = max(0.01, round(stops, 2))
            yield Change(place, what, f"{format_stops(was)} stops", f"{now:g} stops", now)

    def _dodges(self, step: BaseStep) -> Iterator[str]:
        """Dodges keep their stops; where these change the tone otherwise, it is said."""
        colour = self._colour(step.light)
        if colour is None or self._same:
            return
        for dodge in step.dodge:
            if dodge.stops is None:  # nothing is nothing on any paper
                continue
            held = dodge_dose(self._before[colour], dodge.stops, self._papers[0].reciprocity)
            times = self._mapped({colour: -held})
            left = 1.0 - (times or 0.0) * held / self._before[colour]
            if times is None or not left > 0.0:
                yield f"dodge {dodge.area} in {step.base}: no dodge in {step.light} does the same: stops kept"
                continue
            stops = -math.log2(left) * self._papers[1].reciprocity
            if abs(stops - float(dodge.stops)) >= _STOPS:
                yield (
                    f"dodge {dodge.area} in {step.base}: {format_stops(dodge.stops)} stops kept, "
                    f"{stops:.2f} would do what it did"
                )

    # -- flash, and what papers are --------------------------------------------------------------------------

    def _flash(self, i: int, step: FlashStep, moved: Moved) -> None:
        old, new = (paper.threshold.get(step.light) for paper in self._papers)
        what = f"flash {step.flash}"
        if new is None:
            moved.unmatched.append(
                f"{what}: the new paper has no threshold in light '{step.light}': make a flash strip"
            )
        elif step.seconds is not None and old is None:
            moved.unmatched.append(f"{what}: the old paper has no threshold in light '{step.light}': seconds kept")
        elif step.seconds is not None and old is not None and old != new:
            response = self._bench.lamp_of(step.light).response
            seconds = round(response.seconds(response.dose(step.seconds) * new / old), 2)
            place: Place = ("steps", i, "seconds")
            moved.changes.append(Change(place, what, f"{step.seconds:g} s", f"{seconds:g} s", seconds))


def _curve_of(paper: Paper) -> Curve:
    if paper.curve is None:
        raise LookupError(f"paper '{paper.paper}' has no curve: read a step wedge on it, then timerd paper fit")
    return paper.curve.curve


def _refuse(place: Place, message: str) -> None:
    raise ValueError(message)
