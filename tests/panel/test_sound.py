"""The player: each sound at its instant, words after sounds, and nothing stops where device or voice are missing.

The mixer is one that remembers; times lie far ahead of the clock, so that only the test's own `tick` sounds anything.
"""

from __future__ import annotations

import threading
import time
import wave
from pathlib import Path
from typing import Any

import pytest
from panel.telling import but, exposing, lead_in, plan, status, step

from timerd.panel import sound as sound_module
from timerd.panel.sound import BUFFER, EARLY_S, Sound, say_once
from timerd.panel.speech import NOT_INSTALLED
from timerd.panel.tones import RATE, samples
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.refusal import OtherDown
from timerd.sheet.status import NotTaken

AHEAD = 1e9
HALF_BUFFER_S = BUFFER / RATE / 2


class Mixer:
    """In pygame's place: remembers what was played, on which channel, with how much silence in front."""

    error = RuntimeError

    def __init__(self) -> None:
        self.mixer = self
        self.time = self
        self.played: list[tuple[str, float, str]] = []
        self.broken: str | None = None
        self.names: dict[bytes, str] = {}
        self.faded = self.stopped = 0
        self.opened: list[tuple[Any, ...]] = []

    def init(self, *args: Any, **more: Any) -> None:
        if self.broken:
            raise self.error(self.broken)
        self.opened.append((*args, more))

    def quit(self) -> None:
        pass

    set_num_channels = set_reserved = wait = lambda self, count: None

    def find_channel(self, force: bool) -> Channel:
        assert force
        return Channel(self, "any")

    def Channel(self, number: int) -> Channel:
        assert number == 0
        return Channel(self, "voice")

    def Sound(self, path: str | None = None, buffer: bytes | None = None) -> Played:
        if buffer is None:
            assert path is not None
            return Played(self, f"'{Path(path).read_text()}'", 0.0, Path(path).read_bytes())
        bare = buffer.lstrip(b"\0")
        name = next(name for raw, name in self.names.items() if raw.lstrip(b"\0") == bare)
        extra = (len(buffer) - next(len(raw) for raw, n in self.names.items() if n == name)) / 2 / RATE
        return Played(self, name, extra, buffer)


class Played:
    def __init__(self, mixer: Mixer, name: str, silence: float, raw: bytes) -> None:
        self.mixer, self.name, self.silence, self.raw = mixer, name, silence, raw
        self.volume: float | None = None

    def set_volume(self, volume: float) -> None:
        self.volume = volume

    def get_raw(self) -> bytes:
        self.mixer.names[self.raw] = self.name
        return self.raw

    def play(self) -> Channel:
        return self.mixer.find_channel(True).play(self)


class Channel:
    def __init__(self, mixer: Mixer, name: str) -> None:
        self.mixer, self.name = mixer, name

    def play(self, played: Played) -> Channel:
        if self.mixer.broken:
            raise self.mixer.error(self.mixer.broken)
        self.mixer.played.append((played.name, round(played.silence, 5), self.name))
        return self

    def stop(self) -> None:
        self.mixer.stopped += 1

    def fadeout(self, ms: int) -> None:
        self.mixer.faded += 1

    def get_busy(self) -> bool:
        return False


