"""`timerd demo --panel` and `timerd try`: a sheet by one's own feet, in a window that nobody sees, or on a terminal."""

from __future__ import annotations

import os
import pty
import select
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
    assert lines[0] == "Print Breakwater, low tide with your own feet. No lamp is switched, and no book is kept."
    assert "Sheet 1: unfinished" in lines
    assert " 1  start prompt" in done.stdout and "printer" in done.stdout
    assert not list(tmp_path.glob("timerd-*")), "nothing is kept"
    assert not (tmp_path / "home").exists()


def test_without_a_display_a_sheet_is_printed_on_the_terminal(tmp_path: Path) -> None:
    """Keys are struck as lines tell how the bench stands: armed, out, lit, put out, left."""
    env = {
        **os.environ, "SDL_VIDEODRIVER": "nonsense", "SDL_AUDIODRIVER": "dummy", "TIMERD_HOME": str(tmp_path / "home"),
        "XDG_RUNTIME_DIR": str(tmp_path), "XDG_CACHE_HOME": str(tmp_path / "cache"), "TMPDIR": str(tmp_path),
    }  # fmt: skip
    ours, theirs = pty.openpty()
    argv = [sys.executable, "-m", "timerd", "try", "quiet-yard", "--out", str(tmp_path / "try")]
    done = subprocess.Popen(argv, env=env, stdin=theirs, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    os.close(theirs)
    assert done.stdout is not None
    last, pressed = "", ""
    for awaited, key in (("idle", "G"), ("prompt", "g"), ("ready", "g"), ("green is on", "e"), ("paused", "q")):
        while not (last.startswith("\x1b[31m") and awaited in last):
            if "too soon" in last and not select.select([done.stdout], [], [], 1.0)[0]:
                os.write(ours, pressed.encode())
            last = done.stdout.readline()
            assert last, f"it ended before {awaited!r}"
        os.write(ours, (pressed := key).encode())
    rest = done.stdout.read()
    assert done.wait(60) == 0 and os.close(ours) is None
    assert "Sheet 1: unfinished" in rest and (tmp_path / "try" / "sheet-1.html").exists()
    assert not (tmp_path / "home").exists(), "no book is kept"
