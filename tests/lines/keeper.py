"""A real keeper's process with simulated lines, and the daemon's part played by whoever tests or measures."""

from __future__ import annotations

import json
import os
import select
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from timerd.bench.pretended import TRUTH, PretendedFoot
from timerd.bench.setup import to_keep
from timerd.places import find, home, read_bytes
from timerd.sheet.profile.reading import read
from timerd.wire.codec import as_json, encoded
from timerd.wire.keeper import KeepBench

RENEW_S = 0.1
WITHIN_S = 30.0
"""Nothing that is waited for here takes longer, or the test fails: a limit, not a wait."""


class TruthEdge(NamedTuple):
    """A change of a simulated line, stamped at the write that is the change."""

    at: float
    line: str
    lit: bool


@cache
def bench(name: str = "two-station") -> Any:
    """A shipped bench, as checked values."""
    path = find("bench", name, None, home(None))
    return read(read_bytes(path), path.name, "bench").value


def read_truth(run: Path, after: int = 0) -> list[TruthEdge]:
    """What the lines did, from the `after`th edge on, whoever lives or not."""
    try:
        raw = (run / TRUTH).read_bytes()
    except FileNotFoundError:
        return []
    edges = [json.loads(line) for line in raw.splitlines()[after:]]
    return [TruthEdge(edge["t"], edge["line"], edge["on"]) for edge in edges]


def as_sent(start: KeepBench) -> dict[str, Any]:
    """What a keeper is told when it starts, as JSON has it."""
    return dict(json.loads(encoded(as_json(start))))


class RealKeeper:
    """One keeper, from its start to its end. `program` runs in place of the keeper's own, with the same arguments.

    `reports` holds all that it has said, in order, as far as it was read.
    """

    def __init__(
        self, run: Path, facts: KeepBench | None = None, program: Sequence[str] = ("-m", "timerd.bench.loop"),
        environment: Mapping[str, str] | None = None,
    ) -> None:  # fmt: skip
        self.run = run
        self.reports: list[dict[str, Any]] = []
        self.burst = 0
        self.renewing = True
        self.seen = 0
        """The number of the last press or let-up that was heard of."""
        self._read = 0
        self._renewed = 0.0
        self._foot: PretendedFoot | None = None
        self.pipe, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        facts = to_keep(bench(), simulated=True, book="book", boot="boot") if facts is None else facts
        with theirs:
            self.process = subprocess.Popen(
                [sys.executable, *program, str(theirs.fileno()), str(run)], pass_fds=[theirs.fileno()],
                stdin=subprocess.DEVNULL, env={**os.environ, **(environment or {})},
            )  # fmt: skip
        self.pipe.settimeout(WITHIN_S)
        self.pipe.send(encoded(as_json(facts)))
        self.first = json.loads(self.pipe.recv(1 << 16))

    # -- telling it ----------------------------------------------------------------------------------------------

    def send(self, message: Mapping[str, Any] | bytes) -> None:
        self.pipe.send(message if isinstance(message, bytes) else json.dumps(message).encode())

    def message(self, **changes: Any) -> dict[str, Any]:
        """A burst that may be taken: green for 0.2 s after the shortest lead-in, unless `changes` say otherwise."""
        self.burst += 1
        now = time.monotonic()
        return {
            "do": "expose", "burst": self.burst, "light": "green", "at": now + 0.2, "seconds": 0.2,
            "cut_on": ["go", "end"], "while_down": None, "safelight": {"dark": now, "stays": []}, "seen": self.seen,
            "view": False, **changes,
        }  # fmt: skip

    def expose(self, **changes: Any) -> dict[str, Any]:
        """Ask for such a burst; the message that was sent."""
        message = self.message(**changes)
        self.send(message)
        return message

    def press(self, contact: str, down: bool = True, at: float | None = None) -> None:
        if self._foot is None:
            self._foot = PretendedFoot(self.run)
        self._foot.put(contact, down, at)

    # -- hearing it ----------------------------------------------------------------------------------------------

    def until(self, *what: str, within_s: float = WITHIN_S) -> dict[str, Any]:
        """The next report of one of these kinds; renews the lease meanwhile, where `renewing`."""
        limit = time.monotonic() + within_s
        while (now := time.monotonic()) < limit:
            while self._read < len(self.reports):
                report = self.reports[self._read]
                self._read += 1
                if report["is"] in what:
                    return report
            if self.renewing and now >= self._renewed + RENEW_S:
                self.send({"do": "renew"})
                self._renewed = now
            wait = min(limit, self._renewed + RENEW_S if self.renewing else limit) - now
            if select.select([self.pipe], [], [], max(0.0, wait))[0]:
                assert self.hear(), f"the keeper has ended, {what} was awaited; said: {self.reports[-20:]}"
        raise AssertionError(f"no {what} within {within_s} s; said: {self.reports[-20:]}")

    def hear(self) -> bool:
        """Take in one report, waiting for it; False where the keeper has ended."""
        try:
            datagram = self.pipe.recv(1 << 16)
        except ConnectionResetError:
            return False
        if datagram:
            report = json.loads(datagram)
            self.seen = report.get("number", self.seen)
            if report["is"] != "here":
                self.reports.append(report)
        return bool(datagram)

    def rest(self) -> list[dict[str, Any]]:
        """All that is still to be heard, up to the keeper's end."""
        while self.hear():
            pass
        return self.reports[self._read :]

    def truth(self) -> list[TruthEdge]:
        return read_truth(self.run)

    # -- ending it -----------------------------------------------------------------------------------------------

    def signal(self, number: signal.Signals) -> None:
        self.process.send_signal(number)

    def ended(self, within_s: float = WITHIN_S) -> int:
        """Its exit status, once it has ended by itself."""
        return self.process.wait(within_s)

    def close(self) -> None:
        """Let go of it, however it is."""
        self.pipe.close()
        if self._foot is not None:
            self._foot.close()
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait(WITHIN_S)

    def __enter__(self) -> RealKeeper:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
