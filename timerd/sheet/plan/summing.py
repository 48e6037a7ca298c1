"""What all steps come to: stops per area and light, time under the lamp, what the printer should mind."""

from __future__ import annotations

import math
from collections.abc import Sequence

from timerd.printing.enlarging import new_dose
from timerd.printing.stops import stopped_down, total_stops
from timerd.sheet.plan.value import Step, Total
from timerd.sheet.words import area_words, seconds_words

SHORTEST_BY_HAND_S = 2.0


def lamp_seconds(steps: Sequence[Step]) -> float:
    """How long lamps burn in all when nobody pauses; steps without a planned dose are not in it."""
    return sum(sum(burst_seconds(step)) for step in steps)


def burst_seconds(step: Step) -> list[float]:
    """How long each of a step's bursts is, from cold."""
    return [step.response.seconds(stop - start) for start, stop in zip((0.0, *step.parts), step.parts, strict=False)]


def totals(steps: Sequence[Step], reciprocity: float) -> tuple[Total, ...]:
    """For each area and light with a base: stops over it in all. Doses add up as doses, as at the print's aperture.

    An area is taken to lie in every burn that holds it back or leaves it at less, and in every burn of `all`. Outlines
    are not compared: areas count by their names. Where a step is free the total is not known, and there is no row.
    """
    rows = []
    for light in dict.fromkeys(step.light for step in steps if step.kind == "base"):
        bases = [step for step in steps if step.kind == "base" and step.light == light]
        burns = [step for step in steps if step.kind == "burn" and step.light == light]
        doses = [step.dose / step.scale for step in bases if step.dose is not None]
        if light is None or len(doses) < len(bases):
            continue
        base = sum(doses)
        for area in dict.fromkeys(area for step in (*bases, *burns) for area in _areas(step)):
            over_it = [step for step in burns if step.area == "all" or area in _areas(step)]
            added = [step.dose / step.scale for step in over_it if step.dose is not None]
            if len(added) < len(over_it):
                continue
            held = sum(
                cue.seconds / step.scale for step in (*bases, *burns) for cue in step.dodges
                if area_words(cue.area, cue.mm) == area
            )  # fmt: skip
            stops = total_stops(base, sum(added), held) * reciprocity
            rows.append(Total(area=area, light=light, stops=stops, base=base, added=sum(added), held_back=held))
    return tuple(rows)


def _areas(step: Step) -> list[str]:
    own = [area_words(step.area, step.mm)] if step.kind == "burn" else []
    return own + [area_words(cue.area, cue.mm) for cue in step.dodges]


def cautions(
    steps: Sequence[Step], aperture: float | None = None, reciprocity: float = 1.0, strip: bool = False
) -> tuple[str, ...]:  # fmt: skip
    """What can be done, but not well, in the order of steps; the time under the lamp comes last.

    `aperture` is the print's own. A test strip is flashed over the threshold on purpose, to find it.
    """
    said: list[str] = []
    flashed: dict[str, list[Step]] = {}
    for step in steps:
        said += _too_short(step, aperture, reciprocity)
        if step.kind == "flash":
            flashed.setdefault(area_words(step.area, step.mm), []).append(step)
    for area, flashes in () if strip else flashed.items():
        if area != "all":
            said += _over_threshold(area, [*flashes, *flashed.get("all", [])])
        elif flashed.keys() == {"all"}:
            said += _over_threshold(area, flashes)
    free = ", steps without a planned dose not counted" if any(step.pedal == "free" for step in steps) else ""
    return (*said, f"time under the lamp: {seconds_words(lamp_seconds(steps))} in all{free}")


def _too_short(step: Step, aperture: float | None, reciprocity: float) -> list[str]:
    """What is too quick for hands, each with the edit that cures it and the seconds that it makes."""
    said = []
    if step.kind == "burn" and step.area != "all" and step.seconds is not None and _short(step.seconds):
        cure = _slower(step, step.seconds, aperture, reciprocity)
        said.append(f"{step.name}: {step.seconds:.1f} s is too short for hands: {cure}")
    for cue in step.dodges:
        if _short(cue.seconds) and not cue.apart:  # nothing moves in a burst of its own
            apart = f", or apart: true on the dodge (a burst of its own, {cue.seconds:.1f} s)"
            area = area_words(cue.area, cue.mm)
            said.append(
                f"{step.name}: {area} held back for {cue.seconds:.1f} s is too short for hands: "
                f"{_slower(step, cue.seconds, aperture, reciprocity)}{'' if cue.leave else apart}"
            )
    return said


def _slower(step: Step, seconds: float, aperture: float | None, reciprocity: float) -> str:
    """The edit of the step that makes these seconds long enough: whole stops at the lens, else a density."""
    stops = math.ceil(math.log2(SHORTEST_BY_HAND_S / seconds) * reciprocity + 1e-9)
    there = step.aperture or aperture
    mark = _mark(there, stops) if there is not None else None
    if mark is not None:
        now = seconds * new_dose(1.0, 2.0**stops, reciprocity)
        return f"write aperture: {mark:g} on the step ({now:.1f} s)"
    density = round((step.density or 0.0) + stops * 0.3, 1)
    now = seconds * new_dose(1.0, 10 ** (stops * 0.3), reciprocity)
    return f"write density: {density:g} on the step ({now:.1f} s)"


def _mark(aperture: float, stops: int) -> float | None:
    try:
        return stopped_down(aperture, stops)
    except ValueError:  # a number that is no mark: what it stands for is not known
        return None


def _short(dose: float | None) -> bool:
    return dose is not None and dose < SHORTEST_BY_HAND_S


def _over_threshold(area: str, flashes: Sequence[Step]) -> list[str]:
    share = sum(step.threshold or 0.0 for step in flashes)
    if share < 1 - 1e-9:
        return []
    who = flashes[0].name if len(flashes) == 1 else f"{area}, flashed {len(flashes)} times"
    return [f"{who}: {share * 100:.0f} % of the threshold leaves a tone of its own: flash less"]
