"""What is still to be heard, and what has been: statuses come in, what is due goes out. Time is handed in."""

from __future__ import annotations

import math

from timerd.panel.beats import Heard, Spoken, burst_of, burst_sounds, change_sounds, waiting_sound
from timerd.panel.tones import length_s
from timerd.panel.trays import tray_sounds, tray_words
from timerd.panel.words_to_say import NO_DAEMON, aloud, change_words, step_at_hand
from timerd.sheet.beats import Burst
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.status import Status

LATE_S = {"lead_in": 0.15, "notice": 0.15, "card_in": 0.15, "light_on": 0.5, "light_off": 2.0}
"""So late something of a burst is still sounded; anything else, a beat above all, is right or not heard."""
BEAT_LATE_S = 0.03
CHANGE_LATE_S = 3.0
"""What has happened is told even when the panel was busy, but not long after."""
TOLD_IN_WORDS = frozenset({"paused", "refused", "prompt", "done", "warning", "ready", "tray", "tray_soft"})
"""With `say: speak` these have words in place of their sounds. A fault has both."""


class Agenda:
    """One panel's agenda. `settings` may be changed on the way, as when there is no voice after all.

    `words` is the one thing that is to be said now, until somebody takes it away, not before `quiet_from`, when the
    sound that goes with it is over, and with `soft` softly, since a light burns; `hush` tells that whatever is being
    said is to stop: a light is about to come on.
    `cut` tells that the burst is over: what was taken of it ahead of its time is not to be heard. Both until
    they are taken back.
    """

    def __init__(self, settings: SoundSettings, spoken: Spoken) -> None:
        self.settings = settings
        self.words: str | None = None
        self.soft = False
        self.hush = self.cut = False
        self.quiet_from = -math.inf
        self._spoken = spoken
        self._before: Status | None = None
        self._burst: Burst | None = None
        self._of_burst: list[Heard] = []
        self._changes: list[Heard] = []
        self._waiting: tuple[str, float, float] | None = None
        self._waits_for: int | None = None
        self._done: set[tuple[str | float, ...]] = set()
        self._now = -math.inf

    def heard(self, status: Status | None, plan: Plan | None) -> None:
        """Take in how the bench stands; None when the daemon does not answer any more."""
        if status is None:
            self._daemon_gone()
            return
        before, self._before = self._before, status
        speaks = self.settings.say in ("speak", "both")
        told = [*change_sounds(before, status), *tray_sounds(before, status)] if self.settings.say != "off" else []
        if self.settings.say == "speak":
            told = [sound for sound in told if sound.sound not in TOLD_IN_WORDS]
        self._note(told)
        was, coming = None if before is None else burst_of(before), burst_of(status)
        if was is not None and (coming is None or coming.number != was.number):
            self.cut = True
        if status.state in ("lead-in", "exposing") and (before is None or before.state != status.state):
            self.words, self.hush = None, True
        if speaks and (words := change_words(before, status, plan)) is not None:
            self.words, self.soft = words, False
        said, softly = tray_words(before, status)
        if speaks and said is not None:
            self.words, self.soft = aloud(said if self.words is None else f"{self.words}. {said}"), softly
        self._burst_now(status, plan)
        if status.since.number != self._waits_for or before is None:
            self._waits_for = status.since.number
            self._waiting = waiting_sound(status, self.settings)

    def _note(self, told: list[Heard]) -> None:
        self._changes = sorted(self._changes + [sound for sound in told if sound.key not in self._done])
        self.quiet_from = max([self.quiet_from, *(sound.at + length_s(sound.sound) for sound in told)])

    def _burst_now(self, status: Status, plan: Plan | None) -> None:
        burst = burst_of(status, self._burst)
        if burst is not None and (self._burst is None or burst.number != self._burst.number):
            last = self._burst.number if self._burst is not None else None
            self._done = {key for key in self._done if key[0] == last}
        self._burst = burst or self._burst
        step = step_at_hand(status, plan) if status.shown is None else None
        due = [] if burst is None else burst_sounds(burst, status, step, self.settings, self._spoken)
        self._of_burst = [sound for sound in due if sound.key not in self._done]

    def _daemon_gone(self) -> None:
        if self._before is None:
            return
        self._before = self._burst = self._waiting = None
        self._of_burst, self._changes = [], []
        self.hush = self.cut = True
        if self.settings.say != "off":
            self._note([Heard(self._now, "fault", None, ("gone", self._now))])
        if self.settings.say in ("speak", "both"):
            self.words = NO_DAEMON

    def take(self, now: float, until: float) -> list[Heard]:
        """What is due until `until` and not yet past, in order of time; it is taken off the agenda."""
        self._now = now
        due = [sound for sound in self._of_burst if sound.at <= until]
        del self._of_burst[: len(due)]
        self._done.update(sound.key for sound in due)
        found = [sound for sound in due if now - sound.at <= LATE_S.get(sound.sound, BEAT_LATE_S)]
        light_off = [sound.at + length_s(sound.sound) for sound in found if sound.sound == "light_off"]
        self.quiet_from = max([self.quiet_from, *light_off])
        changes = [sound for sound in self._changes if sound.at <= until]
        del self._changes[: len(changes)]
        for sound in changes:
            if sound.key not in self._done and now - sound.at <= CHANGE_LATE_S:
                self._done.add(sound.key)
                found.append(sound)
        return sorted(found + self._again(now, until))

    def _again(self, now: float, until: float) -> list[Heard]:
        if self._waiting is None:
            return []
        name, due, every = self._waiting
        found = []
        if due < now - BEAT_LATE_S:
            due += every * math.ceil((now - BEAT_LATE_S - due) / every)
        while due <= until:
            found.append(Heard(due, name, None, ("again", due)))
            due += every
        self._waiting = name, due, every
        return found

    @property
    def next_at(self) -> float | None:
        """When something is due next."""
        waiting = [self._waiting[1]] if self._waiting is not None else []
        return min([*(sound.at for sound in (*self._of_burst[:1], *self._changes[:1])), *waiting], default=None)
