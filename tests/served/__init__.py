"""A real `timerd serve` on the simulated bench, with a foot, for tests of whole processes.

The lines' own file of edges is the truth that the book is held against. Nothing here sleeps: it waits for processes and
sockets to report, with a limit; and a foot that stands still waits on a socket that nobody writes to.
"""

from __future__ import annotations

import contextlib
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from served.stalls import Stalls
from timerd.bench.pretended import TRUTH, PretendedFoot
from timerd.control import ControlError, Link, ask_status
from timerd.wire.control import AskStatus, Follow, LoadPrint, SentFile, StatusTold

LIMIT_S = 20.0
"""Nothing takes so long, on the busiest machine; a test that waits longer fails."""
NEAR_S = 0.05
"""Two times that two processes read for one event, or a light's length and its plan's, are no farther apart than this
on a machine that does not stand still (`Served.near_s` adds for how long it did). What they are on a quiet one,
tests/measure/ prints."""
TOO_SLOW = ("its time is past", "late")
"""Why a press is refused where the machine was too slow for its lead-in."""
BENCHES = Path(__file__).parents[2] / "profiles" / "benches"
SHIM = Path(__file__).with_name("disk.c")

Status = dict[str, Any]


class Served:
    """One home, one run folder, and the daemon that serves them, again and again."""

    lines: tuple[str, ...] = ("--simulated",)
    """Whose lines it serves."""

    def __init__(self, folder: Path, bench: str = "two-station", disk: Path | None = None) -> None:
        self.home, self.memory, self.as_synced = folder / "home", folder / "memory", folder / "as-synced"
        for path in (self.home, self.memory, self.as_synced):
            path.mkdir(parents=True, exist_ok=True)
        self.bench = bench
        self.env = {**os.environ, "TIMERD_HOME": str(self.home), "XDG_RUNTIME_DIR": str(self.memory)}
        if disk is not None:
            self.env |= {
                "LD_PRELOAD": str(disk), "DISK_OF": str(self.home), "DISK_AS_SYNCED": str(self.as_synced),
            }  # fmt: skip
        self.daemon: subprocess.Popen[str] | None = None
        self._link: Link | None = None
        self.said: list[str] = []
        self.truth_of_boots: list[dict[str, Any]] = []
        self._let_up: dict[str, float] = {}
        self._stalls = Stalls()

    @property
    def near_s(self) -> float:
        """How far apart the same moment may lie for two processes, on this machine and until now."""
        return NEAR_S + 4 * self._stalls.worst_s

    @property
    def run(self) -> Path:
        """The run folder, as the daemon finds it."""
        (found,) = self.memory.glob("timerd-*")
        return found

    # -- the daemon ----------------------------------------------------------------------------------------------

    def start(self, *more: str) -> None:
        """Start it and wait until it serves; a refusal to start is a RuntimeError with its words."""
        daemon = subprocess.Popen(
            [sys.executable, "-m", "timerd", "serve", "--bench", self.bench, *self.lines, *more],
            env=self.env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        assert daemon.stdout is not None
        first = daemon.stdout.readline()
        if not first.startswith("serving"):
            rest = daemon.communicate(timeout=LIMIT_S)[0]
            raise RuntimeError(f"{first}{rest}".strip())
        self.daemon = daemon
        self.said = [first.strip()]

    def start_and_kill(self, after_s: float) -> None:
        """Start it, and kill it so soon that it may not have come to serve."""
        daemon = subprocess.Popen(
            [sys.executable, "-m", "timerd", "serve", "--bench", self.bench, *self.lines], env=self.env,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, stdin=subprocess.DEVNULL,
        )  # fmt: skip
        stand_still(after_s)
        daemon.kill()
        daemon.wait(LIMIT_S)

    def timerd(self, *argv: str) -> subprocess.CompletedProcess[str]:
        """Another command, as a user types it."""
        env = {key: value for key, value in self.env.items() if key != "LD_PRELOAD"}
        return subprocess.run(
            [sys.executable, "-m", "timerd", *argv], env=env, capture_output=True, text=True, timeout=LIMIT_S
        )

    @property
    def keeper_pid(self) -> int:
        return int((self.run / "keeper.pid").read_text())

    def kill(self, *who: str, how: signal.Signals = signal.SIGKILL) -> None:
        """Send a signal to `daemon`, `keeper` and `beside`, the last off that waits beside it, in that order."""
        assert self.daemon is not None
        pids: list[int] = []
        for name in who:
            pids += {"daemon": lambda: [self.daemon.pid], "keeper": lambda: [self.keeper_pid], "beside": self.beside}[
                name
            ]()
        for pid in pids:
            os.kill(pid, how)

    def beside(self) -> list[int]:
        """The last offs that run, or wait beside the keeper."""
        return of_bench(self.memory, "timerd.bench.lastoff")

    def gone(self) -> str:
        """Wait until the daemon has ended; what it said."""
        assert self.daemon is not None
        self._hang_up()
        said = self.daemon.communicate(timeout=LIMIT_S)[0]
        self.daemon = None
        return said

    def stop(self) -> str:
        """End it in good order."""
        self.kill("daemon", how=signal.SIGTERM)
        return self.gone()

    def close(self) -> None:
        """Whatever still runs, runs no more."""
        self._stalls.close()
        self._hang_up()
        if self.daemon is not None:  # first: it would start a last off
            self.daemon.kill()
            self.daemon.wait(LIMIT_S)
        for pid in of_bench(self.memory):
            with contextlib.suppress(OSError):
                process = os.pidfd_open(pid)
                signal.pidfd_send_signal(process, signal.SIGKILL)
                select.select([process], [], [], LIMIT_S)  # until it is gone its lines are taken
                os.close(process)
        if self.daemon is not None:
            self.daemon.communicate()  # ends only now: a keeper that was stopped holds that pipe too

    def power_cut(self) -> tuple[float, float]:
        """Everything dies at once, lamps included: the disk keeps what was synced, memory nothing.

        Returns two times between which that was.
        """
        assert self.daemon is not None
        before = time.monotonic()
        self.kill("daemon", "keeper")
        self.gone()
        after = time.monotonic()
        self.truth_of_boots += self.truth()
        shutil.rmtree(self.memory)
        self.memory.mkdir()
        shutil.rmtree(self.home)
        self.home.mkdir()
        for file in self.as_synced.iterdir():
            if not file.name.startswith(".") and file.name != "fault":
                shutil.copy(file, self.home / file.name)
        return before, after

    # -- what it says and does -----------------------------------------------------------------------------------

    def status(self) -> Status:
        """How the bench stands."""
        return dict(ask_status(self.run, AskStatus(), LIMIT_S))

    def until(self, wanted: Callable[[Status], bool], within_s: float = LIMIT_S) -> Status:
        """Follow the daemon until it stands as wanted; AssertionError with its last standing where it never does."""
        asked = time.monotonic()
        if self._link is None:
            self._link = Link(self.run, LIMIT_S)
            self._link.send(Follow())
        else:
            self._link.send(AskStatus())
        end = asked + within_s
        last: Status = {}
        while (left := end - time.monotonic()) > 0:
            try:
                told = self._link.receive(left)
            except ControlError as error:
                said = self.gone() if self.daemon is not None and self.daemon.poll() is not None else ""
                raise AssertionError(f"{error}; last: {last}; the daemon said: {said}") from None
            for last in (dict(answer.status) for answer in told if isinstance(answer, StatusTold)):
                if last["now"] >= asked and wanted(last):  # what was told before may still lie in the socket
                    return last
        raise AssertionError(f"not in {within_s} s; last: {last}")

    def state(self, state: str, **more: Any) -> Status:
        """Wait for a state, and for other values of the status."""
        return self.until(lambda s: s["state"] == state and all(s[key] == value for key, value in more.items()))

    def _hang_up(self) -> None:
        if self._link is not None:
            self._link.close()
            self._link = None

    def load(self, print_: str, paper: Path, sheets: int = 1) -> Status:
        """Load a print from its text, which names a bench and a paper; the answer."""
        files = SentFile("print.yaml", print_), SentFile("paper.yaml", paper.read_text())
        return dict(ask_status(self.run, LoadPrint(sheets, False, *files), LIMIT_S))

    def hold(self, *contacts: str, seconds: float = 1.2) -> None:
        """A foot that has been on the pedals for so long is lifted now: their edges carry their own times. It came down
        some time after it was last let up."""
        free = max(self._let_up.get(contact, 0.0) for contact in contacts) + 0.4
        stand_still(free + seconds - time.monotonic())
        foot = PretendedFoot(self.run)
        now = time.monotonic()
        for contact in contacts:
            foot.put(contact, True, now - seconds)
        for contact in contacts:
            foot.put(contact, False, now)
            self._let_up[contact] = now
        foot.close()

    def tap(self, contact: str) -> float:
        """A short press, from now on; the time at which the foot came down. One of go comes when it is not too soon."""
        if contact == "go":
            not_too_soon(self.status())
        foot = PretendedFoot(self.run)
        at = time.monotonic()
        foot.put(contact, True, at)
        stand_still(0.06)
        foot.put(contact, False)
        self._let_up[contact] = time.monotonic()
        foot.close()
        return at

    def light(self) -> Status:
        """A foot on go until a light burns: pressed again where this machine was too slow for its lead-in."""
        for _ in range(20):
            before = self.status()["refused"]
            self.tap("go")
            status = self.until(
                lambda s, before=before: s["burst"] is not None or (s["refused"] != before and s["lead_in"] is None)
            )
            if status["burst"] is not None:
                return status
            assert status["refused"]["why"] in TOO_SLOW, status
            not_too_soon(status)
        raise AssertionError("too slow for a lead-in, twenty times")

    def arm(self) -> None:
        """Hold go, then pass the start prompt: the sheet is out, its first step ready, and a press is taken."""
        self.hold("go")
        not_too_soon(self.state("prompt"))
        self.tap("go")
        not_too_soon(self.state("ready"))

    # -- the truth -----------------------------------------------------------------------------------------------

    def truth(self) -> list[dict[str, Any]]:
        """Every edge of every line, as the lines themselves recorded it."""
        path = self.run / TRUTH
        return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []

    def lit_lamps(self) -> set[str]:
        """The lamps whose lines are high now."""
        return lit_lamps(self.truth())


def of_bench(memory: Path, module: str = "timerd.bench.") -> list[int]:
    """The keepers and last offs that still run in a run folder below this one."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        with contextlib.suppress(OSError):
            words = (process / "cmdline").read_bytes().decode(errors="replace").split("\0")
            if any(word.startswith(module) for word in words) and any(str(memory) in word for word in words):
                found.append(int(process.name))
    return found


def lit_lamps(edges: list[dict[str, Any]]) -> set[str]:
    """The lamps that are lit after these edges."""
    last = {edge["line"]: edge["on"] for edge in edges}
    return {line for line, on in last.items() if on and line != "safelight"}


def bursts(edges: list[dict[str, Any]]) -> list[tuple[str, float, float | None]]:
    """Every burst that the lines tell of: the line, when lit, and when dark (None: still lit)."""
    found: list[tuple[str, float, float | None]] = []
    for edge in edges:
        if edge["line"] == "safelight":
            continue
        if edge["on"]:
            found.append((edge["line"], edge["t"], None))
        else:
            line, lit, _ = found[-1]
            assert line == edge["line"], "two lights at once"
            found[-1] = line, lit, edge["t"]
    return found


def not_too_soon(status: Status) -> None:
    """Wait until a press of `go` is taken: not so soon after a light, a prompt or a hold of it."""
    dark_at = status["dark"]["at"] if status["dark"] is not None else 0.0
    stand_still(max(dark_at, status["since"]["at"]) + 0.72 - time.monotonic())


def stand_still(seconds: float) -> None:
    """A foot that stays where it is: real time has to pass."""
    select.select([], [], [], max(0.0, seconds))


def forgetful_disk(folder: Path) -> Path:
    """The preloaded disk, compiled; a LookupError that says what is missing where there is no compiler."""
    compiler = shutil.which("cc")
    if compiler is None:
        raise LookupError("no C compiler here for the disk that forgets: apt install gcc libc6-dev")
    library = folder / "disk.so"
    subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", str(library), str(SHIM), "-ldl"], check=True)
    return library
