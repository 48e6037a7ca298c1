"""When the book is copied by itself, and what came of it. A process of its own does it; nothing here waits."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
from pathlib import Path

from timerd.daemon.ink import Ink
from timerd.sheet.engine.rows import IDLE
from timerd.sheet.engine.standing import Standing
from timerd.sheet.reason import CopiedDamaged, CopyTrouble, NotCopied
from timerd.sheet.status import CopiesStand, CopyMade

QUIET_S = 20.0
"""A bench is left alone for so long, idle and with nothing written, before its book is copied."""
APART_S = 120.0
AGAIN_S = 600.0
"""After a copy that failed it is tried again so much later, or when the bench comes to rest again."""
_POLL_S = 0.5
_GONE_WITHIN_S = 0.2


class Copies:
    """The copies of one book into one folder; None for a bench that has none."""

    def __init__(self, home: Path, to: str | None, now: float) -> None:
        self._home, self._to = home, to
        self._rests = False
        self._still_from = self._not_before = now
        self._written = self._copied = -1
        self._process: subprocess.Popen[str] | None = None
        self._of = -1
        self._killed: list[subprocess.Popen[str]] = []
        self._poll_at = now
        self._last: CopyMade | None = None
        self._wrong: CopyTrouble | None = None

    def turn(self, now: float, standing: Standing, ink: Ink) -> bool:
        """Go on, as the bench stands and the book is written. Whether anything is to be told anew."""
        if self._to is None:
            return False
        rests = standing.state == IDLE and standing.burst is None and not ink.waits
        written = ink.written
        self._killed = [process for process in self._killed if process.poll() is None]
        if (rests, written) != (self._rests, self._written):
            self._not_before = now if rests and not self._rests else self._not_before
            self._rests, self._written, self._still_from = rests, written, now
        if not rests:
            self.stop()
            return False
        if self._process is not None:
            self._poll_at = now + _POLL_S
            return self._ended(self._process, now)
        if self._due is not None and now >= self._due:
            self._begin(now)
        return False

    @property
    def _due(self) -> float | None:
        if self._to is None or not self._rests or self._written == self._copied:
            return None
        return max(self._still_from + QUIET_S, self._not_before)

    @property
    def wake_at(self) -> float | None:
        """When `turn` is due, if nothing happens before."""
        return self._poll_at if self._process is not None else self._due

    def _begin(self, now: float) -> None:
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "timerd.book.copying", str(self._home.absolute()), str(self._to)],
                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, cwd="/",
                start_new_session=True,
            )  # fmt: skip
        except OSError as error:
            self._failed(f"the copy could not be begun: {error.strerror}", now)
            return
        self._of, self._poll_at = self._written, now + _POLL_S

    def _ended(self, process: subprocess.Popen[str], now: float) -> bool:
        if process.poll() is None or process.stdout is None:
            return False
        with process.stdout as pipe:
            said = pipe.read()
        self._process = None
        try:
            told = json.loads(said)
        except ValueError:
            told = {"is": "not copied", "why": "the copying ended before it was done"}
        if told["is"] != "copied":
            self._failed(told["why"], now)
            return True
        self._copied, self._not_before = self._of, now + APART_S
        self._last = CopyMade(told["file"], told["records"])
        self._wrong = None if told["damaged"] is None else CopiedDamaged(told["damaged"])
        return True

    def _failed(self, why: str, now: float) -> None:
        self._wrong, self._not_before = NotCopied(why), now + AGAIN_S

    def close(self) -> None:
        """For good. One that a hung disk holds is not waited for."""
        self.stop()
        for process in self._killed:
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(_GONE_WITHIN_S)

    def stop(self) -> None:
        """Whatever is being copied is not: what was written of it is no copy yet."""
        if self._process is not None:
            self._process.kill()
            if self._process.stdout is not None:
                self._process.stdout.close()
            self._killed.append(self._process)
            self._process = None

    def status(self) -> CopiesStand | None:
        """How they stand; None for a bench that has none."""
        return None if self._to is None else CopiesStand(self._to, self._last, self._wrong)