@pytest.fixture
def mixer(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Mixer:
    found = Mixer()
    for name in sound_module.SOUNDS:
        found.names[samples(name, 0.5 * getattr(SoundSettings().levels, name)).tobytes()] = name
    monkeypatch.setattr(sound_module, "pygame", found)
    monkeypatch.setattr(sound_module, "length_s", lambda path: 0.5)
    monkeypatch.setattr(sound_module, "Speech", FakeSpeech)
    return found


class FakeSpeech:
    """Renders when it is told to, into files that hold their own words."""

    trouble: str | None = None

    def __init__(self, cache: Path, voice: str, speed: int, rendered: Any) -> None:
        self.cache, self.rendered = cache, rendered
        self.wanted: dict[str, float | None] = {}
        self.holds: list[bool] = []
        self.closed = False
        cache.mkdir(exist_ok=True)

    def want(self, texts: dict[str, float | None], at_once: bool = False) -> None:
        self.wanted |= texts

    def hold(self, held: bool) -> None:
        self.holds.append(held)

    def render(self, *texts: str) -> None:
        for text in texts:
            assert text in self.wanted
            path = self.cache / f"{abs(hash(text))}.wav"
            path.write_text(text)
            self.rendered(text, path)

    def close(self) -> None:
        self.closed = True


def opened(tmp_path: Path, **facts: Any) -> Sound:
    return Sound(SoundSettings(level=0.5, **facts), tmp_path / "cache")


def test_a_sound_is_handed_over_early_with_its_wait_in_front(mixer: Mixer, tmp_path: Path) -> None:
    sound = opened(tmp_path, say="beep")
    assert mixer.opened == [(RATE, -16, 1, BUFFER, {"allowedchanges": 0})] and sound.trouble is None
    sound.heard(lead_in(AHEAD, AHEAD + 3, 9.0), None)
    assert sound.tick(AHEAD + 0.01) == AHEAD + 1 - EARLY_S
    assert sound.tick(AHEAD + 1 - EARLY_S) == AHEAD + 2 - EARLY_S
    assert sound.tick(AHEAD + 2 - 0.02) == AHEAD + 3 - EARLY_S
    assert mixer.played == [
        ("lead_in", 0.0, "any"), ("lead_in", pytest.approx(EARLY_S - HALF_BUFFER_S, abs=1e-4), "any"),
        ("lead_in", pytest.approx(0.02 - HALF_BUFFER_S, abs=1e-4), "any"),
    ]  # fmt: skip
    sound.close()
    assert sound.tick(AHEAD + 3) is None and len(mixer.played) == 3


def test_a_number_is_spoken_in_the_place_of_its_beat_if_it_was_rendered(mixer: Mixer, tmp_path: Path) -> None:
    sound = opened(tmp_path)
    of = plan(step(9.0))
    ready = status(state="ready", step=2, sheet=1, given=0.0, now=AHEAD)
    sound.heard(ready, of)
    speech: Any = sound._speech
    assert {"five", "four", "one", "base, all, nine seconds"} <= speech.wanted.keys()
    assert speech.wanted["five"] == 0.7
    speech.render("base, all, nine seconds", "five", "four")
    sound.tick(AHEAD)
    assert mixer.played == [("'base, all, nine seconds'", 0.0, "voice")]
    sound.heard(exposing(AHEAD + 10, 9.0, step=2), of)
    assert speech.holds == [False, True] and mixer.faded == 1
    for at in (14, 15, 16):
        sound.tick(AHEAD + at)
    assert [(name, channel) for name, _, channel in mixer.played[1:]] == [
        ("'five'", "voice"), ("'four'", "voice"), ("last", "any"),
    ]  # fmt: skip
    sound.close()
    assert speech.closed


def test_words_wait_for_their_sound_and_for_the_voice(mixer: Mixer, tmp_path: Path) -> None:
    sound = opened(tmp_path)
    of = plan(step(9.0))
    sound.heard(exposing(AHEAD, 9.0, step=2), of)
    sound.tick(AHEAD + 4.0)
    mixer.played.clear()
    cut = {"burst": 7, "at": AHEAD + 4.0, "why": "pedal"}
    paused = status(state="paused", step=2, given=4.0, owed=5.0, dark=cut, since={"number": 2, "at": AHEAD + 4.0})
    sound.heard(paused, of)
    assert sound.tick(AHEAD + 4.01) == pytest.approx(AHEAD + 4.5), "the sound lasts half a second"
    assert [name for name, _, _ in mixer.played] == ["paused"]
    assert sound.tick(AHEAD + 4.5) == pytest.approx(AHEAD + 9.02), "the voice is not ready"
    speech: Any = sound._speech
    speech.render("paused, five seconds owed")
    assert sound.tick(AHEAD + 5.0) is None
    assert [name for name, _, _ in mixer.played] == ["paused", "'paused, five seconds owed'"]
    sound.heard(but(paused, refused=NotTaken(1, AHEAD + 6, OtherDown("go"))), of)
    sound.tick(AHEAD + 6.01)
    assert sound.tick(AHEAD + 12.0) is None, "words that came too late are not said"
    speech.render("go is down")
    sound.tick(AHEAD + 12.1)
    assert [name for name, _, _ in mixer.played][2:] == ["refused"]
    sound.close()


def test_what_was_handed_over_early_is_stopped_when_the_light_is_cut(mixer: Mixer, tmp_path: Path) -> None:
    """A press 50 ms before the end: light-off is in the mixer already, and must not be heard."""
    sound = opened(tmp_path, say="beep")
    sound.heard(exposing(AHEAD, 9.0), None)
    sound.tick(AHEAD + 8.95)
    assert mixer.played[-1][0] == "light_off"
    cut = {"burst": 7, "at": AHEAD + 8.95, "why": "pedal"}
    dark = status(now=AHEAD + 8.96, state="paused", dark=cut, since={"number": 2, "at": AHEAD + 8.95})
    sound.heard(dark, None)
    assert mixer.stopped == 1
    sound.tick(AHEAD + 8.97)
    assert mixer.played[-1][0] == "paused"
    sound.close()
    whole = opened(tmp_path, say="beep")
    whole.heard(exposing(AHEAD, 9.0), None)
    whole.tick(AHEAD + 8.95)
    end = {"burst": 7, "at": AHEAD + 9.0, "why": "deadline"}
    whole.heard(status(now=AHEAD + 9.001, state="ready", dark=end, since={"number": 2, "at": AHEAD + 9.0}), None)
    assert mixer.stopped == 1, "one that came to its end is heard"
    whole.close()


def test_without_a_device_all_else_goes_on(mixer: Mixer, tmp_path: Path) -> None:
    mixer.broken = "dsp: No such audio device"
    sound = opened(tmp_path)
    words = "no sound: dsp: No such audio device: plug in a loudspeaker and start the panel again"
    assert sound.trouble == words
    sound.heard(exposing(AHEAD, 9.0), None)
    assert sound.tick(AHEAD) is None and mixer.played == []
    assert sound.trouble == words
    sound.close()


def test_a_device_that_fails_later_is_told(mixer: Mixer, tmp_path: Path) -> None:
    sound = opened(tmp_path, say="beep")
    mixer.broken = "gone"
    sound.heard(status(state="fault", now=time.monotonic()), None)  # now: it is sounded by the thread
    done = threading.Event()
    threading.Thread(target=lambda: (sound._thread.join(), done.set()), daemon=True).start()
    assert done.wait(20), "the thread has ended"
    assert sound.trouble == "no sound any more: gone"
    sound.heard(exposing(AHEAD, 9.0), None)
    assert sound.tick(AHEAD) is None
    sound.close()


@pytest.mark.parametrize("say", ["speak", "both"])
def test_without_a_voice_sounds_tell_what_words_would_have(
    mixer: Mixer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, say: str
) -> None:
    monkeypatch.setattr(FakeSpeech, "trouble", NOT_INSTALLED)
    sound = opened(tmp_path, say=say)
    assert sound.trouble == NOT_INSTALLED
    sound.heard(status(state="paused", given=1.0, owed=1.0), None)
    sound.heard(status(state="prompt", since={"number": 2, "at": AHEAD}), None)
    sound.tick(AHEAD)
    assert [name for name, _, _ in mixer.played] == ["prompt"]
    sound.close()


def test_silence_needs_no_device(mixer: Mixer, tmp_path: Path) -> None:
    mixer.broken = "none here"
    sound = opened(tmp_path, say="off")
    sound.heard(exposing(AHEAD, 9.0), None)
    assert sound.trouble is None and sound.tick(AHEAD) is None and mixer.opened == []
    sound.close()


def test_saying_something_once(mixer: Mixer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Renders:
        trouble: str | None = None

        def __init__(self, *args: Any) -> None:
            pass

        def render(self, words: str) -> Path:
            (tmp_path / "said").write_text(words)
            return tmp_path / "said"

    monkeypatch.setattr(sound_module, "Voice", Renders)
    assert say_once("paused", SoundSettings(), tmp_path) is None
    assert mixer.played == [("'paused'", 0.0, "any")]
    mixer.broken = "none"
    assert say_once("paused", SoundSettings(), tmp_path) == (
        "no sound: none: plug in a loudspeaker and start the panel again"
    )
    monkeypatch.setattr(Renders, "trouble", NOT_INSTALLED)
    assert say_once("paused", SoundSettings(), tmp_path) == NOT_INSTALLED


def test_the_real_mixer_takes_what_it_is_given(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """SDL's dummy device: opened, a tone played and closed; and with no device at all, the reason in one line."""
    monkeypatch.setenv("SDL_AUDIODRIVER", "dummy")
    sound = opened(tmp_path, say="beep")
    assert sound.trouble is None
    sound.heard(status(state="fault", since={"number": 1, "at": AHEAD}), None)
    sound.tick(AHEAD)
    with wave.open(str(tmp_path / "x.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(22050)
        file.writeframes(bytes(2 * 22050))
    assert len(sound_module.pygame.mixer.Sound(str(tmp_path / "x.wav")).get_raw()) == pytest.approx(2 * RATE, rel=0.01)
    sound.close()
    monkeypatch.setenv("SDL_AUDIODRIVER", "nonesuch")
    none = opened(tmp_path, say="beep")
    assert none.trouble is not None and none.trouble.startswith("no sound: ") and "\n" not in none.trouble
    none.close()
