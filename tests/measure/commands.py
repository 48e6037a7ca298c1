"""How long the commands take, beside starting Python at all: medians of whole processes in one run.

python tests/measure/commands.py [--short]
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time

MOST_TIMES = 20
"""The goal is 0.2 s; a machine that takes longer to start Python at all is judged by that."""


def median_seconds(argv: list[str], runs: int, folder: str) -> float:
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        subprocess.run(argv, check=True, capture_output=True, cwd=folder)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    runs = 3 if "--short" in sys.argv else 11
    with tempfile.TemporaryDirectory() as folder:
        bare = median_seconds([sys.executable, "-c", "pass"], runs, folder)
        print(f"python -c pass: {bare:.3f} s (median of {runs} processes)")
        for words in (
            ["--help"],
            ["plan", "breakwater"],
            ["rehearse", "breakwater", "--feet", "breakwater"],
            ["demo"],
        ):
            taken = median_seconds([sys.executable, "-m", "timerd", *words], runs, folder)
            print(f"timerd {' '.join(words)}: {taken:.3f} s, {taken / bare:.1f} times")
            if words == ["--help"]:
                assert taken < max(0.2, MOST_TIMES * bare), "timerd --help takes 0.2 s, and 20 times a bare start"
            if words == ["demo"]:
                assert taken < max(5, 15 * MOST_TIMES * bare), "the demo takes 5 s, and 300 times a bare start"


if __name__ == "__main__":
    main()
