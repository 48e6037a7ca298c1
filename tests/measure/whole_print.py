"""Two sheets of a twelve-step print in real time on the simulated bench, driven by `timerd press` alone.

    python tests/measure/whole_print.py [--short]

Compares every edge of the lines with the plan, and the record of every burst with the edges, and prints how far they
were apart. The long form prints `breakwater` (about four minutes); the short one a twelve-step print in a hurry.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from served import NEAR_S, Served, bursts
from served.asking import ask
from served.printing import by_command, print_sheets

LINES = {"green": "lamp head-green", "blue": "lamp head-blue", "flash": "lamp flasher"}
EXACT_S = 0.005
DOSE_STOPS = 1 / 500


def main() -> int:
    options = argparse.ArgumentParser()
    options.add_argument("--short", action="store_true")
    args = options.parse_args()
    print_ = str(Path(__file__).parents[1] / "served" / "twelve.yaml") if args.short else "breakwater"
    with tempfile.TemporaryDirectory() as folder:
        served = Served(Path(folder))
        try:
            begun = time.monotonic()
            served.start()
            loaded = served.timerd("load", print_, "--sheets", "2")
            print(loaded.stdout.strip() or loaded.stderr.strip())
            print_sheets(served, by_command(served), 2, longest_s=120)
            wrong = compare(served, short=args.short)
            print(f"{time.monotonic() - begun:.0f} s of real time; scheduling: {served.status()['scheduling']}")
        finally:
            served.close()
    for text in wrong:
        print(f"WRONG: {text}")
    return 1 if wrong else 0


def compare(served: Served, short: bool) -> list[str]:
    """What differs by more than it may, in words; prints the largest differences.

    In the short form, lights of a tenth of a second are too short for a goal in stops, and the machine may be a shared
    one: there only what no such machine explains is wrong.
    """
    plan = ask(served.run, {"do": "plan"})["plan"]
    expected = [
        (LINES[step["light"]], part - before)
        for step in plan["steps"] if step["light"] is not None and step["dose"] is not None
        for before, part in zip((0.0, *step["parts"]), step["parts"], strict=False)
    ] * 2  # fmt: skip
    found = bursts(served.truth())
    wrong = []
    if [line for line, _, _ in found] != [line for line, _ in expected]:
        wrong.append(f"lit were {[line for line, _, _ in found]}, planned {[line for line, _ in expected]}")
        return wrong
    lengths = [abs(dark - lit - seconds) for (_, lit, dark), (_, seconds) in zip(found, expected, strict=True)]
    sheets = [json.loads(served.timerd("sheet", str(n), "--json").stdout) for n in (1, 2)]
    recorded = [burst for sheet in sheets for step in sheet["steps"] for burst in step["bursts"]]
    apart = [max(abs(on - lit), abs(off - dark)) for (on, off), (_, lit, dark) in zip(recorded, found, strict=True)]
    given = [step for sheet in sheets for step in sheet["steps"] if step["planned"]]
    stops = [abs(math.log2(step["given"] / step["planned"])) for step in given]
    print(f"{len(found)} bursts on the lines, {len(recorded)} in the book, {len(given)} steps with light")
    print(f"lines against plan: at most {max(lengths) * 1e3:.3f} ms apart in length")
    print(f"book against lines: at most {max(apart) * 1e3:.3f} ms apart")
    goal = f"goal {DOSE_STOPS}" if not short else "not judged: lights of a moment"
    print(f"doses against plan: at most {max(stops):.6f} stop apart ({goal})")
    near = NEAR_S if short else EXACT_S
    if max(lengths) > near or max(apart) > near or (not short and max(stops) > DOSE_STOPS):
        wrong.append("farther apart than it may be")
    if any(step["ended_by"] != "dose" for step in given) or {sheet["outcome"] for sheet in sheets} != {"complete"}:
        wrong.append("a step or a sheet is not complete")
    return wrong


if __name__ == "__main__":
    sys.exit(main())
