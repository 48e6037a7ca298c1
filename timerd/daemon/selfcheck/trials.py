"""What is tried out: real-time scheduling in a child, waiting, the clocks, the disk. None of it touches a line."""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from timerd.bench.loop import PRIORITY
from timerd.daemon.selfcheck.answers import Clock, Disk, Trial

WAITS = 200
WAIT_S = 0.002
SYNCS = 100
SYNCS_WITHIN_S = 8.0
_CHILD_WITHIN_S = 20.0

_CHILD = f"""
import ctypes, json, os, select, time
def why(call):
    try:
        call()
    except OSError as error:
        return error.strerror
real = why(lambda: os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param({PRIORITY})))
libc = ctypes.CDLL(None, use_errno=True)
memory = None if libc.mlockall(3) == 0 else os.strerror(ctypes.get_errno())
if real is None:
    os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))  # behind a keeper that is at work
late = []
for _ in range({WAITS}):
    due = time.monotonic() + {WAIT_S}
    select.select([], [], [], {WAIT_S})
    late.append(time.monotonic() - due)
print(json.dumps([real, memory, late]))
"""


def try_scheduling() -> Trial:
    """Whether a process of this user may be raised as the keeper raises itself, and how late it wakes then."""
    try:
        ran = subprocess.run(
            [sys.executable, "-I", "-c", _CHILD], capture_output=True, text=True, timeout=_CHILD_WITHIN_S, check=True
        )
        real, memory, late = json.loads(ran.stdout)
    except subprocess.TimeoutExpired:
        return Trial(None, None, (), f"not tried: this machine did not come to it within {_CHILD_WITHIN_S:g} s")
    except (OSError, subprocess.SubprocessError, ValueError) as error:
        return Trial(None, None, (), f"not tried: {error}".splitlines()[0])
    return Trial(real, memory, tuple(late))


def try_disk(home: Path, root: Path = Path("/")) -> Disk:
    """How long the book's disk takes to have a small record for certain: a file beside the book, gone afterwards."""
    folder = home
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    kind = file_system(folder, root)
    free = None
    syncs: list[float] = []
    try:
        free = shutil.disk_usage(folder).free
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".timerd-sync-") as file:
            begun = time.monotonic()
            while len(syncs) < SYNCS and time.monotonic() - begun < SYNCS_WITHIN_S:
                os.write(file.fileno(), b"0" * 512)
                before = time.monotonic()
                os.fdatasync(file.fileno())
                syncs.append(time.monotonic() - before)
    except OSError as error:
        return Disk(tuple(syncs), f"{folder}: {error.strerror}", kind, free)
    return Disk(tuple(syncs), None, kind, free)


def file_system(folder: Path, root: Path = Path("/")) -> str | None:
    """The kind of file system that a folder lies on, by the kernel's table of mounts."""
    found = None
    deepest = -1
    where = folder.resolve()
    with contextlib.suppress(OSError):
        for line in (root / "proc/self/mounts").read_text().splitlines():
            _, at, kind, *_ = line.split(" ")
            place = Path(at.replace("\\040", " "))
            if (place == where or place in where.parents) and len(place.parts) >= deepest:
                deepest, found = len(place.parts), kind
    return found


def try_clock(begun: tuple[float, float], root: Path = Path("/")) -> Clock:
    """The clocks, against what they read when all this began (`both_clocks`)."""
    source = root / "sys/devices/system/clocksource/clocksource0/current_clocksource"
    name = None
    with contextlib.suppress(OSError):
        name = source.read_text().strip()
    steered, raw = (now - then for now, then in zip(both_clocks(), begun, strict=True))
    suspended = time.clock_gettime(time.CLOCK_BOOTTIME) - time.monotonic()
    return Clock(name, steered / raw if raw > 0 else None, time.gmtime().tm_year, suspended)


def both_clocks() -> tuple[float, float]:
    """The clock that lights are timed by, and the same one as nobody steers it."""
    return time.monotonic(), time.clock_gettime(time.CLOCK_MONOTONIC_RAW)
