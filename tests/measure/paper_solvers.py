"""10,000 random papers: two tones that some mix gives, and one area's density, each solved and checked; times.

python tests/measure/paper_solvers.py [--short]
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from printing.random_papers import mix, paper, tones

from timerd.printing.area import ways
from timerd.printing.contrast import for_tones

WITHIN = 0.005
MOST_MS = 50.0


def contrast(count: int) -> bool:
    chance = random.Random(10_000)
    worst, missed, times = 0.0, 0, []
    while len(times) < count:
        curve = paper(chance)
        spots = tones(chance, curve)
        if spots is None:
            continue
        start = time.thread_time()
        found = for_tones(curve, *spots)[0]
        times.append(1000 * (time.thread_time() - start))
        off = max(
            abs(curve.density(found.green_s * spot.green, found.blue_s * spot.blue) - spot.density) for spot in spots
        )
        worst, missed = max(worst, off), missed + (off > WITHIN or not found.reached)
    return _tell("contrast", count, worst, missed, times)


def area(count: int) -> bool:
    """Without limits of readings every burn up to near Dmax has a solution; with them what is reached must be there."""
    chance = random.Random(10_001)
    worst, missed, times = 0.0, 0, []
    refused = 0
    while len(times) < count:
        curve = paper(chance)
        green, blue = mix(chance, curve)
        net = curve.dmax - curve.dmin
        try:
            some = curve.multiple(curve.dmin + chance.uniform(0.005, 0.7) * net, green, blue)
        except ValueError:
            continue
        green, blue = green * some, blue * some
        wanted = chance.uniform(curve.density(green, blue), curve.dmin + 0.97 * net)
        flash = chance.choice([(1.0, 0.0), (0.0, 1.0), (0.4, 0.1)])
        start = time.thread_time()
        found = ways(curve, green, blue, wanted, *flash)
        times.append(1000 * (time.thread_time() - start))
        free = ways(replace(curve, mixes=()), green, blue, wanted, *flash)
        for way, without_limits in zip(found, free, strict=True):
            missed += not without_limits.reached or (way.by == "both" and not way.reached)
            refused += not way.reached
            if way.reached and way.green is not None and way.blue is not None and way.flash is not None:
                there = green + way.green + way.flash * flash[0], blue + way.blue + way.flash * flash[1]
                worst = max(worst, abs(curve.density(*there) - wanted))
    print(f"area: {refused:,} of {4 * count:,} ways lead past the readings and are refused")
    return _tell("area", count, worst, missed + (worst > WITHIN), times)


def _tell(name: str, count: int, worst: float, missed: int, times: list[float]) -> bool:
    slowest, middle = max(times), statistics.median(times)
    late = sum(one > MOST_MS for one in times)
    print(
        f"{name}: {count:,} papers and targets, {missed} missed, farthest {worst:.2e} in density; "
        f"median {middle:.2f} ms, slowest {slowest:.1f} ms, {late} over {MOST_MS:.0f} ms (processor time of each call)"
    )
    return missed == 0 and worst <= WITHIN and late == 0


def main() -> None:
    count = 300 if "--short" in sys.argv else 10_000
    good = [contrast(count), area(count)]
    if not all(good):
        sys.exit(1)


if __name__ == "__main__":
    main()
