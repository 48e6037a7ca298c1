"""100,000 hostile and random messages to a real daemon's control socket: no lamp, no crash, no change, no growth.

Half of them with a print loaded and nothing armed, half with a sheet out and its first step ready. Memory is VmRSS of
the daemon and of the keeper, from the end of the warm-up (a tenth of the messages) to the end.

python tests/measure/socket_messages.py [--short]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from served import Served
from served.hostile import PAPER, TWELVE, Hostile, resident_kib, talk

MOST_GROWTH_KIB = 2048


def main() -> int:
    messages = 3_000 if "--short" in sys.argv else 100_000
    with tempfile.TemporaryDirectory() as folder:
        served = Served(Path(folder))
        try:
            served.start()
            served.load(TWELVE, PAPER)
            hostile = Hostile(served, seed=1)
            talk(served, hostile, messages // 10, 250)
            assert served.daemon is not None
            pids = {"daemon": served.daemon.pid, "keeper": served.keeper_pid}
            warm = {name: resident_kib(pid) for name, pid in pids.items()}
            start = time.perf_counter()
            talk(served, hostile, messages // 2 - messages // 10, 1_000)
            served.arm()
            talk(served, hostile, messages - messages // 2, 1_000)
            took = time.perf_counter() - start
            grown = {name: resident_kib(pid) - warm[name] for name, pid in pids.items()}
            said = served.stop()
        finally:
            served.close()
    told = ", ".join(f"{name} {warm[name] / 1024:.1f} MiB and {kib:+} KiB" for name, kib in grown.items())
    print(
        f"{hostile.sent:,} messages, {took:.1f} s after the warm-up: no lamp lit, both processes alive, the standing "
        f"unchanged; memory after the warm-up and since: {told}"
    )
    print("   " + ", ".join(f"{kind} {count:,}" for kind, count in hostile.talks.most_common()))
    if said:
        print(f"the daemon said: {said}")
    return 1 if said or max(grown.values()) > MOST_GROWTH_KIB else 0


if __name__ == "__main__":
    sys.exit(main())
