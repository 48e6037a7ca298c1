"""When each sound is due, to the clock's own seconds: the beat, the lead-in, the hands' cues, what has just happened.

Everything is worked out from what the daemon told (its status), the step of the plan and the bench's settings; no clock
is read and nothing is played here. All times are the daemon's monotonic seconds.

Four grids can be heard. The lead-in counts back from the light, so that light-on is a beat. The beat counts the step's
on-time, through all its bursts, so that after a pause the next one falls at the next whole second of light. The last
three seconds count back from the end. A dodge runs on dose, and its notice counts back from the moment of the hand.

Where two things are due at once, the more important one is heard (the order is that of `_Rank`): a word is never
covered by a sound, nor a sound by a word, and two sounds nearer than `NEAR_S` would be heard as one.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from enum import IntEnum
from typing import Any, NamedTuple

from timerd.panel.words_to_say import MINUTES_FIT_S, MOVE_FITS_S, NUMBER_FITS_S, Status, move_words, number_words
from timerd.sheet.plan.value import Step
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.record import NEAR_ENOUGH

Spoken = Callable[[str], float | None]
"""How long words last when spoken, in seconds; None where they cannot be spoken (now)."""

NEAR_S = 0.1
"""Two sounds nearer than this are one to the ear: only the more important is sounded."""
NOTICE_S = 2.0
"""Two beats: so long before the moment a dodge is announced."""
LAST_S = (3, 2, 1)
ACCENT_S = 5
"""Every fifth second of light is accented."""
NUMBER_S = (0.25, 0.75)
"""A spoken number takes the place of the beats from so long before it to so long after it: one beat, or two halves."""
MINUTES_S = (0.25, 1.75)
"""Whole minutes take one beat more."""
FAULT_EVERY_S = 10.0
"""A fault is sounded again and again until it is cleared."""

_AFTER_WORDS_S = 0.05
_CLEAR_OF_LIGHT_S = 0.25
_AFTER_LIGHT_OFF_S = 0.5
_SLACK_S = 0.02
_EXACT = 1e-6


class Heard(NamedTuple):
    """One audible event. With `words` they are spoken in the sound's place. `key` is the event's own, so that it is
    not heard twice when it is worked out again from a newer status."""

    at: float
    sound: str
    words: str | None
    key: tuple[str | float, ...]


class Burst(NamedTuple):
    """A burst that is coming or burning: from when its lead-in counts, when it is lit, when it ends of itself."""

    number: int
    since: float
    lit: float
    deadline: float


def burst_of(status: Status, known: Burst | None = None) -> Burst | None:
    """The burst of a status. One that burns keeps the beginning of its lead-in from what was known before."""
    if (lead_in := status["lead_in"]) is not None:
        return Burst(lead_in["burst"], lead_in["from"], lead_in["at"], lead_in["at"] + lead_in["seconds"])
    if (burst := status["burst"]) is not None:
        since = known.since if known is not None and known.number == burst["burst"] else burst["lit"]
        deadline = burst["deadline"]  # None: a light to look at, until a press
        return Burst(burst["burst"], since, burst["lit"], math.inf if deadline is None else deadline)
    return None


class _Rank(IntEnum):
    """What is kept where two are due at once."""

    LIGHT = 0
    HAND = 1
    NOTICE = 2
    COUNT_IN = 3
    NUMBER = 4
    LAST = 5
    BEAT = 6
    HALF = 7


class _Event(NamedTuple):
    rank: _Rank
    at: float
    sound: str | None
    n: float
    words: str | None = None
    before: float = NEAR_S
    after: float = NEAR_S


def burst_sounds(
    burst: Burst, status: Status, step: Step | None, settings: SoundSettings, spoken: Spoken
) -> list[Heard]:
    """All that is heard of one burst when nobody cuts it, from its lead-in to light off, in order of time.

    A light to look at (state idle) has no beat: it is told when it comes on and, when it has gone, by the change.
    """
    if settings.say == "off":
        return []
    events = [_Event(_Rank.LIGHT, burst.lit, "light_on", 0)]
    if burst.deadline < math.inf:
        events.append(_Event(_Rank.LIGHT, burst.deadline, "light_off", 0))
    if status["state"] != "idle" and burst.deadline < math.inf:
        events += _lead_in(burst)
        events += _last(burst)
        events += _beats(burst, status["on_s"] or 0.0, settings.beat)
        if step is not None:
            if settings.say == "beep":
                spoken = _nothing
            events += _hands(burst, step, status["given"] or 0.0, spoken)
            events += _numbers(burst, step, status["on_s"] or 0.0, settings.count, spoken)
    return [
        Heard(event.at, event.sound or "beat", event.words, (burst.number, event.sound or "number", event.n))
        for event in _kept(events)
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


def _lead_in(burst: Burst) -> Iterator[_Event]:
    for k in range(1, math.floor(burst.lit - burst.since + _EXACT) + 1):
        yield _Event(_Rank.COUNT_IN, burst.lit - k, "lead_in", k)


def _last(burst: Burst) -> Iterator[_Event]:
    for left in LAST_S:
        if burst.deadline - left > burst.lit:
            yield _Event(_Rank.LAST, burst.deadline - left, "last", left)


def _beats(burst: Burst, on_s: float, every: float) -> Iterator[_Event]:
    if not every:
        return
    k = math.floor(on_s / every) + 1
    while (at := burst.lit + (k * every - on_s)) < burst.deadline - LAST_S[0]:
        seconds = k * every
        if seconds % 1:
            yield _Event(_Rank.HALF, at, "half", seconds)
        else:
            yield _Event(_Rank.BEAT, at, "beat" if seconds % ACCENT_S else "accent", seconds)
        k += 1


def _numbers(burst: Burst, step: Step, on_s: float, count: str, spoken: Spoken) -> Iterator[_Event]:
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
        if at < burst.lit + _CLEAR_OF_LIGHT_S:
            continue
        if n % 10 == 0 or (left <= 20 and n % 5 == 0) or left <= 5:
            words = number_words(n)
            length = None if words is None else spoken(words)
            before, after = NUMBER_S if n < 100 else MINUTES_S
            if length is not None and length <= (NUMBER_FITS_S if n < 100 else MINUTES_FIT_S):
                yield _Event(_Rank.NUMBER, at, None, n, words, before, after)


# -- the hands: dodges run on dose -----------------------------------------------------------------------------------


class _Move(NamedTuple):
    """A hand's moment: `in` or `out`, when; `ahead` when the card must be there before the light."""

    at: float
    way: str
    area: str
    mm: float | None
    ahead: bool
    n: int


