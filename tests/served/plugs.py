"""The plug of a pedal of a simulated bench, pulled and put in again."""

from __future__ import annotations

import os
import time

from timerd.bench.pretended import _OUT, PretendedFoot


def plug(foot: PretendedFoot, contact: str, there: bool) -> None:
    """Pull a contact's plug, or put it in again: first what its level is, then the line that tells of it."""
    out = foot._levels / (contact + _OUT)
    if there:
        out.unlink(missing_ok=True)
    else:
        out.touch()
    os.write(foot._pipe, f"{contact} {'plugged in' if there else 'unplugged'} {time.monotonic():.9f}\n".encode())
