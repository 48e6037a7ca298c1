"""Panels killed fifty times beside a sheet, while another stands still for a minute: what did the lights do?

    python tests/measure/panel_kills.py [--short]

Ends with 1 where a light was not as long as its plan, or the daemon or a panel did not go on.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from served import NEAR_S
from served.panels import killing_panels


def main() -> int:
    seconds, kills = (5.0, 8) if "--short" in sys.argv else (35.0, 50)
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        lengths, killed = killing_panels(Path(folder), seconds, kills, seed=7)
    off = max(abs(length - seconds) for length in lengths)
    print(f"{killed} panels killed, one stopped, in {time.monotonic() - begun:.0f} s; 2 lights of {seconds:g} s")
    print(f"the lights' lengths: at most {off * 1e3:.3f} ms off (allowed {NEAR_S * 1e3:g} ms)")
    return 0


if __name__ == "__main__":
    sys.exit(main())
