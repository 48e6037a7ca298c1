"""A million random and hostile messages to the keeper's rules: never two lights, over a limit, or a light left on.

python tests/measure/keeper_messages.py [--short]
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from walks.keeper_walk import KeeperWalk


def main() -> None:
    wanted = 60_000 if "--short" in sys.argv else 1_000_000
    messages = lights = seed = 0
    start = time.perf_counter()
    while messages < wanted:
        walk = KeeperWalk(seed)
        for _ in range(2000):
            walk.step()
        walk.finish()
        messages += walk.messages
        lights += walk.lights
        seed += 1
    print(
        f"{messages:,} messages in {seed} walks, {lights:,} lights lit, {time.perf_counter() - start:.1f} s: "
        "never two lights, none over its limit, none left on"
    )


if __name__ == "__main__":
    main()
