"""The paper's curve in the print's mix, and what becomes of a tone in each area: burned, held back, flashed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from timerd.desk.report.markup import Markup, foreign, joined, tag
from timerd.desk.report.subject import Subject
from timerd.printing.exposure import exposure
from timerd.printing.flash import SEEN, flashed_range
from timerd.printing.paper import SPEED_POINT, Curve, IsoRange, iso_range, mix_words
from timerd.sheet.places import Amounts, Inside, named, negatives, parts, passed, places, reaches
from timerd.sheet.words import part_words

_COLOURS = ("green", "blue")
_STRAIGHT = "straight print"
_TONES = (0.3, 0.6, 1.0, 1.5)  # densities of the straight print whose fate is told, beside both ends of its range
_RAMP = 30
_SEAM = 0.1  # percent by which boxes reach under the next, so that no seam is seen between them
_POINTS = 120
_STOP = math.log10(2.0)
_MARGIN_STOPS = 1.0


@dataclass(frozen=True, slots=True)
class PlaceLight:
    """What a place on the sheet gets, in exposures of the paper's unit where the image gives 1: of green, of blue, and
    of a flash, which is the same wherever it falls."""

    green: float
    blue: float
    flash: float = 0.0

    def density(self, curve: Curve, times: float) -> float:
        """The density that comes of it where the image's light is so many times as strong."""
        return curve.density(times * self.green + self.flash, times * self.blue)


@dataclass(frozen=True, slots=True)
class Tones:
    """The straight print's range in its mix, and the light that most of each area gets, the straight print's first.

    `reach` is how much of each area that is, over 0 to 1.
    """

    curve: Curve
    found: IsoRange
    lights: dict[str, PlaceLight]
    reach: dict[str, float]
    left_out: bool

    def times(self, density: float) -> float:
        """How strong the image's light is where the straight print has this density."""
        straight = self.lights[_STRAIGHT]
        return self.curve.multiple(density, straight.green, straight.blue)


def tones_section(subject: Subject) -> Markup:
    """Curve and tones, or in one line why they are not known."""
    try:
        told = _drawn(tones_of(subject))
    except (LookupError, ValueError) as error:
        told = [tag("p", f"Not known: {error.args[0]}.")]
    return tag("section", tag("h2", "Curve and tones"), *told, id="tones")


def tones_of(subject: Subject) -> Tones:
    """What most of each area gets; LookupError or ValueError, in one line, where paper, bench or print do not tell it.

    The outlines say what reaches an area; one of which they do not tell it is left out.
    """
    curve = _curve(subject)
    colours = _colours(subject)
    images = negatives(subject.plan.steps)
    if len(images) > 1:
        raise ValueError("the print is of more negatives than one, and their light adds up")
    steps = [step for _, lit in images for step in lit]
    bases = dict.fromkeys(_COLOURS, 0.0)
    for step in steps:
        if step.kind == "base":
            dose = subject.dose(step)
            if colours.get(step.light or "") not in bases:
                raise ValueError(f"base '{step.name}' is in a light that is neither green nor blue")
            if dose is None:
                raise ValueError(f"base '{step.name}' has no planned dose")
            bases[colours[step.light or ""]] += dose / step.scale
    straight = PlaceLight(bases["green"], bases["blue"])
    if not straight.green + straight.blue:
        raise ValueError("no base was given" if subject.history is not None else "the print has no base")
    found = iso_range(curve, straight.green, straight.blue)
    flashes = [step for step in subject.plan.steps if step.kind == "flash" and subject.dose(step)]
    seen = _threshold(curve)
    known = [step for step in steps if colours.get(step.light or "") in bases]
    shares = {step.n: subject.threshold(step) for step in flashes}

    def amounts(inside: Inside) -> Amounts:
        """Green and blue as the paper counts them, and the share of the flash's threshold; None where one is free."""
        got: list[float | None] = []
        for colour, base in bases.items():
            there = [step for step in known if colours[step.light or ""] == colour and reaches(step, inside)]
            doses = [(step, subject.dose(step)) for step in there]
            dose = sum(passed(step, inside, one) for step, one in doses if one is not None)
            free = any(one is None for _, one in doses)
            got.append(None if free else exposure(dose, base, subject.plan.reciprocity))
        return (*got, sum(shares[step.n] or 0.0 for step in flashes if reaches(step, inside)))

    lights, reach = {_STRAIGHT: straight}, {_STRAIGHT: 1.0}
    left_out = len(known) < len(steps) or None in shares.values() or (bool(flashes) and seen is None)
    where = places(subject.plan.sheet, subject.plan.steps)
    for area in named(flashes) | named(steps):
        told = parts(area, where, amounts)
        green, blue, share = told[0].amounts if told else (None, None, None)
        if green is None or blue is None or share is None:
            left_out = True
            continue
        lights[area], reach[area] = PlaceLight(green, blue, share * (seen or 0.0)), told[0].reach
    return Tones(curve, found, lights, reach, left_out)


