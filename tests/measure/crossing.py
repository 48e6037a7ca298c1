"""Every command that takes a print, crossed with all that a print may have; prints the table of what was checked.

python tests/measure/crossing.py [--short]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from crossing import COMMANDS, FEATURES, Case


def main(short: bool) -> int:
    begun, wrong, fields = time.process_time(), 0, 0
    for feature in [*FEATURES][:: 4 if short else 1]:
        print(f"{feature}")
        with tempfile.TemporaryDirectory() as folder:
            case = Case(feature, Path(folder))
            for command, check in COMMANDS.items():
                fields += 1
                try:
                    said = check(case)
                except AssertionError as error:
                    wrong += 1
                    said = f"WRONG: {' '.join(str(error).split())[:300]}"
                if not short or said.startswith("WRONG"):
                    print(f"  {command:<20} {said}")
    print(f"{fields} fields, {wrong} wrong, {time.process_time() - begun:.1f} s of processor time")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main("--short" in sys.argv))
