"""What is to happen to a sheet, worked out: steps with doses, seconds and cues.

Doses are seconds of full light; seconds are the length of one burst from cold that gives the dose.
"""

from __future__ import annotations

from typing import Literal, Self

from pydantic import model_validator

from timerd.printing.light import Response
from timerd.sheet.facts import Planned
from timerd.sheet.plan.before import puts_of
from timerd.sheet.profile.bathfile import Base, BathLine
from timerd.sheet.profile.fields import Part

Kind = Literal[
    "wait", "filter", "aperture", "density", "carry", "safelight", "box", "negative", "flash", "base", "burn", "develop"
]
PROMPTS: tuple[Kind, ...] = ("wait", "filter", "aperture", "density", "carry", "safelight", "box", "negative")
ASIDE: tuple[Kind, ...] = ("box", "negative")
"""Prompts after which the sheet lies in its box, until it is taken up."""
LIGHTS: tuple[Kind, ...] = ("flash", "base", "burn")


class Cue(Part):
    """One dodge in a step: an area held back from `start` to `stop`, doses counted from the step's start.

    `stops` is how much less the area gets, None where it is covered throughout and gets nothing; with `leave`, how much
    it gets of a burn all the same.
    """

    area: str
    mm: float | None = None
    start: float
    stop: float
    stops: float | None
    stops_written: str | None
    card: str | None = None
    note: str | None = None
    apart: bool = False
    leave: bool = False

    @property
    def seconds(self) -> float:
        """How much dose is held back."""
        return self.stop - self.start


class Step(Part):
    """One thing done to the sheet, numbered from 1 with the inserted prompts counted.

    `parts` are the doses, counted from the step's start, at which its bursts end when nobody pauses: one for a
    plain step, more where dodges are done apart, none where no dose is planned. `asks` is what a prompt asks for; a
    filter prompt has the light for which the filter is changed.
    `seconds` of a `safelight` step are how long the sheet lies under the safelight alone.
    `mm` is how wide a strip along the edge is; `threshold` is a flash's share of the paper's, where known.
    `threshold_dose` is the dose that is all of a flash's threshold, planned or free.
    `aperture` and `density` are the step's own; `scale` is how many seconds of light through them do on the paper what
    one does at the print's aperture without a density: `dose` has it in it, `stops` have not.
    `puts` is what a prompt puts in its place, by the thing: the mark of the `lens`, the `filter` of a light and its
    `colour` where the light's name does not say it, a `density`, a `negative`; None for what comes out. The start
    prompt has all that is in place from the start. `says` is what the file says behind a prompt: what a box is for, the
    line of a `develop`; None for a box that no file asked for.
    `set_up` is what stands on the bench while the step is done (after it, for a prompt): for each thing, what is to be
    asked for where it stands otherwise.
    """

    n: int
    kind: Kind
    name: str
    station: str | None = None
    area: str | None = None
    mm: float | None = None
    light: str | None = None
    lamp: str | None = None
    dose: float | None = None
    seconds: float | None = None
    stops: float | None = None
    stops_written: str | None = None
    pedal: Literal["press", "hold", "free"] | None = None
    lead_in: float | None = None
    lead_in_again: bool = False
    then_next: bool = False
    dry_down: float | None = None
    dodges: tuple[Cue, ...] = ()
    parts: tuple[float, ...] = ()
    response: Response = Response()
    longest_s: float = 300.0
    asks: tuple[str, ...] = ()
    card: str | None = None
    note: str | None = None
    threshold: float | None = None
    threshold_dose: float | None = None
    aperture: float | None = None
    density: float | None = None
    scale: float = 1.0
    set_up: tuple[tuple[str, str], ...] = ()
    puts: tuple[tuple[str, str | None], ...] = ()
    says: str | None = None

    @model_validator(mode="after")
    def _from_before(self) -> Self:
        if not {"puts", "says"} & self.model_fields_set:
            self.__dict__.update(puts_of(self.kind, self.name, self.asks))  # it is only being made yet
        return self

    @property
    def gives_light(self) -> bool:
        """Whether it lights the sheet; any other step only asks for something."""
        return self.kind in LIGHTS

    def asked_after(self, standing: tuple[tuple[str, str], ...]) -> tuple[str, ...]:
        """What must be changed on a bench that stands like that before this step can be done."""
        there = dict(standing)
        return tuple(words for thing, words in self.set_up if there.get(thing) != words)


class Area(Part):
    """A place on the image: its corners in fractions of the finished image, face up, from its top left."""

    name: str
    corners: tuple[tuple[float, float], ...]


class Sheet(Part):
    """The paper as it lies on the easel, the image on it and the areas of the image. All sizes in mm.

    `image` is left, top, width, height from the sheet's top left, face up; `image_given` says whether the print
    tells it: where it does not, the image is taken to fill the sheet.
    """

    width: float
    height: float
    image: tuple[float, float, float, float]
    image_given: bool
    areas: tuple[Area, ...] = ()


class Total(Part):
    """What an area gets of one light in all: the stops over (or under) the base, None where it gets nothing, and the
    doses behind them.

    `reach` is how much of the area gets that, over 0 to 1; `rest` is the least and the most, in stops, that the rest of
    it gets, under light or cards of other areas, where that is known. `negative` says of which one's image it is, where
    there are several.
    """

    area: str
    light: str
    stops: float | None
    base: float
    added: float
    held_back: float
    reach: float = 1.0
    rest: tuple[float, float] | None = None
    negative: str | None = None


class Plan(Part):
    """A sheet's steps from 1, in order, with what the printer should know beforehand.

    `sheet` is what a map is drawn from; a plan put together without a print has none. `baths` are those that the last
    step names, `base` is the paper's, `safelight_s` its tested safe time; `box` and `batch` are its file's.
    `new_box` is what the first sheet's paper is from, where the last one's in the book was from another.
    """

    print: str
    negative: str | None
    paper: str
    bench: str
    steps: tuple[Step, ...]
    cautions: tuple[str, ...]
    totals: tuple[Total, ...]
    lamp_seconds: float
    reciprocity: float = 1.0
    sheet: Sheet | None = None
    baths: BathLine | None = None
    base: Base | None = None
    safelight_s: float | None = None
    box: str | None = None
    batch: str | None = None
    new_box: str | None = None

    @property
    def as_armed(self) -> tuple[Planned, ...]:
        """Its steps as a sheet is armed with them."""
        lights = ((step, step.kind in LIGHTS) for step in self.steps)
        return tuple(Planned(step.n, step.kind, step.dose if light else 0.0, light) for step, light in lights)
