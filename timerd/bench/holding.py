"""Who has a bench's lines: one process at a time, under a lock that dies with it, and its number beside the lock."""

from __future__ import annotations

import contextlib
import fcntl
import os
import re
import select
import time
from pathlib import Path

KEEPER_PID = "keeper.pid"
_KEEPER = b"timerd.bench.loop"
_OPTION = re.compile(rb"-[A-Za-z]+")


class HeldByAnother(OSError):
    """Another process of timerd has the lines; the words say which."""


class Holding:
    """The right to a run folder's lines, until closed or dead. Raises HeldByAnother where one has it for longer than
    `within_s`, and OSError where the folder cannot be written."""

    def __init__(self, run: Path, within_s: float) -> None:
        self._file = _open(run / KEEPER_PID)
        until = time.monotonic() + within_s
        while True:
            try:
                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except OSError:
                if time.monotonic() >= until:
                    number = os.read(self._file, 20).decode("ascii", "replace").strip()
                    os.close(self._file)
                    raise HeldByAnother(
                        f"another keeper of this bench has the lines{f' (process {number})' if number else ''}: "
                        "stop that one first"
                    ) from None
            select.select([], [], [], 0.002)
        os.ftruncate(self._file, 0)
        os.pwrite(self._file, f"{os.getpid()}\n".encode(), 0)

    def close(self) -> None:
        """Let another have them."""
        with contextlib.suppress(OSError):
            os.ftruncate(self._file, 0)
        os.close(self._file)


def _open(path: Path) -> int:
    """The lock's file, this user's own and nobody else's to lock: whatever else lies there makes way."""
    flags = os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW
    try:
        descriptor = os.open(path, flags, 0o600)
    except IsADirectoryError:
        raise
    except OSError:
        path.unlink(missing_ok=True)
        descriptor = os.open(path, flags | os.O_EXCL, 0o600)
    with contextlib.suppress(OSError):
        os.fchmod(descriptor, 0o600)
    return descriptor


def keepers(run: Path) -> list[int]:
    """The keepers of this very run folder that run now, each by a descriptor of its process that the caller closes.

    They are found by their command lines: a number in a file may be anybody's by now.
    """
    found = []
    for process in os.listdir("/proc"):
        if process.isdecimal() and _keeps(process, run):
            with contextlib.suppress(OSError):
                descriptor = os.pidfd_open(int(process))
                if _keeps(process, run):  # numbers are used again
                    found.append(descriptor)
                else:
                    os.close(descriptor)
    return found


def _keeps(process: str, run: Path) -> bool:
    """Whether a process is the run folder's keeper: `python [OPTIONS] -m timerd.bench.loop FD RUN`."""
    with contextlib.suppress(OSError):
        words = Path("/proc", process, "cmdline").read_bytes().split(b"\0")
        if _KEEPER in words:
            at = words.index(_KEEPER)
            options, after = words[1:at], words[at + 1 :]
            as_module = options[-1:] == [b"-m"] and all(_OPTION.fullmatch(option) for option in options)
            return as_module and len(after) >= 2 and os.path.samefile(after[1], run)
    return False
