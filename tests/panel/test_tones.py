"""The sounds as they are heard: pitch, rhythm, clicks, levels, and that no two are taken for one another."""

from __future__ import annotations

import itertools
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from panel.hearing import HeardPulse, Samples, likeness, outside, pulses, told_apart

from timerd.panel.tones import FADE_S, RATE, SOUNDS, length_s, samples
from timerd.sheet.profile.sound import Levels

each = pytest.mark.parametrize("name", SOUNDS)


@cache
def wave(name: str, level: float = 1.0) -> Samples:
    return np.array(samples(name, level)) / 32768


def test_each_has_a_level_of_its_own() -> None:
    assert {*SOUNDS, "voice"} == set(Levels.model_fields)
    page = (Path(__file__).parents[2] / "timerd" / "manual" / "sound.md").read_text()
    assert all(f"`{name}`" in page for name in SOUNDS), "the printer can look each of them up"


@cache
def heard_pulses(name: str) -> list[HeardPulse]:
    return pulses(wave(name), RATE)


@each
def test_pitch_and_rhythm_are_as_designed(name: str) -> None:
    """Pitch within 1 %, found by FFT; onsets and lengths within 15 ms, found from the loudness."""
    heard = heard_pulses(name)
    assert len(heard) == len(SOUNDS[name])
    for found, made in zip(heard, SOUNDS[name], strict=True):
        assert found.hertz == pytest.approx(made.hertz, rel=0.01)
        assert found.start == pytest.approx(made.at_ms / 1000, abs=0.015)
        assert found.stop - found.start == pytest.approx(made.ms / 1000, abs=0.015)
    assert length_s(name) == len(samples(name)) / RATE


@each
def test_fundamental_and_harmonics_lie_where_old_ears_hear(name: str) -> None:
    """Facts: fundamentals 300 to 2000 Hz (the issue's), four harmonics within 300 to 4000 Hz (IEC 60601-1-8)."""
    for pulse in SOUNDS[name]:
        assert pulse.hertz >= 300 and 4 * pulse.hertz <= 4000
        part = wave(name)[pulse.at_ms * RATE // 1000 :][: pulse.ms * RATE // 1000]
        strengths = [_strength(part, pulse.hertz * k) for k in (1, 2, 3, 4)]
        assert all(s > 0.15 * strengths[0] for s in strengths), "each harmonic is really there"


def _strength(part: Samples, hertz: float) -> float:
    """One frequency's amplitude (what Goertzel's filter finds), through a Hann window."""
    turn = np.exp(-2j * np.pi * hertz / RATE * np.arange(len(part)))
    return float(np.abs((part * np.hanning(len(part)) * turn).sum()))


CLICK = 5e-7
"""A sound cut off hard has 20 times this share of its power above 5 kHz, or more; a faded one a third of it at most."""


def _clicks(sound: Samples) -> float:
    return outside(np.concatenate([np.zeros(200), sound, np.zeros(200)]), RATE, 0, 5000)


@each
def test_no_clicks(name: str) -> None:
    """A click is power far above the pitch; and each pulse stays under its fade at both ends."""
    sound = wave(name)
    assert _clicks(sound) < CLICK
    assert _clicks(sound[70:-70]) > 10 * CLICK, "the measure hears a sound that is cut off"
    fade = round(FADE_S * RATE)
    for pulse in SOUNDS[name]:
        part = sound[pulse.at_ms * RATE // 1000 :][: pulse.ms * RATE // 1000]
        for end in (part, part[::-1]):
            limit = (1 - np.cos(np.pi * np.arange(fade) / fade)) / 2 * np.abs(part).max()
            assert (np.abs(end[:fade]) <= limit + 1 / 32768).all()


@each
def test_levels(name: str) -> None:
    loud = np.abs(wave(name)).max()
    assert 0.55 < loud < 0.65, "two at once are not clipped by much, none is drowned"
    assert np.abs(wave(name, 0.25)).max() == pytest.approx(loud / 4, abs=1 / 32768)
    assert not wave(name, 0.0).any()


def test_no_two_sounds_are_taken_for_one_another() -> None:
    """Heard pulses differ, and no sound is another one shifted: their cross-correlation stays under 0.8."""
    heard = {name: heard_pulses(name) for name in SOUNDS}
    for one, other in itertools.combinations(SOUNDS, 2):
        assert told_apart(heard[one], heard[other]) is not None, (one, other)
        assert likeness(wave(one), wave(other)) < 0.8, (one, other)
    assert told_apart(heard["beat"], heard["beat"]) is None, "the measure can fail"
    assert likeness(wave("beat"), wave("beat")) > 0.99
