"""Kills and stops of real processes at random instants of a light: nothing stays lit, nothing is lost, doses are known.

    python tests/measure/kills.py [--short] [--seed N]

Prints, for each way, how long after the kill it was dark and how wide the recovered interval was, on SIMULATED lines
(tests/measure/line_kills.py has a kernel's). Ends with 1 if anything that must never be was seen, or if it was dark
later than the goal: one kill in a hundred may be, none later than `LATEST_S`. The goals are one bench's on its own
computer: there are as many benches at once as cores. The short form judges `LATEST_S` alone: it may run beside
anything. SIGKILL does not test the loss of power: that is the way `power`, where everything dies at once, the run
folder is gone, and of the disk only what was synced is left (tests/served/disk.c).
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor, as_completed
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from served import forgetful_disk
from served.killing import WAYS, Killed, Wrong, killing

KILLS, SHORT = 600, 60
BENCHES = 6
AT_ONCE = min(BENCHES, os.cpu_count() or 1)
GOAL_S = {
    "daemon": 0.020, "daemon stopped": 0.600, "daemon stopped, killed": 0.600, "keeper": 0.050,
    "keeper stopped": 0.600, "both": 0.050, "everybody": 0.300,
}  # fmt: skip
"""The design's, and those of the last off that waits loaded. `twice` and `terminated` are the first of these again."""
LATEST_S = 5.0
"""However busy the machine is."""
A_COMMAND_S = 20.0
"""Where everybody is killed, in the short form: `timerd dark` is started first, beside whatever else is done."""


def main() -> int:
    options = argparse.ArgumentParser()
    options.add_argument("--short", action="store_true")
    options.add_argument("--seed", type=int, default=0)
    args = options.parse_args()
    kills = SHORT if args.short else KILLS
    begun = time.monotonic()
    found: list[Killed] = []
    wrong: list[str] = []
    at_once = BENCHES if args.short else AT_ONCE
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(at_once) as pool:
        try:
            disk: Path | None = forgetful_disk(Path(folder))
        except LookupError as error:
            disk = None
            print(f"skipped: power cuts: {error}")

        def one(bench: int) -> None:
            try:
                for killed in killing(Path(folder) / str(bench), args.seed + bench, kills // BENCHES, disk):
                    found.append(killed)
            except (Wrong, AssertionError, RuntimeError) as error:
                wrong.append(f"bench {bench}: {error}")

        for done in as_completed([pool.submit(one, bench) for bench in range(BENCHES)]):
            done.result()
    print(f"{len(found)} kills, {at_once} benches at once, {time.monotonic() - begun:.0f} s, seed {args.seed}")
    print(
        f"{'way':24}{'kills':>6}{'lit':>6}{'dark after: p50':>18}{'p99':>10}{'max':>10}{'goal':>8}{'interval, max':>16}"
    )
    for way in WAYS:
        of_way = [killed for killed in found if killed.way == way]
        dark = sorted(killed.dark_s for killed in of_way if killed.dark_s is not None)
        width = max((killed.given - killed.given_lo for killed in of_way), default=0.0)
        if not dark or way == "power":
            times = f"{'-':>18}{'-':>10}{'-':>10}"
        else:
            p99 = dark[min(len(dark) - 1, round(0.99 * (len(dark) - 1)))]
            times = f"{statistics.median(dark) * 1e3:>15.1f} ms{p99 * 1e3:>7.1f} ms{dark[-1] * 1e3:>7.1f} ms"
        goal = f"{GOAL_S[way] * 1e3:.0f} ms" if way in GOAL_S else "-"
        interval = f"{width:.3f} s" if width > 1e-9 else "exact"
        print(f"{way:24}{len(of_way):>6}{len(dark):>6}{times}{goal:>8}{interval:>16}")
    print("times are of the kills at which a light was on; the others are left out of them")
    exact = [abs(killed.given - killed.true_s) for killed in found if killed.way != "power"]
    print(f"where anything lived: the dose in the book against the lines, at most {max(exact) * 1e3:.3f} ms apart")
    wrong += _late(found, judged=not args.short)
    for text in wrong:
        print(f"WRONG: {text}")
    print("nothing was wrong" if not wrong else f"{len(wrong)} wrong")
    return 1 if wrong else 0


def _late(found: list[Killed], judged: bool) -> list[str]:
    """What was dark too late."""
    lit = [killed for killed in found if killed.dark_s is not None and killed.way != "power"]
    latest_s = dict.fromkeys(WAYS, LATEST_S) | ({} if judged else {"everybody": A_COMMAND_S})
    wrong = [
        f"{killed}: not dark within {latest_s[killed.way]:g} s" for killed in lit
        if (killed.dark_s or 0.0) > latest_s[killed.way]
    ]  # fmt: skip
    for way, goal_s in GOAL_S.items():
        dark = sorted(killed.dark_s or 0.0 for killed in lit if killed.way == way)
        late = sum(seconds > goal_s for seconds in dark)
        if late > len(dark) / 100:
            words = f"{way}: {late} of {len(dark)} dark later than {goal_s * 1e3:.0f} ms"
            if judged:
                wrong.append(words)
            else:
                print(f"{words} (not judged: short, perhaps beside other work)")
    return wrong


if __name__ == "__main__":
    sys.exit(main())
