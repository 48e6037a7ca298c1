"""A bench served until a signal says to stop."""

from __future__ import annotations

import signal
from collections.abc import Callable
from pathlib import Path

from timerd.daemon.serving import Daemon
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile


def serve(bench: Profile[Bench], home: Path, run: Path, simulated: bool, ready: Callable[[Daemon], None]) -> None:
    """Serve a bench until a signal says to stop; `ready` is called once it is served."""
    daemon = Daemon(bench, home, run, simulated)
    try:
        for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
            signal.signal(number, daemon.stop)
        ready(daemon)
        daemon.run()
    finally:
        daemon.close()
