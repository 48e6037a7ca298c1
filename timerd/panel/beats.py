"""When each sound is due: the beats and cues of a burst with words to them, and what has just happened.

Everything is worked out from what the daemon told (its status), the step of the plan and the bench's settings; no clock
is read and nothing is played here. All times are the daemon's monotonic seconds. When a beat or a cue is due is worked
out in `timerd.sheet.beats`, as for the cue line: a word is never covered by a sound, nor a sound by a word.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from timerd.panel.words_to_say import MINUTES_FIT_S, MOVE_FITS_S, NUMBER_FITS_S, move_words, number_words
from timerd.sheet.beats import CLEAR_OF_LIGHT_S, LAST_S, NEAR_S, Burst, Due, Rank, grid, hands, kept, light
from timerd.sheet.plan.value import Step
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.status import LastSaid, LightOff, NotTaken, Status

Spoken = Callable[[str], float | None]
"""How long words last when spoken, in seconds; None where they cannot be spoken (now)."""

NUMBER_S = (0.25, 0.75)
"""A spoken number takes the place of the beats from so long before it to so long after it: one beat, or two halves."""
MINUTES_S = (0.25, 1.75)
"""Whole minutes take one beat more."""
FAULT_EVERY_S = 10.0
"""A fault is sounded again and again until it is cleared."""

_AFTER_WORDS_S = 0.05
_AFTER_LIGHT_OFF_S = 0.5
_SOUND_OF_SAID = {"both held": "warning", "ten seconds left": "warning", "worn": "warning", "fault": "fault"}


class Heard(NamedTuple):
    """One audible event. With `words` they are spoken in the sound's place. `key` is the event's own, so that it is
    not heard twice when it is worked out again from a newer status."""

    at: float
    sound: str
    words: str | None
    key: tuple[str | float, ...]


def burst_of(status: Status, known: Burst | None = None) -> Burst | None:
    """The burst of a status. One that burns keeps the beginning of its lead-in from what was known before."""
    if (lead_in := status.lead_in) is not None:
        return Burst(lead_in.burst, lead_in.from_, lead_in.at, lead_in.at + lead_in.seconds)
    if (burst := status.burst) is not None:
        since = known.since if known is not None and known.number == burst.burst else burst.lit
        deadline = burst.deadline  # None: a light to look at, until a press
        return Burst(burst.burst, since, burst.lit, math.inf if deadline is None else deadline)
    return None


def burst_sounds(
    burst: Burst, status: Status, step: Step | None, settings: SoundSettings, spoken: Spoken
) -> list[Heard]:
    """All that is heard of one burst when nobody cuts it, from its lead-in to light off, in order of time.

    A light to look at (state idle) has no beat: it is told when it comes on and, when it has gone, by the change.
    """
    if settings.say == "off":
        return []
    events = light(burst)
    if status.state != "idle" and burst.deadline < math.inf:
        events += grid(burst, status.on_s or 0.0, settings.beat)
        if step is not None:
            if settings.say == "beep":
                spoken = _nothing
            events += _hands(burst, step, status.given or 0.0, spoken)
            events += _numbers(burst, step, status.on_s or 0.0, settings.count, spoken)
    return [
        Heard(event.at, event.sound or "beat", event.words, (burst.number, event.sound or "number", event.n))
        for event in kept(events)
    ]


def announcements(step: Step) -> dict[str, float | None]:
    """The announcements of a step's dodges, when nobody pauses, with the seconds in which each must fit."""
    asked: dict[str, float | None] = {}

    def asks(words: str) -> float:
        if words not in ("in", "out"):
            asked[words] = MOVE_FITS_S * (words.count(", ") + 1)
        return MOVE_FITS_S

    begun = 0.0
    for part in step.parts:
        burst = Burst(0, -(step.lead_in or 0.0), 0.0, step.response.seconds(part - begun))
        for _ in _hands(burst, step, begun, asks):
            pass
        begun = part
    return asked


def _nothing(words: str) -> None:
    return None


