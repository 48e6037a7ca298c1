"""What the panel costs: a burst followed at 15 frames a second, in real time, on a display that nobody sees.

    python tests/measure/panel_cost.py            30 s at 800x480, 10 s at 1920x1080
    python tests/measure/panel_cost.py --short    6 s and 2 s

Every frame differs (a figure with tenths, two bars, the flashing edge). Processor seconds are of this whole process:
following, view, drawing, blit and flip. Beside them the same number of bare blits of one picture onto the same window
in the same run, so that a figure from another machine can be compared. A real display adds its own copying: measured
apart where there is one. Fails when the panel takes 5 % of a core or more at 800x480.
"""

from __future__ import annotations

import argparse
import os
import platform
import select
import sys
import time
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
sys.path.insert(0, str(Path(__file__).parents[1]))

from panel.screens import all_scenes
from panel.test_following import Daemon

from timerd.panel.drawing import Painter
from timerd.panel.loop import FRAME_S, Panel
from timerd.panel.window import Window
from timerd.sheet.status import status_json

MOST = 0.05


def followed(size: tuple[int, int], seconds: float) -> tuple[float, int, float]:
    """Processor seconds a second while a burst is followed, frames drawn, and processor seconds a bare blit."""
    scene = all_scenes()["exposing-last-seconds"]
    base = all_scenes()["exposing-base"]
    assert base.plan is not None
    daemon = Daemon()
    panel, window, painter = Panel(daemon.connect), Window(size), Painter(size)
    panel.turn(window, painter)
    now = time.monotonic()
    burst = {"burst": 1, "light": "green", "lit": now, "deadline": now + 9.9}
    told = {**status_json(base.status), "plan": "one", "burst": burst}
    daemon.tell(**{"is": "bench", "bench": scene.bench.model_dump(mode="json")})
    daemon.tell(**told)
    daemon.tell(**{"is": "plan", "id": "one", "plan": base.plan.model_dump(mode="json")})
    shows = 0
    show = window.show

    def counted(*args: object) -> None:
        nonlocal shows
        shows += 1
        show(*args)  # type: ignore[arg-type]

    window.show = counted  # type: ignore[method-assign]
    started, begun = time.monotonic(), time.process_time()
    lit = now
    while (now := time.monotonic()) < started + seconds:
        if now > lit + 9.5:  # another burst, so that there is always one below ten seconds
            lit = now
            daemon.tell(**{**told, "burst": {**burst, "lit": lit, "deadline": lit + 9.9}})
        panel.turn(window, painter)
        panel.following.wait(panel.rest())
    spent = (time.process_time() - begun) / (time.monotonic() - started)
    begun = time.process_time()
    for _ in range(200):
        show(painter.canvas, 0.6)
    bare = (time.process_time() - begun) / 200
    panel.following.close()
    window.close()
    return spent, shows, bare


def main() -> int:
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--short", action="store_true")
    short = arguments.parse_args().short
    print(f"{platform.platform()}, Python {platform.python_version()}, driver {os.environ['SDL_VIDEODRIVER']}")
    ok = True
    for size, seconds in (((800, 480), 6.0 if short else 30.0), ((1920, 1080), 2.0 if short else 10.0)):
        select.select([], [], [], 0.1)
        spent, shows, bare = followed(size, seconds)
        rate = shows / seconds
        print(
            f"{size[0]}x{size[1]}: {spent * 100:.2f} % of a core at {rate:.1f} frames a second; "
            f"a frame {spent / rate * 1e3:.2f} ms, {spent / rate / bare:.1f} times a bare blit ({bare * 1e3:.2f} ms)"
        )
        if size == (800, 480):
            ok = spent < MOST and 13 <= rate <= 1 / FRAME_S + 0.5
    print("within" if ok else f"NOT within {MOST * 100:.0f} % at 13 to 15 frames a second")
    return 0 if ok else 1


if __name__ == "__main__":
    sys.exit(main())
