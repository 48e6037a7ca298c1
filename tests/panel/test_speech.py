"""The voice: text as data, each rendered once and kept, never while held; and real espeak-ng's words in their gaps.

Most tests use a program of their own in espeak-ng's place, which writes down how it was called.
"""

from __future__ import annotations

import itertools
import json
import os
import shutil
import sys
import threading
import wave
from array import array
from pathlib import Path

import numpy as np
import pytest
from outside import need
from panel.test_words_to_say import shipped_plan

from timerd.panel.beats import announcements
from timerd.panel.speech import NOT_INSTALLED, Speech, Voice, length_s, trim
from timerd.panel.words_to_say import words_needed
from timerd.sheet.plan.value import LIGHTS

FAKE = f"""#!{sys.executable}
import json, pathlib, sys, wave
text = sys.stdin.buffer.read().decode()
here = pathlib.Path(__file__).parent
with open(here / "calls", "a") as calls:
    calls.write(json.dumps([sys.argv[1:], text]) + "\\n")
if "boom" in text:
    sys.exit("Error: no such voice\\nmore")
if "stuck" in text:
    (here / "stuck").write_text("x")
    import select
    select.select([], [], [], 30)
speed = int(sys.argv[sys.argv.index("-s") + 1])
with wave.open(sys.argv[sys.argv.index("-w") + 1], "wb") as out:
    out.setnchannels(1); out.setsampwidth(2); out.setframerate(22050)
    seconds = 0.1 * len(text.split()) * 175 / speed
    out.writeframes(b"\\0\\0" * 2205 + b"\\x00\\x40" * int(22050 * seconds) + b"\\0\\0" * 4410)
"""


@pytest.fixture
def fake(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a program in espeak-ng's place, the only one on the path."""
    folder = tmp_path / "bin"
    folder.mkdir()
    program = folder / "espeak-ng"
    program.write_text(FAKE)
    program.chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))
    return folder


def calls(fake: Path) -> list[tuple[list[str], str]]:
    return [tuple(json.loads(line)) for line in (fake / "calls").read_text().splitlines()]


def test_text_is_data_on_standard_input(fake: Path, tmp_path: Path) -> None:
    nasty = "-f /etc/passwd; `reboot` $(reboot) 'x' \"y\" é"
    voice = Voice(tmp_path / "cache", "en-gb", 175)
    path = voice.render(nasty)
    assert path is not None and path.parent == tmp_path / "cache" and voice.trouble is None
    [(order, text)] = calls(fake)
    assert text == nasty
    assert order[:-1] == ["-v", "en-gb", "-s", "175", "-b", "1", "-z", "--stdin", "-w"]
    assert Path(order[-1]).parent == tmp_path / "cache"
    assert [p.name for p in (tmp_path / "cache").iterdir()] == [path.name], "nothing half made is left"
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_each_is_rendered_once_by_voice_speed_and_text(fake: Path, tmp_path: Path) -> None:
    kinds = list(itertools.product(("en-gb", "en-us"), (150, 175), ("one", "two"), (None, 0.7)))
    paths = {kind: Voice(tmp_path, *kind[:2]).render(*kind[2:]) for kind in kinds}
    assert len(set(paths.values())) == len(kinds) == len(calls(fake))
    assert {kind: Voice(tmp_path, *kind[:2]).render(*kind[2:]) for kind in kinds} == paths
    assert len(calls(fake)) == len(kinds), "kept"
    broken = paths[kinds[0]]
    assert broken is not None
    broken.write_bytes(b"RIFF")
    assert Voice(tmp_path, *kinds[0][:2]).render(*kinds[0][2:]) == broken and length_s(broken) > 0.05, "made anew"


def test_what_does_not_fit_is_spoken_faster(fake: Path, tmp_path: Path) -> None:
    voice = Voice(tmp_path, "en-gb", 175)
    path = voice.render("one two three four five six seven eight nine", 0.7)
    assert path is not None and length_s(path) <= 0.7
    assert [int(order[3]) for order, _ in calls(fake)] == [175, 234]
    endless = voice.render(" ".join(["word"] * 40), 0.7)
    assert endless is not None and length_s(endless) > 0.7, "but never faster than can be understood"
    assert max(int(order[3]) for order, _ in calls(fake)) == 350


def test_silence_is_trimmed_and_the_ends_do_not_click(tmp_path: Path) -> None:
    path = tmp_path / "x.wav"
    for sound, seconds in ((array("h", [16384] * 22050), 1.0), (array("h"), 0.0), (array("h", [100] * 5000), 0.0)):
        with wave.open(str(path), "wb") as file:
            file.setnchannels(1)
            file.setsampwidth(2)
            file.setframerate(22050)
            file.writeframes(bytes(2 * 9000) + sound.tobytes() + bytes(2 * 7000))
        trim(path)
        assert length_s(path) == pytest.approx(seconds, abs=0.009)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(22050)
    with pytest.raises(wave.Error):
        trim(path)


