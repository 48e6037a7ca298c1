"""`timerd demo --panel`: the demo's sheet by one's own feet, in a window that nobody sees."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

FINGERS = """
import sys, time
from timerd.panel.window import Window
script = [(0.3, ("go", True)), (1.5, ("go", False)), (2.4, ("go", True)), (2.5, ("go", False)), (3.0, ("quit", True))]
begun = None
def presses(self):
    global begun
    begun = begun or time.monotonic()
    found = [what for at, what in script if at <= time.monotonic() - begun]
    script[:] = script[len(found):]
    return found
Window.presses = presses
from timerd.cli import main
sys.exit(main(["demo", "--panel"]))
"""


def test_a_newcomer_arms_the_demo_s_sheet_and_leaves(tmp_path: Path) -> None:
    env = {
        **os.environ, "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy", "TIMERD_HOME": str(tmp_path / "home"),
        "XDG_RUNTIME_DIR": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "cache"), "TMPDIR": str(tmp_path),
    }  # fmt: skip
    done = subprocess.run([sys.executable, "-c", FINGERS], env=env, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    lines = done.stdout.splitlines()
    assert lines[0] == "Print the demo's sheet with your own feet. No lamp is switched, and nothing is kept."
    assert "Sheet 1: unfinished" in lines
    assert " 1  start prompt" in done.stdout and "printer" in done.stdout
    assert not list(tmp_path.glob("timerd-*")), "nothing is kept"
    assert not (tmp_path / "home").exists()
