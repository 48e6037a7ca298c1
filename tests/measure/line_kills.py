"""Keepers killed and stopped at random instants of a light on a GPIO character device: how soon it was dark, and
whether the book's interval holds what the line gave.

python tests/measure/line_kills.py [--short] [--seed N] [--kills N] [--ways WAY...]

A User-Mode-Linux kernel with a simulated chip (tests/kernel/): lines that stay when their keeper has died, as some
kernels leave them, and lines that fall. The truth is the kernel's own trace, and the line's level. That the book holds
it is judged; times are told and not judged, since a system call takes some tens of times as long there as on a
computer of its own. Goals on a real chip: 50 ms from the keeper's death, 600 ms from its last sign of life.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from kernel.line_killing import WAYS, LineKilled
from kernel.machine import NoMachine, run
from served import NEAR_S

INSIDE = Path(__file__).parents[1] / "kernel" / "inside" / "killing.py"
KILLS, SHORT = 100, 1
WITHIN_S = 6 * 3600.0
STAMPED_S = 0.01
"""What is exact in the book may be so far from the kernel's trace: a time is read before or after the call that it is
of, in a machine that waits for its host."""
GOAL_S = {"killed": 0.05, "stopped": 0.6, "with daemon": 0.05}


def main() -> int:
    options = argparse.ArgumentParser()
    options.add_argument("--short", action="store_true")
    options.add_argument("--seed", type=int, default=0)
    options.add_argument("--kills", type=int, help="of each kind")
    options.add_argument("--ways", nargs="+", choices=WAYS, default=list(WAYS))
    args = options.parse_args()
    kills = args.kills or (SHORT if args.short else KILLS)
    with tempfile.TemporaryDirectory() as folder:
        try:
            ran = run([str(INSIDE), str(kills), str(args.seed), *args.ways], Path(folder), WITHIN_S)
        except NoMachine as missing:
            if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1":
                sys.exit(str(missing))
            print(f"skipped: {missing}")
            return 0
        told = Path(folder) / "kills.json"
        found = [LineKilled(**json.loads(line)) for line in told.read_text().splitlines()] if told.exists() else []
    print(f"EMULATED kernel: {len(found)} kills, {kills} of each kind, seed {args.seed}; times are not judged")
    print(
        f"{'the keeper':16}{'its line':10}{'kills':>6}{'lit':>5}{'dark after: p50':>17}{'max':>9}{'goal':>8}"
        f"{'interval: p50':>16}{'max':>9}{'truth outside':>15}"
    )
    for way in args.ways:
        for stays in (False, True):
            _row(way, stays, [one for one in found if (one.way, one.stays) == (way, stays)])
    print("times and intervals are of the kills at which the line was lit; the others are left out of them")
    allowed_s = NEAR_S if args.short else STAMPED_S
    outside = [one for one in found if one.outside_s > allowed_s]
    for one in outside:
        print(f"WRONG: {one}")
    if ran.status != 0 or len(found) != len(args.ways) * 2 * kills:
        print(f"WRONG: it came to no end:\n{ran.said}")
        return 1
    dark = [way for way in args.ways if 2 * sum(one.true_hi > 0 for one in found if one.way == way) < 2 * kills]
    if dark and not args.short:
        print(f"WRONG: more than half were killed before their light: {', '.join(dark)}")
        return 1
    most_s = max(one.outside_s for one in found)
    print(f"{len(outside)} of {len(found)} outside the book's interval, allowed {allowed_s * 1e3:g} ms", end="")
    print(f"; the farthest by {most_s * 1e3:.1f} ms")
    return 1 if outside else 0


def _row(way: str, stays: bool, of_kind: list[LineKilled]) -> None:
    lit = [one for one in of_kind if one.true_hi > 0]
    dark = sorted(one.dark_s for one in lit if one.dark_s is not None)
    width = sorted(one.given - one.given_lo for one in lit)
    times = f"{statistics.median(dark) * 1e3:>14.0f} ms{dark[-1] * 1e3:>6.0f} ms" if dark else f"{'-':>17}{'-':>9}"
    widths = f"{statistics.median(width) * 1e3:>13.0f} ms{width[-1] * 1e3:>6.0f} ms" if width else f"{'-':>16}{'-':>9}"
    goal = f"{GOAL_S[way] * 1e3:.0f} ms" if way in GOAL_S else "-"
    print(
        f"{way:16}{'stays' if stays else 'falls':10}{len(of_kind):>6}{len(lit):>5}{times}{goal:>8}{widths}"
        f"{max((one.outside_s for one in of_kind), default=0.0) * 1e3:>12.1f} ms"
    )


if __name__ == "__main__":
    sys.exit(main())
