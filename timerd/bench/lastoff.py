"""The last off: what darkens every line when nobody keeps them any more.

It knows the bench from the run folder alone, stops what is left of the keeper, claims every line, writes it low, reads
it back, and puts into the keeper's note when it was dark: so the dose of the last burst is known even then.
Run as a process of its own, so that the daemon never holds a line: `python -m timerd.bench.lastoff RUN`. With a
descriptor of the keeper's process behind that it is loaded beside the keeper, and waits for its end, however it ends.
"""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import select
import signal
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from timerd.bench.chip import ChipLines
from timerd.bench.cueing import CUE
from timerd.bench.ending import LinesFound, completed
from timerd.bench.holding import HeldByAnother, Holding, keepers
from timerd.bench.lines import HEARTBEAT, LAMP, SAFELIGHT, GpioLines, LinesError, device_of, open_factory
from timerd.bench.note import Note, last_signs, read_note, read_plain
from timerd.bench.pretended import PretendedLines

TOLD = "bench.json"
_BOOT = Path("/proc/sys/kernel/random/boot_id")
_ENDS_WITHIN_S = 0.1
_DIES_WITHIN_S = 0.5
_HELD_WITHIN_S = 1.0
"""Another last off is over in this time."""
_Any = GpioLines | ChipLines | PretendedLines


class LastOff(NamedTuple):
    """When every line had been written low, and the lines that read high all the same."""

    dark: float
    high: tuple[str, ...]


class _Bench(NamedTuple):
    """What was told of a bench: its lines, whether they are pretended, and the number of their chip (None where it is
    not known, or of another boot)."""

    outputs: Mapping[str, Any]
    simulated: bool
    chip: int | None


def hurry() -> None:
    """Where it is allowed, this process goes before others: nothing comes between a line and its time."""
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(1))


def last_off(run: Path) -> LastOff:
    """Make every line of the bench in this run folder dark. Raises LookupError where no bench was ever served, and
    LinesError where the lines cannot be claimed, or the keeper that has them not be stopped."""
    run = run.resolve()  # the pin library changes the working directory
    bench = _told(run)
    ended = _stop_keepers(run)
    with _held(run):
        return _darken(run, bench, ended)


def last_off_after(run: Path, keeper: int) -> LastOff:
    """Wait until a keeper has ended, by a descriptor of its process, then make its lines dark; not where another keeper
    has them by then. Raises as `last_off` does."""
    run = run.resolve()
    bench = _told(run)
    select.select([keeper], [], [])
    ended = time.monotonic()
    with contextlib.suppress(LookupError):  # what was told since: the chip
        bench = _told(run)
    with _held(run) as ours:
        if not ours:
            raise LinesError("another keeper has the lines already")
        return _darken(run, bench, ended)


def _told(run: Path) -> _Bench:
    try:
        with _as_owner(run):
            told = json.loads(read_plain(run / TOLD))
        chip = told.get("chip") if told["boot"] == _BOOT.read_text().strip() else None
        return _Bench(told["wiring"]["outputs"], told["simulated"], chip if isinstance(chip, int) else None)
    except PermissionError:
        raise LookupError(
            f"{run}: this user may not look in there: as the bench's user or as root, say  timerd dark"
        ) from None
    except OSError:
        raise LookupError(
            "no bench is known here: there is nothing that timerd could darken. Look at the lamps all the same"
        ) from None
    except (ValueError, KeyError, TypeError, AttributeError):
        raise LookupError(f"{run / TOLD}: damaged: see that the lamps are off at the wall, then remove it") from None


def _stop_keepers(run: Path) -> float | None:
    """Stop every keeper of this run folder and see it dead: when, None where there was none. One that still answers is
    let go dark by itself, since it knows best when that was."""
    ended = None
    for process in keepers(run):
        try:
            for how, within_s in ((signal.SIGTERM, _ENDS_WITHIN_S), (signal.SIGKILL, _DIES_WITHIN_S)):
                signal.pidfd_send_signal(process, how)
                if select.select([process], [], [], within_s)[0]:
                    ended = time.monotonic()
                    break
        except PermissionError:
            raise LinesError("the keeper belongs to another user: as that user or as root, say  timerd dark") from None
        except OSError:
            ended = time.monotonic()  # gone meanwhile
        finally:
            os.close(process)
    return ended


