"""What is wrong within a print's file: areas without an outline, amounts told twice, steps out of order."""

from __future__ import annotations

from fractions import Fraction

from timerd.printing.stops import format_stops
from timerd.sheet.profile.faults import Place, did_you_mean, quoted
from timerd.sheet.profile.fields import RESERVED_AREAS, STRIP_AREAS
from timerd.sheet.profile.given import Found, WrittenLines
from timerd.sheet.profile.printfile import (
    BaseStep,
    BurnStep,
    DevelopStep,
    Dodge,
    FlashStep,
    Leave,
    LightStep,
    Print,
    Strip,
)

_SLACK_MM = 0.05  # inches and millimetres of one size differ by less


def print_faults(print_: Print, given: WrittenLines) -> Found:
    """All that is wrong with a print; what has no usable value is None and is passed over."""
    for area in print_.areas or ():
        if area in RESERVED_AREAS:
            yield ("areas", area), "is a name of its own and needs no outline: call the area something else"
    if len(given.written((), "magnification", "head_height_mm")) == 2:
        yield ("head_height_mm",), "says the same as magnification: leave one of them out"
    yield from _image(print_)
    yield from _strip(print_.strip, given)
    yield from _steps(print_, given)


def _image(print_: Print) -> Found:
    """Whether the image fits on the sheet."""
    box, sheet = print_.image_mm, print_.sheet
    if box is None or sheet is None:
        return
    for start, size, side in (("left", "width", sheet[0]), ("top", "height", sheet[1])):
        parts = getattr(box, start), getattr(box, size)
        if None not in parts and sum(parts) > side + _SLACK_MM:
            reach = f"{parts[0]:g} + {parts[1]:g} = {sum(parts):g} mm"
            yield (("image_mm",), f"reaches over the sheet: {start} + {size} is {reach}, the sheet has {side:g} mm")


_TOLD_BY = {"base": "ladders", "threshold": "ladders", "dry-down": "percent", "safelight": "minutes"}


def _strip(strip: Strip | None, given: WrittenLines) -> Found:
    """A strip says what its patches got in the one way that goes with what it finds."""
    here: Place = ("strip",)
    if strip is None or strip.finds is None:
        return
    key = _TOLD_BY[strip.finds]
    if given.lacks(here, key):
        yield here, f"finds {strip.finds}: needs '{key}', what did the patches get?"
    for other in given.written(here, *sorted({*_TOLD_BY.values()} - {key})):
        yield (*here, other), f"does not go with finds: {strip.finds}"
    if strip.finds == "base" and given.lacks(here, "print"):
        yield here, "finds base: needs 'print', whose base?"
    for i, ladder in enumerate(strip.ladders or ()):
        if strip.finds == "base" and ladder is not None and given.lacks((*here, "ladders", i), "base"):
            yield (*here, "ladders", i), "needs 'base': which base does it find?"
    told = getattr(strip, key)
    most = 1 if strip.finds == "threshold" else 2
    if key == "ladders" and told is not None and not 1 <= len(told) <= most and given.written(here, key):
        yield (*here, key), f"must be {'one' if most == 1 else 'one or two'}, are {len(told)}"
    elif key != "ladders" and told is not None and len(told) < 2 and given.written(here, key):
        yield (*here, key), f"must have 2 or more, has {len(told)}"


def _steps(print_: Print, given: WrittenLines) -> Found:
    steps = print_.steps or []
    known = all(step is not None for step in steps) and bool(steps)
    if known and not any(isinstance(step, LightStep) for step in steps):
        yield ("steps",), "no step gives light: write a base, a burn or a flash"
    bases: dict[tuple[str, str], Place] = {}
    for i, step in enumerate(steps):
        here: Place = ("steps", i)
        if isinstance(step, DevelopStep) and i < len(steps) - 1:
            yield here, "develop must be the last step"
        if isinstance(step, LightStep):
            yield from _light_step(print_, step, here, given)
        if isinstance(step, BaseStep) and step.base is not None and step.light is not None:
            first = bases.setdefault((step.base, step.light), here)
            if first != here:
                line = given.line_of(first)
                yield ((*here, "base"), f"there is a base '{step.base}' in {step.light} on line {line}: name it apart")


