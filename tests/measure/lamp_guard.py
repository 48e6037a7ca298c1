"""The lamp guard on random walks, under CPython and under MicroPython: every change word for word the same.

400 walks of 20,000 steps of about 0.3 ms; `--short`: 20 of 6,000. Exits 1 if a line differs, or if a light was passed
beside a fault, without the master relay, or longer than its limit.
"""

from __future__ import annotations

import os
import re
import sys
import tempfile
from collections import Counter
from pathlib import Path

TESTS = Path(__file__).parents[1]
sys.path[:0] = [str(TESTS), str(TESTS / "firmware"), str(TESTS.parent / "firmware" / "guard")]
from firmware.test_micropython import LIMITS_US, PACKAGE, micropython  # noqa: E402
from walk import told  # noqa: E402

LINE = re.compile(r"(\d+) passed (\d) master (True|False) fault (\d) led (True|False)")
LONGEST_STEP_US = 70_000


def wrong(lines: list[str]) -> list[str]:
    """What no walk may ever show."""
    found, since = [], 0
    for line in lines:
        match = LINE.fullmatch(line)
        assert match, line
        us, passed, master, fault, led = int(match[1]), int(match[2]), match[3], int(match[4]), match[5]
        if passed and (master == "False" or fault or led == "True" or passed not in (1, 2, 4)):
            found.append(line)
        if since and since[1] and us - since[0] > LIMITS_US[since[1].bit_length() - 1] + LONGEST_STEP_US:
            found.append(f"lit from {since[0]} on: {line}")
        if not since or since[1] != passed:
            since = (us, passed)
    return found


def main() -> int:
    short = "--short" in sys.argv[1:]
    walks, steps = (20, 6_000) if short else (400, 20_000)
    if not (PACKAGE / "micropython.wasm").exists():
        print("skipped: MicroPython is not here: npm install --prefix tests/firmware --no-package-lock")
        return 1 if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1" else 0
    bad, seen, changes = [], Counter[str](), 0
    with tempfile.TemporaryDirectory() as folder:
        for first in range(0, walks, 20):
            here = [line for seed in range(first, first + 20) for line in told(seed, steps, LIMITS_US)]
            code = f"from walk import told\nfor seed in range({first}, {first + 20}):\n"
            code += f"    for line in told(seed, {steps}, {LIMITS_US}):\n        print(line)\n"
            there = micropython(Path(folder), code)
            if here != there:
                at = next((i for i, pair in enumerate(zip(here, there, strict=False)) if pair[0] != pair[1]), -1)
                bad.append(f"walks {first} on: CPython and MicroPython differ at change {at}")
            for seed in range(first, first + 20):
                bad += [f"walk {seed}: {line}" for line in wrong(told(seed, steps, LIMITS_US))]
            changes += len(here)
            seen.update(re.search(r"passed \d", line)[0] for line in here)
            seen.update(re.search(r"fault \d", line)[0] for line in here)
    print(f"{walks} walks of {steps} steps, {changes} changes, the same under both: {not bad}")
    print(", ".join(f"{what} {count} times" for what, count in sorted(seen.items())))
    for line in bad:
        print(f"wrong: {line}")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
