"""The red screen, and pictures of it."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Callable
from pathlib import Path

from timerd.cli.files import worked
from timerd.cli.logs import log_from, log_option
from timerd.cli.parsing import Add
from timerd.control import Link
from timerd.panel.following import Following
from timerd.panel.hearing import Hearing
from timerd.panel.loop import Panel
from timerd.panel.pictures import SIZES, draw_pictures
from timerd.panel.scenes import PRINTS, scenes
from timerd.places import cache_folder, run_folder
from timerd.sheet.safe import safe
from timerd.systemd import Manager


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    panel = add("panel", _panel)
    panel.add_argument("--size", metavar="WxH", type=_size, help="a window of so many pixels, as in 800x480")
    panel.add_argument("--full", action="store_true", help="the whole display, whatever the bench says")
    panel.add_argument("--pictures", metavar="DIR", help="no window: draw every screen into PNG files")
    panel.add_argument("--force", action="store_true", help="write over pictures that are there")
    log_option(panel)


def _size(text: str) -> tuple[int, int]:
    found = re.fullmatch(r"([0-9]{3,4})x([0-9]{3,4})", text)
    if found is None or int(found[1]) < 800 or int(found[2]) < 480:
        raise argparse.ArgumentTypeError(f"write a size of 800x480 or more as 1024x600; found {text[:20]!r}")
    return int(found[1]), int(found[2])


def _panel(args: argparse.Namespace) -> int:
    log_from(args)
    if args.pictures is not None:
        return _pictures(args)
    show(run_folder(args.home), args.size, args.full)
    return 0


def show(
    run: Path,
    size: tuple[int, int] | None,
    whole_display: bool = False,
    foot: Callable[[str, bool], None] | None = None,
) -> None:
    """The panel with its sound for the daemon of a run folder, until the quit key; what is missing to be heard is said
    once. `foot` gets the keys that are pedals."""
    hearing = Hearing(cache_folder(), lambda trouble: print(safe(trouble), file=sys.stderr, flush=True))
    manager = Manager()
    started = False

    def each_round(following: Following, now: float) -> None:
        nonlocal started
        if not started:  # the window is open
            started = True
            manager.tell("READY=1")
        manager.alive()
        hearing(following, now)

    try:
        Panel(lambda: Link(run), foot=foot, hear=each_round).run(size, whole_display)
    finally:
        hearing.close()


def _pictures(args: argparse.Namespace) -> int:
    made = {name: worked(name, args) for name in PRINTS}
    shown = scenes({name: (one.plan, one.bench.value) for name, one in made.items()})
    sizes = SIZES if args.size is None else (args.size,)
    drawn = list(draw_pictures(shown, Path(args.pictures), sizes, args.force))
    print(f"{len(drawn)} pictures of {len(shown)} screens in {safe(args.pictures)}")
    return 0
