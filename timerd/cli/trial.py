"""The demo by the newcomer's own feet: the simulated bench in real time, a window, and two keys for pedals."""

from __future__ import annotations

import argparse
import contextlib
import shutil
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from timerd.bench.pretended import PretendedFoot
from timerd.book.reading import Reader
from timerd.cli.files import files_to_load, worked
from timerd.cli.panel import show
from timerd.control import ask
from timerd.places import run_folder
from timerd.sheet.account import sheet_table
from timerd.wire.control import LoadPrint

PRINT, BENCH = "breakwater", "two-station"
WINDOW = (800, 480)
STOPS_WITHIN_S = 10.0


def trial(args: argparse.Namespace) -> int:
    """Serve the demo's bench from a home of its own that is gone afterwards, and show the panel for it."""
    files = files_to_load(worked(PRINT, args))
    with tempfile.TemporaryDirectory(prefix="timerd-trial-") as home:
        run = run_folder(home)
        daemon = subprocess.Popen(
            [sys.executable, "-P", "-m", "timerd", "--home", home, "serve", "--bench", BENCH, "--simulated"],
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        try:
            assert daemon.stdout is not None
            if not daemon.stdout.readline():  # its first line is that it serves; what is wrong goes to standard error
                raise OSError("the demo's bench could not be served: why is said above")
            ask(run, LoadPrint(2, by_step=False, **files))
            print("Print the demo's sheet with your own feet. No lamp is switched, and nothing is kept.")
            print("In the window g is the pedal go, e is end: hold g for a second to arm. m: the map; q: quit.")
            sys.stdout.flush()
            foot = PretendedFoot(run)
            show(run, WINDOW, foot=foot.put)
            foot.close()
            print(_given(Path(home)))
        finally:
            daemon.send_signal(signal.SIGTERM)
            daemon.wait(STOPS_WITHIN_S)
            shutil.rmtree(run, ignore_errors=True)
    return 0


def _given(home: Path) -> str:
    with contextlib.closing(Reader(home)) as reader:
        tables = [
            sheet_table(plan, sheet) for number in reader.sheets()
            if (sheet := reader.sheet(number)) is not None and (plan := reader.plan(number)) is not None
        ]  # fmt: skip
    return "\n\n".join(tables) if tables else "No sheet was armed."