def _moves(burst: Burst, step: Step, given: float) -> list[_Move]:
    slack = max(_SLACK_S, (step.dose or 0.0) * NEAR_ENOUGH)
    moves = []
    for i, cue in enumerate(step.dodges):
        if cue.stop - given <= slack:
            continue
        ahead = cue.start - given <= slack
        begins = burst.lit + (0.0 if ahead else step.response.seconds(cue.start - given))
        ends = burst.lit + step.response.seconds(cue.stop - given)
        if begins < burst.deadline - NEAR_S:
            moves.append(_Move(begins, "in", cue.area, cue.mm, ahead, 2 * i))
        if ends < burst.deadline - NEAR_S:  # at the end light-off says it
            moves.append(_Move(ends, "out", cue.area, cue.mm, False, 2 * i + 1))
    return sorted(moves)


def _hands(burst: Burst, step: Step, given: float, spoken: Spoken) -> Iterator[_Event]:
    moves = _moves(burst, step, given)
    for move in moves:
        if not move.ahead:
            yield _worded(_Rank.HAND, move.at, f"card_{move.way}", move.n, move.way, spoken)
            if move.at - 1 > burst.lit:
                yield _Event(_Rank.COUNT_IN, move.at - 1, "notice", move.n + 0.5)
    announced = [(at, move) for move in moves if (at := _announced_at(burst, move)) is not None]
    announced.sort()
    while announced:
        first = announced[0][0]
        group = [move for at, move in announced if at < first + 0.95]
        del announced[: len(group)]
        sound = "card_in" if any(move.ahead for move in group) else "notice"
        words = ", ".join(move_words(move.area, move.mm, move.way) for move in group)
        yield _worded(_Rank.NOTICE, first, sound, group[0].n, words, spoken)


def _announced_at(burst: Burst, move: _Move) -> float | None:
    """Two beats before the moment. Where that is before the light, it is on the lead-in's grid; where the lead-in is
    too short, just after the light, if that is still soon enough."""
    at = move.at - NOTICE_S
    if at >= burst.lit + _CLEAR_OF_LIGHT_S:
        return at
    on_grid = burst.lit - max(1, math.ceil(burst.lit - at - _EXACT))
    if on_grid >= burst.since - _EXACT:
        return on_grid
    if move.ahead:
        return burst.since if burst.since < burst.lit else None
    late = burst.lit + _CLEAR_OF_LIGHT_S
    return late if move.at - late >= 0.5 else None


