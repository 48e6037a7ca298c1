"""What a daemon owes the system it runs on: one of it, a private folder, and word to the service manager."""

from __future__ import annotations

import contextlib
import fcntl
import os
import socket
import stat
import time
from pathlib import Path

LOCK = "serve.lock"


class Running(OSError):
    """Another daemon serves here, or the run folder is not one to trust; the words say which, and what to do."""


class RunFolder:
    """The run folder, locked for one daemon and closed to all but its group. Raises Running."""

    def __init__(self, path: Path, who: str) -> None:
        self.path = path
        try:
            path.mkdir(parents=True, exist_ok=True, mode=0o750)
            found = path.stat()
            if found.st_uid not in (0, os.geteuid()):
                raise Running(f"{path}: belongs to somebody else: remove it, or give --home DIR")
            if found.st_uid == os.geteuid() and stat.S_IMODE(found.st_mode) & 0o027:
                path.chmod(0o750)
            elif stat.S_IMODE(found.st_mode) & 0o002:
                raise Running(f"{path}: anybody may write there: have it made for its group alone (mode 750)")
            self._lock = os.open(path / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        except Running:
            raise
        except OSError as error:
            raise Running(f"{path}: cannot be used: {error.strerror}: mend that, or give --home DIR") from None
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            running = os.read(self._lock, 300).decode("utf-8", "replace").strip() or "another timerd"
            os.close(self._lock)
            raise Running(f"{running} serves here already: stop that one first") from None
        os.ftruncate(self._lock, 0)
        os.write(self._lock, who.encode())

    def close(self) -> None:
        """Let another daemon have it."""
        os.ftruncate(self._lock, 0)
        os.close(self._lock)


class Manager:
    """The service manager's end, if one has started this: READY, WATCHDOG and STOPPING, as sd_notify(3) has them."""

    def __init__(self) -> None:
        self._address = os.environ.get("NOTIFY_SOCKET", "")
        every = os.environ.get("WATCHDOG_USEC", "")
        mine = os.environ.get("WATCHDOG_PID", str(os.getpid())) == str(os.getpid())
        self._every_s = int(every) / 2e6 if every.isdecimal() and int(every) and mine and self._address else None
        self._told_at = 0.0

    def tell(self, words: str, within_s: float = 1.0) -> None:
        """Tell it something, if it is there and listens in time."""
        if not self._address:
            return
        address = "\0" + self._address[1:] if self._address.startswith("@") else self._address
        with contextlib.suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as end:
            end.settimeout(within_s)
            end.sendto(words.encode(), address)

    @property
    def wake_at(self) -> float | None:
        """When it wants to be told that we live."""
        return None if self._every_s is None else self._told_at + self._every_s

    def alive(self) -> None:
        """Tell it that we live, where it is time to."""
        if (wake_at := self.wake_at) is not None and time.monotonic() >= wake_at:
            self._told_at = time.monotonic()
            self.tell("WATCHDOG=1", within_s=0.0)
