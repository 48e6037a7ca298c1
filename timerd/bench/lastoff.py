"""The last off: what darkens every line when nobody keeps them any more.

It knows the bench from the run folder alone, stops what is left of the keeper, claims every line, writes it low, reads
it back, and puts into the keeper's note when it was dark: so the dose of the last burst is known even then.
Also run as a process of its own (`python -m timerd.bench.lastoff RUN`), so that the daemon never holds a line.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import signal
import sys
import time
from pathlib import Path
from typing import NamedTuple

from timerd.bench.cueing import CUE
from timerd.bench.lines import LAMP, SAFELIGHT, GpioLines, Lines, LinesError, open_factory
from timerd.bench.note import Note, Signs, last_signs, read_note
from timerd.bench.pretended import PretendedLines

TOLD = "bench.json"
KEEPER_PID = "keeper.pid"
WHY = "last off"
_ENDS_WITHIN_S = 0.1
_DIES_WITHIN_S = 0.5
NEAR_S = 0.001
"""Two times of dark nearer than this count as one."""


class LastOff(NamedTuple):
    """When every line had been written low, and the lines that read high all the same."""

    dark: float
    high: tuple[str, ...]


def hurry() -> None:
    """Where it is allowed, this process goes before others: nothing comes between a line and its time."""
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))


def last_off(run: Path) -> LastOff:
    """Make every line of the bench in this run folder dark. Raises LookupError where no bench was ever served, and
    LinesError where the lines cannot be claimed, or the keeper that has them not be stopped."""
    run = run.resolve()  # the pin library changes the working directory
    try:
        told = json.loads((run / TOLD).read_text())
        outputs, simulated = told["wiring"]["outputs"], told["simulated"]
    except OSError:
        raise LookupError(
            "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same"
        ) from None
    except (ValueError, KeyError, TypeError):
        raise LookupError(f"{run / TOLD}: damaged: see that the lamps are off at the wall, then remove it") from None
    _stop_keeper(run)
    before = time.monotonic()
    lines: Lines
    if simulated:
        lines = PretendedLines(outputs, run)
        was_high = any(lit for line, lit in lines.read().items() if line.startswith(LAMP))
    else:
        open_factory(run)
        before = time.monotonic()
        lines = GpioLines(outputs)  # claimed is dark
        was_high = None
    try:
        for line in lines.read():
            lines.write(line, line == SAFELIGHT)
        dark = time.monotonic()
        high = tuple(line for line, lit in lines.read().items() if lit and line not in (SAFELIGHT, CUE))
        _put_down(run, before, dark, was_high)
    finally:
        lines.close()
    return LastOff(dark, high)


def _stop_keeper(run: Path) -> None:
    """Stop the keeper that the run folder names, if that is what the process still is, and see it dead. One that still
    answers is let go dark by itself, since it knows best when that was."""
    try:
        pid = int((run / KEEPER_PID).read_text())
        process = os.pidfd_open(pid)
    except (OSError, ValueError, OverflowError):
        return
    try:
        if _is_keeper(pid, run):
            for how, within_s in ((signal.SIGTERM, _ENDS_WITHIN_S), (signal.SIGKILL, _DIES_WITHIN_S)):
                signal.pidfd_send_signal(process, how)
                if select.select([process], [], [], within_s)[0]:
                    return
    except PermissionError:
        raise LinesError("the keeper belongs to another user: as that user or as root, say  timerd dark") from None
    except OSError:
        return  # gone meanwhile
    finally:
        os.close(process)


def _is_keeper(pid: int, run: Path) -> bool:
    """Whether a process is the keeper of this very run folder: ids are used again, and there may be other benches."""
    words = Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
    words = [word for place, word in enumerate(words) if (place, word) != (1, b"-P")]  # as the daemon starts it
    return words[1:3] == [b"-m", b"timerd.bench.loop"] and len(words) > 4 and os.path.samefile(words[4], run)


def _put_down(run: Path, before: float, dark: float, was_high: bool | None) -> None:
    """Complete the keeper's note: it went dark between two times, which are one where the line was seen to go.

    `was_high` says whether a lamp's line was found high, None where that cannot be found out.
    """
    noted = read_note(run)
    if noted is None or (noted.dark is not None and not (was_high and noted.lit is not None)):
        return
    signs = last_signs(run) or Signs(noted.at, 0.0)
    lit, dark_lo = noted.lit, before
    if was_high:  # and so until now; a light that the keeper did not live to note was lit when it was due
        lit = noted.lit if noted.lit is not None else noted.at
    elif noted.lit is not None:
        dark_lo = max(noted.lit, signs.alive)
        if signs.going_dark >= noted.lit:
            dark_lo = signs.going_dark
            dark = dark if was_high is None else dark_lo
    elif was_high is None and signs.alive >= noted.at - NEAR_S:
        lit = dark_lo = noted.at  # it may have been lit, or its keeper died on the way to it
    exact = lit is None or dark - dark_lo < NEAR_S
    with contextlib.suppress(OSError):
        Note(run).write(noted._replace(lit=lit, dark=dark, why=WHY, dark_lo=None if exact else dark_lo))


if __name__ == "__main__":
    hurry()
    try:
        done = last_off(Path(sys.argv[1]))
    except (LookupError, LinesError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(1)
    sys.stdout.write(json.dumps(done._asdict()))
