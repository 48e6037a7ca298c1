"""The next version of a print: bases, burns, dodges and flashes with so many stops more or less, all else as it is."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Literal, NamedTuple

from timerd.desk.amounts import TIDY_STOPS, stops_text, stops_value, tidy
from timerd.printing.stops import format_stops
from timerd.sheet.plan.doses import Doses
from timerd.sheet.plan.names import Names, position
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, BurnStep, FlashStep, LightStep, Print, kinds_of, lights_of
from timerd.sheet.words import area_words

Kind = Literal["base", "burn", "dodge", "flash"]


class Wish(NamedTuple):
    """So many stops more (or, below 0, less) for what is meant by `name`; None means every base."""

    kind: Kind
    name: str | None
    stops: Fraction


@dataclass
class Revised:
    """What changes in the print's file, by place, and what the printer should mind."""

    changes: dict[Place, object] = field(default_factory=dict)
    mind: list[str] = field(default_factory=list)


def revised(print_: Print, name: str, bench: Bench, paper: Paper, wishes: Sequence[Wish]) -> Revised:
    """The print of this name with the wishes fulfilled; ValueError or LookupError, in one line, where one cannot be.

    A base's dose is multiplied by 2^(s/p), p the paper's reciprocity; burns in stops or percent follow it, burns in
    seconds stay, and it is said. A burn's stops are added to its own, over its base as it is after the change. The
    starts of cards move with the dose of their step.
    """
    return _Revising(print_, bench, paper).revised(name, wishes)


