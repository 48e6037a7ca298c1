"""Word to the service manager, if one has started this process."""

from __future__ import annotations

import contextlib
import os
import socket
import time


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
