"""The guard's files under real MicroPython: the same walks and the same plays as under CPython, word for word."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pins
from board import Board, play
from outside import need
from walk import told

HERE = Path(__file__).parent
GUARD = HERE.parents[1] / "firmware" / "guard"
FILES = [GUARD / "guard.py", GUARD / "pins.py", GUARD / "main.py", HERE / "walk.py", HERE / "board.py"]
PACKAGE = HERE / "node_modules" / "@micropython" / "micropython-webassembly-pyscript"
LIMITS_US = (660_000_000, 660_000_000, 400_000)


def micropython(tmp_path: Path, code: str) -> list[str]:
    """What this code prints under MicroPython, beside the guard's files."""
    need(shutil.which("node") is not None, "node", "install Node 20 or later")
    need(
        (PACKAGE / "micropython.wasm").exists(), "MicroPython", "npm install --prefix tests/firmware --no-package-lock"
    )
    script = tmp_path / "script.py"
    script.write_text(code)
    done = subprocess.run(
        ["node", str(HERE / "run.mjs"), str(PACKAGE), str(script), *map(str, FILES)],
        capture_output=True, text=True, timeout=120, env=os.environ | {"NODE_NO_WARNINGS": "1"},
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done.stdout.splitlines()


def test_walks_come_out_as_under_cpython(tmp_path: Path) -> None:
    seeds, count = range(7), 6_000
    expected = [line for seed in seeds for line in told(seed, count, LIMITS_US)]
    code = f"from walk import told\nfor seed in range({len(seeds)}):\n"
    code += f"    for line in told(seed, {count}, {LIMITS_US}):\n        print(line)\n"
    assert micropython(tmp_path, code) == expected
    heard = {
        word for line in expected for word in (line.split(" master")[0].split(" ", 1)[1], line.split(" led")[0][-7:])
    }
    lights = {f"passed {n}" for n in (0, 1, 2, 4)}
    assert heard == lights | {f"fault {n}" for n in range(7)}, "the walks come everywhere"


def test_no_step_makes_anything_on_the_heap(tmp_path: Path) -> None:
    code = "import micropython\nfrom walk import locked\n"
    code += f"locked(micropython.heap_lock, micropython.heap_unlock, 3, 20_000, {LIMITS_US})\nprint('done')\n"
    code += "micropython.heap_lock()\ntry:\n    [1] * 2\nexcept MemoryError:\n    print('the lock is one')\n"
    code += "micropython.heap_unlock()\nimport sys\nprint(sys.implementation.name)\n"
    assert micropython(tmp_path, code) == ["done", "the lock is one", "micropython"]


FIRST, SECOND = pins.ASK[:2]
PLAYS: dict[str, dict[str, Any]] = {
    "two bursts": {
        "events": [(400_000, FIRST, 1), (600_000, FIRST, 0), (900_000, SECOND, 1), (1_000_000, SECOND, 0)],
        "beats": (100_000, 1_100_000), "end_us": 1_500_000,
    },
    "a lost heartbeat, and the button": {
        "events": [(400_000, FIRST, 1), (900_000, FIRST, 0), (3_000_000, pins.BUTTON, 0), (3_200_000, pins.BUTTON, 1)],
        "beats": (100_000, 700_000), "end_us": 3_500_000,
    },
    "started again by the watchdog": {
        "events": [(400_000, FIRST, 1)], "beats": (100_000, 900_000), "end_us": 1_000_000, "watchdog_reset": True,
    },
    "a pin that cannot be read": {
        "events": [(400_000, FIRST, 1)], "beats": (100_000, 900_000), "end_us": 1_000_000, "break_at_us": 500_000,
    },
}  # fmt: skip


def test_main_plays_as_under_cpython(tmp_path: Path) -> None:
    expected, code = [], "from board import Board, play\n"
    for name, kept in PLAYS.items():
        here = Board(heartbeat=pins.HEARTBEAT, **kept)
        expected += [name, play(here), repr(here.edges), repr(len(here.fed)), repr(here.watchdog_ms)]
        code += f"there = Board(heartbeat={pins.HEARTBEAT}, **{kept!r})\nprint({name!r})\n"
        code += "print(play(there))\nprint(there.edges)\nprint(len(there.fed))\nprint(there.watchdog_ms)\n"
    assert all(edges.count("(") > 7 for edges in expected[2::5])
    assert micropython(tmp_path, code) == expected