class _Revising:
    def __init__(self, print_: Print, bench: Bench, paper: Paper) -> None:
        self._print, self._bench, self._p = print_, bench, paper.reciprocity
        self._dry = 1 - (paper.dry_down if print_.judged == "wet" else 0.0)
        self._doses = Doses(print_, bench, paper, _refuse)
        self._made = Revised()
        self._named: dict[Kind, list[tuple[str, Place]]] = {"base": [], "burn": [], "dodge": [], "flash": []}
        self._lights: dict[Place, str] = {}  # of the bases
        self._name_all()

    def _name_all(self) -> None:
        """Every step as the plan names it, and every dodge by its step and area."""
        names, cards = Names(), Names()
        for i, step in enumerate(self._print.steps):
            if not isinstance(step, LightStep):
                continue
            (kind,) = kinds_of(step)
            for light in lights_of(step):
                stem = names.of(f"{kind}/{getattr(step, kind)}/{light}")
                self._named[kind].append((stem, ("steps", i)))  # type: ignore[index]
                self._lights[("steps", i)] = light
                for j, dodge in enumerate(getattr(step, "dodge", ())):
                    card = cards.of(f"{stem}/{area_words(dodge.area, dodge.mm)}")
                    self._named["dodge"].append((card, ("steps", i, "dodge", j)))

    def revised(self, name: str, wishes: Sequence[Wish]) -> Revised:
        wanted: dict[Kind, dict[Place, Fraction]] = {"base": {}, "burn": {}, "dodge": {}, "flash": {}}
        for wish in wishes:
            for meant in self._meant(wish):
                wanted[wish.kind][meant] = wanted[wish.kind].get(meant, Fraction(0)) + wish.stops
        if not any(stops for places in wanted.values() for stops in places.values()):
            raise ValueError(
                "nothing is to be changed: say --base, --burn, --dodge or --flash with the stops, as in +1/6"
            )
        self._made.changes[("origin",)] = name
        grown = {int(at[1]): 2 ** (float(stops) / self._p) for at, stops in wanted["base"].items()}
        for i, factor in grown.items():
            self._base(i, factor)
        for i, step in enumerate(self._print.steps):
            place: Place = ("steps", i)
            if isinstance(step, BurnStep):
                self._burn(i, step, wanted["burn"].get(place, Fraction(0)), grown)
            elif isinstance(step, FlashStep) and place in wanted["flash"]:
                self._flash(i, step, wanted["flash"][place])
        for card, stops in wanted["dodge"].items():
            self._dodge(card, stops)
        return self._made

    def _meant(self, wish: Wish) -> Iterator[Place]:
        """A light's name means every base in it; else names go as steps' names go, and fit one."""
        named = self._named[wish.kind]
        if wish.kind == "base":
            if not named:
                raise LookupError("the print has no base")
            if wish.name is None or wish.name in self._bench.lights:
                found = [place for _, place in named if wish.name in (None, self._lights[place])]
                if not found:
                    raise LookupError(f"the print has no base in light '{wish.name}'")
                yield from found
                return
        yield named[position([name for name, _ in named], wish.name or "", wish.kind)][1]

    # -- one step --------------------------------------------------------------------------------------------

    def _seconds(self, place: Place, light: str, dose: float) -> None:
        """Seconds of one burst that gives a dose, before dry-down where the print is judged wet."""
        self._made.changes[(*place, "seconds")] = tidy(self._bench.lamp_of(light).response.seconds(dose), TIDY_STOPS)

    def _base(self, i: int, factor: float) -> None:
        step = self._print.steps[i]
        assert isinstance(step, BaseStep)
        if step.seconds is None:
            raise ValueError(
                f"base '{step.base}' in {step.light} is free: it has no seconds to change; adopt a sheet first"
            )
        self._seconds(("steps", i), step.light, self._bench.lamp_of(step.light).response.dose(step.seconds) * factor)
        self._starts(i, step, factor)

    def _starts(self, i: int, step: BaseStep | BurnStep, factor: float) -> None:
        for key in ("dodge", "leave"):
            for j, card in enumerate(getattr(step, key, ())):
                if card.start:
                    self._made.changes[("steps", i, key, j, "start")] = round(card.start * factor, 4)

    def _burn(self, i: int, step: BurnStep, more: Fraction, grown: Mapping[int, float]) -> None:
        if step.pedal == "free":
            if more:
                raise ValueError(f"burn '{step.burn}' is free: it has no stops to change; adopt a sheet first")
            return
        place: Place = ("steps", i)
        light = lights_of(step)[0]
        given = self._doses.of(i, light)
        if given is None or given.dose is None:
            return
        over = self._over_after(i, light, given.over, grown)
        if not more:
            self._follows(i, step, given.over, over)
            return
        if given.over is None or over is None or given.stops is None:
            raise ValueError(f"burn '{step.burn}' is in seconds and over no base: change its seconds by hand")
        before = step.stops if step.stops is not None else Fraction(given.stops)
        after = before + more
        if after <= 0:
            raise ValueError(
                f"burn '{step.burn}' has {format_stops(round(before, 3))} stops: {format_stops(more)} would leave "
                "nothing; take the step out"
            )
        if after > 10:
            raise ValueError(f"burn '{step.burn}' would have {float(after):.2f} stops: 10 at the most")
        dose = over * math.expm1(float(after) / self._p * math.log(2))
        if step.stops is not None:
            self._made.changes[(*place, "stops")] = stops_value(after)
        elif step.percent is not None:
            self._made.changes[(*place, "percent")] = tidy(100 * dose / over, TIDY_STOPS)
        elif len(lights_of(step)) > 1:
            raise ValueError(f"burn '{step.burn}' is in seconds of several lights: change them by hand")
        else:
            self._seconds(place, light, dose / self._dry)
        self._starts(i, step, dose / given.dose)

    def _follows(self, i: int, step: BurnStep, before: float | None, after: float | None) -> None:
        """A burn that is not wished for: in stops or percent it grows as its base does, in seconds it stays."""
        if before is None or after is None or math.isclose(before, after, rel_tol=1e-9):
            return
        if step.seconds is None:
            self._starts(i, step, after / before)
            return
        stops = math.log2(1 + (self._doses.of(i, lights_of(step)[0]).dose or 0.0) / after) * self._p  # type: ignore[union-attr]
        self._made.mind.append(
            f"burn '{step.burn}' is in seconds, and stays: it is {stops:.2f} stops over the base as it will be"
        )

    def _over_after(self, i: int, light: str, over: float | None, grown: Mapping[int, float]) -> float | None:
        """What a burn is counted over when the bases have grown."""
        if over is None:
            return None
        bases = [k for k, step in enumerate(self._print.steps) if isinstance(step, BaseStep)]
        step = self._print.steps[i]
        assert isinstance(step, BurnStep)
        if step.over is not None:
            names = [name for name, _ in self._named["base"]]
            return over * grown.get(bases[position(names, step.over, "base")], 1.0)
        mine = [k for k in bases if lights_of(self._print.steps[k])[0] == light]  # type: ignore[arg-type]
        doses = {k: given.dose for k in mine if (given := self._doses.of(k)) is not None and given.dose is not None}
        return sum(dose * grown.get(k, 1.0) for k, dose in doses.items())

    def _flash(self, i: int, step: FlashStep, stops: Fraction) -> None:
        factor = 2 ** (float(stops) / self._p)
        place: Place = ("steps", i)
        if step.threshold is not None:
            percent = step.threshold * factor * 100
            if percent > 200:
                raise ValueError(f"flash '{step.flash}' would be {percent:.0f} % of the threshold: 200 % at the most")
            self._made.changes[(*place, "threshold")] = f"{max(0.001, round(percent, 1 if percent >= 10 else 3)):g} %"
        elif step.seconds is not None:
            self._seconds(place, step.light, self._bench.lamp_of(step.light).response.dose(step.seconds) * factor)
        else:
            raise ValueError(f"flash '{step.flash}' is free: it has no amount to change; adopt a sheet first")

    def _dodge(self, place: Place, more: Fraction) -> None:
        _, i, _, j = place
        dodge = getattr(self._print.steps[int(i)], "dodge")[int(j)]  # noqa: B009 (bases and burns have it)
        if dodge.stops is None:
            raise ValueError(f"dodge '{dodge.area}' is covered throughout: hold_back: all has no stops to change")
        after = dodge.stops + more
        if after <= 0:
            raise ValueError(
                f"dodge '{dodge.area}' has {format_stops(dodge.stops)} stops: {format_stops(more)} would leave "
                "nothing; take it out"
            )
        self._made.changes[(*place, "stops")] = stops_value(after)


def written_wish(wish: Wish) -> str:
    """A wish in words: `base green +1/6`.

    >>> written_wish(Wish("burn", "haze/green", Fraction(-1, 3)))
    'burn haze/green -1/3'
    """
    sign = "-" if wish.stops < 0 else "+"
    return f"{wish.kind} {wish.name or 'all'} {sign}{stops_text(abs(wish.stops))}"


def _refuse(place: Place, message: str) -> None:
    raise ValueError(message)
