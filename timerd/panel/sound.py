"""The player: what is on the agenda is sounded at its time, whatever the panel's loop is doing meanwhile.

It has a thread of its own, since frames at 15 a second are 67 ms apart and a beat may be 30 ms off at the most. The
thread wakes early and puts the rest of the wait as silence in front of the sound, so that neither a late waking nor a
slow frame moves a beat; what is left is the mixer's own buffer of 16 ms, of which half is taken off.
"""

from __future__ import annotations

import contextlib
import math
import os
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pygame

from timerd.panel.agenda import Agenda
from timerd.panel.beats import Heard, announcements
from timerd.panel.speech import Speech, Voice, length_s
from timerd.panel.tones import RATE, SOUNDS, samples
from timerd.panel.words_to_say import words_needed
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.status import Status

BUFFER = 512
"""Samples that the mixer takes at a time: 16 ms."""
EARLY_S = 0.12
"""So long before its time a sound is handed to the mixer; one whose light was cut meanwhile is stopped again."""
SHORT_S = 2.0
"""Words no longer than this are kept in memory, ready to be spoken at their instant."""
STALE_S = 5.0
"""Words that could not be rendered for so long are not news any more."""

SOFT = 0.35
"""How loud a word from the trays is while a light burns, beside the others."""
_VOICE = 0
"""The mixer's channel for words; one thing is said at a time."""
_CHANNELS = 16


