"""What is too short for hands, each with the edits that cure it: the whole print at a smaller aperture comes first."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from timerd.printing.enlarging import new_dose
from timerd.printing.stops import aperture_factor, smaller_mark
from timerd.sheet.plan.value import LIGHTS, Step
from timerd.sheet.profile.fields import MOST_S
from timerd.sheet.words import area_words

SHORTEST_BY_HAND_S = 2.0
_SAME = 1e-9
"""Relative: what is worked out to come to the shortest may be that much less."""
_DENSITY = 0.3
"""Neutral filters are stacked in these: about a stop each."""


@dataclass(frozen=True, slots=True)
class _Short:
    """Something done by hand or foot that is over too soon; `now` tells its seconds, its dose being multiplied."""

    step: Step
    words: str
    now: Callable[[float], float]
    also: str = ""

    def times(self) -> float:
        """What its dose must be multiplied by to last long enough."""
        low, high = 1.0, 2.0
        while self.now(high) < SHORTEST_BY_HAND_S:
            low, high = high, high * 2.0
        for _ in range(60):
            middle = (low + high) / 2.0
            low, high = (middle, high) if self.now(middle) < SHORTEST_BY_HAND_S else (low, middle)
        return high


def too_short(
    steps: Sequence[Step], aperture: float | None, reciprocity: float, whole: bool = True
) -> tuple[str, ...]:  # fmt: skip
    """A line for each burn of an area, each step that the foot holds and each card that is over in less than 2 s.

    `aperture` is the print's own. The cure that is offered first changes no lens over the paper: `timerd enlarge` makes
    the whole print at the mark at which the shortest lasts long enough. It is not offered for what it would not cure: a
    step with an aperture of its own, and a flash at a station without the lens; nor where a lamp would burn too long,
    nor without `whole`. An edit of the one step comes after it.
    """
    short = [one for step in steps if step.kind in LIGHTS for one in _of(step)]
    lens = _lens_station(steps)
    follows = [one for one in short if _follows(one.step, lens)] if whole else []
    print_so = _whole_print(steps, follows, lens, aperture, reciprocity) if follows else None
    said = []
    for one in short:
        cures = [print_so(one)] if print_so is not None and one in follows else []
        under_lens = one.step.kind != "flash" or one.step.station == lens
        cures.append(_on_the_step(one, aperture if under_lens else None, reciprocity))
        said.append(f"{one.step.name}: {one.words} is too short for hands: {', or '.join(cures)}{one.also}")
    return tuple(said)


def _of(step: Step) -> Iterator[_Short]:
    """What is too short in one step. A card that stays where it is may be as quick as it likes."""
    by_hand = step.pedal == "hold" or (step.kind == "burn" and step.area != "all")
    if by_hand and step.dose is not None and step.seconds is not None and _is_short(step.seconds):
        dose, response = step.dose, step.response
        yield _Short(step, f"{step.seconds:.1f} s", lambda times: response.seconds(dose * times))
    for cue in step.dodges:
        if _is_short(cue.seconds) and not cue.apart and cue.stops is not None:  # else nothing moves in a burst
            also = f", or apart: true on the dodge (a burst of its own, {cue.seconds:.1f} s)"
            words = f"{area_words(cue.area, cue.mm)} held back for {cue.seconds:.1f} s"
            yield _Short(step, words, _times(cue.seconds), "" if cue.leave else also)


def _times(seconds: float) -> Callable[[float], float]:
    return lambda times: seconds * times


def _is_short(seconds: float) -> bool:
    return seconds < SHORTEST_BY_HAND_S * (1.0 - _SAME)


def _lens_station(steps: Sequence[Step]) -> str | None:
    """Where the print's lens is: at its bases, else at its burns, None with neither; as `timerd enlarge` has it."""
    there = (step.station for kind in ("base", "burn") for step in steps if step.kind == kind)
    return next(there, None)


def _follows(step: Step, lens: str | None) -> bool:
    """Whether a step changes with the print's aperture."""
    return step.aperture is None and (step.kind != "flash" or step.station == lens)


def _whole_print(
    steps: Sequence[Step], short: Sequence[_Short], lens: str | None, aperture: float | None, reciprocity: float
) -> Callable[[_Short], str] | None:
    """How the whole print is made at an aperture that cures all that follow it; None where there is none."""
    needed = math.log2(max(one.times() for one in short)) * reciprocity
    if aperture is None:
        stops = math.ceil(needed - _SAME)
        factor = 2.0**stops
        how = f"{stops} stop{'' if stops == 1 else 's'} down (timerd enlarge PRINT --from-aperture OLD --aperture NEW"
    else:
        mark = _mark(aperture, needed)
        if mark is None:
            return None
        factor = aperture_factor(aperture, mark)
        how = f"at f/{mark:g} (timerd enlarge PRINT --aperture {mark:g}"
    times = new_dose(1.0, factor, reciprocity)
    if any(_too_long(step, times) for step in steps if step.dose is not None and _follows(step, lens)):
        return None
    return lambda one: f"make the whole print {how}: {one.now(times):.1f} s here)"


def _too_long(step: Step, times: float) -> bool:
    """Whether a step with so many times its dose is more than its lamp may burn at once, or a plan may have."""
    bursts = zip((0.0, *step.parts), step.parts, strict=False)
    longest = max((step.response.seconds((stop - start) * times) for start, stop in bursts), default=0.0)
    return longest > step.longest_s or (step.dose or 0.0) * times > MOST_S


def _on_the_step(one: _Short, aperture: float | None, reciprocity: float) -> str:
    """The edit of the step that makes it long enough: a mark of the lens, where there is one, else a density."""
    step, stops = one.step, math.log2(one.times()) * reciprocity
    there = (step.aperture or aperture) if aperture is not None else None
    mark = _mark(there, stops) if there is not None else None
    if mark is not None and there is not None:
        now = one.now(new_dose(1.0, aperture_factor(there, mark), reciprocity))
        return f"write aperture: {mark:g} on the step ({now:.1f} s)"
    filters = math.ceil(stops * math.log10(2.0) / _DENSITY - _SAME)
    now = one.now(new_dose(1.0, 10.0 ** (filters * _DENSITY), reciprocity))
    density = round((step.density or 0.0) + filters * _DENSITY, 1)
    return f"write density: {density:g} on the step ({now:.1f} s)"


def _mark(aperture: float, stops: float) -> float | None:
    try:
        return smaller_mark(aperture, stops - _SAME)
    except ValueError:  # a number that is no mark: what it stands for is not known
        return None
