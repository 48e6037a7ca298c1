"""Keepers killed on the character device: a line of JSON for each on /run/out/kills.json, as they come.

python killing.py KILLS SEED WAY...
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from kernel.bench import Wired
from kernel.chip import Chip
from kernel.line_killing import line_killing
from lines.keeper import bench

AT_ONCE = 20
"""So many kills on one sheet: it is long enough for all of them."""

if __name__ == "__main__":
    kills, seed = int(sys.argv[1]), int(sys.argv[2])
    chip = Chip()
    with Path("/run/out/kills.json").open("w") as out:
        for begun in range(0, kills, AT_ONCE):
            for way in sys.argv[3:]:
                for stays in (False, True):
                    chip.forget()
                    folder = Path(f"/run/tmp/{way} {stays} {begun}")
                    ways = [way] * min(AT_ONCE, kills - begun)
                    for killed in line_killing(folder, Wired(chip, bench()), ways, stays, seed + begun):
                        out.write(json.dumps(killed._asdict()) + "\n")
                        out.flush()
