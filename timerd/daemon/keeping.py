"""The daemon's end of the keeper: starting it, the pipe to it, and what is done when it has died."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from timerd.bench.lastoff import TOLD
from timerd.inplace import put
from timerd.wire.codec import Malformed, as_json, encoded
from timerd.wire.keeper import FROM_KEEPER, TO_KEEPER, HasLines, Here, KeepBench, LacksLines, Message, Report

PYTHON = (sys.executable, "-P")
"""What keepers and last offs are started by: the folder that the daemon stands in has no module of theirs."""
_STARTS_WITHIN_S = 10.0
_FIRST_STARTS_WITHIN_S = 45.0
"""On a machine that has just been switched on everything that it needs is read from a card first; the service manager
waits for a minute."""
_OFF_WITHIN_S = 5.0
AT_START_S = 20.0
"""A cold machine takes long to load a last off. At a start nobody waits for a light to go out."""
_BESIDE_WITHIN_S = 3.0
"""A last off that is loaded needs some milliseconds, and one that still loads is farther than a new one would be."""


class NoKeeper(OSError):
    """The keeper could not be started, or the lines not be darkened; the words say why."""


class Keeping:
    """One keeper's process, from its start to its end. Raises NoKeeper where it cannot keep the lines.

    A last off is loaded beside it and waits for that end: so it is soon dark, even where nobody else is left.
    """

    def __init__(self, told: KeepBench, run: Path, within_s: float = _STARTS_WITHIN_S) -> None:
        self._run = run
        self._beside: subprocess.Popen[str] | None = None
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        _tell(run / TOLD, told)
        with theirs:
            self._process = subprocess.Popen(
                [*PYTHON, "-m", "timerd.bench.loop", str(theirs.fileno()), str(run)],
                pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                start_new_session=True,  # so that a ^C is the daemon's alone to hear
            )  # fmt: skip
        process = os.pidfd_open(self._process.pid)
        with contextlib.suppress(OSError):  # without one, another is started when it is needed
            self._beside = _start_last_off(run, process)
        os.close(process)
        self._pipe = ours
        ours.settimeout(within_s)
        try:
            ours.send(encoded(as_json(told)))
            said = ours.recv(1 << 16)
            first = FROM_KEEPER.decode(said) if said else LacksLines("the keeper did not start")
        except (OSError, Malformed) as error:
            first = LacksLines(f"the keeper did not start: {error}")
        if not isinstance(first, HasLines):
            if self._beside is not None:
                self._beside.kill()
            if not self.end():
                self._process.kill()
                self._process.wait()
            raise NoKeeper(
                first.why if isinstance(first, LacksLines) else "the keeper does not say that it has the lines"
            )
        self.scheduling, self.factory = first.scheduling, first.factory
        ours.setblocking(False)
        _tell(run / TOLD, replace(told, chip=first.chip))

    def fileno(self) -> int:
        """Readable when the keeper reports, or has died."""
        return self._pipe.fileno()

    def reports(self) -> tuple[list[Here | Report], bool]:
        """What the keeper has reported since, and whether it is still there. One that says what is no report is not."""
        found: list[Here | Report] = []
        while True:
            try:
                datagram = self._pipe.recv(1 << 16)
            except BlockingIOError:
                return found, True
            except OSError:
                datagram = b""
            try:
                report = FROM_KEEPER.decode(datagram)
            except Malformed:  # nothing at all, too: it has died
                return found, False
            if isinstance(report, HasLines | LacksLines):
                return found, False
            found.append(report)

    def send(self, message: Message) -> None:
        """Tell the keeper something; what it does not take is told again by its reports, or its end."""
        with contextlib.suppress(OSError):
            self._pipe.send(TO_KEEPER.encode(message))

    def end(self) -> bool:
        """Close the pipe: the keeper darkens everything and ends. Whether it did so in time."""
        self._pipe.close()
        try:
            self._process.wait(2)
        except subprocess.TimeoutExpired:
            return False
        with contextlib.suppress(NoKeeper):
            self._beside_has_it_dark()
        return True

    def off(self) -> tuple[float, tuple[str, ...]]:
        """The keeper has died, or hangs and is ended: when all was dark, and the lines that would not go low.

        Raises NoKeeper where the lines could not be claimed.
        """
        self._pipe.close()
        self._process.kill()
        try:
            dark = self._beside_has_it_dark()
        except NoKeeper:
            dark = last_off_elsewhere(self._run)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(1)
        return dark

    def _beside_has_it_dark(self) -> tuple[float, tuple[str, ...]]:
        """What the last off tells that has waited for the keeper's end. Raises NoKeeper where it does not."""
        if self._beside is None:
            raise NoKeeper("no last off waits beside the keeper")
        beside, self._beside = self._beside, None
        return _outcome(beside, _BESIDE_WITHIN_S)


def first_keeper(told: KeepBench, run: Path) -> Keeping:
    """A keeper where none was. Where it gets no line, no later start has to darken this bench first."""
    try:
        return Keeping(told, run, _FIRST_STARTS_WITHIN_S)
    except NoKeeper:
        (run / TOLD).unlink(missing_ok=True)
        raise


def last_off_elsewhere(run: Path, within_s: float = _OFF_WITHIN_S) -> tuple[float, tuple[str, ...]]:
    """Run the last off in a process of its own: when all was dark, and the lines that would not go low.

    Raises NoKeeper where the lines could not be claimed.
    """
    try:
        process = _start_last_off(run)
    except OSError as error:
        raise NoKeeper(f"the last off could not be run: {error}: switch the lamps off at the wall") from None
    return _outcome(process, within_s)


def _start_last_off(run: Path, keeper: int | None = None) -> subprocess.Popen[str]:
    """A last off, run at once or, given a descriptor of the keeper's process, when that has ended."""
    return subprocess.Popen(
        [*PYTHON, "-m", "timerd.bench.lastoff", str(run), *([] if keeper is None else [str(keeper)])],
        pass_fds=[] if keeper is None else [keeper], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, start_new_session=True,  # so that a ^C leaves it alone
    )  # fmt: skip


def _outcome(last_off: subprocess.Popen[str], within_s: float) -> tuple[float, tuple[str, ...]]:
    """What a last off has come to."""
    try:
        said, wrong = last_off.communicate(timeout=within_s)
    except subprocess.TimeoutExpired:
        last_off.kill()
        last_off.communicate()
        raise NoKeeper("the lines could not be made dark in time: switch the lamps off at the wall") from None
    if last_off.returncode:
        raise NoKeeper(f"the lines could not be made dark: {wrong.strip()}: switch the lamps off at the wall")
    told = json.loads(said)
    return told["dark"], tuple(told["high"])


def _tell(path: Path, told: KeepBench) -> None:
    try:
        put(path, encoded(as_json(told)).decode())
    except OSError as error:
        raise NoKeeper(f"{path}: cannot be written: {error.strerror}: mend that, or give --home DIR") from None
