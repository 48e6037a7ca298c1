"""The command that serves a bench."""

from __future__ import annotations

import argparse
import sys

from timerd.book.reading import TO_DO
from timerd.cli.files import read_profile, shown_path
from timerd.cli.logs import log_from, log_option
from timerd.cli.parsing import Add
from timerd.cli.status import offer_words
from timerd.daemon.running import serve
from timerd.daemon.serving import Daemon
from timerd.places import home, run_folder
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    serve = add("serve", _serve)
    serve.add_argument("--bench", metavar="BENCH", required=True, help="a bench's name, or its file")
    serve.add_argument("--simulated", action="store_true", help="simulated lines in real time; no pin is touched")
    log_option(serve)


def _serve(args: argparse.Namespace) -> int:
    log_from(args)
    bench = read_profile("bench", args.bench, args)
    where = home(args.home)

    def ready(daemon: Daemon) -> None:
        lines = "SIMULATED lines" if args.simulated else "real lines"
        print(f"serving '{bench.value.bench}' with {lines}; the book is in {shown_path(where)}; to stop: ^C")
        if not daemon.scheduling.startswith("real time, memory locked"):
            print(f"mind: the keeper is {daemon.scheduling}: light may end some milliseconds late on a busy machine")
        status = daemon.stands()
        for words in status.damaged:
            print(f"mind: {safe(words)}: it is not offered. {TO_DO}")
        if status.unfinished is not None:
            print(offer_words(status.unfinished))
        if status.sheets_left:
            print(f"the rest of the batch is loaded: {status.sheets_left} more to do")
        sys.stdout.flush()

    serve(bench, where, run_folder(args.home), args.simulated, ready)
    return 0
