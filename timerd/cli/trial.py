"""A print by one's own feet without a bench: simulated lines in real time, a window or this terminal, two keys."""

from __future__ import annotations

import argparse
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

from timerd.bench.press import press_by_keys
from timerd.bench.pretended import PretendedFoot
from timerd.book.reading import Reader
from timerd.cli.files import Worked, files_to_load, shown_path, worked
from timerd.cli.panel import show
from timerd.cli.parsing import Add
from timerd.cli.report import proved, put
from timerd.cli.standing import told
from timerd.cli.status import short_words
from timerd.control import ControlError, ask, follow
from timerd.desk.report.subject import Subject
from timerd.panel.window import NoDisplay
from timerd.places import run_folder
from timerd.sheet.account import sheet_table
from timerd.wire.control import LoadPrint

WINDOW = (800, 480)
STOPS_WITHIN_S = 10.0
_RED, _PLAIN = "\x1b[31m", "\x1b[0m"


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    try_ = add("try", _try)
    try_.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    try_.add_argument("--sheets", type=int, default=1, metavar="N", help="how many sheets (%(default)s)")
    try_.add_argument("--out", metavar="DIR", default="timerd-try", help="where the reports go (%(default)s)")


def _try(args: argparse.Namespace) -> int:
    return trial(args, args.print, args.sheets, Path(args.out))


def trial(args: argparse.Namespace, name: str, sheets: int, out: Path | None) -> int:
    """Serve a print's bench, simulated, from a home of its own that is gone afterwards; a panel for it, or lines on
    this terminal. Each sheet's account is printed in the end, and its report put into `out`."""
    made = worked(name, args)
    with tempfile.TemporaryDirectory(prefix="timerd-trial-") as home:
        run = run_folder(home)
        serve = ["serve", "--bench", str(made.named["bench"]), "--simulated"]
        daemon = subprocess.Popen(
            [sys.executable, "-P", "-m", "timerd", "--home", home, *serve],
            stdout=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True,
        )  # fmt: skip
        try:
            assert daemon.stdout is not None
            if not daemon.stdout.readline():  # its first line is that it serves; what is wrong goes to standard error
                raise OSError("the bench could not be served: why is said above")
            ask(run, LoadPrint(sheets, by_step=False, **files_to_load(made)))
            print(f"Print {made.plan.print} with your own feet. No lamp is switched, and no book is kept.")
            _by_hand(run)
            print(_given(Path(home), made, out))
        finally:
            daemon.send_signal(signal.SIGTERM)
            daemon.wait(STOPS_WITHIN_S)
            shutil.rmtree(run, ignore_errors=True)
    return 0


def _by_hand(run: Path) -> None:
    """In a window, or without a display on the terminal, until q."""
    foot = PretendedFoot(run)
    print("g is the pedal go, e is end: hold go for a second to arm (in a terminal: G). q: quit.", flush=True)
    try:
        show(run, WINDOW, foot=foot.put)
    except NoDisplay as error:
        if not sys.stdin.isatty():
            raise
        print(f"{error}: here then. G and E hold for a second, b both for two; g, e, q as in the window.")
        threading.Thread(target=_say, args=(run,), daemon=True).start()
        press_by_keys(run)
    finally:
        foot.close()


def _say(run: Path) -> None:
    """How the bench stands, a red line each time that this is another."""
    last = ""

    def say(answer: object) -> bool:
        nonlocal last
        words = short_words(told(answer))  # type: ignore[arg-type]
        if words != last:
            print(f"{_RED}{words}{_PLAIN}", flush=True)
        last = words
        return True

    try:
        follow(run, say)
    except (ControlError, OSError):
        return  # it is over


def _given(home: Path, made: Worked, out: Path | None) -> str:
    reader = Reader(home)
    parts = []
    try:
        for number in reader.sheets():
            history = reader.history(number)
            if history is None:
                continue
            parts.append(sheet_table(history.plan, history.progress))
            if out is not None:
                dated = reader.dated(number)
                paper, bench = made.paper.value, made.bench.value
                subject = proved(Subject(history.plan, history, dated, paper=paper, bench=bench))
                page = put(subject, out, f"sheet-{number}", force=True)
                parts.append(f"Its report, for any browser: {shown_path(page)}")
    finally:
        reader.close()
    return "\n\n".join(parts) if parts else "No sheet was armed."
