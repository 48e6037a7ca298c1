"""A print on a bench and a paper becomes a plan: steps in order, with the prompts needed between them."""

from __future__ import annotations

from dataclasses import replace
from typing import assert_never

from timerd.printing.enlarging import new_dose
from timerd.printing.stops import aperture_factor
from timerd.sheet.map import own_corner
from timerd.sheet.plan.dodging import arrange
from timerd.sheet.plan.doses import Doses, Given
from timerd.sheet.plan.names import Names
from timerd.sheet.plan.onbench import no_light, no_station
from timerd.sheet.plan.prompts import SetUp, start_asks
from timerd.sheet.plan.summing import burst_seconds, cautions, lamp_seconds, left_bare, totals
from timerd.sheet.plan.value import ASIDE, LIGHTS, PROMPTS, Area, Kind, Plan, Sheet, Step
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import FileFault, Place, ProfileError
from timerd.sheet.profile.fields import LEAST_S, MOST_S
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import (
    BaseStep,
    BoxStep,
    BurnStep,
    CarryStep,
    DevelopStep,
    FlashStep,
    LightStep,
    NegativeStep,
    Print,
    SafelightStep,
    lights_of,
)
from timerd.sheet.profile.reading import Profile
from timerd.sheet.words import spoken_seconds

LEAD_IN_S = {"press": 3.0, "hold": 0.2, "free": 0.2}


def make_plan(
    print_: Profile[Print], bench: Profile[Bench], paper: Profile[Paper], by_step: bool = False,
    baths: Profile[BathLine] | None = None,
) -> Plan:  # fmt: skip
    """The plan of a print's sheet; ProfileError with all that does not go together, at the print's lines.

    With `by_step` the sheet is boxed wherever the bench is set up anew (a carry, a filter, a negative) and between
    flashes and images: so that all sheets may go through one such round before the first goes through the next.
    `baths` is the line that the print's last step names; without it the plan ends as the sheet goes to its baths.
    """
    making = _Making(print_, bench.value, paper.value, by_step)
    steps = making.steps()
    if making.faults:
        raise ProfileError(making.faults)
    sheet = _sheet(print_.value)
    line = baths.value if baths is not None and steps[-1].kind == "develop" else None
    return Plan(
        reciprocity=paper.value.reciprocity,
        print=print_.value.print,
        negative=print_.value.negative,
        paper=paper.value.paper,
        bench=bench.value.bench,
        steps=steps,
        cautions=(
            *left_bare(steps, sheet),
            *cautions(steps, sheet, print_.value.aperture, paper.value.reciprocity, print_.value.strip is not None),
            *_of_the_baths(line, paper.value),
        ),
        totals=totals(steps, paper.value.reciprocity, sheet),
        lamp_seconds=lamp_seconds(steps),
        sheet=sheet,
        baths=line,
        base=paper.value.base,
        safelight_s=paper.value.safelight_s,
        box=paper.value.box,
        batch=paper.value.batch,
    )


def _of_the_baths(line: BathLine | None, paper: Paper) -> tuple[str, ...]:
    if line is None or None in (line.base, paper.base) or line.base == paper.base:
        return ()
    return (f"bath line {line.bath} is for {line.base} paper, {paper.paper} is {paper.base}: check its times",)


def _sheet(print_: Print) -> Sheet:
    width, height = print_.sheet
    box = print_.image_mm
    image = (0.0, 0.0, width, height) if box is None else (box.left, box.top, box.width, box.height)
    areas = tuple(
        Area(name=name, corners=tuple((across, down) for across, down in outline))
        for name, outline in print_.areas.items()
    )
    return Sheet(width=width, height=height, image=image, image_given=box is not None, areas=areas)


