"""A bench for its acceptance: the same keeper's process as in service, asked for one short light at a time.

There is no daemon beside it (they share its lock), and no book: nothing that is lit here is a sheet's.
"""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import UnionType
from typing import NamedTuple

from timerd.bench.holding import KEEPER_PID
from timerd.bench.lastoff import TOLD
from timerd.bench.note import Note, read_note
from timerd.bench.setup import to_keep
from timerd.book.store import boot_id
from timerd.daemon.keeping import AT_START_S, Keeping, NoKeeper, first_keeper, last_off_elsewhere
from timerd.daemon.service import RunFolder
from timerd.sheet.profile.benchfile import Bench
from timerd.wire import keeper as wire

NO_BOOK = "acceptance"
RENEW_S = 0.1
LEAD_S = 0.3
"""From the press to the light."""
LONGEST_PRESS_S = 10.0
STOPPED_S = 2.0
"""For so long the keeper is stopped with a line high: what the interlock has to answer."""
LET_GO_S = 2.0
"""After so much more a stopped keeper goes on by itself, whatever became of this process."""


_LET_GO = """
import contextlib, os, select, signal
select.select([], [], [], {seconds})
with contextlib.suppress(ProcessLookupError):
    os.kill({pid}, signal.SIGCONT)
"""


class PressMade(NamedTuple):
    """A contact that went down: which, when, its number, and how long until it was let up (None: not in time)."""

    contact: str
    at: float
    number: int
    seconds: float | None


class Burn(NamedTuple):
    """A light's end: why it is dark, and by which press; how long it was lit; the safelight's changes meanwhile."""

    why: str
    by: str | None
    by_at: float | None
    lit: float | None
    dark: float
    safelight: tuple[bool, ...]