def _curve(subject: Subject) -> Curve:
    paper, name = subject.paper, subject.plan.paper
    if paper is None:
        raise LookupError(f"there is no file of paper '{name}' here")
    if paper.curve is None:
        raise LookupError(f"paper '{name}' has no curve: read a step wedge on it, then timerd paper fit")
    if paper.curve.unit != "seconds":
        raise ValueError(f"paper '{name}' was read in {paper.curve.unit}, and what a second of light gives is not told")
    return paper.curve.curve


def _colours(subject: Subject) -> dict[str, str]:
    if subject.bench is None:
        raise LookupError(f"there is no file of bench '{subject.plan.bench}' here to tell its lights' colours")
    return {name: light.colour for name, light in subject.bench.lights.items()}


def _threshold(curve: Curve) -> float | None:
    """The exposure of a green flash that an eye just sees; None where green alone was not read."""
    try:
        curve.known(1.0, 0.0)
        return curve.multiple(curve.dmin + SEEN, 1.0, 0.0)
    except ValueError:
        return None


# -- as a page shows it --------------------------------------------------------------------------------------------


def _drawn(tones: Tones) -> list[Markup]:
    straight = tones.lights[_STRAIGHT]
    first = tones.found.log_ht - math.log10(straight.green + straight.blue)
    stops = tones.found.r / 100.0 / _STOP
    low, high = -_MARGIN_STOPS, stops + _MARGIN_STOPS
    rows = [tag("div", "density", class_="lane"), _chart(tones, first, low, high)]
    for area, light in tones.lights.items():
        rows += [
            tag("div", foreign(area), part_words(tones.reach[area]), class_="lane"),
            _ramp(tones.curve, light, first, low, high),
        ]
    rows += [tag("div", "stops", class_="lane"), _axis(low, high)]
    said = (
        f"In {mix_words(straight.green, straight.blue)} the paper's ISO range is R {tones.found.r:.0f}: "
        f"{stops:.1f} stops of image light from the first tone (0 stops) to 90 % of the black."
    )
    assumed = "Worked out on the paper's curve as its file has it now, for what most of each area gets by the outlines."
    if any(light.flash for light in tones.lights.values()):
        assumed += " A flash counts as green light, its threshold as an eye's first tone (common practice, no source)."
    if tones.left_out:
        assumed += " Left out: a flash whose share of the threshold, or light whose dose or colour, is not known."
    return [
        tag("p", said),
        tag("figure", tag("div", *rows, class_="strip"), class_="curve"),
        tag("h3", "What a tone of the straight print becomes"),
        _table(tones),
        tag("p", assumed, class_="small"),
    ]


