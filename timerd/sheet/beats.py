"""When each beat and cue of a burst is due, to the clock's own seconds: for the ear, and for the cue line. Pure.

Four grids run. The lead-in counts back from the light, so that light-on is a beat. The beat counts the step's on-time,
through all its bursts, so that after a pause the next one falls at the next whole second of light. The last three
seconds count back from the end. A dodge runs on dose, and its notice counts back from the moment of the hand.

Where two things are due at once, the more important one is kept (the order is that of `Rank`). All times are the
keeper's monotonic seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from enum import IntEnum
from typing import NamedTuple

from timerd.sheet.plan.value import Step
from timerd.sheet.progress import NEAR_ENOUGH

NEAR_S = 0.1
"""Two things nearer than this are one to whoever follows them: only the more important is kept."""
NOTICE_S = 2.0
"""Two beats: so long before the moment a dodge is announced."""
LAST_S = (3, 2, 1)
ACCENT_S = 5
"""Every fifth second of light is accented."""
CLEAR_OF_LIGHT_S = 0.25
"""What tells of something else keeps so far from light on."""

_SLACK_S = 0.02
_EXACT = 1e-6


class Burst(NamedTuple):
    """A burst that is coming or burning: from when its lead-in counts, when it is lit, when it ends of itself."""

    number: int
    since: float
    lit: float
    deadline: float


class Rank(IntEnum):
    """What is kept where two are due at once."""

    LIGHT = 0
    HAND = 1
    NOTICE = 2
    COUNT_IN = 3
    NUMBER = 4
    LAST = 5
    BEAT = 6
    HALF = 7


class Due(NamedTuple):
    """One thing that is due, by its sound's name. `n` tells it from others of its sound. With `words` they are spoken
    in the sound's place; `before` and `after` are how much room it takes."""

    rank: Rank
    at: float
    sound: str | None
    n: float
    words: str | None = None
    before: float = NEAR_S
    after: float = NEAR_S


class Move(NamedTuple):
    """A hand's moment: `in` or `out`, when; `ahead` when the card must be there before the light."""

    at: float
    way: str
    area: str
    mm: float | None
    ahead: bool
    n: int


def light(burst: Burst) -> list[Due]:
    """Light on and, where it ends of itself, light off."""
    due = [Due(Rank.LIGHT, burst.lit, "light_on", 0)]
    return due if burst.deadline == math.inf else [*due, Due(Rank.LIGHT, burst.deadline, "light_off", 0)]


def grid(burst: Burst, on_s: float, every: float) -> Iterator[Due]:
    """The lead-in, the last three, and the beat: every so many seconds of light, 0 for none; `on_s` were had before."""
    for k in range(1, math.floor(burst.lit - burst.since + _EXACT) + 1):
        yield Due(Rank.COUNT_IN, burst.lit - k, "lead_in", k)
    for left in LAST_S:
        if burst.deadline - left > burst.lit:
            yield Due(Rank.LAST, burst.deadline - left, "last", left)
    if not every:
        return
    k = math.floor(on_s / every) + 1
    while (at := burst.lit + (k * every - on_s)) < burst.deadline - LAST_S[0]:
        seconds = k * every
        if seconds % 1:
            yield Due(Rank.HALF, at, "half", seconds)
        else:
            yield Due(Rank.BEAT, at, "beat" if seconds % ACCENT_S else "accent", seconds)
        k += 1


def hands(burst: Burst, step: Step, given: float) -> Iterator[tuple[Due, list[Move]]]:
    """The hands' cues, with the moves that each tells of: announced two beats before, again one before, and at the
    moment. `given` is the step's dose before the burst."""
    moves = _moves(burst, step, given)
    for move in moves:
        if not move.ahead:
            yield Due(Rank.HAND, move.at, f"card_{move.way}", move.n), [move]
            if move.at - 1 > burst.lit:
                yield Due(Rank.COUNT_IN, move.at - 1, "notice", move.n + 0.5), []
    announced = [(at, move) for move in moves if (at := _announced_at(burst, move)) is not None]
    announced.sort()
    while announced:
        first = announced[0][0]
        group = [move for at, move in announced if at < first + 0.95]
        del announced[: len(group)]
        sound = "card_in" if any(move.ahead for move in group) else "notice"
        yield Due(Rank.NOTICE, first, sound, group[0].n), group


def _moves(burst: Burst, step: Step, given: float) -> list[Move]:
    slack = max(_SLACK_S, (step.dose or 0.0) * NEAR_ENOUGH)
    moves = []
    for i, cue in enumerate(step.dodges):
        if cue.stop - given <= slack:
            continue
        ahead = cue.start - given <= slack
        begins = burst.lit + (0.0 if ahead else step.response.seconds(cue.start - given))
        ends = burst.lit + step.response.seconds(cue.stop - given)
        if begins < burst.deadline - NEAR_S:
            moves.append(Move(begins, "in", cue.area, cue.mm, ahead, 2 * i))
        if ends < burst.deadline - NEAR_S:  # at the end light-off says it
            moves.append(Move(ends, "out", cue.area, cue.mm, False, 2 * i + 1))
    return sorted(moves)


def _announced_at(burst: Burst, move: Move) -> float | None:
    """Two beats before the moment. Where that is before the light, it is on the lead-in's grid; where the lead-in is
    too short, just after the light, if that is still soon enough."""
    at = move.at - NOTICE_S
    if at >= burst.lit + CLEAR_OF_LIGHT_S:
        return at
    on_grid = burst.lit - max(1, math.ceil(burst.lit - at - _EXACT))
    if on_grid >= burst.since - _EXACT:
        return on_grid
    if move.ahead:
        return burst.since if burst.since < burst.lit else None
    late = burst.lit + CLEAR_OF_LIGHT_S
    return late if move.at - late >= 0.5 else None


def kept(events: Iterable[Due]) -> list[Due]:
    """Those that are kept, in order of time: by rank, each where nothing more important is in its way. Words that are
    in the way of something fall back to their sound."""
    found: list[Due] = []
    for event in sorted(events, key=lambda event: (event.rank, event.at, event.n)):
        as_sound = event._replace(words=None, before=NEAR_S, after=NEAR_S)
        for way in (event, as_sound) if event.words is not None and event.sound is not None else (event,):
            if not any(_in_the_way(way, other) for other in found):
                found.append(way)
                break
    return sorted(found, key=lambda event: (event.at, event.rank))


def _in_the_way(one: Due, other: Due) -> bool:
    apart = other.at - one.at
    return -one.before < apart < one.after or -other.before < -apart < other.after
