"""How late the keeper is on the character device, by the kernel's own trace: one line of JSON on /run/out/timing.json.

python timing.py BURSTS
"""

from __future__ import annotations

import itertools
import json
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from kernel.bench import Wired
from kernel.chip import Chip
from lines.keeper import RealKeeper, bench
from served import stand_still

GREEN = "lamp head-green"
BURST_S = 0.1
IDLE_S = 1.0
BY_THE_LIBRARY = """
import sys
from pathlib import Path
from timerd.bench import loop
loop.chip_of_the_pins = lambda: None
sys.exit(loop.main(int(sys.argv[1]), Path(sys.argv[2])))
"""
"""A keeper whose pedals are gpiozero's and lgpio's, as its lines are."""


def measure(wired: Wired, run: Path, bursts: int, program: tuple[str, ...]) -> dict[str, list[float]]:
    """Seconds late, of every burst; seconds between two beats; and how often an idle keeper woke in a second."""
    found: dict[str, list[float]] = {name: [] for name in ("on", "off", "pedal", "beat")}
    run.mkdir()
    with RealKeeper(run, wired.facts, program) as keeper:
        assert keeper.first["is"] == "keeping", keeper.first
        for burst in range(2 * bursts):
            by_pedal = burst % 2 == 1
            wired.chip.forget_trace()
            asked = keeper.expose(seconds=60.0 if by_pedal else BURST_S)
            keeper.until("lit")
            if by_pedal:
                stand_still(0.05 + 0.0007 * (burst % 31))
                pressed = time.monotonic()
                wired.foot("end", True)
            keeper.until("dark")
            (on, _), (off, _) = wired.changes()[GREEN]
            found["on"].append(on - asked["at"])
            if by_pedal:
                found["pedal"].append(off - pressed)
                stand_still(0.05)
                wired.foot("end", False)
                stand_still(0.05)
                keeper.seen = 1 << 50
            else:
                found["off"].append(off - on - BURST_S)
                beats = [at for at, _ in wired.changes()["heartbeat"] if asked["at"] <= at < off]
                found["beat"] += [after - before for before, after in itertools.pairwise(beats)]
        before = _woken(keeper.process.pid)
        stand_still(IDLE_S)
        found["woken"] = [(_woken(keeper.process.pid) - before) / IDLE_S]
    return found


def _woken(pid: int) -> int:
    """How often the threads of a process have gone to sleep so far."""
    told = [(task / "status").read_text() for task in Path(f"/proc/{pid}/task").iterdir()]
    return sum(int(text.split("\nvoluntary_ctxt_switches:")[1].split()[0]) for text in told)


if __name__ == "__main__":
    wired = Wired(Chip(), bench())
    bursts = int(sys.argv[1])
    found = {
        "from the chip itself": measure(wired, Path("/run/tmp/chip"), bursts, ("-m", "timerd.bench.loop")),
        "through the pin library": measure(wired, Path("/run/tmp/library"), bursts, ("-c", BY_THE_LIBRARY)),
    }
    Path("/run/out/timing.json").write_text(json.dumps(found))
