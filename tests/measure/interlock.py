"""The interlock at every corner of its parts, their surroundings and temperature, and with each part broken, under
ngspice; the worst of each figure is printed. `--short`: the worst corners known and a few dozen at random.

Exits 1 if a limit is not kept, or if a broken part does what it should not.
"""

from __future__ import annotations

import os
import random
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from hardware.play import (
    BROKEN,
    FACTORS,
    FOUND_BY_THE_CUT_OFF_TEST,
    SLOW_BEAT_PULLS_IN_AGAIN,
    TEMPERATURES,
    Corner,
    Figures,
    corner,
    corners,
    play,
    values_of,
)  # fmt: skip
from hardware.spice import found

KNOWN = [
    corner(reservoir=1, threshold=1, supply=1, comparator=1, coil=1),
    corner(flying=1, reservoir=1, emptying=1, beat=1, coil=1, diodes=1),
    corner(threshold=1, supply=1, comparator=1),
    corner(coil=1),
]


def named(ends: Corner, celsius: float) -> str:
    words = [f"{name} {'high' if end else 'low'}" for name, end in zip(FACTORS, ends, strict=True)]
    return f"{celsius:g} C, {', '.join(words)}"


def ms(seconds: float | None) -> str:
    return "   never" if seconds is None else f"{seconds * 1000:5.1f} ms"


def sweep(chosen: list[tuple[Corner, float]]) -> list[str]:
    """Play them all; print the worst of each figure; what is wrong."""
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        seen = list(pool.map(lambda one: play(one[1], values_of(one[0])), chosen))
    rows = list(zip(chosen, seen, strict=True))

    def late(time: float | None) -> float:
        return 9.0 if time is None else time

    worst: list[tuple[str, str, tuple[tuple[Corner, float], Figures]]] = []
    for what, value in (
        ("pulls in", lambda f: f.pulls_in),
        ("open, stuck high", lambda f: f.stuck_high),
        ("open, stuck low", lambda f: f.stuck_low),
        ("open, slowed", lambda f: f.slowed),
    ):
        row = max(rows, key=lambda row: late(value(row[1])))
        worst.append((f"{what}, latest", ms(value(row[1])), row))
    row = min(rows, key=lambda row: row[1].lets_go)
    worst.append(("sags after the last edge, soonest", ms(row[1].lets_go), row))
    row = min(rows, key=lambda row: row[1].margin)
    worst.append(("coil current over pull-in, least", f"{row[1].margin:5.2f}   ", row))
    for what, value, row in worst:
        print(f"{what:34} {value}  at {named(*row[0])}")
    return [f"{named(*one)}: {fault}" for one, figures in rows for fault in figures.faults()]


def broken() -> list[str]:
    """Play each broken part; what is wrong."""
    print(f"{'one part broken':26} {'pulls in':>8}  {'high':>8}  {'low':>8}  {'slowed':>8}")
    wrong = []
    for part, swaps in BROKEN.items():
        seen = play(25, swaps=swaps)
        print(f"{part:26} {ms(seen.pulls_in)}  {ms(seen.stuck_high)}  {ms(seen.stuck_low)}  {ms(seen.slowed)}")
        times = [seen.stuck_high, seen.stuck_low]
        if part not in SLOW_BEAT_PULLS_IN_AGAIN:
            times.append(seen.slowed)
        safe = seen.pulls_in is None or all(time is not None and time < 0.25 for time in times)
        if safe != (part not in FOUND_BY_THE_CUT_OFF_TEST):
            wrong.append(f"{part}: {seen}")
    return wrong


def main() -> int:
    if found() is None:
        print("skipped: ngspice is not here: apt-get install ngspice")
        return 1 if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1" else 0
    every = [(ends, celsius) for ends in corners() for celsius in TEMPERATURES]
    if "--short" in sys.argv[1:]:
        chosen = [(ends, celsius) for ends in KNOWN for celsius in TEMPERATURES]
        chosen += random.Random(9).sample(every, 24)
    else:
        chosen = every
    print(f"{len(chosen)} of {len(every)} corners and temperatures")
    wrong = sweep(chosen) + broken()
    for line in wrong:
        print(f"wrong: {line}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
