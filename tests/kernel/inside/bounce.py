"""Bounce trains on the character device: `bounce.py COUNT`; how many were played, on /run/out/bounce.txt."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from kernel.bouncing import play
from kernel.chip import Chip
from walks.bouncing import TRAINS

if __name__ == "__main__":
    count = int(sys.argv[1])
    seeds = [TRAINS[n * len(TRAINS) // count] for n in range(count)]
    run = Path("/run/tmp/bounce")
    run.mkdir()
    Path("/run/out/bounce.txt").write_text(str(play(Chip(), run, seeds)))
