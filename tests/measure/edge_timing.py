"""How late the light comes and goes: the keeper's own process beside the plain way and beside cyclictest, in one run.

python tests/measure/edge_timing.py [--short]

Simulated lines in the keeper's real process: each change of a line is stamped in it at the write that is the change.
Beside a panel that draws and sounds, idle, then under a busy loop on every core; with real-time scheduling and
without. Measured in microseconds:

    light on       the line's change, less the `at` that was asked for
    light off      the line's change, less (`lit` as the keeper reports it + the seconds asked for)
    burst length   the line's time lit, less the seconds asked for
    pedal to dark  the line's change, less the stamp that the pedal's edge carries, as a pin's edge would
    held to light  the line's change, less the press's stamp, less 0.2 s

The feet are this process, scheduled above the keeper where that is allowed, as an interrupt is: else what is measured
would be how late the foot comes. `the plain way` is time.sleep in a thread of a program that also draws with pygame,
30 pictures a second; its lines are stamped in the same way. cyclictest (of Debian's rt-tests) runs at the keeper's
priority, half of it before and half after each keeper. What is judged, and when, is said below the table.
"""

from __future__ import annotations

import contextlib
import json
import math
import multiprocessing
import os
import platform
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parents[1]))

from lines.keeper import RealKeeper, TruthEdge
from served import Served, stand_still
from served.killing import PAPER

from timerd.bench.loop import NO_REAL_TIME, PRIORITY
from timerd.bench.pretended import FEET, LEVELS, TRUTH, PretendedLines

LAMP = "lamp head-green"
PANEL = "panel"
LONG_BURST = """\
print: A very long look at a wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: long, light: green, seconds: 290, lead_in: 0.2}
"""
PEDAL = "go"
ORDER = ["light on", "light off", "burst length", "pedal to dark", "held to light", "wake-up"]
HELD_S = 0.2


class Amount(NamedTuple):
    """How much is measured."""

    bursts: int
    presses: int
    helds: int
    cyclictest_s: int


FULL, SHORT = Amount(700, 300, 100, 10), Amount(10, 5, 3, 1)


class Row(NamedTuple):
    load: str
    who: str
    what: str
    late: list[float]
    """Microseconds, in order."""

    def at(self, percent: float) -> float:
        """The nearest-rank percentile."""
        return self.late[math.ceil(len(self.late) * percent / 100) - 1]


def row(load: str, who: str, what: str, late_s: list[float]) -> Row:
    return Row(load, who, what, sorted(late * 1e6 for late in late_s))


# -- the keeper ------------------------------------------------------------------------------------------------------


class Truth:
    """The lamp's edges as they come; the safelight's are passed over."""

    def __init__(self, run: Path) -> None:
        self._file = (run / TRUTH).open()

    def burst(self) -> tuple[float, float]:
        """When the lamp came on and went off, of the one burst since the last call. Anything else is a fault."""
        edges = [json.loads(line) for line in self._file]
        edges = [TruthEdge(edge["t"], edge["line"], edge["on"]) for edge in edges if edge["line"] != "safelight"]
        assert [(edge.line, edge.lit) for edge in edges] == [(LAMP, True), (LAMP, False)], edges
        return edges[0].at, edges[1].at


class QuickFoot:
    """A foot whose edge is stamped at the last moment: the level first, then the stamp, then the edge."""

    def __init__(self, run: Path) -> None:
        self._level = run / LEVELS / PEDAL
        self._pipe = os.open(run / FEET, os.O_WRONLY | os.O_NONBLOCK)

    def put(self, down: bool) -> float:
        if down:
            self._level.touch()
        else:
            self._level.unlink()
        when = time.monotonic()
        os.write(self._pipe, b"%s %s %.9f\n" % (PEDAL.encode(), b"down" if down else b"up", when))
        return when


class Found:
    """What was measured of one keeper, and how many bursts it refused because they reached it too late."""

    def __init__(self) -> None:
        self.late: dict[str, list[float]] = {what: [] for what in ORDER if what != "wake-up"}
        self.refused = 0


def measure_bursts(keeper: RealKeeper, truth: Truth, found: Found, bursts: int) -> None:
    pick = random.Random(1)
    while len(found.late["light on"]) < bursts:
        asked = keeper.expose(at=time.monotonic() + pick.uniform(0.02, 0.03), seconds=pick.uniform(0.01, 0.03))
        if (lit := keeper.until("lit", "refused"))["is"] == "refused":
            found.refused += 1
            continue
        assert keeper.until("dark")["why"] == "deadline"
        on, off = truth.burst()
        found.late["light on"].append(on - asked["at"])
        found.late["light off"].append(off - (lit["at"] + asked["seconds"]))
        found.late["burst length"].append(off - on - asked["seconds"])


