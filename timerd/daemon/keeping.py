"""The daemon's end of the keeper: starting it, the pipe to it, and what is done when it has died."""

from __future__ import annotations

import contextlib
import json
import os
import socket
import subprocess
import sys
from pathlib import Path
from typing import Any

from timerd.bench.lastoff import KEEPER_PID, TOLD

PYTHON = (sys.executable, "-P")
"""What keepers and last offs are started by: the folder that the daemon stands in has no module of theirs."""
_STARTS_WITHIN_S = 10.0
_OFF_WITHIN_S = 5.0


class NoKeeper(OSError):
    """The keeper could not be started, or the lines not be darkened; the words say why."""


class Keeping:
    """One keeper's process, from its start to its end. Raises NoKeeper where it cannot keep the lines."""

    def __init__(self, told: dict[str, Any], run: Path) -> None:
        ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        _put(run / TOLD, json.dumps(told))
        with theirs:
            self._process = subprocess.Popen(
                [*PYTHON, "-m", "timerd.bench.loop", str(theirs.fileno()), str(run)],
                pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
                start_new_session=True,  # so that a ^C is the daemon's alone to hear
            )  # fmt: skip
        _put(run / KEEPER_PID, str(self._process.pid))
        self._pipe = ours
        ours.settimeout(_STARTS_WITHIN_S)
        try:
            ours.send(json.dumps(told).encode())
            first = json.loads(ours.recv(1 << 16) or b'{"is": "no lines", "why": "the keeper did not start"}')
        except OSError as error:
            first = {"is": "no lines", "why": f"the keeper did not start: {error}"}
        if first["is"] != "keeping":
            if not self.end():
                self._process.kill()
                self._process.wait()
            raise NoKeeper(str(first["why"]))
        self.scheduling: str = first["scheduling"]
        self.factory: str = first["factory"]
        ours.setblocking(False)

    def fileno(self) -> int:
        """Readable when the keeper reports, or has died."""
        return self._pipe.fileno()

    def reports(self) -> tuple[list[dict[str, Any]], bool]:
        """What the keeper has reported since, and whether it is still there."""
        found: list[dict[str, Any]] = []
        while True:
            try:
                datagram = self._pipe.recv(1 << 16)
            except BlockingIOError:
                return found, True
            except OSError:
                datagram = b""
            if not datagram:
                return found, False
            found.append(json.loads(datagram))

    def send(self, message: dict[str, Any]) -> None:
        """Tell the keeper something; what it does not take is told again by its reports, or its end."""
        with contextlib.suppress(OSError):
            self._pipe.send(json.dumps(message).encode())

    def end(self) -> bool:
        """Close the pipe: the keeper darkens everything and ends. Whether it did so in time."""
        self._pipe.close()
        try:
            self._process.wait(2)
        except subprocess.TimeoutExpired:
            return False
        return True

    def let_go(self) -> None:
        """Close the pipe, and wait for nothing."""
        self._pipe.close()

    def reap(self) -> None:
        """The keeper is dead."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(1)


def first_keeper(told: dict[str, Any], run: Path) -> Keeping:
    """A keeper where none was. Where it gets no line, no later start has to darken this bench first."""
    try:
        return Keeping(told, run)
    except NoKeeper:
        (run / TOLD).unlink(missing_ok=True)
        raise


def last_off_elsewhere(run: Path) -> tuple[float, tuple[str, ...]]:
    """Run the last off in a process of its own: when all was dark, and the lines that would not go low.

    Raises NoKeeper where the lines could not be claimed.
    """
    try:
        done = subprocess.run(
            [*PYTHON, "-m", "timerd.bench.lastoff", str(run)], capture_output=True, text=True,
            timeout=_OFF_WITHIN_S, stdin=subprocess.DEVNULL,
        )  # fmt: skip
    except OSError as error:
        raise NoKeeper(f"the last off could not be run: {error}: switch the lamps off at the wall") from None
    except subprocess.TimeoutExpired:
        raise NoKeeper("the lines could not be made dark in time: switch the lamps off at the wall") from None
    if done.returncode:
        raise NoKeeper(f"the lines could not be made dark: {done.stderr.strip()}: switch the lamps off at the wall")
    dark, high = json.loads(done.stdout)["dark"], json.loads(done.stdout)["high"]
    return dark, tuple(high)


def _put(path: Path, text: str) -> None:
    """Write a small file whole: a reader finds the old one or the new one."""
    beside = path.with_suffix(".new")
    beside.write_text(text)
    os.replace(beside, path)
