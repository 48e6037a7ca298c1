"""A burst by numbers: seconds left, dose so far, how far each dodge is. Doses in seconds of full light, times
monotonic; everything runs on dose, through the lamp's response, so that a pause moves no cue."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from timerd.panel.shown import CueBar
from timerd.sheet.plan.value import Cue, Step
from timerd.sheet.progress import NEAR_ENOUGH
from timerd.sheet.status import Status
from timerd.sheet.words import area_words, cue_words

BEAT_LIT_S = 0.15
"""For how long the screen's edge is lit on a beat."""
LAST_S = 3.0
"""In the last seconds the beats are counted back from the end."""
_SLACK = 1e-6


@dataclass(frozen=True, slots=True)
class BurstShown:
    """One burst of a step, waited for (`lit` is None) or burning since `lit`, of `seconds`; `before` is the dose given
    when it began."""

    step: Step
    before: float
    lit: float | None
    seconds: float

    def dose(self, now: float) -> float:
        """The step's dose so far, this burst's light counted as if it went out now."""
        if self.lit is None:
            return self.before
        return self.before + self.step.response.dose(max(0.0, min(now - self.lit, self.seconds)))

    @property
    def end_dose(self) -> float:
        """The step's dose when this burst is over, if nobody pauses."""
        return self.before + self.step.response.dose(self.seconds)

    def seconds_to(self, dose: float, now: float) -> float:
        """How long until the step's dose reaches this much: below 0 when it is past."""
        reached = self.step.response.seconds(max(0.0, dose - self.before))
        return reached - (0.0 if self.lit is None else now - self.lit)

    def cues(self, now: float) -> list[CueBar]:
        """The dodges of this burst that are not over: those with the card in first, then those to come."""
        dose, end = self.dose(now), self.end_dose
        inside: list[tuple[float, CueBar]] = []
        to_come: list[tuple[float, CueBar]] = []
        for cue in self.step.dodges:
            if cue.stop <= max(dose, self.before + _SLACK) or cue.start >= end - _SLACK:
                continue
            if self.lit is not None and cue.start <= dose:
                left = self.seconds_to(cue.stop, now)
                filled = (dose - cue.start) / (cue.stop - cue.start)
                inside.append((left, CueBar(f"out {_whole(left)}: {_area(cue)}", round(filled, 3))))
            else:
                left = self.seconds_to(cue.start, now)
                # A card that is in from the beginning is held there before the light.
                when = "in" if left <= _SLACK else f"in {_whole(left)}"
                to_come.append((left, CueBar(f"{when}: {_area(cue)}", 0.0)))
        return [bar for _, bar in sorted(inside, key=_first) + sorted(to_come, key=_first)]


def _first(item: tuple[float, CueBar]) -> float:
    return item[0]


def _area(cue: Cue) -> str:
    return area_words(cue.area, cue.mm)


def _whole(seconds: float) -> str:
    return str(max(1, math.ceil(seconds - _SLACK)))


def next_part(step: Step, given: float) -> tuple[int, float] | None:
    """The part of a step's dose that is to be given next: its number from 0, and the dose at which it ends."""
    if step.dose is None:
        return None
    slack = step.dose * NEAR_ENOUGH
    for number, part in enumerate(step.parts or (step.dose,)):
        if part - given > slack:
            return number, part
    return None


def burst_seconds(step: Step, given: float) -> float:
    """How long the next burst of a step is: until its part's dose is reached, or 0 where nothing is owed."""
    part = next_part(step, given)
    return 0.0 if part is None else step.response.seconds(max(0.0, part[1] - given))


def owed_seconds(step: Step, given: float) -> float | None:
    """How long the light is to burn for all that a step is still owed, each of its bursts from cold: what is shown and
    spoken of it, so that one amount is one number. None where no dose is planned."""
    part = next_part(step, given)
    if step.dose is None or part is None:
        return None if step.dose is None else 0.0
    ends = (step.parts or (step.dose,))[part[0] :]
    return sum(step.response.seconds(max(0.0, end - start)) for start, end in zip((given, *ends), ends, strict=False))


def figure(seconds: float) -> str:
    """Seconds for the large figure: to a tenth below ten, else whole, both rounded up, so that 0.0 is dark.

    >>> figure(17.01), figure(10.0), figure(9.91), figure(0.04), figure(-1.0), figure(9.99)
    ('18', '10', '10', '0.1', '0.0', '10')
    """
    tenths = max(0, math.ceil(seconds * 10 - _SLACK))
    return f"{tenths / 10:.1f}" if tenths < 100 else str(math.ceil(tenths / 10))


def figure_nearest(seconds: float) -> str:
    """Seconds to come, for the large figure before a burst: to a tenth below ten, else the nearest whole.

    >>> figure_nearest(9.94), figure_nearest(9.96), figure_nearest(17.84)
    ('9.9', '10', '18')
    """
    tenths = round(seconds * 10)
    return f"{tenths / 10:.1f}" if tenths < 100 else str(math.floor(seconds + 0.5))


def figure_given(seconds: float) -> str:
    """Seconds given for the large figure: as `figure`, but rounded down.

    >>> figure_given(9.99), figure_given(10.99), figure_given(0.0)
    ('9.9', '10', '0.0')
    """
    tenths = max(0, math.floor(seconds * 10 + _SLACK))
    return f"{tenths / 10:.1f}" if tenths < 100 else str(tenths // 10)


def edge(status: Status, now: float) -> Literal[0, 1, 2]:
    """Whether the screen's edge is lit for a beat now: 1, and 2 on every fifth second.

    The beats fall on whole seconds of the step's on-time, in the last three seconds on those counted back from the
    end, and in a lead-in on those counted back from the light.
    """
    burst, lead_in = status.burst, status.lead_in
    if burst is not None and burst.deadline is not None and status.step is not None:
        on = (status.on_s or 0.0) + now - burst.lit
        left = burst.deadline - now
        if left < 0:
            return 0
        if left <= LAST_S:
            return 1 if (-left) % 1 < BEAT_LIT_S else 0
        if on % 1 < BEAT_LIT_S:
            return 2 if int(on) % 5 == 0 else 1
    elif lead_in is not None and lead_in.at - lead_in.from_ >= 1:
        return 1 if now < lead_in.at and (now - lead_in.at) % 1 < BEAT_LIT_S else 0
    return 0


def cue_lines(step: Step, given: float) -> list[str]:
    """The dodges of the burst to come, with their cards."""
    part = next_part(step, given)
    end = part[1] if part is not None else 0.0
    lines = []
    for cue in step.dodges:
        if cue.stop > given + _SLACK and cue.start < end - _SLACK:
            held = [cue_words(cue), *(text for text in (cue.card, cue.note) if text is not None)]
            lines.append(f"{cue.start:.1f} to {cue.stop:.1f} s: {', '.join(held)}")
    return lines


def parts_words(step: Step, given: float) -> str | None:
    """Which of a step's bursts is next, where its dose is given in several on purpose."""
    part = next_part(step, given)
    if part is None or len(step.parts) < 2:
        return None
    apart = [cue for cue in step.dodges if cue.apart and abs(cue.stop - part[1]) < _SLACK]
    held = f": hold back {_area(apart[0])}" if apart else ""
    return f"burst {part[0] + 1} of {len(step.parts)}{held}"
