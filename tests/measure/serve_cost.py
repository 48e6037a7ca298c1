"""What serving costs: time from the command to ready, processor time at idle, memory of daemon and keeper.

python tests/measure/serve_cost.py [--short]

A simulated bench in a home of its own. Ready is `READY=1` on the service manager's socket, which is this process. The
processor time is that of /proc/PID/stat over a period in which nothing happens. The last row is a keeper that has
gpiozero loaded and its lines on that library's mock pins: what real lines add, as far as it can be had without a board.
"""

from __future__ import annotations

import contextlib
import os
import platform
import resource
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from lines.keeper import RealKeeper, bench
from served import of_bench

from timerd.bench.setup import to_keep

READY_S, IDLE_PERCENT, DAEMON_MB, KEEPER_MB = 1.0, 1.0, 60.0, 40.0
"""The goals (design, section 8)."""
WITHIN_S = 60.0

ON_MOCK_PINS = """
import sys
from pathlib import Path
from gpiozero import Device
from gpiozero.pins.mock import MockFactory
from timerd.bench import loop
Device.pin_factory = MockFactory()
loop.open_factory = lambda folder: "mock"
sys.exit(loop.main(int(sys.argv[1]), Path(sys.argv[2])))
"""


class Served(NamedTuple):
    """A daemon that is ready, its keeper, the last off beside that, and how long it took to be ready."""

    daemon: int
    keeper: int
    last_off: int
    seconds: float


@contextlib.contextmanager
def served(home: Path) -> Iterator[Served]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        address = home / "notify"
        address.unlink(missing_ok=True)
        manager.bind(str(address))
        manager.settimeout(WITHIN_S)
        begin = time.monotonic()
        daemon = subprocess.Popen(
            [sys.executable, "-m", "timerd", "--home", str(home), "serve", "--bench", "two-station", "--simulated"],
            env={**os.environ, "NOTIFY_SOCKET": str(address)}, stdout=subprocess.DEVNULL,
        )  # fmt: skip
        try:
            assert manager.recv(100) == b"READY=1"
            seconds = time.monotonic() - begin
            keepers = [int(path.read_text()) for path in home.rglob("keeper.pid")]
            (last_off,) = of_bench(home, "timerd.bench.lastoff")
            assert len(keepers) == 1
            yield Served(daemon.pid, keepers[0], last_off, seconds)
        finally:
            daemon.send_signal(signal.SIGTERM)
            daemon.wait(WITHIN_S)
    assert daemon.returncode == 0


def processor_seconds(pid: int) -> float:
    """User's and system's, of all its threads."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def megabytes(pid: int, key: str) -> float:
    status = Path(f"/proc/{pid}/status").read_text()
    return int(status.split(f"{key}:", 1)[1].split()[0]) * 1024 / 1e6


def main() -> int:
    short = "--short" in sys.argv
    starts, period_s = (3, 3.0) if short else (15, 60.0)
    print(
        f"Serving a simulated bench on {platform.machine()}, {os.cpu_count()} cores, {platform.system()} "
        f"{platform.release()}, Python {platform.python_version()}; load average {os.getloadavg()[0]:.1f}"
    )
    missed = False

    def tell(words: str, value: float, unit: str, goal: float | None = None, judged: bool = True) -> None:
        nonlocal missed
        verdict = ""
        if goal is not None:
            over = value > goal
            missed |= over and judged
            verdict = (
                f"; goal {goal:g} {unit}: {'MISSED' if over else 'held'}{'' if judged else ' (not judged: short)'}"
            )
        print(f"{words}: {value:.2f} {unit}{verdict}")

    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        times = []
        for _ in range(starts):
            with served(home) as running:
                times.append(running.seconds)
        tell(f"from the command to ready, median of {starts}", statistics.median(times), "s", READY_S, not short)
        tell("  the longest of them", max(times), "s")
        children = resource.getrusage(resource.RUSAGE_CHILDREN)
        tell("  processor time of one, start to stop", (children.ru_utime + children.ru_stime) / starts, "s")
        with served(home) as running:
            time.sleep(1.0)
            before = [processor_seconds(pid) for pid in running[:3]]
            begin = time.monotonic()
            time.sleep(period_s)
            over = time.monotonic() - begin
            used = [processor_seconds(pid) - was for pid, was in zip(running[:3], before, strict=True)]
            for who, seconds in zip(("daemon", "keeper", "last off"), used, strict=True):
                tell(f"processor, idle for {period_s:g} s, {who}", 100 * seconds / over, "%", IDLE_PERCENT, not short)
            tell("memory of the daemon", megabytes(running.daemon, "VmRSS"), "MB", DAEMON_MB)
            tell("memory of the keeper", megabytes(running.keeper, "VmRSS"), "MB", KEEPER_MB)
            tell("  locked of it", megabytes(running.keeper, "VmLck"), "MB")
            tell("memory of the last off beside it", megabytes(running.last_off, "VmRSS"), "MB", KEEPER_MB)
    with tempfile.TemporaryDirectory() as folder:
        facts = to_keep(bench(), simulated=False, book="book", boot="boot")
        with RealKeeper(Path(folder), facts, program=("-c", ON_MOCK_PINS)) as keeper:
            assert keeper.first["is"] == "keeping"
            tell("memory of a keeper on mock pins", megabytes(keeper.process.pid, "VmRSS"), "MB", KEEPER_MB)
            tell("  locked of it", megabytes(keeper.process.pid, "VmLck"), "MB")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
