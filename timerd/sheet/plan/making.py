"""A print on a bench and a paper becomes a plan: steps in order, with the prompts needed between them."""

from __future__ import annotations

from timerd.sheet.plan.dodging import arrange
from timerd.sheet.plan.doses import Doses, Given
from timerd.sheet.plan.names import Names
from timerd.sheet.plan.prompts import Filters, start_asks
from timerd.sheet.plan.summing import burst_seconds, cautions, lamp_seconds, totals
from timerd.sheet.plan.value import LIGHTS, PROMPTS, Area, Plan, Sheet, Step
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Fault, Place, ProfileError, did_you_mean
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
)
from timerd.sheet.profile.reading import Profile
from timerd.sheet.words import spoken_seconds

LEAD_IN_S = {"press": 3.0, "hold": 0.2, "free": 0.2}


def make_plan(
    print_: Profile[Print], bench: Profile[Bench], paper: Profile[Paper], baths: Profile[BathLine] | None = None
) -> Plan:
    """The plan of a print's sheet; ProfileError with all that does not go together, at the print's lines.

    `baths` is the line that the print's last step names; without it the plan ends at the stop bath.
    """
    making = _Making(print_, bench.value, paper.value)
    steps = making.steps()
    if making.faults:
        raise ProfileError(making.faults)
    line = baths.value if baths is not None and steps[-1].kind == "develop" else None
    return Plan(
        reciprocity=paper.value.reciprocity,
        print=print_.value.print,
        negative=print_.value.negative,
        paper=paper.value.paper,
        bench=bench.value.bench,
        steps=steps,
        cautions=(*cautions(steps, strip=print_.value.strip is not None), *_of_the_baths(line, paper.value)),
        totals=totals(steps, paper.value.reciprocity),
        lamp_seconds=lamp_seconds(steps),
        sheet=_sheet(print_.value),
        baths=line,
        base=paper.value.base,
        safelight_s=paper.value.safelight_s,
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
    """Goes through a print's steps sheet in hand: where it is, and which filter each lamp holds."""

    def __init__(self, print_: Profile[Print], bench: Bench, paper: Paper) -> None:
        self.faults: list[Fault] = []
        self._profile = print_
        self._print = print_.value
        self._bench = bench
        self._names = Names()
        self._filters = Filters(bench)
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
            if isinstance(step, CarryStep):
                self._carry(i, step)
            elif isinstance(step, SafelightStep):
                asks = (f"{spoken_seconds(step.safelight)} under the safelight",)
                facts = {"asks": asks, "seconds": step.safelight, "card": step.card, "note": step.note}
                self._add(i, kind="safelight", name=self._names.of("safelight"), **facts)
            elif isinstance(step, DevelopStep):
                name = self._names.of(f"develop/{step.develop}")
                self._add(i, kind="develop", name=name, card=step.card, note=step.note)
            elif isinstance(step, BoxStep):
                self._complain(("steps", i, "box"), "setting a sheet aside is not built yet")
            elif isinstance(step, NegativeStep):
                self._complain(("steps", i, "negative"), "changing the negative is not built yet")
            else:
                self._light(i, step)
        for made in self._steps:
            if made.then_next:
                self._then(made)
        return tuple(self._steps)

    def _add(self, i: int | None, **facts: object) -> None:
        step = Step.model_validate({"n": len(self._steps) + 1, "station": self._here, **facts})
        self._steps.append(step)
        if i is not None:
            self._written[step.n] = i

    def _start(self) -> None:
        first = next((step for step in self._print.steps if isinstance(step, LightStep)), None)
        name = self._known_light(first) if first is not None else None
        words = None
        if name is not None:
            self._here = self._bench.lamps[self._bench.lights[name].lamp].station
            if (wanted := self._filters.change_to(name)) is not None:
                words = self._filters.words(wanted)
        self._add(None, kind="wait", name=self._names.of("wait"), asks=start_asks(self._print, words))

    def _carry(self, i: int, step: CarryStep) -> None:
        place: Place = ("steps", i, "carry")
        lit_before = any(there.kind in LIGHTS for there in self._steps)
        if step.carry not in self._bench.stations:
            there = did_you_mean(step.carry, self._bench.stations)
            self._complain(place, f"bench '{self._bench.bench}' has no station '{step.carry}'{there}")
            self._here = None
        elif not lit_before:
            self._complain(place, f"comes before any light: the sheet starts at {self._start_words()}, leave it out")
        elif step.carry == self._here and not self._not_carried:
            self._complain(place, f"the sheet is already at the {step.carry}: leave it out")
        else:
            self._here = step.carry
            self._not_carried = False
        name = self._names.of(f"carry/{step.carry}")
        asks = (f"carry the sheet to the {step.carry}",)
        self._add(i, kind="carry", name=name, asks=asks, card=step.card, note=step.note)

    def _start_words(self) -> str:
        return f"the {self._here}, where its first light is" if self._here is not None else "its first light"

    # -- light -----------------------------------------------------------------------------------------------

    def _light(self, i: int, step: BaseStep | BurnStep | FlashStep) -> None:
        kind, area = _kind_and_area(step)
        self._not_built_yet(i, step)
        light = self._known_light(step, ("steps", i, "light"))
        if light is not None:
            self._be_there(i, light)
            if (wanted := self._filters.change_to(light)) is not None:
                asks = (self._filters.words(wanted),)
                name = self._names.of(f"filter/{wanted}")
                self._add(None, kind="filter", name=name, light=light, asks=asks)
        given = self._doses.of(i)
        facts: dict[str, object] = {
            "kind": kind, "name": self._names.of(f"{kind}/{area}/{light}"), "area": area, "light": light,
            "mm": None if isinstance(step, BaseStep) else step.mm, "pedal": step.pedal,
            "lead_in": LEAD_IN_S[step.pedal] if step.lead_in is None else step.lead_in,
            "lead_in_again": step.lead_in_again, "then_next": step.then == "next",
            "card": step.card, "note": step.note,
        }  # fmt: skip
        if light is not None and given is not None:
            facts |= self._lit(i, step, light, given)
        self._add(i, **facts)
        if light is not None:
            self._not_too_long(i, step, self._steps[-1])

    def _lit(self, i: int, step: BaseStep | BurnStep | FlashStep, light: str, given: Given) -> dict[str, object]:
        lamp_name = self._bench.lights[light].lamp
        lamp = self._bench.lamps[lamp_name]
        facts: dict[str, object] = {
            "lamp": lamp_name, "response": lamp.response, "longest_s": float(lamp.longest_s),
            "dose": given.dose, "dry_down": given.dry_down, "stops": given.stops,
            "stops_written": given.stops_written, "threshold": given.threshold,
        }  # fmt: skip
        if given.dose is None:
            return facts
        held = [] if isinstance(step, FlashStep) else self._doses.held(i, step, given)
        dodges, parts = arrange(
            held, ("steps", i), given.dose, _kind_and_area(step)[0], self._print.hands, self._complain
        )
        return facts | {"seconds": lamp.response.seconds(given.dose), "dodges": dodges, "parts": parts}

    def _known_light(self, step: LightStep, place: Place | None = None) -> str | None:
        name = getattr(step, "light", None)
        if not isinstance(name, str):
            return None
        if name in self._bench.lights:
            return name
        if place is not None:
            there = did_you_mean(name, self._bench.lights)
            self._complain(place, f"bench '{self._bench.bench}' has no light '{name}'{there}")
        return None

    def _be_there(self, i: int, light: str) -> None:
        """The sheet must be where the light is. After the first fault it is taken to be there."""
        station = self._bench.lamps[self._bench.lights[light].lamp].station
        if self._here is not None and station != self._here:
            self._complain(
                ("steps", i, "light"),
                f"'{light}' is at the {station}, the sheet is at the {self._here}: carry it there first",
            )
            self._not_carried = True
        self._here = station

    def _not_built_yet(self, i: int, step: BaseStep | BurnStep | FlashStep) -> None:
        if step.aperture is not None:
            self._complain(("steps", i, "aperture"), "another aperture for one step is not built yet")
        if step.density is not None:
            self._complain(("steps", i, "density"), "a density for one step is not built yet")
        if isinstance(step, BurnStep) and not isinstance(step.light, str):
            self._complain(("steps", i, "light"), "a burn in more lights than one is not built yet")

    def _not_too_long(self, i: int, step: BaseStep | BurnStep | FlashStep, planned: Step) -> None:
        key = next(k for k in ("seconds", "stops", "percent", "threshold", "light") if getattr(step, k, None))
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


def _kind_and_area(step: BaseStep | BurnStep | FlashStep) -> tuple[str, str]:
    match step:
        case BaseStep():
            return "base", step.base
        case BurnStep():
            return "burn", step.burn
        case FlashStep():
            return "flash", step.flash
