"""The simulated bench as a real process in real time: lines in a file, and feet that any process may put on a pedal.

As on a Raspberry Pi, a line keeps its level when the process that drove it is killed. Every change of a level is one
line appended to the file `truth` in one system call, which is the change: there is no moment at which the one has
happened and the other has not, whoever is killed, and no process can take it back.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import stat
import time
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from timerd.bench.lines import HEARTBEAT, SAFELIGHT, LinesError

TRUTH = "truth"
FEET = "feet"
LEVELS = "levels"
_OUT = " unplugged"
_EDGE = re.compile(r"(?P<contact>.+) (?P<level>down|up|unplugged|plugged in) (?P<at>[0-9]{1,12}\.[0-9]{1,9})", re.ASCII)


class PretendedLines:
    """Lines in the file `truth` of a folder; they are found at the levels in which they were left."""

    def __init__(self, outputs: Mapping[str, Any], folder: Path) -> None:
        self._lit = {name: name == SAFELIGHT for name in outputs if name != HEARTBEAT}
        self._words = {
            (name, lit): b', "line": %s, "on": %s}\n' % (json.dumps(name).encode(), b"true" if lit else b"false")
            for name in self._lit
            for lit in (True, False)
        }
        path = folder / TRUTH
        self._truth = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o640)
        for edge in path.read_bytes().splitlines():
            told = json.loads(edge)
            if told["line"] in self._lit:
                self._lit[told["line"]] = told["on"]
        self.beats = 0

    def write(self, line: str, lit: bool) -> None:
        """Drive a line at once."""
        if self._lit[line] != lit:
            self._lit[line] = lit
            rest = self._words[line, lit]
            os.write(self._truth, b'{"t": %.9f' % time.monotonic() + rest)

    def read(self) -> dict[str, bool]:
        """What every line reads."""
        return dict(self._lit)

    def beat(self, high: bool) -> None:
        """Count the heartbeat."""
        self.beats += high

    def close(self) -> None:
        """Everything at rest."""
        for line in self._lit:
            self.write(line, line == SAFELIGHT)
        os.close(self._truth)


class PretendedPedals:
    """Contacts whose level is a file (there while the foot is down), and whose edges come through a named pipe. Raises
    LinesError where that is none.

    A contact that is unplugged has a file of its own beside it; `missing` says so of it.
    """

    def __init__(self, contacts: Iterable[str], folder: Path) -> None:
        self._contacts = set(contacts)
        self._levels = folder / LEVELS
        self._levels.mkdir(exist_ok=True)
        path = folder / FEET
        with contextlib.suppress(FileExistsError):
            os.mkfifo(path, 0o660)
        self._pipe = _pipe(path)
        self._begun = b""
        self.missing = {name: "is unplugged" for name in self._contacts if (self._levels / (name + _OUT)).exists()}

    def fileno(self) -> int:
        """Readable when a foot has moved."""
        return self._pipe

    def heard(self) -> list[tuple[str, bool, float]]:
        """The edges that have come, with their times; what is no edge of a contact here is not listened to."""
        try:
            chunk = os.read(self._pipe, 65536)
        except BlockingIOError:
            return []
        if not chunk:
            raise OSError(errno.EPIPE, "their pipe has ended")
        *lines, self._begun = (self._begun + chunk).split(b"\n")
        self._begun = self._begun[-200:]
        return [edge for line in lines if (edge := self._edge(line)) is not None]

    def look_round(self) -> None:
        """Nothing is plugged in that was not told of."""

    def _edge(self, line: bytes) -> tuple[str, bool, float] | None:
        found = _EDGE.fullmatch(line.decode("utf-8", "replace"))
        if found is None or found["contact"] not in self._contacts:
            return None
        if found["level"] == "unplugged":
            self.missing[found["contact"]] = "is unplugged"
            return None
        if found["level"] == "plugged in":
            self.missing.pop(found["contact"], None)
            return None
        return found["contact"], found["level"] == "down", min(float(found["at"]), time.monotonic())

    def down(self, contact: str) -> bool:
        """Whether a foot is on the contact now, and it is plugged in."""
        return contact not in self.missing and (self._levels / contact).exists()

    def close(self) -> None:
        """Stop listening."""
        os.close(self._pipe)


def _pipe(path: Path) -> int:
    """Both ends of a named pipe, so that it never ends: any other file is always ready to be read, and says nothing."""
    try:
        pipe = os.open(path, os.O_RDWR | os.O_NONBLOCK | os.O_CLOEXEC | os.O_NOFOLLOW)
        if stat.S_ISFIFO(os.fstat(pipe).st_mode):
            return pipe
        os.close(pipe)
    except OSError as error:
        raise LinesError(f"{path}: cannot be read ({error.strerror}): remove it") from None
    raise LinesError(f"{path}: is no named pipe, so that no foot comes through it: remove it")


class PretendedSenses:
    """Sense inputs that see light where a lamp's line is on.

    A lamp that is dead, or whose relay is welded, has a file of its line's name and that word beside the pedals'.
    """

    def __init__(self, lines: PretendedLines, of: Mapping[str, str], folder: Path) -> None:
        self.missing: dict[str, str] = {}
        self._lines = lines
        self._of = of
        self._levels = folder / LEVELS

    def of(self, line: str) -> str | None:
        """The input that sees a lamp, if any does."""
        return self._of.get(line)

    def down(self, contact: str) -> bool:
        """Whether an input sees light now."""
        lit = self._lines.read()
        return any(self._lit(line, lit[line]) for line, name in self._of.items() if name == contact)

    def _lit(self, line: str, lit: bool) -> bool:
        return (self._levels / f"{line} welded").exists() or (lit and not (self._levels / f"{line} dead").exists())

    def close(self) -> None:
        """There is nothing to give back."""


class PretendedFoot:
    """A foot on the pedals of a simulated bench, from any process. Raises OSError where none is served."""

    def __init__(self, run: Path) -> None:
        self._levels = run / LEVELS
        self._pipe = os.open(run / FEET, os.O_WRONLY | os.O_NONBLOCK | os.O_CLOEXEC)

    def put(self, contact: str, down: bool, at: float | None = None) -> None:
        """Put the foot down on a contact, or lift it: first the level, then the edge that tells of it.

        The edge carries its time, as a pin's does: now, or `at` (monotonic seconds).
        """
        when = time.monotonic() if at is None else at
        level = self._levels / contact
        if down:
            level.touch()
        else:
            level.unlink(missing_ok=True)
        os.write(self._pipe, f"{contact} {'down' if down else 'up'} {when:.9f}\n".encode())

    def close(self) -> None:
        """Take the foot away."""
        os.close(self._pipe)