class _Making:
    """Goes through a print's steps sheet in hand: where it is, and how the bench stands for it."""

    def __init__(self, print_: Profile[Print], bench: Bench, paper: Paper, by_step: bool) -> None:
        self.faults: list[FileFault] = []
        self._profile = print_
        self._print = print_.value
        self._bench = bench
        self._paper = paper
        self._by_step = by_step
        self._names = Names()
        self._set_up = SetUp(print_.value, bench)
        self._steps: list[Step] = []
        self._written: dict[int, int] = {}  # the place in the file of each step that is in it
        self._here: str | None = None
        self._not_carried = False
        self._doses = Doses(print_.value, bench, paper, self._complain)

    def _complain(self, place: Place, message: str) -> None:
        self.faults.append(self._profile.fault(place, message))

    def steps(self) -> tuple[Step, ...]:
        self._start()
        for i, step in enumerate(self._print.steps):
            match step:
                case CarryStep():
                    self._carry(i, step)
                case SafelightStep():
                    asks = (f"{spoken_seconds(step.safelight)} under the safelight",)
                    facts = {"asks": asks, "seconds": step.safelight, "card": step.card, "note": step.note}
                    self._add(i, kind="safelight", name=self._names.of("safelight"), **facts)
                case DevelopStep():
                    name = self._names.of(f"develop/{step.develop}")
                    self._add(i, kind="develop", name=name, says=step.develop, card=step.card, note=step.note)
                case BoxStep():
                    self._set_aside(i, step, "box", f"box the sheet: {step.box}", says=step.box)
                case NegativeStep():
                    self._negative(i, step)
                case FlashStep() | BaseStep() | BurnStep():
                    for light in lights_of(step):
                        self._light(i, step, light)
                case _:
                    assert_never(step)
        for made in self._steps:
            if made.then_next:
                self._then(made)
        return tuple(self._steps)

    def _add(self, i: int | None, **facts: object) -> None:
        step = Step.model_validate(
            {"n": len(self._steps) + 1, "station": self._here, "set_up": self._set_up.words, "puts": (), **facts}
        )
        self._steps.append(step)
        if i is not None:
            self._written[step.n] = i

    def _start(self) -> None:
        first = next((step for step in self._print.steps if isinstance(step, LightStep)), None)
        name = self._known_light(lights_of(first)[0]) if first is not None else None
        if name is not None:
            self._here = self._bench.lamp_of(name).station
            self._set_up.be_at(self._here)
            self._set_up.filter_to(name)
        turn = self._bench.stations[self._here].turn if self._here in self._bench.stations else 0
        asks = start_asks(self._set_up.words, own_corner(turn))
        puts = (*self._set_up.at_the_start, *(self._set_up.filter_of(name) if name is not None else ()))
        self._add(None, kind="wait", name=self._names.of("wait"), asks=asks, puts=puts)

    def _carry(self, i: int, step: CarryStep) -> None:
        place: Place = ("steps", i, "carry")
        if (said := no_station(self._bench, step.carry)) is not None:
            self._complain(place, said)
            self._here = None
        elif not self._lit_before():
            self._complain(place, f"comes before any light: the sheet starts at {self._start_words()}, leave it out")
        elif step.carry == self._here and not self._not_carried:
            self._complain(place, f"the sheet is already at the {step.carry}: leave it out")
        else:
            if self._by_step:
                self._box_between()
            self._here = step.carry
            self._not_carried = False
        self._set_up.be_at(self._here)
        name = self._names.of(f"carry/{step.carry}")
        asks = (f"carry the sheet to the {step.carry}",)
        self._add(i, kind="carry", name=name, asks=asks, card=step.card, note=step.note)

    def _lit_before(self) -> bool:
        return any(there.kind in LIGHTS for there in self._steps)

    def _start_words(self) -> str:
        return f"the {self._here}, where its first light is" if self._here is not None else "its first light"

    # -- set aside -------------------------------------------------------------------------------------------

    def _set_aside(
        self, i: int | None, step: BoxStep | NegativeStep | None, kind: Kind, asks: str, **puts: object
    ) -> None:  # fmt: skip
        last = self._steps[-1]
        if i is not None and (last.kind == "wait" or last.kind in ASIDE):
            why = "comes before any light" if last.kind == "wait" else "the sheet is in its box already"
            way, key = "leave it out", "box"
            if isinstance(step, NegativeStep):
                key = "negative"
                way = "this step boxes it itself, leave the other out" if last.kind in ASIDE else way
            self._complain(("steps", i, key), f"{why}: {way}")
        told = {"card": step.card, "note": step.note} if step is not None else {}
        self._add(i, kind=kind, name=self._names.of(kind), asks=(asks,), **told, **puts)

    def _box_between(self) -> None:
        """By steps: the sheet makes room for the next one, unless it has since its last light."""
        kinds = [step.kind for step in self._steps]
        since = next((i for i in reversed(range(len(kinds))) if kinds[i] in LIGHTS), None)
        if since is not None and not any(kind in ASIDE for kind in kinds[since:]):
            self._set_aside(None, None, "box", "box the sheet")

    def _negative(self, i: int, step: NegativeStep) -> None:
        """By steps all sheets are done with the old negative first; else this one goes on as soon as it can."""
        self._set_up.negative_to(step.negative)
        change, puts = f"put negative {step.negative} in and compose", (("negative", step.negative),)
        if self._by_step:
            self._set_aside(i, step, "box", f"box the sheet; after the last one {change}", puts=puts)
        else:
            self._set_aside(i, step, "negative", f"box the sheet, {change}", puts=puts)

    # -- light -----------------------------------------------------------------------------------------------

    def _light(self, i: int, step: LightStep, name: str) -> None:
        kind, area = _kind_and_area(step)
        light = self._known_light(name, ("steps", i, "light"))
        scale = self._scale(i, step)
        if light is not None:
            self._be_there(i, light)
            if self._by_step and self._other_kind(kind):
                self._box_between()
            self._change_for(step, light)
        given = self._doses.of(i, name)
        facts: dict[str, object] = {
            "kind": kind, "name": self._names.of(f"{kind}/{area}/{name}"), "area": area, "light": name,
            "mm": getattr(step, "mm", None), "pedal": step.pedal,
            "lead_in": LEAD_IN_S[step.pedal] if step.lead_in is None else step.lead_in,
            "lead_in_again": step.lead_in_again, "then_next": step.then == "next",
            "card": step.card, "note": step.note, "aperture": step.aperture, "density": step.density or None,
            "scale": scale,
        }  # fmt: skip
        if light is not None and given is not None:
            facts |= self._lit(i, step, light, given, scale)
        self._add(i, **facts)
        if light is not None:
            self._not_too_long(i, step, self._steps[-1])
        if name == lights_of(step)[-1]:
            self._change_back(i, step)

    def _other_kind(self, kind: str) -> bool:
        """Whether the last light was a flash and this one is an image, or the other way about."""
        lit = [there.kind for there in self._steps if there.kind in LIGHTS]
        return bool(lit) and (lit[-1] == "flash") != (kind == "flash")

    def _change_for(self, step: LightStep, light: str) -> None:
        """Prompts for what this step needs otherwise than it stands: filter, lens, density."""
        if (words := self._set_up.filter_to(light)) is not None:
            if self._by_step:
                self._box_between()
            puts = self._set_up.filter_of(light)
            name = self._names.of(f"filter/{puts[0][1] or 'none'}")
            self._add(None, kind="filter", name=name, light=light, asks=(words,), puts=puts)
        self._lens_and_density(step.aperture, step.density)

    def _change_back(self, i: int, step: LightStep) -> None:
        """The lens and the density back as the print has them, unless the next light has them otherwise too."""
        following = next((there for there in self._print.steps[i + 1 :] if isinstance(there, LightStep)), None)
        keeps_lens = following is not None and following.aperture is not None
        keeps_density = following is not None and bool(following.density)
        self._lens_and_density(step.aperture if keeps_lens else None, step.density if keeps_density else None)

    def _lens_and_density(self, mark: float | None, density: float | None) -> None:
        if (words := self._set_up.lens_to(mark)) is not None:
            shown = f"{mark if mark is not None else self._print.aperture:g}"
            puts = (("lens", shown),)
            self._add(None, kind="aperture", name=self._names.of(f"aperture/{shown}"), asks=(words,), puts=puts)
        if (words := self._set_up.density_to(density)) is not None:
            put = f"{density:g}" if density else None
            name = self._names.of(f"density/{put or 'none'}")
            self._add(None, kind="density", name=name, asks=(words,), puts=(("density", put),))

    def _scale(self, i: int, step: LightStep) -> float:
        """How many seconds through this step's lens and density do what one does through the print's own."""
        factor = 10.0 ** (step.density or 0.0)
        if step.aperture is not None and self._print.aperture is not None:
            try:
                aperture_factor(self._print.aperture, self._print.aperture)
            except ValueError as error:
                self._complain(("aperture",), str(error))
                return 1.0
            try:
                factor *= aperture_factor(self._print.aperture, step.aperture)
            except ValueError as error:
                self._complain(("steps", i, "aperture"), str(error))
        return new_dose(1.0, factor, self._paper.reciprocity)

    def _lit(self, i: int, step: LightStep, light: str, given: Given, scale: float) -> dict[str, object]:
        lamp_name = self._bench.lights[light].lamp
        lamp = self._bench.lamps[lamp_name]
        facts: dict[str, object] = {
            "lamp": lamp_name, "response": lamp.response, "longest_s": float(lamp.longest_s),
            "dry_down": given.dry_down, "stops": given.stops,
            "stops_written": given.stops_written, "threshold": given.threshold,
        }  # fmt: skip
        if isinstance(step, FlashStep) and light in self._paper.threshold:
            facts["threshold_dose"] = self._paper.threshold[light] * scale
        if given.dose is None:
            return facts
        dose = given.dose * scale
        if not LEAST_S <= dose <= MOST_S:
            limit = f"at least {LEAST_S:g} s" if dose < LEAST_S else f"at most {MOST_S:g} s"
            self._complain(("steps", i, _amount_key(step)), f"comes to {dose:g} s of full light: {limit} can be given")
            return facts
        held = self._doses.held(i, step, given) if isinstance(step, BaseStep | BurnStep) else []
        held = [
            replace(item, dose=item.dose * scale, start=None if item.start is None else item.start * scale)
            for item in held
        ]
        dodges, parts = arrange(held, ("steps", i), dose, _kind_and_area(step)[0], self._print.hands, self._complain)
        return facts | {"dose": dose, "seconds": lamp.response.seconds(dose), "dodges": dodges, "parts": parts}

    def _known_light(self, name: str, place: Place | None = None) -> str | None:
        said = no_light(self._bench, name)
        if said is not None and place is not None:
            self._complain(place, said)
        return name if said is None else None

    def _be_there(self, i: int, light: str) -> None:
        """The sheet must be where the light is. After the first fault it is taken to be there."""
        station = self._bench.lamp_of(light).station
        if self._here is not None and station != self._here:
            self._complain(
                ("steps", i, "light"),
                f"'{light}' is at the {station}, the sheet is at the {self._here}: carry it there first",
            )
            self._not_carried = True
        self._here = station
        self._set_up.be_at(station)

    def _not_too_long(self, i: int, step: LightStep, planned: Step) -> None:
        key = _amount_key(step)
        bursts = burst_seconds(planned)
        for number, seconds in enumerate(bursts, 1):
            if seconds > planned.longest_s * (1 + 1e-9):
                which = "the burst" if len(bursts) == 1 else f"burst {number} of {len(bursts)}"
                limit = f"lamp '{planned.lamp}' may burn {planned.longest_s:g} s at once"
                self._complain(("steps", i, key), f"{which} is {seconds:.1f} s long, {limit}")

    def _then(self, step: Step) -> None:
        """What begins by itself must be a light that a press would start."""
        following = self._steps[step.n] if step.n < len(self._steps) else None
        if following is None:
            found = "there is no next step"
        elif following.kind in PROMPTS:
            found = f"the next step is a prompt ({following.name})"
        elif following.kind not in LIGHTS:
            found = f"the next step gives no light ({following.name})"
        elif following.pedal != "press":
            found = f"the next step waits for the foot (pedal: {following.pedal})"
        elif step.pedal == "free":
            found = "a free step does not end by itself"
        else:
            return
        self._complain(("steps", self._written[step.n], "then"), f"{found}: leave it out")


def _amount_key(step: LightStep) -> str:
    """The key that says how much light a step gives."""
    amounts = ("seconds", "stops", "percent", "threshold")
    return next((key for key in amounts if getattr(step, key, None) is not None), "light")


def _kind_and_area(step: LightStep) -> tuple[str, str]:
    match step:
        case BaseStep():
            return "base", step.base
        case BurnStep():
            return "burn", step.burn
        case FlashStep():
            return "flash", step.flash
    raise TypeError(f"{type(step).__name__} gives no light")
