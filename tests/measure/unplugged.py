"""A foot switch pulled out at 1,000 random instants of held bursts: how soon it is dark, and how exact the dose is.

python tests/measure/unplugged.py [--short]

Real keepers' processes, four at a time, read the switches as input events from pipes; the plug is pulled by taking the
pipe away. The lines' own record of edges is written outside the keeper. The bursts last 1 s, pulled within 0.3 s.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from lines.unplugging import Pulled, pull_often

DARK_WITHIN_S = 0.05
EXACT_S = 0.002
KEEPERS = 4


def main() -> None:
    wanted = 40 if "--short" in sys.argv else 1_000
    told: list[Pulled] = []
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder, ThreadPoolExecutor(KEEPERS) as at_once:
        running = []
        for seed in range(KEEPERS):
            run = Path(folder) / str(seed)
            run.mkdir()
            running.append(at_once.submit(pull_often, run, seed, wanted // KEEPERS, told.append))
        for one in running:
            one.result()
    took = time.perf_counter() - start
    after = sorted(one.after_s for one in told)
    off = max(max(abs(one.report_off_s), abs(one.note_off_s)) for one in told)
    print(
        f"{len(told):,} held bursts, the foot switch pulled out in each, {took:.0f} s: dark after "
        f"{statistics.median(after) * 1e3:.2f} ms (median), {after[int(len(after) * 0.99)] * 1e3:.2f} ms (99 %), "
        f"{after[-1] * 1e3:.2f} ms at the most; report and note at most {off * 1e3:.3f} ms off the line's own on-time"
    )
    assert len(told) == wanted and all(one.why == "unplugged" for one in told)
    assert after[0] >= 0, "dark before the plug was out"
    if "--short" in sys.argv:
        print("not judged: short, perhaps beside other work (what was judged: each was dark, and by the plug)")
        return
    assert after[-1] < DARK_WITHIN_S, "not dark within 50 ms each time"
    assert off < EXACT_S, "the dose is not what the line gave"


if __name__ == "__main__":
    main()
