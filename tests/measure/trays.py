"""Random evenings at the trays: bath lines, presses, temperatures, lights and restarts, every check on each.

python tests/measure/trays.py            2,000 evenings
python tests/measure/trays.py --short    60
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from walks.trays_walk import walk


def main() -> None:
    evenings = 60 if "--short" in sys.argv else 2000
    start = time.perf_counter()
    sheets, visits, cues = 0, 0, Counter[str]()
    for seed in range(evenings):
        evening = walk(seed)
        sheets += evening.sent
        visits += sum(record.kind == "in bath" for record in evening.evening.records)
        cues.update(cue.what for cue in evening.evening.cues)
    print(f"{evenings} evenings, {sheets} sheets, {visits} times in a bath, {time.perf_counter() - start:.0f} s")
    print(f"cues: {dict(cues.most_common())}")
    print(
        "no bath skipped; planned times within 0.1 s of the integral over the temperatures; in a third of the "
        "evenings, undisturbed, actual times within 0.1 s of the planned; nothing two sheets needed within 5 s "
        "unannounced; no cue aloud while a light burned; each restart had what the records say"
    )


if __name__ == "__main__":
    main()