def test_without_the_program_it_is_said_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    speech = Speech(tmp_path, "en-gb", 175, lambda text, path: None)
    assert speech.trouble == NOT_INSTALLED == "no speech: espeak-ng is not installed (on Debian: apt install espeak-ng)"
    speech.want({"one": None})
    speech.hold(True)
    speech.close()


def test_what_went_wrong_is_one_line(fake: Path, tmp_path: Path) -> None:
    voice = Voice(tmp_path, "en-gb", 175)
    assert voice.render("boom") is None
    assert voice.trouble == "no speech: espeak-ng, voice 'en-gb': Error: no such voice"
    assert not list(tmp_path.glob("*.part")) and not list(tmp_path.glob("*.wav"))
    (tmp_path / "file").write_text("")
    no_folder = Voice(tmp_path / "file" / "cache", "en-gb", 175)
    assert no_folder.render("one") is None
    assert no_folder.trouble == f"no speech: Not a directory: {tmp_path / 'file' / 'cache'}"


class Waits:
    """Takes what was rendered, and waits for it without looking at a clock more than it must."""

    def __init__(self) -> None:
        self.found: list[str] = []
        self._changed = threading.Condition()

    def __call__(self, text: str, path: Path) -> None:
        with self._changed:
            self.found.append(text)
            self._changed.notify_all()

    def until(self, count: int) -> list[str]:
        with self._changed:
            assert self._changed.wait_for(lambda: len(self.found) >= count, 20), self.found
            return list(self.found)


def test_words_are_rendered_in_their_order_and_what_is_needed_at_once_before_them(fake: Path, tmp_path: Path) -> None:
    rendered = Waits()
    speech = Speech(tmp_path, "en-gb", 175, rendered)
    speech.hold(True)
    speech.want({"one": 0.7, "two": 0.7, "three": None})
    speech.want({"two": 0.7, "four": None})
    speech.want({"now": None, "then": None}, at_once=True)
    speech.hold(False)
    assert rendered.until(6) == ["now", "then", "one", "two", "three", "four"]
    speech.want({"one": 0.7})
    speech.want({"five": None})
    assert rendered.until(7)[6:] == ["five"], "what is known is not told again"
    speech.close()


def test_while_held_nothing_is_rendered_and_what_was_under_way_is_broken_off(fake: Path, tmp_path: Path) -> None:
    rendered = Waits()
    os.mkfifo(fake / "stuck")
    speech = Speech(tmp_path, "en-gb", 175, rendered)
    speech.want({"stuck": None, "one": None})
    assert (fake / "stuck").read_text() == "x", "it is under way"
    program = fake / "espeak-ng"
    program.write_text(FAKE.replace('"stuck" in text', "False"))
    speech.hold(True)
    assert rendered.found == []
    speech.hold(False)
    assert rendered.until(2) == ["stuck", "one"], "done again, and first"
    assert [text for _, text in calls(fake)] == ["stuck", "stuck", "one"]
    speech.close()
    speech.want({"two": None})
    assert rendered.found == ["stuck", "one"]


def test_the_cache_keeps_the_newest(fake: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("timerd.panel.speech.MOST_FILES", 3)
    for n in range(6):
        (tmp_path / f"{n}.wav").write_bytes(b"")
        os.utime(tmp_path / f"{n}.wav", (1000 - n, 1000 - n))
    Voice(tmp_path, "en-gb", 175).tidy()
    assert sorted(path.name for path in tmp_path.glob("*.wav")) == ["0.wav", "1.wav", "2.wav"]


def test_real_words_fit_their_gap(tmp_path: Path) -> None:
    """Every number and announcement of the demo's print by the real program: none is longer than its gap, none empty,
    none of them silent at an end."""
    need(shutil.which("espeak-ng") is not None, "espeak-ng", "apt install espeak-ng")
    of = shipped_plan("breakwater")
    needed = words_needed(of)
    for step in of.steps:
        if step.kind in LIGHTS:
            needed |= announcements(step)
    voice = Voice(tmp_path, "en-gb", 175)
    gaps = {words: fits for words, fits in needed.items() if fits is not None}
    assert len(gaps) > 30
    for words, fits in gaps.items():
        path = voice.render(words, fits)
        assert path is not None, voice.trouble
        assert 0.15 < length_s(path) <= fits, words
        with wave.open(str(path), "rb") as file:
            wave_ = np.frombuffer(file.readframes(file.getnframes()), np.int16)
        assert np.abs(wave_).max() > 3000 and abs(int(wave_[0])) < 200 and abs(int(wave_[-1])) < 200
