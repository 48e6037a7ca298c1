"""A burst's beats and cues as pulses of the cue line: the same instants as the sounds, for those who do not hear them.

A beat is short, every fifth longer; the last three seconds are two pulses each, an announcement three; the moment of a
hand and light-on are long. Light-off is the keeper's own. (Common practice, no source: long enough for a vibrator to be
felt, and told apart by length and number.)
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import NamedTuple

from timerd.sheet.beats import Burst, Due, Rank, grid, hands, kept, light
from timerd.sheet.plan.value import Step
from timerd.wire.keeper import Pulses

MOST = 96
"""No message to the keeper has more rows of pulses; what ranks least is left out."""


class Pattern(NamedTuple):
    """So many `times` a pulse of `seconds`, each begun as long after the one before it as two of them last."""

    seconds: float
    times: int = 1


PATTERNS = {
    "light_on": Pattern(0.3), "card_in": Pattern(0.4), "card_out": Pattern(0.4), "lead_in": Pattern(0.12),
    "beat": Pattern(0.08), "accent": Pattern(0.16), "half": Pattern(0.05), "last": Pattern(0.08, 2),
}  # fmt: skip
ANNOUNCED = Pattern(0.08, 3)


def pulses(burst: Burst, step: Step | None, on_s: float, given: float, every: float) -> tuple[Pulses, ...]:
    """The pulses of one burst when nobody cuts it. Without a step it is a light to look at: only its coming is told.

    `on_s` and `given` are the seconds and the dose that the step had before; `every` is the beat (0 for none).
    """
    due = light(burst)
    if step is not None:
        due += grid(burst, on_s, every)
        due += [cue for cue, _ in hands(burst, step, given)]
    told = [one for one in kept(due) if one.sound != "light_off"]
    rows: list[tuple[Rank, Pulses]] = []
    for rank in Rank:
        of_rank: dict[Pattern, list[float]] = {}
        for one in told:
            if one.rank == rank:
                for pattern in _patterns(one):
                    of_rank.setdefault(pattern, []).append(round(one.at - burst.lit, 6))
        rows += [(rank, row) for pattern, times in of_rank.items() for row in _rows(pattern, times)]
    return tuple(row for _, row in rows[:MOST])


def _patterns(due: Due) -> list[Pattern]:
    """A longer beat is a beat too, so that the beats are one row: pulses that touch are one."""
    if due.rank == Rank.NOTICE or due.sound == "notice":
        return [ANNOUNCED]
    sound = due.sound or "beat"
    return [PATTERNS["beat"], PATTERNS["accent"]] if sound == "accent" else [PATTERNS[sound]]


def _rows(pattern: Pattern, times: list[float]) -> Iterable[Pulses]:
    """Instants of one pattern in as few rows as their spacing allows."""
    if pattern.times > 1:
        for at in times:
            yield Pulses(at, round(2 * pattern.seconds, 6), pattern.times, pattern.seconds)
        return
    gaps = [round(after - before, 6) for before, after in pairwise(times)]
    begin = 0
    for i in range(1, len(times) + 1):
        if i < len(times) and (i - begin == 1 or gaps[i - 1] == gaps[begin]):
            continue
        yield Pulses(times[begin], gaps[begin] if i - begin > 1 else 0.0, i - begin, pattern.seconds)
        begin = i
