"""The commands around a bench as it is built: what is right on its computer, and its acceptance."""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import signal
import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from timerd.cli.files import read_profile, shown_path
from timerd.cli.oneline import one_line
from timerd.cli.parsing import Add
from timerd.cli.standing import told
from timerd.control import ControlError, NoDaemon, ask, ask_status
from timerd.daemon.acceptance.course import Course, Item, NobodyThere
from timerd.daemon.acceptance.kept import Kept
from timerd.daemon.acceptance.sheet import new_sheet, sheet
from timerd.daemon.selfcheck.answers import PanelMeans
from timerd.daemon.selfcheck.findings import findings
from timerd.daemon.selfcheck.machine import ask_machine
from timerd.daemon.service import Running
from timerd.inplace import put
from timerd.places import home, run_folder
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.safe import safe
from timerd.sheet.status import Status
from timerd.wire.control import AskBench, AskStatus, BenchTold

ANSWERS_WITHIN_S = 2.0
WHOLE = "gone through to the end"
CAUTION = """\
12 V lamps in place of all lamps, no mains, no paper that you want to keep, and somebody at the switch.
Nothing is lit but by a press of go, for a few seconds; any pedal puts it out. To stop: ^C"""


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    check = add("check", _check)
    check.add_argument("--bench", metavar="BENCH", help="the bench, by name or file; else the one that is served")
    check.add_argument("--json", action="store_true", help="the findings as JSON")
    test = add("test", _test)
    test.add_argument("--bench", metavar="BENCH", required=True, help="the bench, by name or file")
    test.add_argument("--simulated", action="store_true", help="simulated lines; press with  timerd press")


def _check(args: argparse.Namespace) -> int:
    bench: Bench | None = read_profile("bench", args.bench, args).value if args.bench is not None else None
    daemon, trouble, served = _served(args)
    told = ask_machine(bench or served, home(args.home), daemon, trouble, _means())
    found = findings(told)
    levels = [finding.level for finding in found]
    if args.json:
        print(json.dumps({"user": told.user, "findings": [finding._asdict() for finding in found]}, indent=2))
    else:
        for finding in found:
            print(f"{finding.level:5}  {finding.subject}: {safe(finding.found)}")
            if finding.do:
                print(f"       -> {finding.do}")
        print(f"\nfor the user {told.user}: {', '.join(_counted(levels))}")
    sys.stdout.flush()
    return 1 if "wrong" in levels else 0


def _test(args: argparse.Namespace) -> int:
    bench: Bench = read_profile("bench", args.bench, args).value
    run = run_folder(args.home)
    try:
        kept = Kept(bench, run, args.simulated)
    except Running as error:
        raise OSError(f"{error}{_whose(run)}") from None
    with kept, _ended_by_hand():
        return _accept(kept, home(args.home) / "acceptance", args.simulated)


@contextlib.contextmanager
def _ended_by_hand() -> Iterator[None]:
    """A ^C ends it in good order, also where it was started with `&` or nohup, which has a ^C ignored; so does whoever
    tells it to stop."""
    before = {number: signal.signal(number, signal.default_int_handler) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler or signal.SIG_DFL)


def _whose(run: Path) -> str:
    """What to say beside a run folder that is taken: the service's, or another user's."""
    try:
        owner = run.owner()
    except (OSError, KeyError):
        return ""
    if run.stat().st_uid == os.geteuid():
        return " (the service: sudo systemctl stop timerd)"
    return f", or do this as its user: sudo -u {owner} timerd bench test"


def _accept(kept: Kept, folder: Path, simulated: bool) -> int:
    """Go through the course; the sheet is written anew after every item."""
    now = datetime.now()
    path = new_sheet(folder, kept.bench.bench, now)
    print(CAUTION)
    print(f"bench '{kept.bench.bench}', {'SIMULATED lines' if simulated else 'real lines'}, keeper {kept.scheduling}")
    if kept.found_down:
        print(f"mind: {', '.join(kept.found_down)} was down already")
    done: list[Item] = []
    ended = WHOLE
    try:
        for item in Course(kept, _say).items():
            done.append(item)
            print(f"  {item.result if item.result == 'passed' else item.result.upper()}", flush=True)
            put(path, sheet(kept, now, done, f"NOT {WHOLE}"))
    except (NobodyThere, OSError) as error:
        ended = f"ended early: {one_line(error)}"
    except KeyboardInterrupt:
        ended = "ended early, by hand"
    put(path, sheet(kept, now, done, ended))
    others = [item for item in done if item.result != "passed"]
    for item in others:
        print(f"{item.result}: {item.what}: {safe(item.found)}")
    print(f"{ended}: {len(done) - len(others)} of {len(done)} passed; the sheet: {shown_path(path)}")
    return 0 if ended == WHOLE and not others else 1


def _say(words: str) -> None:
    print(safe(words), flush=True)


def _counted(levels: list[Any]) -> list[str]:
    words = {"wrong": "wrong", "mind": "to mind", "right": "right"}
    return [f"{levels.count(level)} {words[level]}" for level in words]


def _served(args: argparse.Namespace) -> tuple[Status | None, str | None, Bench | None]:
    """How the daemon that serves here stands, why it does not tell, and its bench."""
    run = run_folder(args.home)
    try:
        status = told(ask_status(run, AskStatus(), ANSWERS_WITHIN_S))
        served = ask(run, AskBench(), ANSWERS_WITHIN_S)
        bench = Bench.model_validate(served.bench) if isinstance(served, BenchTold) else None
    except ControlError as error:
        return None, None if isinstance(error, NoDaemon) else str(error), None
    except FileNotFoundError:
        return None, None, None
    except (OSError, ValueError) as error:
        return None, one_line(error), None
    return status, None, bench


def _means() -> PanelMeans:
    try:
        from timerd.panel.means import means
    except ImportError as error:
        return PanelMeans(None, (), None, str(error))
    return PanelMeans(*means())
