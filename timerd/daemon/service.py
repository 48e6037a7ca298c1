"""What a daemon owes the system it runs on: one of it, and a private folder."""

from __future__ import annotations

import fcntl
import os
import stat
from pathlib import Path

from timerd.inplace import made

LOCK = "serve.lock"


class Running(OSError):
    """Another daemon serves here, or the run folder is not one to trust; the words say which, and what to do."""


class RunFolder:
    """The run folder, locked for one daemon and closed to all but its group. Raises Running."""

    def __init__(self, path: Path, who: str) -> None:
        self.path = path
        try:
            made(path, 0o750)
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
            raise _of_no_use(path, error) from None
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            running = os.read(self._lock, 300).decode("utf-8", "replace").strip() or "another timerd"
            os.close(self._lock)
            raise Running(f"{running} serves here already: stop that one first") from None
        try:
            os.ftruncate(self._lock, 0)
            os.write(self._lock, who.encode())
        except OSError as error:
            os.close(self._lock)
            raise _of_no_use(path, error) from None

    def close(self) -> None:
        """Let another daemon have it."""
        os.ftruncate(self._lock, 0)
        os.close(self._lock)


def _of_no_use(path: Path, error: OSError) -> Running:
    return Running(f"{path}: cannot be used: {error.strerror}: mend that, or give --home DIR")
