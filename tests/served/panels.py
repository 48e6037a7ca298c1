"""Panels killed and stopped beside a sheet that is printed: what the lines did must be what the plan says."""

from __future__ import annotations

import itertools
import random
import signal
import subprocess
import sys
import threading
from pathlib import Path

from served import Served, bursts, stand_still
from served.killing import PAPER
from served.printing import by_foot, print_sheets

PRINT = """\
print: A wall, looked at by many
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {{base: first, light: green, seconds: {seconds}, lead_in: 0.2}}
  - {{base: second, light: blue, seconds: {seconds}, lead_in: 0.2}}
"""


TOO_SLOW = {"disk", "lease"}
"""Why a machine that cannot keep up darkens a light by itself, rightly: what is owed is given after it."""


class Panels:
    """Panels on displays that nobody sees: one that is killed and started again, one that stands still."""

    def __init__(self, served: Served) -> None:
        self._env = {**served.env, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy"}
        self.kills = 0
        self._done = threading.Event()
        self._stopped = self._start()
        self.came_back = False

    def _start(self) -> subprocess.Popen[bytes]:
        return subprocess.Popen(
            [sys.executable, "-m", "timerd", "panel", "--size", "800x480"], env=self._env, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def kill_one_again_and_again(self, kills: int, seed: int) -> None:
        """Each at a random time after its start, in it or long after it."""
        rng = random.Random(seed)
        stand_still(1.0)
        self._stopped.send_signal(signal.SIGSTOP)
        for _ in range(kills):
            panel = self._start()
            stand_still(rng.choice((rng.uniform(0, 0.4), rng.uniform(0.4, 1.4))))
            panel.kill()
            panel.wait()
            self.kills += 1
        self._stopped.send_signal(signal.SIGCONT)
        stand_still(1.0)
        self.came_back = self._stopped.poll() is None

    def close(self) -> None:
        self._stopped.kill()
        self._stopped.wait()


def killing_panels(folder: Path, seconds: float, kills: int, seed: int) -> tuple[list[float], int]:
    """Print a sheet of two lights of so many seconds while panels are killed; the lengths of the lights, and the kills.

    AssertionError where an edge was touched, the daemon held up, or a panel that stood still did not come back.
    """
    served = Served(folder)
    try:
        served.start()
        served.load(PRINT.format(seconds=seconds), PAPER)
        panels = Panels(served)
        killer = threading.Thread(target=panels.kill_one_again_and_again, args=(kills, seed))
        try:
            killer.start()
            states = print_sheets(served, by_foot(served), 1, longest_s=seconds + 20)
            killer.join()
        finally:
            panels.close()
        found = bursts(served.truth())
        slow = [s["dark"]["why"] for s in states if s["state"] == "paused"]
        assert set(slow) <= TOO_SLOW, [s["reason"] for s in states]
        lines = ("lamp head-green", "lamp head-blue")
        assert [line for line, _ in itertools.groupby(line for line, _, _ in found)] == list(lines)
        assert len(found) == 2 + len(slow), (found, slow)
        lengths = [sum(dark - lit for line, lit, dark in found if line == one and dark is not None) for one in lines]
        assert all(abs(length - seconds) < served.near_s * (1 + len(slow)) for length in lengths), (lengths, slow)
        assert panels.came_back, "a panel that stood still ended"
        return lengths, panels.kills
    finally:
        served.close()
