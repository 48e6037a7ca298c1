"""How many events a second the engine takes, and what may never happen in a million of them.

    python tests/measure/engine_speed.py            speed, then 1,000,000 random events with every check
    python tests/measure/engine_speed.py --short    the same with 60,000

Speed is the processor time of `Engine.handle` alone, on the edges and reports of real rehearsals, against an empty
method call with the same arguments in the same run.
"""

from __future__ import annotations

import platform
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from walks.engine_walk import BENCH, EngineWalk, walk

from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine

WALK_STEPS = 400


def recorded(events: int) -> list[tuple[ev.Event, float]]:
    """Events as friendly walks give them to one engine, whole evenings one after another."""
    found: list[tuple[ev.Event, float]] = []
    seed = 1
    while len(found) < events:
        evening = EngineWalk(hostile=False)
        handle = evening.engine.handle

        def kept(event: ev.Event, now: float, handle=handle) -> list[ev.Action]:  # type: ignore[no-untyped-def]
            found.append((event, now))
            return handle(event, now)

        evening.engine.handle = kept  # type: ignore[method-assign]
        evening.load()
        import random

        pick = random.Random(seed)
        for _ in range(WALK_STEPS):
            evening.step(pick.randrange(256), pick.randrange(256))
        found.append((ev.Load(evening.engine.standing.loaded, 0, evening.bench.now), -1.0))  # type: ignore[arg-type]
        seed += 3
    return found


def engine_seconds(events: list[tuple[ev.Event, float]]) -> float:
    """Processor seconds in which fresh engines take the events; an evening's end makes a new engine."""
    engine, total = Engine(BENCH), 0.0
    start = time.process_time()
    for event, now in events:
        if now < 0:
            total += time.process_time() - start
            engine = Engine(BENCH)
            start = time.process_time()
        else:
            engine.handle(event, now)
    return total + time.process_time() - start


class _Empty:
    def handle(self, event: ev.Event, now: float) -> list[ev.Action]:
        return []


def empty_seconds(events: list[tuple[ev.Event, float]]) -> float:
    empty = _Empty()
    start = time.process_time()
    for event, now in events:
        if now >= 0:
            empty.handle(event, now)
    return time.process_time() - start


def main() -> None:
    short = "--short" in sys.argv
    print(f"Python {platform.python_version()}, {platform.machine()}")
    events = recorded(20_000 if short else 200_000)
    best = min(engine_seconds(events) for _ in range(5))
    empty = min(empty_seconds(events) for _ in range(5))
    kinds = Counter(type(event).__name__ for event, _ in events)
    print(f"{len(events)} events {dict(kinds.most_common())}")
    print(f"engine: {len(events) / best:,.0f} events a second (best of 5), {best / empty:.1f} times an empty call")

    wanted = 60_000 if short else 1_000_000
    count = lights = seed = 0
    start = time.perf_counter()
    while count < wanted:
        evening = walk(seed, WALK_STEPS)
        count += evening.events
        lights += sum(record.kind == "lit" for record in evening.bench.records)
        seed += 1
    print(
        f"{count:,} random engine events in {seed} evenings (every third hostile), {lights:,} bursts, "
        f"{time.perf_counter() - start:.1f} s: no illegal state, no negative owed dose, never two lights, no light "
        "outside exposing, no viewing light with a sheet out, every prefix of the records owes what the engine owed"
    )


if __name__ == "__main__":
    main()