class Kept:
    """One bench under its keeper, to be used by `with`: all is dark after it. Raises OSError where it cannot be had."""

    def __init__(self, bench: Bench, run: Path, simulated: bool) -> None:
        self.bench = bench
        self._run = run
        self._to_keep = to_keep(bench, simulated, NO_BOOK, boot_id())
        self._folder = RunFolder(run, f"timerd bench test of '{bench.bench}'")
        try:
            if (run / TOLD).exists():
                _none_high(last_off_elsewhere(run, AT_START_S)[1])
            self._note = read_note(run)  # of the service's last burst: its daemon may not have read it yet
            self._keeping = first_keeper(self._to_keep, run)
        except BaseException:
            self._folder.close()
            raise
        self.scheduling, self.factory = self._keeping.scheduling, self._keeping.factory
        self.found_down: list[str] = []
        self._reports: list[wire.Report | wire.Here] = []
        self._safelight: list[bool] = []
        self._burst = 0
        self._number = 0

    def __enter__(self) -> Kept:
        return self

    def __exit__(self, kind: object, error: object, trace: object) -> None:
        """Everything dark, and the run folder as it was found."""
        try:
            if not self._keeping.end():
                _none_high(self._keeping.off()[1])
            if self._note is not None:
                Note(self._run).write(self._note)
        finally:
            self._folder.close()

    # -- feet ----------------------------------------------------------------------------------------------------

    def press(self, since: float, within_s: float) -> PressMade | None:
        """The next press from `since` on, and how long it was held; None if nobody presses in time."""
        press = self.start(since, within_s)
        if press is None:
            return None
        up = self._next(wire.Edge, press.at + LONGEST_PRESS_S, press.contact)
        return press._replace(seconds=up.at - press.at) if isinstance(up, wire.Edge) else press

    def start(self, since: float, within_s: float) -> PressMade | None:
        """The next press from `since` on, at once: without waiting for the foot to be lifted."""
        until = time.monotonic() + within_s
        while isinstance(edge := self._next(wire.Edge, until), wire.Edge):
            if edge.down and edge.at >= since:
                return PressMade(edge.pedal, edge.at, edge.number, None)
        return None

    # -- lights --------------------------------------------------------------------------------------------------

    def ask(self, light: str, press: PressMade, seconds: float, safelight: bool = False) -> None:
        """Ask the keeper for a light, a moment after the press that wants it; any pedal that darkens cuts it."""
        at = press.at + LEAD_S
        self._burst += 1
        self._safelight.clear()
        if stay := self._to_keep.rules.stay:  # no shutter opens before a lamp that is off
            self._keeping.send(wire.StayOn(tuple(sorted(stay.values()))))
        self._keeping.send(wire.Expose(
            self._burst, light, at, seconds, cut_on=tuple(sorted(self._to_keep.rules.darkens)), while_down=None,
            safelight=wire.SafelightDark(at, ()) if safelight else None, seen=self._number, view=False,
        ))  # fmt: skip

    def lit(self) -> float | None:
        """Wait until the light is lit, and say when; None if it is not going to be."""
        report = self._next(wire.Lit | wire.Dark | wire.Refused, time.monotonic() + 2.0, keep=(wire.Dark, wire.Refused))
        return report.at if isinstance(report, wire.Lit) else None

    def dark(self, lit: float | None, within_s: float) -> Burn:
        """Renew until the light is dark; NoKeeper where that is not told in time."""
        until = time.monotonic() + within_s
        by: tuple[str | None, float | None] = (None, None)
        while (report := self._next(wire.Dark | wire.Refused | wire.Edge, until)) is not None:
            if isinstance(report, wire.Dark | wire.Refused):
                cut = by if report.why == "pedal" else (None, None)
                return Burn(report.why, cut[0], cut[1], lit, report.at, tuple(self._safelight))
            if isinstance(report, wire.Edge) and report.down:
                by = report.pedal, report.at
        raise NoKeeper("the keeper does not say that it is dark: switch the lamps off at the wall")

    def stop(self) -> tuple[str, ...]:
        """Stop the keeper with its light on, as if the computer stood still; then the last off, and a new keeper.

        The lines that would not go low. Whatever becomes of this process, the keeper goes on in time, and darkens.
        """
        pid = self._pid
        guarding = _LET_GO.format(pid=pid, seconds=STOPPED_S + LET_GO_S)
        guard = subprocess.Popen([sys.executable, "-I", "-c", guarding], start_new_session=True)
        try:
            os.kill(pid, signal.SIGSTOP)
            select.select([], [], [], STOPPED_S)
            return self._anew()[1]
        finally:
            guard.kill()
            guard.wait()

    def kill(self) -> tuple[float, tuple[str, ...]]:
        """Kill the keeper with its light on: how long until the last off had all dark, and the lines still high."""
        killed = time.monotonic()
        os.kill(self._pid, signal.SIGKILL)
        dark, high = self._anew()
        return dark - killed, high

    @property
    def _pid(self) -> int:
        return int((self._run / KEEPER_PID).read_text())

    def _anew(self) -> tuple[float, tuple[str, ...]]:
        dark, high = self._keeping.off()
        self._keeping = Keeping(self._to_keep, self._run)
        self._reports.clear()
        self._burst = self._number = 0
        return dark, high

    # -- the pipe ------------------------------------------------------------------------------------------------

    def _next(
        self, kinds: type | UnionType, until: float, pedal: str | None = None, keep: tuple[type, ...] = ()
    ) -> wire.Report | wire.Here | None:
        """The next report of these kinds, renewing meanwhile; those of `keep` are left for whoever asks next."""
        while True:
            for index, report in enumerate(self._reports):
                if isinstance(report, kinds) and (pedal is None or getattr(report, "pedal", None) == pedal):
                    if not isinstance(report, keep):
                        del self._reports[: index + 1]
                    return report
            left = until - time.monotonic()
            if left <= 0:
                return None
            self._keeping.send(wire.Renew())
            select.select([self._keeping], [], [], min(RENEW_S, left))
            found, alive = self._keeping.reports()
            for report in found:
                if isinstance(report, wire.Edge):
                    self._number = report.number
                elif isinstance(report, wire.SafelightEdge):
                    self._safelight.append(report.lit)
                elif isinstance(report, wire.FoundDown):
                    self.found_down.append(report.pedal)
                self._reports.append(report)
            if not alive:
                raise NoKeeper("the keeper has died: everything was made dark; see that it is")


def _none_high(high: tuple[str, ...]) -> None:
    if high:
        raise NoKeeper(f"{', '.join(high)} does not go low: switch the lamps off at the wall, mend the line")