def measure_presses(keeper: RealKeeper, truth: Truth, foot: QuickFoot, found: Found, presses: int) -> None:
    pick = random.Random(2)
    while len(found.late["pedal to dark"]) < presses:
        keeper.expose(at=time.monotonic() + pick.uniform(0.04, 0.05), seconds=60.0)
        if keeper.until("lit", "refused")["is"] == "refused":
            found.refused += 1
            continue
        time.sleep(pick.uniform(0.003, 0.013))
        pressed = foot.put(True)
        assert keeper.until("dark")["why"] == "pedal"
        foot.put(False)
        while keeper.until("pedal")["down"]:
            pass
        found.late["pedal to dark"].append(truth.burst()[1] - pressed)


def measure_helds(keeper: RealKeeper, truth: Truth, foot: QuickFoot, found: Found, helds: int) -> None:
    while len(found.late["held to light"]) < helds:
        time.sleep(0.04)
        pressed = foot.put(True)
        keeper.until("pedal")
        keeper.expose(at=pressed + HELD_S, seconds=60.0, while_down=PEDAL)
        refused = keeper.until("lit", "refused")["is"] == "refused"
        foot.put(False)
        while keeper.until("pedal")["down"]:
            pass
        if refused:
            found.refused += 1
            continue
        assert keeper.until("dark")["why"] == "pedal"
        found.late["held to light"].append(truth.burst()[0] - pressed - HELD_S)


left_out: list[str] = []
"""What the table has not: bursts that were never lit, keeper by keeper."""


def keeper_rows(load: str, real_time: bool, amount: Amount) -> tuple[list[Row], str]:
    """All that is measured of one keeper, and how it said that it is scheduled."""
    found = Found()
    environment = {} if real_time else {NO_REAL_TIME: "1"}
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        run = Path(folder)
        with RealKeeper(run, environment=environment) as keeper, foot_above_the_keeper():
            scheduling = keeper.first["scheduling"]
            policy = os.SCHED_FIFO if scheduling.startswith("real time") else os.SCHED_OTHER
            assert os.sched_getscheduler(keeper.process.pid) == policy
            foot = QuickFoot(run)
            (run / TRUTH).touch()
            truth = Truth(run)
            measure_bursts(keeper, truth, found, amount.bursts)
            measure_presses(keeper, truth, foot, found, amount.presses)
            measure_helds(keeper, truth, foot, found, amount.helds)
    who = "keeper, real time" if policy == os.SCHED_FIFO else "keeper, NOT real time"
    if found.refused:
        left_out.append(f"{load}, {who}: {found.refused}")
    return [row(load, who, what, late) for what, late in found.late.items()], scheduling


def memory_folder() -> str | None:
    """A run folder is in memory on a bench; here too, where there is such a place."""
    return "/dev/shm" if os.access("/dev/shm", os.W_OK) else None


# -- the plain way ---------------------------------------------------------------------------------------------------


def plain_way(bursts: int, run: Path) -> None:
    """The program that one would write: a thread that sleeps and switches, and a picture that is drawn meanwhile."""
    os.environ["SDL_VIDEODRIVER"] = os.environ["SDL_AUDIODRIVER"] = "dummy"
    os.environ["PYGAME_HIDE_SUPPORT_PROMPT"] = "1"
    import pygame

    pygame.init()
    screen = pygame.display.set_mode((800, 480))
    large, small = pygame.font.Font(None, 300), pygame.font.Font(None, 60)
    lines = PretendedLines({LAMP: {}}, run)
    asked: list[tuple[float, float]] = []
    until = time.monotonic()
    done = threading.Event()

    def switch() -> None:
        nonlocal until
        pick = random.Random(1)
        for _ in range(bursts):
            at, seconds = time.monotonic() + pick.uniform(0.02, 0.03), pick.uniform(0.01, 0.03)
            asked.append((at, seconds))
            until = at + seconds
            time.sleep(at - time.monotonic())
            lines.write(LAMP, True)
            time.sleep(seconds)
            lines.write(LAMP, False)
        done.set()

    threading.Thread(target=switch).start()
    clock = pygame.time.Clock()
    while not done.is_set():
        screen.fill((0, 0, 0))
        left = f"{max(0.0, until - time.monotonic()):.1f}"
        screen.blit(large.render(left, True, (120, 0, 0)), (60, 60))
        screen.blit(small.render("base soft, green", True, (120, 0, 0)), (60, 380))
        pygame.display.flip()
        clock.tick(30)
    lines.close()
    print(json.dumps(asked))


