"""The voice: words to files of sound by espeak-ng, each rendered before it is needed and kept for the next evening.

The words are data: they go to the program on its standard input, without a shell between. Rendering has a thread of its
own, and stands still while it is held, as during an exposure.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import subprocess
import threading
import wave
from array import array
from collections import deque
from collections.abc import Callable, Mapping
from pathlib import Path

PROGRAM = "espeak-ng"
NOT_INSTALLED = "no speech: espeak-ng is not installed (on Debian: apt install espeak-ng)"
MOST_FILES = 1500
"""The cache keeps so many files, the newest."""
LONGEST_RENDER_S = 20.0
_QUIET = 160
"""Samples below this share of 32768, half a hundredth, are silence."""
_FADE_S = 0.004
_FASTEST = 350.0
"""Words a minute: faster ones are not understood."""


class Speech:
    """Renders words into `cache`, one after another, and tells `rendered` of each with its file.

    `rendered` is called on this thread. `trouble` says why there is no speech, once that is known.
    """

    def __init__(self, cache: Path, voice: str, words_a_minute: int, rendered: Callable[[str, Path], None]) -> None:
        self._voice = Voice(cache, voice, words_a_minute)
        self._rendered = rendered
        self._changed = threading.Condition()
        self._queue: deque[tuple[str, float | None]] = deque()
        self._known: set[str] = set()
        self._held = self._closed = False
        self._thread = threading.Thread(target=self._run, name="speech", daemon=True)
        if self.trouble is None:
            self._thread.start()

    @property
    def trouble(self) -> str | None:
        return self._voice.trouble

    def want(self, texts: Mapping[str, float | None], at_once: bool = False) -> None:
        """These will be needed, in this order, each with the seconds in which it must fit; `at_once` before others."""
        with self._changed:
            new = [
                item for item in texts.items() if item[0] not in self._known and (at_once or item not in self._queue)
            ]
            if at_once:
                self._queue.extendleft(reversed(new))
            else:
                self._queue.extend(new)
            self._changed.notify_all()

    def hold(self, held: bool) -> None:
        """While held nothing is rendered; what is being rendered is broken off and done again later."""
        with self._changed:
            self._held = held
            self._changed.notify_all()
        if held:
            self._voice.break_off()

    def close(self) -> None:
        """Stop, without waiting for what was still to be rendered."""
        with self._changed:
            self._closed = True
            self._changed.notify_all()
        self._voice.break_off()
        if self._thread.is_alive():
            self._thread.join(2.0)

    def _run(self) -> None:
        self._voice.tidy()
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._closed or (self._queue and not self._held))
                if self._closed:
                    return
                text, within_s = self._queue.popleft()
                if text in self._known:
                    continue
            path = self._voice.render(text, within_s)
            if self.trouble is not None:
                return
            with self._changed:
                if path is not None:
                    self._known.add(text)
                else:
                    self._queue.appendleft((text, within_s))  # broken off: done again when it may be
            if path is not None:
                self._rendered(text, path)


class Voice:
    """espeak-ng with a voice and a speed, and the folder in which its files are kept."""

    def __init__(self, cache: Path, voice: str, words_a_minute: int) -> None:
        self._cache = cache.absolute()
        self._voice = voice
        self._speed = words_a_minute
        self._program = shutil.which(PROGRAM)
        self._process: subprocess.Popen[bytes] | None = None
        self.trouble = None if self._program else NOT_INSTALLED

    def render(self, text: str, within_s: float | None = None) -> Path | None:
        """The file of a text, made if it is not there; spoken faster where it would not fit into `within_s`.

        None when it was broken off or could not be made; `trouble` tells whether there is any use in another.
        """
        key = hashlib.sha256(f"{self._voice}\n{self._speed}\n{within_s}\n{text}".encode()).hexdigest()[:32]
        path = self._cache / f"{key}.wav"
        try:
            if path.is_file() and _sound(path):
                return path
            self._cache.mkdir(parents=True, exist_ok=True, mode=0o700)
            raw = self._cache / f"{key}.{os.getpid()}.part"
            try:
                if not self._fitted(text, within_s, raw):
                    return None
                os.replace(raw, path)
            finally:
                raw.unlink(missing_ok=True)
        except (OSError, wave.Error, EOFError) as error:
            reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
            self.trouble = f"no speech: {reason or 'espeak-ng gave no sound'}: {self._cache}"
            return None
        return path

    def _fitted(self, text: str, within_s: float | None, to: Path) -> bool:
        """Speak at the usual speed, then twice faster at the most until it fits."""
        speed = float(self._speed)
        for _ in range(3):
            if not self._speak(text, round(speed), to):
                return False
            trim(to)
            length = length_s(to)
            if within_s is None or length <= within_s:
                break
            speed = min(_FASTEST, speed * length / within_s * 1.03)
        return True

    def _speak(self, text: str, speed: int, to: Path) -> bool:
        assert self._program is not None
        order = [self._program, "-v", self._voice, "-s", str(speed), "-b", "1", "-z", "--stdin", "-w", str(to)]
        process = subprocess.Popen(order, stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        self._process = process
        try:
            _, said = process.communicate(text.encode(), LONGEST_RENDER_S)
        except subprocess.TimeoutExpired:
            process.kill()
            process.communicate()
            self.trouble = f"no speech: espeak-ng took more than {LONGEST_RENDER_S:g} s for a few words"
            return False
        finally:
            self._process = None
        if process.returncode < 0:
            return False  # broken off
        if process.returncode or not to.is_file():
            words = said.decode(errors="replace").split("\n")[0].strip()
            self.trouble = f"no speech: espeak-ng, voice '{self._voice}': {words or 'gave no sound'}"
            return False
        return True

    def break_off(self) -> None:
        """Stop the rendering that is under way, if there is one."""
        process = self._process
        if process is not None:
            with contextlib.suppress(OSError):
                process.kill()

    def tidy(self) -> None:
        """Keep the newest files only."""
        with contextlib.suppress(OSError):
            files = sorted(self._cache.glob("*.wav"), key=lambda path: path.stat().st_mtime)
            for path in files[: max(0, len(files) - MOST_FILES)]:
                path.unlink(missing_ok=True)


def trim(path: Path) -> None:
    """Take the silence off both ends of a WAV file of 16 bits, one channel; the ends are faded so that none clicks."""
    with wave.open(str(path), "rb") as file:
        rate = file.getframerate()
        if file.getsampwidth() != 2 or file.getnchannels() != 1:
            raise wave.Error("16 bits and one channel were wanted")
        samples = array("h", file.readframes(file.getnframes()))
    count = len(samples)
    first = next((i for i in range(count) if abs(samples[i]) > _QUIET), count)
    last = next((i for i in range(count - 1, first - 1, -1) if abs(samples[i]) > _QUIET), first - 1)
    fade = round(_FADE_S * rate)
    samples = samples[max(0, first - fade) : last + 1 + fade]
    for i in range(min(fade, len(samples) // 2)):
        samples[i] = samples[i] * i // fade
        samples[-1 - i] = samples[-1 - i] * i // fade
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(samples.tobytes())


def _sound(path: Path) -> bool:
    """Whether a file of the cache is whole."""
    try:
        return length_s(path) > 0
    except (wave.Error, EOFError):
        return False


def length_s(path: Path) -> float:
    """How long a WAV file lasts, in seconds."""
    with wave.open(str(path), "rb") as file:
        return file.getnframes() / file.getframerate()