def _worded(rank: _Rank, at: float, sound: str, n: float, words: str, spoken: Spoken) -> _Event:
    length = spoken(words)
    if length is None:
        return _Event(rank, at, sound, n)
    return _Event(rank, at, sound, n, words, NEAR_S, max(NEAR_S, length + _AFTER_WORDS_S))


# -- who is heard ----------------------------------------------------------------------------------------------------


def _kept(events: Iterable[_Event]) -> list[_Event]:
    """The events that are heard, in order of time: by rank, each where nothing more important is in its way. Words
    that are in the way of something fall back to their sound."""
    kept: list[_Event] = []
    for event in sorted(events, key=lambda event: (event.rank, event.at, event.n)):
        as_sound = event._replace(words=None, before=NEAR_S, after=NEAR_S)
        for way in (event, as_sound) if event.words is not None and event.sound is not None else (event,):
            if not any(_in_the_way(way, other) for other in kept):
                kept.append(way)
                break
    return sorted(kept, key=lambda event: (event.at, event.rank))


def _in_the_way(one: _Event, other: _Event) -> bool:
    apart = other.at - one.at
    return -one.before < apart < one.after or -other.before < -apart < other.after


# -- what has happened, and what goes on while nothing does ----------------------------------------------------------


def change_sounds(before: Status | None, after: Status) -> list[Heard]:
    """What has happened between two statuses, each with the time at which it did: one sound for each.

    Of a first status only a fault is sounded. `paused` tells that something was stopped before it was complete: a
    light, a lead-in, a sheet. `ready` is the small sound of a press that was taken.
    """
    if before is None:
        return [_fault(after)] if after["state"] == "fault" else []
    found = []
    ended = _ended(before, after)
    by_itself = ended is not None and after["dark"]["why"] == "deadline"
    if ended is not None and (by_itself or before["burst"] is not None) and after["state"] not in ("paused", "fault"):
        found.append(Heard(after["dark"]["at"], "light_off", None, (ended, "light_off", 0)))
    if after["since"]["number"] != before["since"]["number"]:
        sound = _entered(before["state"], after["state"], by_itself)
        if sound is not None:
            at = after["since"]["at"] + (_AFTER_LIGHT_OFF_S if by_itself else 0.0)
            found.append(Heard(at, sound, None, ("since", after["since"]["number"])))
    if _number(after["refused"]) != _number(before["refused"]):
        found.append(Heard(after["refused"]["at"], "refused", None, ("refused", after["refused"]["number"])))
    if _number(after["said"]) != _number(before["said"]):
        said = after["said"]
        sound = {"both held": "warning", "ten seconds left": "warning", "fault": "fault"}.get(said["what"], "ready")
        found.append(Heard(said["at"], sound, None, ("said", said["number"])))
    return sorted(found)


def _ended(before: Status, after: Status) -> int | None:
    """The burst that was coming or burning and is not any more."""
    was, now = burst_of(before), burst_of(after)
    if was is None or (now is not None and now.number == was.number):
        return None
    return was.number if after["dark"] is not None and after["dark"]["burst"] == was.number else None


def _entered(was: str, state: str, by_itself: bool) -> str | None:
    if state in ("paused", "fault", "prompt", "done"):
        return state
    if state == "abandoned":
        return "paused"
    if state == "ready" and was in ("lead-in", "exposing"):
        return None if by_itself else "paused"
    return "ready" if state == "ready" or (state == "idle" and was != "idle") else None


def _number(told: Mapping[str, Any] | None) -> int | None:
    return None if told is None else told["number"]


def _fault(status: Status) -> Heard:
    return Heard(status["now"], "fault", None, ("since", status["since"]["number"]))


def waiting_sound(status: Status, settings: SoundSettings) -> tuple[str, float, float] | None:
    """What is heard again and again while a state lasts: the sound, when it is first due, and how often after it."""
    at = status["since"]["at"]
    if settings.say == "off":
        return None
    if status["state"] == "fault":
        return "fault", at + FAULT_EVERY_S, FAULT_EVERY_S
    if status["state"] == "ready" and settings.beat_in_ready:
        return "ready", at + 1.0, 1.0
    return None