def plain_rows(load: str, amount: Amount) -> list[Row]:
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        run = Path(folder)
        done = subprocess.run(
            [sys.executable, __file__, "--plain", str(amount.bursts), folder],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        edges = [json.loads(line) for line in (run / TRUTH).read_text().splitlines()]
    times = [edge["t"] for edge in edges]
    asked = json.loads(done.stdout.splitlines()[-1])
    assert [edge["on"] for edge in edges] == [True, False] * amount.bursts
    on, length = [], []
    for (at, seconds), lit, dark in zip(asked, times[::2], times[1::2], strict=True):
        on.append(lit - at)
        length.append(dark - lit - seconds)
    # the plain way has no other account of when it lit than the switching itself: off late is the length's error
    who = "the plain way"
    return [row(load, who, "light on", on), row(load, who, "light off", length), row(load, who, "burst length", length)]


# -- beside them -----------------------------------------------------------------------------------------------------


def cyclictest(policy: str, seconds: float) -> dict[int, int]:
    """How often each lateness came, in microseconds: one thread that wakes a thousand times a second."""
    how = ["-p", str(PRIORITY)] if policy == "fifo" else ["--policy=other"]
    done = subprocess.run(
        ["cyclictest", "-q", "-m", "-t", "1", "-i", "1000", "-l", str(int(seconds * 1000)), "-h", "200000", *how],
        capture_output=True, text=True,
    )  # fmt: skip
    if done.returncode:
        return {}
    found: dict[int, int] = {}
    for line in done.stdout.splitlines():
        if line and not line.startswith("#"):
            late, times = line.split()[:2]
            if int(times):
                found[int(late)] = found.get(int(late), 0) + int(times)
    return found


@contextlib.contextmanager
def busy(cores: int) -> Iterator[None]:
    """A busy loop on every core."""
    loads = [multiprocessing.Process(target=_spin, daemon=True) for _ in range(cores)]
    for load in loads:
        load.start()
    try:
        yield
    finally:
        for load in loads:
            load.kill()
            load.join()


@contextlib.contextmanager
def panel_beside() -> Iterator[None]:
    """A panel with its sound that draws a burst, 15 frames a second, for a bench that another daemon serves."""
    with tempfile.TemporaryDirectory(dir=memory_folder()) as folder:
        served = Served(Path(folder))
        quiet = {**served.env, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy"}
        try:
            served.start()
            served.load(LONG_BURST, PAPER)
            served.arm()
            panel = subprocess.Popen(
                [sys.executable, "-m", "timerd", "panel", "--size", "800x480"], env=quiet, stdin=subprocess.DEVNULL
            )
            served.tap("go")
            served.state("exposing")
            stand_still(2)
            yield
            assert panel.poll() is None and served.status()["burst"] is not None, "the panel did not draw all the while"
            panel.kill()
            panel.wait()
        finally:
            served.close()


def _spin() -> None:
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    while True:
        pass


def busy_already(seconds: float = 1.0) -> float:
    """How much of the cores other programs use, per cent."""

    def idle_and_all() -> tuple[int, int]:
        ticks = [int(field) for field in Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]]
        return ticks[3] + ticks[4], sum(ticks)

    idle, all_ = idle_and_all()
    time.sleep(seconds)
    idle_after, all_after = idle_and_all()
    return 100 * (1 - (idle_after - idle) / max(1, all_after - all_))


@contextlib.contextmanager
def foot_above_the_keeper() -> Iterator[None]:
    """This process is scheduled above the keeper, where that is allowed; what it starts meanwhile would be too."""
    with contextlib.suppress(OSError):
        os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(PRIORITY + 10))
    try:
        yield
    finally:
        os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))


def may_be_above() -> bool:
    with foot_above_the_keeper():
        return os.sched_getscheduler(0) == os.SCHED_FIFO


