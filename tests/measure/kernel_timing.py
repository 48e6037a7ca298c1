"""How late the keeper is on a real GPIO character device. The kernel is emulated: figures are printed, not judged.

python tests/measure/kernel_timing.py [--short]

A User-Mode-Linux kernel with a simulated chip (tests/kernel/), in which a system call takes some tens of times as long
as on a computer of its own. What it is good for: the two ways of hearing pedals side by side, in the same run.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from kernel.machine import NoMachine, run

INSIDE = Path(__file__).parents[1] / "kernel" / "inside" / "timing.py"
ROWS = {
    "on": "light on, after it was due",
    "off": "light on for longer than was asked",
    "pedal": "foot on the pedal to light off",
    "beat": "between two beats of the heartbeat (2 ms wanted)",
}


def main() -> None:
    bursts = 5 if "--short" in sys.argv else 150
    with tempfile.TemporaryDirectory() as folder:
        try:
            ran = run([str(INSIDE), str(bursts)], Path(folder))
        except NoMachine as missing:
            if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1":
                sys.exit(str(missing))
            print(f"skipped: {missing}")
            return
        assert ran.status == 0, ran.said
        found = json.loads((Path(folder) / "timing.json").read_text())
    print(f"EMULATED kernel, nothing is judged: {bursts} bursts to their end and {bursts} cut by a pedal, each way")
    print("no burst is left out: one that is refused ends the run")
    for way, told in found.items():
        print(f"pedals heard {way}; an idle keeper wakes {told['woken'][0]:.0f} times a second")
        for name, words in ROWS.items():
            print(f"  {words:<50} {_spread(told[name])}")


def _spread(seconds: Sequence[float]) -> str:
    ordered = sorted(seconds)
    worst = ordered[-1] * 1e6
    middle, most = (ordered[min(len(ordered) - 1, int(len(ordered) * part))] * 1e6 for part in (0.5, 0.99))
    return f"median {middle:7.0f} µs   p99 {most:7.0f} µs   max {worst:7.0f} µs"


if __name__ == "__main__":
    main()
