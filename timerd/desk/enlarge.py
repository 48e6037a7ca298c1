"""A print at another size, aperture or height: its seconds change, its stops and outlines stay."""

from __future__ import annotations

import math
from dataclasses import dataclass

from timerd.desk.keeping import GONE
from timerd.printing import enlarging
from timerd.printing.stops import aperture_factor
from timerd.sheet.plan.doses import Doses
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.fields import STRIP_AREAS
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, BurnStep, FlashStep, LightStep, Print, lights_of

_SLACK_MM = 0.05


@dataclass(frozen=True)
class Asked:
    """What was measured or is wanted, old and new; None where nothing is said.

    Readings tell everything; distances tell the height; magnifications tell the size and, alone, the height too.
    """

    magnification: tuple[float | None, float | None] = (None, None)
    distance: tuple[float | None, float] | None = None
    reading: tuple[float, float] | None = None
    aperture: tuple[float | None, float | None] = (None, None)
    sheet: tuple[float, float] | None = None


@dataclass(frozen=True)
class Enlarged:
    """The factor for doses, what changes in the print's file by place, and what the printer should mind.

    `size` is the ratio of the image's sides, None where it is not known. `seconds` tells each exposure that changes:
    its place in the file, then its seconds before and after.
    """

    factor: float
    size: float | None
    changes: dict[Place, object]
    seconds: list[tuple[Place, float, float]]
    mind: list[str]


def enlarged(print_: Print, name: str, bench: Bench, paper: Paper, asked: Asked) -> Enlarged:
    """What a print of this name becomes. ValueError where it is not said enough, or the image does not fit the sheet.

    Doses are multiplied by factor^(1/p), p the paper's reciprocity; seconds are those of one burst that gives them.
    """
    if print_.strip is not None:
        raise ValueError(
            "this is a test strip, and its file says what its patches got: enlarge the print, and make it anew"
        )
    mind: list[str] = []
    factor, size, changes = _measured(print_, asked, mind)
    changes[("origin",)] = name
    seconds: list[tuple[Place, float, float]] = []
    lens = _under_the_lens(print_, bench)
    doses = Doses(print_, bench, paper, _as_it_was)
    for i, step in enumerate(print_.steps):
        if isinstance(step, FlashStep) and bench.lamp_of(step.light).station != lens:
            mind.append(f"flash {step.flash}: unchanged, it is under another lens")
        elif isinstance(step, LightStep):
            told = _told(step, bench, paper)
            if isinstance(step, FlashStep) and step.threshold is not None:
                changes[("steps", i, "threshold")] = GONE
                mind.append(
                    f"flash {step.flash}: under the lens that moves, so in seconds now; the paper's threshold in "
                    f"{step.light} was measured at the old height, find it again"
                )
            if told is not None:
                new = _exact(sum(
                    bench.lamp_of(light).response.seconds(enlarging.new_dose(dose, factor, paper.reciprocity))
                    for light, dose in _before_dry_down(print_, paper, doses, i, step, told, bench)
                ))  # fmt: skip
                changes[("steps", i, "seconds")] = new
                seconds.append((("steps", i, "seconds"), told, new))
            _starts(step, ("steps", i), factor ** (1.0 / paper.reciprocity), changes)
        if size is not None and size != 1:
            _strips(step, ("steps", i), size, changes)
    if size is not None and size != 1:
        changes |= _image(print_, asked, size, mind)
    elif asked.sheet is not None:
        changes[("sheet",)] = [_exact(side) for side in asked.sheet]
    if paper.reciprocity != 1:
        doses = factor ** (1 / paper.reciprocity)
        mind.append(
            f"reciprocity {paper.reciprocity:g}: doses are multiplied by {doses:.4f}, for a factor of {factor:.4f}"
        )
    if size is not None and size > 1:
        mind.append("contrast drops a little in a larger print: a slightly harder mix may suit it")
    mind.append(
        "flare, the condensers' setting and reciprocity are not in the factor: make a test strip before the sheet"
    )
    return Enlarged(factor, size, changes, seconds, mind)


