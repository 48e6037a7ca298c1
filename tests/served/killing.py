"""Kills and stops at random instants of a light, and what must hold after each: no light left on, no record lost, and a
dose that is exact where the keeper, the daemon or the last off lived, else inside the recovered interval."""

from __future__ import annotations

import random
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from served import LIMIT_S, Served, bursts, not_too_soon, stand_still
from timerd.bench.keeper import LEASE_S
from timerd.book.reading import Reader

PAPER = Path(__file__).parents[2] / "profiles" / "papers" / "demo-resin-pearl.yaml"
PRINT = """\
print: A long look at a wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: long, light: green, seconds: 280, lead_in: 0.2}
"""
WAYS = (
    "daemon", "daemon stopped", "daemon stopped, killed", "keeper", "keeper stopped", "both", "everybody", "twice",
    "terminated", "power",
)  # fmt: skip
"""`both` leaves the last off that waits beside the keeper; `everybody` not even that: then `timerd dark` is said."""
HOLD_S = 1.02
FARTHEST_S = 1.9
"""From the press of go to the kill: the lead-in is 0.2 s of it."""


@dataclass(frozen=True)
class Killed:
    """One kill: how, how long after the press, what the light truly gave and what the book says it did, in seconds, and
    how long it was until dark, from the kill or, where nobody was left, from the start of `timerd dark` (None where no
    light was on)."""

    way: str
    after_s: float
    true_s: float
    given_lo: float
    given: float
    dark_s: float | None


class Wrong(AssertionError):
    """Something that must never be; the words say what."""


def killing(folder: Path, seed: int, kills: int, disk: Path | None) -> Iterator[Killed]:
    """Kill one bench so many times, in ways and at instants drawn from the seed. Raises Wrong."""
    rng = random.Random(seed)
    served = Served(folder, disk=disk)
    try:
        served.start()
        served.load(PRINT, PAPER)
        served.arm()
        ways = [way for way in WAYS if way != "power" or disk is not None]
        for n in range(kills):
            yield _kill(served, ways[(n + seed) % len(ways)], rng.uniform(0, FARTHEST_S))
            if served.daemon is None:
                served.start()
            _ready_again(served)
    finally:
        served.close()


def _kill(served: Served, way: str, after_s: float) -> Killed:
    status = served.status()
    rows, (lo, given) = _rows(served), _given(served)
    edges = len(served.truth())
    tapped = served.tap("go")
    stand_still(tapped + after_s - time.monotonic())
    before = time.monotonic()
    match way:
        case "daemon":
            served.kill("daemon")
            served.gone()
        case "daemon stopped" | "daemon stopped, killed":
            served.kill("daemon", how=signal.SIGSTOP)
            stand_still(LEASE_S + 0.1)
        case "keeper":
            served.kill("keeper")
        case "both" | "everybody":
            served.kill("daemon", *(["beside"] if way == "everybody" else []), how=signal.SIGSTOP)
            served.kill("keeper", "daemon", *(["beside"] if way == "everybody" else []))
        case "keeper stopped":
            served.kill("keeper", how=signal.SIGSTOP)
            served.until(lambda s: s["state"] in ("fault", "paused", "ready"))
        case "twice":
            served.kill("daemon")
            served.gone()
            served.start_and_kill(after_s / 4)
        case "terminated":
            served.stop()
    if way == "power":
        before, after = served.power_cut()
        truth = served.truth_of_boots[edges:]
        served.truth_of_boots.clear()
    else:
        if way == "both":
            served.gone()
        elif way == "everybody":
            served.gone()
            before = time.monotonic()
            told = served.timerd("dark")
            if told.returncode:
                raise Wrong(told.stderr)
        after = _wait(lambda: not served.lit_lamps(), f"{way}: a light was left on")
        if way == "daemon stopped":
            served.kill("daemon", how=signal.SIGCONT)
        elif way == "daemon stopped, killed":
            served.kill("daemon")
            served.gone()
        truth = served.truth()[edges:]
    lit = bursts(truth)
    if len(lit) > 1:
        raise Wrong(f"{way}: lit {len(lit)} times by one press")
    cut_s = [(on, off if off is not None else after) for _, on, off in lit]
    true_s = sum(off - on for on, off in cut_s)
    was_on = [off for on, off in cut_s if on < before]
    if served.daemon is None:
        served.start()
    else:
        stands = served.until(lambda s: s["state"] in ("paused", "ready", "fault", "idle") and s["burst"] is None)
        _wait(lambda: abs(_given(served)[1] - stands["steps"][1]["given"]) < 1e-9, "what is told is not in the book")
    if served.lit_lamps():
        raise Wrong(f"{way}: {served.lit_lamps()} is lit after a start")
    if _rows(served)[: len(rows)] != rows:
        raise Wrong(f"{way}: records that were on disk are lost or changed")
    now_lo, now_given = _given(served)
    killed = Killed(way, after_s, true_s, now_lo - lo, now_given - given, max(was_on) - before if was_on else None)
    _must_hold(killed, before, after, status, served.near_s)
    return killed


def _must_hold(killed: Killed, before: float, after: float, status: dict[str, Any], near_s: float) -> None:
    slack = near_s if killed.way != "power" else after - before + near_s
    if not killed.given_lo - slack <= killed.true_s <= killed.given + slack:
        raise Wrong(f"{killed}: the truth is outside the interval")
    if killed.way != "power" and killed.given - killed.given_lo > near_s:
        raise Wrong(f"{killed}: not exact, though somebody lived; it stood {status}")


def _wait(true: Callable[[], bool], otherwise: str) -> float:
    """Wait until something is true; when that was seen. Wrong, in the words given, where it never is."""
    until = time.monotonic() + LIMIT_S
    while not true():
        if time.monotonic() > until:
            raise Wrong(otherwise)
        stand_still(0.002)
    return time.monotonic()


def _ready_again(served: Served) -> None:
    """Bring the sheet back to where a press lights it."""
    status = served.until(lambda s: s["state"] in ("idle", "fault", "paused", "ready"))
    if status["state"] == "fault":
        served.until(lambda s: s["reason"] is not None)
        told = served.timerd("clear")
        if told.returncode:
            raise Wrong(told.stderr)
        status = served.state("idle")
    if status["state"] == "idle":
        if status["unfinished"] is None:
            raise Wrong("the unfinished sheet is not offered")
        not_too_soon(status)
        stand_still(HOLD_S)  # so that it begins when it is not too soon
        served.hold("go", seconds=HOLD_S)
        status = served.until(lambda s: s["state"] in ("paused", "ready"))
    not_too_soon(status)


def _rows(served: Served) -> list[tuple[Any, ...]]:
    """All records on disk, whole."""
    db = sqlite3.connect(f"file:{served.home / 'book.sqlite'}?mode=ro", uri=True)
    try:
        return db.execute("SELECT * FROM records ORDER BY number").fetchall()
    finally:
        db.close()


def _given(served: Served) -> tuple[float, float]:
    """What the book says that the sheet was given: at least and at most."""
    reader = Reader(served.home)
    sheet = reader.sheet(1)
    reader.close()
    if sheet is None:
        raise Wrong("the sheet is lost")
    steps = sheet.steps.values()
    return sum(step.given_lo for step in steps), sum(step.given for step in steps)
