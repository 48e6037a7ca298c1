"""What takes long to read is read beside the daemon's loop, in a thread: a file of which a second goes by before it is
refused must not keep the loop from somebody who wants it dark."""

from __future__ import annotations

import os
import threading
from collections import deque
from collections.abc import Callable
from typing import Any, NamedTuple

from timerd.wire.control import SaidNo

MOST_WAITING = 8
TOO_MANY = "too much is waiting to be read: say it again"


WhyNot = Callable[[], SaidNo | None]
"""The refusal of what is not to be read after all."""


class _Job(NamedTuple):
    read: Callable[[], Any]
    then: Callable[[Any], None]
    why_not: WhyNot


class ReadBeside:
    """One thing after the other, each begun and ended in the loop."""

    def __init__(self) -> None:
        self._bell = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._waiting: deque[_Job] = deque()
        self._under_way: _Job | None = None
        self._found: Any = None

    def fileno(self) -> int:
        """Readable when something has been read."""
        return self._bell

    def take(self, read: Callable[[], Any], then: Callable[[Any], None], why_not: WhyNot) -> bool:
        """Have something read: `then` is called by the loop with what `read` gave, or with the exception that it
        raised. When its turn comes `why_not` may refuse: it is not read then. False where too much waits.
        """
        if len(self._waiting) >= MOST_WAITING:
            return False
        self._waiting.append(_Job(read, then, why_not))
        self._next()
        return True

    def heard(self) -> None:
        """Something has been read: pass it on, and begin with the next."""
        os.eventfd_read(self._bell)
        job, found = self._under_way, self._found
        self._under_way = self._found = None
        if job is not None:
            job.then(found)
        self._next()

    def _next(self) -> None:
        while self._under_way is None and self._waiting:
            job = self._waiting.popleft()
            if (no := job.why_not()) is not None:
                job.then(ValueError(no.why))
                continue
            self._under_way = job
            threading.Thread(target=self._read, args=(job.read,), daemon=True).start()

    def _read(self, read: Callable[[], Any]) -> None:
        try:
            self._found = read()
        except Exception as error:  # noqa: BLE001 (whatever it is, it is an answer to whoever asked)
            self._found = error
        os.eventfd_write(self._bell, 1)