def _light_step(print_: Print, step: LightStep, here: Place, given: WrittenLines) -> Found:
    if step.pedal == "press" and given.written(here, "lead_in_again"):
        yield ((*here, "lead_in_again"), "is for hold and free: a press step has its whole lead-in again anyway")
    if given.written(here, "aperture") and given.lacks((), "aperture"):
        yield (*here, "aperture"), "needs the print's own aperture, at the top of the file, to change from"
    match step:
        case FlashStep():
            yield from _area(print_, step.flash, "flash", here, given)
            yield from _amount(step, ("threshold", "seconds"), here, given)
            if step.threshold == 0:
                yield (*here, "threshold"), "must be above 0 %"
        case BaseStep():
            yield from _amount(step, ("seconds",), here, given)
            yield from _dodges(print_, step.dodge, here, given)
        case BurnStep():
            yield from _area(print_, step.burn, "burn", here, given)
            yield from _amount(step, ("stops", "seconds", "percent"), here, given)
            yield from _mix(step, here)
            yield from _above_0(step.stops, here)
            yield from _dodges(print_, step.dodge, here, given)
            yield from _leaves(print_, step, here, given)


def _amount(step: LightStep, keys: tuple[str, ...], here: Place, given: WrittenLines) -> Found:
    """A step says in exactly one way how much light, or in none where the foot decides."""
    told = given.written(here, *keys)
    if step.pedal is None:
        return
    if step.pedal == "free":
        for key in (*told, *given.written(here, "dodge", "leave")):
            yield (*here, key), "does not go with pedal: free, which plans no light: leave it out"
    elif len(told) > 1:
        yield here, f"has {quoted(told, 'and')}: one of them says how much light"
    elif given.lacks(here, *keys):
        yield here, f"needs {quoted(keys, 'or')}: how much light?"


def _area(print_: Print, area: str | None, key: str, here: Place, given: WrittenLines) -> Found:
    """An area is outlined, or has a name of its own; a strip needs its width."""
    if area is None:
        return
    if area in STRIP_AREAS:
        if given.lacks(here, "mm"):
            yield here, f"'{area}' needs 'mm': how wide is the strip?"
    elif given.written(here, "mm"):
        yield (*here, "mm"), f"is for {', '.join(STRIP_AREAS)} only: '{area}' has an outline"
    if area not in RESERVED_AREAS and area not in (print_.areas or ()) and given.complete("areas"):
        names = [*(print_.areas or ()), *RESERVED_AREAS]
        yield (*here, key), f"'{area}' is not outlined under areas{did_you_mean(area, names)}"


def _dodges(print_: Print, dodges: list[Dodge] | None, here: Place, given: WrittenLines) -> Found:
    for i, dodge in enumerate(dodges or ()):
        place = (*here, "dodge", i)
        if dodge is None:
            continue
        yield from _area(print_, dodge.area, "area", place, given)
        yield from _above_0(dodge.stops, place)
        if dodge.apart and given.written(place, "start"):
            yield (*place, "start"), "does not go with apart: a dodge done apart has a burst of its own"
        if not given.written(place, "hold_back"):
            if given.lacks(place, "stops"):
                yield place, "needs 'stops' or 'hold_back: all': how much is held back?"
            continue
        for key in given.written(place, "stops", "start", "apart"):
            yield (*place, key), "does not go with hold_back: all, which covers the area throughout: leave it out"


def _leaves(print_: Print, burn: BurnStep, here: Place, given: WrittenLines) -> Found:
    leaves: list[Leave] = burn.leave or []
    for i, leave in enumerate(leaves):
        place = (*here, "leave", i)
        if leave is None:
            continue
        yield from _area(print_, leave.area, "area", place, given)
        if leave.stops is None:
            continue
        if leave.stops < 0:
            yield (*place, "stops"), f"must be at least 0, is {format_stops(leave.stops)}"
        elif burn.stops is not None and 0 < burn.stops <= leave.stops:
            most = format_stops(burn.stops)
            yield (*place, "stops"), f"must be below the burn's {most}, is {format_stops(leave.stops)}"


def _mix(burn: BurnStep, here: Place) -> Found:
    """A burn in several lights has each once."""
    if not isinstance(burn.light, list):
        return
    for i, light in enumerate(burn.light):
        if light is not None and light in burn.light[:i]:
            yield (*here, "light", i), f"'{light}' is there already"


def _above_0(stops: Fraction | None, here: Place) -> Found:
    if stops is not None and stops <= 0:
        yield (*here, "stops"), f"must be above 0, is {format_stops(stops)}"
