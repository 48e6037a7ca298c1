"""Byte strings found by hypothesis as feet, faults and time: 100,000 engine events with every check of the walks.

python tests/measure/any_bytes.py [--short]
"""

from __future__ import annotations

import sys
import time
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from walks.engine_walk import EngineWalk


class Count:
    events = examples = lights = 0


@settings(max_examples=250, deadline=None, database=None, suppress_health_check=list(HealthCheck))
@given(st.binary(min_size=100, max_size=600), st.booleans())
def some_evenings(data: bytes, hostile: bool) -> None:
    evening = EngineWalk(hostile)
    for what, amount in list(pairwise(data))[::2]:
        evening.step(what, amount)
    evening.finish()
    Count.events += evening.events
    Count.examples += 1
    Count.lights += sum(record.kind == "lit" for record in evening.bench.records)


def main() -> None:
    wanted = 5_000 if "--short" in sys.argv else 100_000
    start = time.perf_counter()
    while Count.events < wanted:
        some_evenings()
    print(
        f"{Count.events:,} engine events from {Count.examples:,} byte strings, {Count.lights:,} bursts, "
        f"{time.perf_counter() - start:.1f} s: nothing that must not happen"
    )


if __name__ == "__main__":
    main()