def _measured(print_: Print, asked: Asked, mind: list[str]) -> tuple[float, float | None, dict[Place, object]]:
    """Factor for doses, ratio of sides, and what the head of the file says then. The most direct measure counts."""
    changes: dict[Place, object] = {}
    stop_old = asked.aperture[0] if asked.aperture[0] is not None else print_.aperture
    stop_new = asked.aperture[1] if asked.aperture[1] is not None else stop_old
    if asked.aperture[0] is not None and asked.aperture[1] is None:
        raise ValueError("--aperture: say what the new one is")
    if asked.aperture[1] is not None and stop_old is None:
        raise ValueError("--from-aperture: the print does not say its aperture: say it")
    lens = 1.0
    if stop_old is not None and asked.aperture[1] is not None:
        lens = aperture_factor(stop_old, asked.aperture[1])
    if stop_new is not None and stop_new != print_.aperture:
        changes[("aperture",)] = stop_new
    if asked.aperture[0] is not None and print_.aperture not in (None, asked.aperture[0]):
        mind.append(f"the print's file says f/{print_.aperture:g}, not f/{asked.aperture[0]:g}: what you said is taken")

    height_mm = _height_mm(print_)
    old, new = asked.magnification
    old = print_.magnification if old is None else old
    if old is None and print_.lens_mm is not None and print_.head_height_mm is not None:
        old = enlarging.magnified_at(print_.lens_mm, print_.head_height_mm)
    if asked.magnification[0] is not None and print_.magnification not in (None, old):
        mind.append(
            f"the print's file says magnification {print_.magnification:g}, not {old:g}: what you said is taken"
        )
    if asked.magnification[0] is not None and new is None:
        raise ValueError("--magnification: say what the new one is")
    if new is not None and old is None:
        raise ValueError("--from-magnification: the print does not say its magnification: say it")
    if asked.reading is not None:
        factor = enlarging.reading_factor(*asked.reading)
        if asked.aperture != (None, None):
            mind.append("the readings have the aperture in them: it is not counted a second time")
        if new is None:
            mind.append("readings do not tell the size: it is left as it was; with --magnification it is changed too")
    elif asked.distance is not None:
        before, after = asked.distance
        before = height_mm if before is None else before
        if before is None:
            raise ValueError(
                "--from-distance: the print does not say how far the lens was (head_height_mm, or lens_mm and "
                "magnification): say it"
            )
        height = enlarging.distance_factor(before, after)
        factor = height * lens
        if new is not None:
            mind.append("the height is taken from the distances, the size from the magnifications")
        elif old is not None:
            new = enlarging.farther(old, height)
        else:
            mind.append("without the old magnification the new size is not known: it is left as it was")
    elif old is not None and new is not None:
        factor = enlarging.magnification_factor(old, new) * lens
    elif asked.aperture[1] is not None:
        factor = lens
    else:
        raise ValueError("say --magnification, or distances, or readings, or --aperture: what changes?")
    size = new / old if new is not None and old is not None else None
    if size is None and asked.reading is None and asked.distance is None:
        size = 1.0
    if new is not None and new != print_.magnification:
        changes[("magnification",)] = _exact(new)
    moved = asked.reading is not None or asked.distance is not None or new is not None
    if moved and height_mm is not None and asked.reading is None:
        there = height_mm * math.sqrt(factor / lens)
        mind.append(f"the lens goes from {height_mm:.0f} to {there:.0f} mm from the paper; focus, and look at the size")
    if moved and print_.head_height_mm is not None:
        if asked.distance is not None and asked.magnification[1] is None:
            changes[("head_height_mm",)] = _exact(there)
            changes.pop(("magnification",), None)  # the file says one of the two
        else:
            changes[("head_height_mm",)] = GONE
            why = "magnification says it now" if ("magnification",) in changes else "readings do not tell the new one"
            mind.append(f"head_height_mm is left out: {why}")
    return factor, size, changes


def _height_mm(print_: Print) -> float | None:
    """Millimetres from the lens to the paper as the print's file has it, or as its lens and magnification tell."""
    if print_.head_height_mm is not None:
        return print_.head_height_mm
    if print_.lens_mm is not None and print_.magnification is not None:
        return enlarging.lens_to_paper(print_.lens_mm, print_.magnification)
    return None