@contextlib.contextmanager
def _held(run: Path) -> Iterator[bool]:
    """The right to the lines, so that no new keeper comes between; whether they could be had. What keeps it from that
    keeps no line lit."""
    with contextlib.ExitStack() as after:
        ours = True
        try:
            with _as_owner(run):
                after.callback(Holding(run, _HELD_WITHIN_S).close)
        except HeldByAnother:
            ours = False
        except OSError:
            pass
        yield ours


def _darken(run: Path, bench: _Bench, ended: float | None) -> LastOff:
    """Every line low, and the note completed. `ended` is when the keeper was seen to end."""
    with contextlib.ExitStack() as after:
        before, lines, found = _claim(run, bench, after)
        after.callback(lines.close)
        for line in lines.read():
            lines.write(line, line == SAFELIGHT)
        dark = time.monotonic()
        high = tuple(line for line, lit in lines.read().items() if lit and line not in (SAFELIGHT, CUE))
        was_high = None if found is None else any(lit for line, lit in found.items() if line.startswith(LAMP))
        interlock = not bench.simulated and HEARTBEAT in bench.outputs
        _put_down(run, LinesFound(before, was_high, dark, ended, bench.simulated, interlock))
    return LastOff(dark, high)


def _claim(run: Path, bench: _Bench, after: contextlib.ExitStack) -> tuple[float, _Any, Mapping[str, bool] | None]:
    """The lines, when they were looked at, and what was lit until then: None where the pin library took them, which
    makes every pin an input before anything else."""
    before = time.monotonic()
    if bench.simulated:
        after.enter_context(_as_owner(run))
        pretended = PretendedLines(bench.outputs, run)
        return before, pretended, pretended.read()
    if bench.chip is not None:
        with contextlib.suppress(LinesError):  # the library says what is wrong, or gets them all the same
            lines = ChipLines(bench.outputs, device_of(bench.chip))
            return before, lines, lines.found
    open_factory(_for_the_library(run, after))
    return time.monotonic(), GpioLines(bench.outputs), None


def _for_the_library(run: Path, after: contextlib.ExitStack) -> Path:
    """Where the pin library may make its pipe: to root another user's folder is none to make anything in."""
    if os.geteuid() != 0 or run.stat().st_uid == 0:
        return run
    import tempfile

    os.environ.pop("LG_WD", None)
    return Path(after.enter_context(tempfile.TemporaryDirectory(prefix="timerd-")))


@contextlib.contextmanager
def _as_owner(run: Path) -> Iterator[None]:
    """As root, do to the run folder's files what its owner may, and no more: a link in it leads where that user could
    go anyway, and what is made there is that user's."""
    owner = run.stat()
    if os.geteuid() != 0 or owner.st_uid == 0:
        yield
        return
    group, groups = os.getegid(), os.getgroups()
    with contextlib.ExitStack() as back:
        with contextlib.suppress(PermissionError):  # a root that may become nobody else: darkness first
            os.setgroups([owner.st_gid])
            back.callback(os.setgroups, groups)
            os.setegid(owner.st_gid)
            back.callback(os.setegid, group)
            os.seteuid(owner.st_uid)
            back.callback(os.seteuid, 0)
        yield


def _put_down(run: Path, seen: LinesFound) -> None:
    """Complete the keeper's note: when it went dark, as far as that is known."""
    with contextlib.suppress(OSError), _as_owner(run):
        noted = read_note(run)
        if noted is not None and (after := completed(noted, last_signs(run), seen)) is not noted:
            Note(run).write(after)


def _stay_loaded() -> None:
    """Where it is allowed: what is in memory now stays there, so that no disk is waited for."""
    mcl_current = 1
    ctypes.CDLL(None).mlockall(mcl_current)


if __name__ == "__main__":
    hurry()
    try:
        folder = Path(sys.argv[1])
        if len(sys.argv) > 2:
            _stay_loaded()
            done = last_off_after(folder, int(sys.argv[2]))
        else:
            done = last_off(folder)
    except (LookupError, LinesError, OSError) as error:
        sys.stderr.write(f"{error}\n")
        sys.exit(1)
    sys.stdout.write(json.dumps(done._asdict()))
