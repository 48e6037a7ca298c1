"""How long this machine stood still while a test ran: what two processes do at one time is no nearer than that."""

from __future__ import annotations

import threading
import time

EVERY_S = 0.005


class Stalls:
    """A thread that wants to wake every 5 ms; `worst_s` is by how much it was too late at the most, until now."""

    def __init__(self) -> None:
        self.worst_s = 0.0
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def _watch(self) -> None:
        before = time.monotonic()
        while not self._over.wait(EVERY_S):
            now = time.monotonic()
            self.worst_s = max(self.worst_s, now - before - EVERY_S)
            before = now

    def close(self) -> None:
        """Watch no more."""
        self._over.set()
        self._thread.join()