class Sound:
    """What the printer hears. Tell it of each status as it comes, with the plan that the status names; and of None when
    the daemon does not answer. Nothing here waits, and without a device or a voice the rest goes on: `trouble` says
    what is missing and what to do.

    `tick` is the thread's own; it may be called by others, and gives the time at which it wants to be called again.
    """

    def __init__(self, settings: SoundSettings, cache: Path) -> None:
        self._settings = settings
        self._changed = threading.Condition(threading.RLock())
        self._closed = False
        self._agenda = Agenda(settings, self._length)
        self._short: dict[str, tuple[float, bytes]] = {}
        self._files: dict[str, Path] = {}
        self._plan: Plan | None = None
        self._ahead: list[tuple[float, pygame.mixer.Channel]] = []
        self._words: str | None = None
        self._soft = False
        self._words_since = 0.0
        self._silent = None if settings.say == "off" else start_mixer()
        self._speech: Speech | None = None
        if self._silent is None and settings.say in ("speak", "both"):
            self._speech = Speech(cache, settings.voice, settings.words_a_minute, self._rendered)
        self._tones: dict[str, bytes] = {}
        self._thread = threading.Thread(target=self._run, name="sound", daemon=True)
        if self._silent is None and settings.say != "off":
            levels = settings.levels
            self._tones = {
                name: samples(name, settings.level * getattr(levels, name)).tobytes() for name in SOUNDS
            }  # fmt: skip
            self._thread.start()

    @property
    def trouble(self) -> str | None:
        """What is not heard, and what to do about it; None when all is."""
        return self._silent or (self._speech.trouble if self._speech is not None else None)

    def heard(self, status: Status | None, plan: Plan | None) -> None:
        """Take in how the bench stands. The plan is the one that the status names, None while it is not known."""
        with self._changed:
            if self._closed or not self._tones:
                return
            if self._speech is not None and self._speech.trouble is not None and self._agenda.settings.say != "beep":
                self._agenda.settings = self._settings.model_copy(update={"say": "beep"})
            if self._speech is not None:
                lighting = status is not None and status.state in ("lead-in", "exposing")
                self._speech.hold(lighting)
                if plan is not None and plan is not self._plan:
                    self._plan = plan
                    steps = [step for step in plan.steps if step.kind in LIGHTS]
                    together = {words: fits for step in steps for words, fits in announcements(step).items()}
                    self._speech.want({**words_needed(plan), **together})
            self._agenda.heard(status, plan)
            if self._agenda.cut:
                self._agenda.cut = False
                self._stop_ahead(-math.inf if status is None else status.now)
            if self._agenda.hush:
                self._agenda.hush = False
                self._words = None
                if self._tones:
                    pygame.mixer.Channel(_VOICE).fadeout(30)
            self._changed.notify_all()

    def tick(self, now: float) -> float | None:
        """Sound what is due at `now` (monotonic seconds); the time of the next call, or None for after the next
        status."""
        with self._changed:
            if self._closed or not self._tones:
                return None
            self._ahead = [(at, channel) for at, channel in self._ahead if at > now]
            for sound in self._agenda.take(now, now + EARLY_S):
                self._ahead.append((sound.at, self._play(sound, now)))
            words = self._say(now)
            due = self._agenda.next_at
            return min((at for at in (words, None if due is None else due - EARLY_S) if at is not None), default=None)

    def close(self) -> None:
        """Silence, and no thread left."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
        if self._speech is not None:
            self._speech.close()
        if self._thread.is_alive() and self._thread is not threading.current_thread():
            self._thread.join(2.0)
        if self._tones:
            pygame.mixer.quit()

    # -- this thread ---------------------------------------------------------------------------------------------------

    def _run(self) -> None:
        with self._changed:
            while not self._closed:
                try:
                    due = self.tick(time.monotonic())
                except pygame.error as error:
                    self._silent = f"no sound any more: {error}"
                    self._tones = {}
                    return
                self._changed.wait(None if due is None else max(0.0, due - time.monotonic()))

    def _stop_ahead(self, now: float) -> None:
        for at, channel in self._ahead:
            if at > now:
                channel.stop()
        self._ahead = []

    def _play(self, sound: Heard, now: float) -> pygame.mixer.Channel:
        wait = max(0.0, sound.at - now - BUFFER / RATE / 2)
        silence = bytes(2 * round(wait * RATE))
        if sound.words is not None and sound.words in self._short:
            spoken = pygame.mixer.Sound(buffer=silence + self._short[sound.words][1])
            spoken.set_volume(self._loud)
            voice = pygame.mixer.Channel(_VOICE)
            voice.play(spoken)
            return voice
        tone = pygame.mixer.Sound(buffer=silence + self._tones[sound.sound])
        channel = pygame.mixer.find_channel(True)
        channel.play(tone)
        return channel

    def _say(self, now: float) -> float | None:
        """Say what is to be said, after the sound that goes with it; when to look again."""
        if self._agenda.words is not None and self._speech is not None:
            self._words, self._agenda.words = self._agenda.words, None
            self._soft = self._agenda.soft
            self._words_since = now
            self._speech.want({self._words: None}, at_once=True)
        if self._words is None:
            return None
        if now < self._agenda.quiet_from:
            return self._agenda.quiet_from
        if self._words not in self._files:
            if now - self._words_since > STALE_S:
                self._words = None
                return None
            return self._words_since + STALE_S + 0.01  # or when it is rendered, if that is sooner
        spoken = pygame.mixer.Sound(str(self._files[self._words]))
        spoken.set_volume(self._loud * (SOFT if self._soft else 1.0))
        pygame.mixer.Channel(_VOICE).play(spoken)
        self._words = None
        return None

    @property
    def _loud(self) -> float:
        return self._settings.level * self._settings.levels.voice

    def _length(self, words: str) -> float | None:
        short = self._short.get(words)
        return None if short is None else short[0]

    # -- the voice's thread --------------------------------------------------------------------------------------------

    def _rendered(self, words: str, path: Path) -> None:
        short = None
        if (length := length_s(path)) <= SHORT_S:
            try:
                short = length, pygame.mixer.Sound(str(path)).get_raw()
            except pygame.error:
                return  # the mixer is closed: nothing is heard any more
        with self._changed:
            self._files[words] = path
            if short is not None:
                self._short[words] = short
            self._changed.notify_all()


def start_mixer() -> str | None:
    """Open the audio device as this panel wants it; why it is not to be had, or None."""
    try:
        pygame.mixer.quit()
        with _nothing_from_below():
            pygame.mixer.init(RATE, -16, 1, BUFFER, allowedchanges=0)
        pygame.mixer.set_num_channels(_CHANNELS)
        pygame.mixer.set_reserved(_VOICE + 1)
    except pygame.error as error:
        return f"no sound: {error}: plug in a loudspeaker and start the panel again"
    return None


@contextlib.contextmanager
def _nothing_from_below() -> Iterator[None]:
    """The sound library's own talk on standard error is kept back: what is wrong is said once, in one line."""
    kept = os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 2)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


def say_once(words: str, settings: SoundSettings, cache: Path) -> str | None:
    """Speak and come back when it is said. What is missing, in words, or None."""
    voice = Voice(cache, settings.voice, settings.words_a_minute)
    path = voice.render(words) if voice.trouble is None else None
    if path is None:
        return voice.trouble
    if (trouble := start_mixer()) is not None:
        return trouble
    spoken = pygame.mixer.Sound(str(path))
    spoken.set_volume(settings.level * settings.levels.voice)
    channel = spoken.play()
    while channel.get_busy():
        pygame.time.wait(20)
    pygame.mixer.quit()
    return None
