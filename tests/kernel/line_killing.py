"""Keepers killed and stopped at random instants of a light on the chip's lines: when the line truly went dark, and what
the book makes of it. For `inside/` alone.

A line that stays is held up from outside once nobody drives it, as some kernels leave it; one that falls is held down.
What was driven is told by the kernel's trace; when a line fell by itself, by its level, looked at all the while.
"""

from __future__ import annotations

import random
import signal
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from served import LIMIT_S, Status, not_too_soon, stand_still
from served.asking import ask
from served.killing import PAPER

from kernel.bench import ServedLines, Wired

GREEN = "lamp head-green"
PRINT = """\
print: A long look at a wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: long, light: green, seconds: 280, lead_in: 0.2}
"""
WAYS = ("killed", "stopped", "with daemon", "with everybody")
"""Of the keeper, beside its daemon; of both, with the last off left that waits beside them; of that too, and somebody
says `timerd dark` later."""
_OTHERS = {"with daemon": ("daemon",), "with everybody": ("daemon", "beside")}
"""Who is killed beside the keeper: stopped first, so that nobody does anything when that ends."""
FARTHEST_S = 1.2
"""From the press of go to the kill: the lead-in is 0.2 s of it."""
LOOK_S = 0.0005
DARK_LATER_S = 0.7
"""`with everybody`: so long after that somebody comes."""


class LineKilled(NamedTuple):
    """One kill: how; whether the line stays; how long after the press; between which two times of light the truth is
    (0 where none came); what the book says; how long after the kill the line was low (None where it was not lit)."""

    way: str
    stays: bool
    after_s: float
    true_lo: float
    true_hi: float
    given_lo: float
    given: float
    dark_s: float | None

    @property
    def outside_s(self) -> float:
        """How far the truth is from what the book says: 0 where it can lie within."""
        return max(0.0, self.given_lo - self.true_hi, self.true_lo - self.given)


def line_killing(folder: Path, wired: Wired, ways: Iterable[str], stays: bool, seed: int) -> Iterator[LineKilled]:
    """Kill one bench in each of these ways in turn, at instants drawn from the seed."""
    rng = random.Random(f"{stays} {seed}")
    served = ServedLines(folder, wired)
    try:
        served.start()
        served.load(PRINT, PAPER)
        served.arm()
        for way in ways:
            yield _kill(served, way, stays, rng.uniform(0.0, FARTHEST_S))
            _ready_again(served)
    finally:
        served.close()


def _kill(served: ServedLines, way: str, stays: bool, after_s: float) -> LineKilled:
    wired, pin = served.wired, served.wired.outputs[GREEN]["pin"]
    lo, given = _given(served.status())
    keeper = served.keeper_pid
    wired.chip.forget_trace()
    tapped = time.monotonic()
    served.tap("go")
    stand_still(tapped + after_s - time.monotonic())
    if others := _OTHERS.get(way, ()):
        served.kill(*others, how=signal.SIGSTOP)
    held = stays and wired.chip.level(pin)  # one that is not lit yet stays dark
    wired.chip.pull(pin, held)
    before = time.monotonic()
    served.kill("keeper", how=signal.SIGSTOP if way == "stopped" else signal.SIGKILL)
    if others:
        served.kill(*others)
    fell = _fallen(served, pin, before, within_s=DARK_LATER_S if way == "with everybody" else 5.0)
    if others:
        served.gone()
        if way == "with everybody":
            told = served.timerd("dark")
            assert told.returncode == 0, told.stderr
        else:
            _ended(served)
    else:
        served.until(lambda s: s["state"] in ("fault", "paused", "ready") and s["burst"] is None)
    moves = wired.chip.driven().get(pin, [])
    on = [d.at for d in moves if d.pid == keeper and d.level]
    assert len(on) <= 1, moves
    wired.chip.pull(pin, False)
    if served.daemon is None:
        served.start()
    now_lo, now = _given(served.status())
    if not on:
        return LineKilled(way, stays, after_s, 0.0, 0.0, now_lo - lo, now - given, None)
    driven_low = min((d.at for d in moves if d.level is False and d.at > on[0]), default=None)
    dark_lo, dark = _dark(held, fell, driven_low)
    return LineKilled(
        way, stays, after_s, max(0.0, dark_lo - on[0]), max(0.0, dark - on[0]), now_lo - lo, now - given,
        dark - before if on[0] < before and way != "with everybody" else None,
    )  # fmt: skip


def _dark(held: bool, fell: tuple[float, float] | None, driven_low: float | None) -> tuple[float, float]:
    """Between which two times a line went dark: one that stays when it was driven low, one that falls by itself too."""
    if held or fell is None:
        assert driven_low is not None, "nobody made it dark"
        return driven_low, driven_low
    return fell if driven_low is None or fell[1] < driven_low else (min(fell[0], driven_low), driven_low)


def _fallen(served: ServedLines, pin: int, high_at: float, within_s: float) -> tuple[float, float] | None:
    """Look at a line until it is low: the last time at which it was high, and the first at which it was low."""
    until = high_at + within_s
    while True:  # at least once, however long it took to come here
        asked = time.monotonic()
        if not served.wired.chip.level(pin):
            return high_at, time.monotonic()
        if asked >= until:
            return None
        high_at = asked
        stand_still(LOOK_S)


def _ended(served: ServedLines) -> None:
    """Wait until the last off that was beside a dead keeper has ended too."""
    until = time.monotonic() + LIMIT_S
    while served.beside():
        assert time.monotonic() < until, "the last off does not end"
        stand_still(0.01)


def _ready_again(served: ServedLines) -> None:
    status = served.until(lambda s: s["state"] in ("idle", "fault", "paused", "ready"))
    if status["state"] == "fault":
        ask(served.run, {"do": "clear"}, LIMIT_S)
        status = served.state("idle")
    if status["state"] == "idle":
        served.hold("go")
        status = served.until(lambda s: s["state"] in ("paused", "ready"))
    not_too_soon(status)


def _given(status: Status) -> tuple[float, float]:
    """What the sheet's light was given so far, at least and at most."""
    told = status if status["sheet"] is not None else status["unfinished"]
    return (told["given_lo"] or 0.0, told["given"] or 0.0)
