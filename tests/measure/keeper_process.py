"""10,000 hostile and random messages to a real keeper's process: no light but those asked for, no crash, no growth.

python tests/measure/keeper_process.py [--short]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from walks.keeper_talk import KeeperTalk, memory

GROWS_BY_AT_MOST = 1_000_000
"""Bytes, from a tenth of the messages on."""


def main() -> None:
    wanted = 1_000 if "--short" in sys.argv else 10_000
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        talk = KeeperTalk(Path(folder), seed=1)
        begun = 0
        while talk.messages < wanted:
            talk.step()
            if not begun and talk.messages >= wanted / 10:
                begun = memory(talk.keeper.process.pid)
        grown = memory(talk.keeper.process.pid) - begun
        lights = talk.finish()
    proper = sum(len(asked) for asked in talk.asked.values())
    print(
        f"{talk.messages:,} messages to a real keeper, {proper:,} of them proper bursts, {lights:,} lights lit, "
        f"{time.perf_counter() - start:.1f} s: none but those asked for, never two, none left on; memory "
        f"{begun / 1e6:.1f} MB, grown by {grown / 1e6:.2f} MB"
    )
    assert lights > wanted / 100, "too few lights to have shown anything"
    assert grown <= GROWS_BY_AT_MOST, "its memory grows"


if __name__ == "__main__":
    main()