def _under_the_lens(print_: Print, bench: Bench) -> str | None:
    """The station whose lens has moved: that of the print's bases, else of its burns."""
    for kind in (BaseStep, BurnStep):
        for step in print_.steps:
            if isinstance(step, kind):
                return bench.lamp_of(lights_of(step)[0]).station
    return None


def _told(step: LightStep, bench: Bench, paper: Paper) -> float | None:
    """The seconds of a step that is counted in them, or in a threshold that holds no more; None of any other."""
    if isinstance(step, FlashStep) and step.threshold is not None:
        return bench.lamp_of(step.light).response.seconds(step.threshold * paper.threshold[step.light])
    told: float | None = getattr(step, "seconds", None)
    return told


def _before_dry_down(
    print_: Print, paper: Paper, doses: Doses, i: int, step: LightStep, told: float, bench: Bench
) -> list[tuple[str, float]]:  # fmt: skip
    """The dose in each light that a step's seconds stand for."""
    lights = lights_of(step)
    if len(lights) == 1:
        return [(lights[0], bench.lamp_of(lights[0]).response.dose(told))]
    off = paper.dry_down if print_.judged == "wet" else 0.0
    given = [(light, doses.of(i, light)) for light in lights]
    return [(light, one.dose / (1 - off)) for light, one in given if one is not None and one.dose is not None]


def _starts(step: LightStep, place: Place, grown: float, changes: dict[Place, object]) -> None:
    """When cards go in, counted in dose."""
    for key in ("dodge", "leave"):
        for j, item in enumerate(getattr(step, key, ())):
            if item.start:
                changes[(*place, key, j, "start")] = _exact(item.start * grown)


def _as_it_was(place: Place, message: str) -> None:
    """The print was worked out before: nothing is wrong with it."""


def _strips(step: object, place: Place, size: float, changes: dict[Place, object]) -> None:
    """Strips along the edges are parts of the image: their width grows with it."""
    area = getattr(step, "burn", None) or getattr(step, "flash", None)
    mm = getattr(step, "mm", None)
    if area in STRIP_AREAS and mm is not None:
        changes[(*place, "mm")] = _exact(mm * size)
    for key in ("dodge", "leave"):
        for j, item in enumerate(getattr(step, key, ())):
            if item.area in STRIP_AREAS and item.mm is not None:
                changes[(*place, key, j, "mm")] = _exact(item.mm * size)


def _image(print_: Print, asked: Asked, size: float, mind: list[str]) -> dict[Place, object]:
    """The sheet and where the image lies on it, its margins in the proportion that they had."""
    sheet = asked.sheet or (print_.sheet[0] * size, print_.sheet[1] * size)
    if asked.sheet is None:
        mind.append(
            f"the sheet is taken as {sheet[0]:.0f} x {sheet[1]:.0f} mm, larger or smaller as the image is: say --sheet "
            "for the paper that you have"
        )
    changes: dict[Place, object] = {("sheet",): [_exact(side) for side in sheet]}
    box = print_.image_mm
    if box is None:
        return changes
    for start, side, old, new in (
        ("left", "width", *_pair(print_, sheet, 0)),
        ("top", "height", *_pair(print_, sheet, 1)),
    ):
        long = getattr(box, side) * size
        room = new - long
        if room < -_SLACK_MM:
            raise ValueError(
                f"the image would be {box.width * size:.0f} x {box.height * size:.0f} mm, the sheet has "
                f"{sheet[0]:.0f} x {sheet[1]:.0f} mm: take a larger --sheet or a smaller --magnification"
            )
        margins = old - getattr(box, side)
        share = getattr(box, start) / margins if margins > _SLACK_MM else 0.5
        changes[("image_mm", start)] = _exact(max(0.0, room) * min(1.0, share))
        changes[("image_mm", side)] = _exact(long)
    return changes


def _pair(print_: Print, sheet: tuple[float, float], side: int) -> tuple[float, float]:
    return print_.sheet[side], sheet[side]


def _exact(value: float) -> float:
    """The shortest number that is this one to 1e-12: worked there and back, 9.5 is 9.5 again."""
    for figures in range(1, 15):
        if abs((short := float(f"{value:.{figures}g}")) - value) <= 1e-12 * abs(value):
            return short
    return value
