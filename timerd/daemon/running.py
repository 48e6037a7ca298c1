"""A bench served until a signal says to stop."""

from __future__ import annotations

import contextlib
import signal
import sys
from collections.abc import Callable
from pathlib import Path

from timerd.daemon.serving import Daemon
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile

SWITCH_S = 0.0005
"""What is read beside the loop (`reading.Reading`) lets the loop in so soon; Python's own 5 ms add up, since each of
its calls may have to wait again."""


def serve(bench: Profile[Bench], home: Path, run: Path, simulated: bool, ready: Callable[[Daemon], None]) -> None:
    """Serve a bench until a signal says to stop; `ready` is called once it is served."""
    sys.setswitchinterval(SWITCH_S)
    with contextlib.closing(Daemon(bench, home, run, simulated)) as daemon:
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, daemon.stop)
        ready(daemon)
        daemon.run()