def _numbers(burst: Burst, step: Step, on_s: float, count: str, spoken: Spoken) -> Iterator[Due]:
    """Every ten seconds, in the last twenty every five, then each of the last five.

    Down, they are the seconds left of this burst, counted back from its end. Up, they are the step's on-time, up to
    the last three seconds, which keep their own sound. A step with no planned dose is counted up, by tens.
    """
    if count == "off":
        return
    planned = step.dose is not None
    if planned and count == "down":
        times = [(n, burst.deadline - n) for n in range(1, math.ceil(burst.deadline - burst.lit))]
    else:
        last = burst.deadline - LAST_S[0] - NUMBER_S[1]
        first, most = math.floor(on_s) + 1, math.floor(on_s + last - burst.lit)
        times = [(n, burst.lit + (n - on_s)) for n in range(first, most + 1)]
    for n, at in times:
        left = burst.deadline - at if planned else math.inf
        if at < burst.lit + CLEAR_OF_LIGHT_S:
            continue
        if n % 10 == 0 or (left <= 20 and n % 5 == 0) or left <= 5:
            words = number_words(n)
            length = None if words is None else spoken(words)
            before, after = NUMBER_S if n < 100 else MINUTES_S
            if length is not None and length <= (NUMBER_FITS_S if n < 100 else MINUTES_FIT_S):
                yield Due(Rank.NUMBER, at, None, n, words, before, after)


def _hands(burst: Burst, step: Step, given: float, spoken: Spoken) -> Iterator[Due]:
    """The hands' cues in words, where there is a voice for them: `in` at the moment, `breakwater out` before it."""
    for due, moves in hands(burst, step, given):
        if not moves:
            yield due
            continue
        told = [move_words(move.area, move.mm, move.way) for move in moves]
        words = moves[0].way if due.rank == Rank.HAND else ", ".join(told)
        length = spoken(words)
        yield due if length is None else due._replace(words=words, after=max(NEAR_S, length + _AFTER_WORDS_S))


# -- what has happened, and what goes on while nothing does ----------------------------------------------------------


def change_sounds(before: Status | None, after: Status) -> list[Heard]:
    """What has happened between two statuses, each with the time at which it did: one sound for each.

    Of a first status only a fault is sounded. `paused` tells that something was stopped before it was complete: a
    light, a lead-in, a sheet. `ready` is the small sound of a press that was taken.
    """
    if before is None:
        return [_fault(after)] if after.state == "fault" else []
    found = []
    ended = _ended(before, after)
    by_itself = ended is not None and ended.why == "deadline"
    if ended is not None and (by_itself or before.burst is not None) and after.state not in ("paused", "fault"):
        found.append(Heard(ended.at, "light_off", None, (ended.burst, "light_off", 0)))
    if after.since.number != before.since.number:
        sound = _entered(before.state, after.state, by_itself)
        if sound is not None:
            at = after.since.at + (_AFTER_LIGHT_OFF_S if by_itself else 0.0)
            found.append(Heard(at, sound, None, ("since", after.since.number)))
    if after.refused is not None and _number(after.refused) != _number(before.refused):
        found.append(Heard(after.refused.at, "refused", None, ("refused", after.refused.number)))
    if any(pedal not in before.unplugged for pedal in after.unplugged):
        found.append(Heard(after.now, "warning", None, ("unplugged", after.now)))
    if (said := after.said) is not None and said.number != _number(before.said):
        sound = _SOUND_OF_SAID.get(said.what, "ready")
        found.append(Heard(said.at, sound, None, ("said", said.number)))
    return sorted(found)


def _ended(before: Status, after: Status) -> LightOff | None:
    """How the burst ended that was coming or burning and is not any more."""
    was, now = burst_of(before), burst_of(after)
    if was is None or (now is not None and now.number == was.number):
        return None
    return after.dark if after.dark is not None and after.dark.burst == was.number else None


def _entered(was: str, state: str, by_itself: bool) -> str | None:
    if state in ("paused", "fault", "prompt", "done"):
        return state
    if state == "abandoned":
        return "paused"
    if state == "ready" and was in ("lead-in", "exposing"):
        return None if by_itself else "paused"
    return "ready" if state == "ready" or (state == "idle" and was != "idle") else None


def _number(told: NotTaken | LastSaid | None) -> int | None:
    return None if told is None else told.number


def _fault(status: Status) -> Heard:
    return Heard(status.now, "fault", None, ("since", status.since.number))


def waiting_sound(status: Status, settings: SoundSettings) -> tuple[str, float, float] | None:
    """What is heard again and again while a state lasts: the sound, when it is first due, and how often after it."""
    at = status.since.at
    if settings.say == "off":
        return None
    if status.state == "fault":
        return "fault", at + FAULT_EVERY_S, FAULT_EVERY_S
    if status.state == "ready" and settings.beat_in_ready:
        return "ready", at + 1.0, 1.0
    return None