def main() -> int:
    short = "--short" in sys.argv
    amount = SHORT if short else FULL
    with_cyclictest = shutil.which("cyclictest") is not None
    cores = os.cpu_count() or 1
    print(
        f"Edge timing on {platform.machine()}, {cores} cores, {platform.system()} {platform.release()}, Python "
        f"{platform.python_version()}; other programs used {busy_already():.0f} % of the cores before the run"
    )
    rows: list[Row] = []
    schedulings: set[str] = set()
    with panel_beside():
        found, _ = keeper_rows(PANEL, True, amount)
        rows += found
    for load in ("idle", "loaded"):
        with busy(cores) if load == "loaded" else contextlib.nullcontext():
            rows += plain_rows(load, amount)
            for real_time in (False, True):
                policy = "fifo" if real_time else "other"
                late = cyclictest(policy, amount.cyclictest_s / 2) if with_cyclictest else {}
                found, scheduling = keeper_rows(load, real_time, amount)
                rows += found
                schedulings.add(scheduling)
                for us, times in (cyclictest(policy, amount.cyclictest_s / 2) if with_cyclictest else {}).items():
                    late[us] = late.get(us, 0) + times
                if late:
                    who = "cyclictest, real time" if real_time else "cyclictest, NOT real time"
                    all_late = [float(us) for us, times in sorted(late.items()) for _ in range(times)]
                    rows.append(Row(load, who, "wake-up", all_late))
    print(f"keepers: {'; '.join(sorted(schedulings))}")
    if not may_be_above():
        print("the feet could not be scheduled above the keeper: pedal rows also hold how late the foot itself came")
    print()
    print(f"{'load':7} {'':26} {'microseconds late':14} {'n':>6} {'p50':>9} {'p99':>9} {'max':>9}")
    last = None
    for r in sorted(rows, key=lambda r: (r.load, ORDER.index(r.what), r.who)):
        if last not in (None, (r.load, r.what)):
            print()
        last = (r.load, r.what)
        print(f"{r.load:7} {r.who:26} {r.what:17} {len(r.late):6} {r.at(50):9.1f} {r.at(99):9.1f} {r.late[-1]:9.1f}")
    print()
    print(
        f"left out, since the keeper refused them as too late, and others measured instead: {'; '.join(left_out) or 0}"
    )
    return judged(rows, short, with_cyclictest)


def judged(rows: list[Row], short: bool, with_cyclictest: bool) -> int:
    """Hold the keeper to the goals; 1 where one is missed. Only what cannot be blamed on something else is judged."""
    if short:
        print("not judged: short (what was judged: every burst is one on and one off of its own lamp)")
        return 0
    if not with_cyclictest:
        print("not judged: cyclictest is not installed (Debian: apt install rt-tests)")
        return 0
    by = {(r.load, r.who, r.what): r for r in rows}
    if ("loaded", "keeper, real time", "light on") not in by or (
        "loaded",
        "cyclictest, real time",
        "wake-up",
    ) not in by:
        print("not judged: real-time scheduling is not allowed here")
        return 0
    missed = 0

    def hold(words: str, value: float, limit: float) -> None:
        nonlocal missed
        missed += value > limit
        print(f"{'MISSED' if value > limit else 'held  '} {words}: {value:.1f} us, at most {limit:.1f}")

    wake = by["loaded", "cyclictest, real time", "wake-up"].at(99)
    for what in ("light on", "light off"):
        r = by["loaded", "keeper, real time", what]
        hold(f"{what}, loaded, p99 (twice cyclictest's p99)", r.at(99), 2 * wake)
        hold(f"{what}, loaded, median", r.at(50), 20.0)
    for load in ("idle", "loaded"):
        hold(f"pedal to dark, {load}, p99", by[load, "keeper, real time", "pedal to dark"].at(99), 300.0)
        r = by[load, "keeper, real time", "held to light"]
        hold(f"held to light, {load}: off 0.2 s, p99", max(r.at(99), -r.late[0]), 1000.0)
    for what in ("light on", "light off", "pedal to dark"):
        beside, alone = by[PANEL, "keeper, real time", what], by["idle", "keeper, real time", what]
        hold(
            f"{what}, a panel beside it, p99 (once and a half that of idle, and 20 us)",
            beside.at(99),
            1.5 * alone.at(99) + 20,
        )
    return 1 if missed else 0


if __name__ == "__main__":
    if sys.argv[1:2] == ["--plain"]:
        plain_way(int(sys.argv[2]), Path(sys.argv[3]))
    else:
        sys.exit(main())
