"""Bounce trains of 1 to 300 ms on a real GPIO character device: each press must mean one thing, by the kernel's trace.

python tests/measure/bounce.py [--short]

An emulated kernel with a simulated chip (tests/kernel/), the keeper's own process, and the engine beside it: 200 trains
on either pedal, over `press` and held steps, half of them wider than its lock-out. Ten minutes; --short plays
eight of them.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from kernel.machine import NoMachine, run

INSIDE = Path(__file__).parents[1] / "kernel" / "inside" / "bounce.py"


def main() -> None:
    count = 8 if "--short" in sys.argv else 200
    with tempfile.TemporaryDirectory() as folder:
        try:
            ran = run([str(INSIDE), str(count)], Path(folder), within_s=3600.0)
        except NoMachine as missing:
            if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1":
                sys.exit(str(missing))
            print(f"skipped: {missing}")
            return
        if ran.status != 0:
            sys.exit(ran.said)
        played = int((Path(folder) / "bounce.txt").read_text())
    assert played == count
    print(f"EMULATED kernel: {played} bounce trains of 1 to 300 ms, on go and end, over press and held steps:")
    print("  each meant one thing; no step was ended and no light was lit again by any of them")


if __name__ == "__main__":
    main()