def _chart(tones: Tones, first: float, low: float, high: float) -> Markup:
    curve, straight = tones.curve, tones.lights[_STRAIGHT]
    top = curve.dmax * 1.06
    points = []
    for i in range(_POINTS + 1):
        stop = low + (high - low) * i / _POINTS
        density = straight.density(curve, 10 ** (first + stop * _STOP))
        points.append(f"{i / _POINTS * 100:.2f},{(1 - density / top) * 100:.2f}")
    line = tag("polyline", class_="line", points=" ".join(points), vector_effect="non-scaling-stroke")
    scaled = tag("svg", line, viewBox="0 0 100 100", preserveAspectRatio="none", width="100%", height="100%")
    marks: list[Markup] = []
    for density in (0.5 * k for k in range(1, int(top / 0.5) + 1)):
        y = f"{(1 - density / top) * 100:.2f}%"
        marks.append(tag("line", class_="rule", x1="0", x2="100%", y1=y, y2=y))
        marks.append(tag("text", f"{density:.1f}", x="2", y=y, dy="-3"))
    for words, log, density in _points(tones):
        x = (log - tones.found.log_ht) / _STOP
        at = {"cx": f"{(x - low) / (high - low) * 100:.2f}%", "cy": f"{(1 - density / top) * 100:.2f}%"}
        marks.append(tag("circle", tag("title", words), class_="point", r="4", **at))
    return tag("svg", *marks, scaled, class_="chart", role="img", aria_label="density over image light, straight print")


def _points(tones: Tones) -> Iterator[tuple[str, float, float]]:
    yield f"first tone, density {tones.curve.low_point:.2f}", tones.found.log_ht, tones.curve.low_point
    speed = tones.curve.dmin + SPEED_POINT
    yield f"speed point, density {speed:.2f}", tones.found.log_hm, speed
    yield f"90 % of the black, density {tones.curve.high_point:.2f}", tones.found.log_hs, tones.curve.high_point


def _ramp(curve: Curve, light: PlaceLight, first: float, low: float, high: float) -> Markup:
    boxes = []
    for i in range(_RAMP):
        stop = low + (high - low) * (i + 0.5) / _RAMP
        density = light.density(curve, 10 ** (first + stop * _STOP))
        boxes.append(
            tag(
                "rect", class_="tone", style=f"--tone:{grey(density)}", x=f"{i / _RAMP * 100:.3f}%", y="3",
                width=f"{100 / _RAMP + (_SEAM if i < _RAMP - 1 else 0):.3f}%", height="18",
            )
        )  # fmt: skip
    return tag("svg", *boxes, role="img", aria_label="tones from little image light to much")


def _axis(low: float, high: float) -> Markup:
    every = 1 if high - low <= 8 else 2
    labels = [
        tag(
            "text", f"{stop:+d}" if stop else "0", x=f"{(stop - low) / (high - low) * 100:.2f}%", y="11",
            text_anchor="middle",
        ) for stop in range(math.ceil(low + 0.3), math.floor(high - 0.3) + 1) if stop % every == 0
    ]  # fmt: skip
    return tag("svg", *labels, class_="axis", aria_hidden="true")


def _table(tones: Tones) -> Markup:
    curve = tones.curve
    wanted = [curve.low_point, *(d for d in _TONES if curve.low_point < d < curve.high_point), curve.high_point]
    rows = []
    for area, light in tones.lights.items():
        name = joined(foreign(area), part_words(tones.reach[area]))
        cells = [tag("th", name, tag("div", _range_words(curve, light), class_="small"), scope="row")]
        for density in wanted:
            got = light.density(curve, tones.times(density))
            swatch = tag("span", class_="tone", style=f"--tone:{grey(got)}")
            cells.append(tag("td", swatch, f"{got:.2f}", class_="number"))
        rows.append(tag("tr", *cells))
    return tag("table", tag("tbody", *rows), class_="tones")


def _range_words(curve: Curve, light: PlaceLight) -> str:
    try:
        return f"R {flashed_range(curve, light.green, light.blue, light.flash, 0.0):.0f}"
    except ValueError:
        return "R not known"


def grey(density: float) -> int:
    """A reflection density as a grey of the screen, 0 to 255: sRGB after IEC 61966-2-1, white being reflectance 1.

    >>> grey(0.0), grey(0.745), grey(4.0)
    (255, 118, 0)
    """
    light = math.pow(10.0, -density)
    value = 12.92 * light if light <= 0.0031308 else 1.055 * math.pow(light, 1 / 2.4) - 0.055
    return round(255 * value)
