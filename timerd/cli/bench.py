"""The commands around a bench as it is built: what is right on its computer, and its acceptance."""

from __future__ import annotations

import argparse
import json
import sys
from typing import TYPE_CHECKING, Any

from timerd.cli.files import one_line, read_profile, safe
from timerd.cli.parsing import Add

if TYPE_CHECKING:
    from timerd.daemon.selfcheck.answers import Means
    from timerd.sheet.profile.benchfile import Bench

ANSWERS_WITHIN_S = 2.0
NOBODY = "no timerd is serving here"


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    bench = add("bench", _check, "the bench as it is built: what is right on its computer, and its acceptance")
    subs = bench.add_subparsers(title="what to do", metavar="WHAT", required=True)

    text = "say what is right and wrong on this machine, and what to do; nothing is lit"
    check = subs.add_parser("check", help=text, description=text[0].upper() + text[1:] + ".")
    check.add_argument("--bench", metavar="BENCH", help="the bench, by name or file; else the one that is served")
    check.add_argument("--json", action="store_true", help="the findings as JSON")
    check.set_defaults(command=_check)


def _check(args: argparse.Namespace) -> int:
    from timerd.daemon.selfcheck.findings import findings
    from timerd.daemon.selfcheck.machine import ask_machine
    from timerd.places import home

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


def _counted(levels: list[Any]) -> list[str]:
    words = {"wrong": "wrong", "mind": "to mind", "right": "right"}
    return [f"{levels.count(level)} {words[level]}" for level in words]


def _served(args: argparse.Namespace) -> tuple[dict[str, Any] | None, str | None, Bench | None]:
    """How the daemon that serves here stands, why it does not tell, and its bench."""
    from timerd.control import ControlError, ask
    from timerd.places import run_folder
    from timerd.sheet.profile.benchfile import Bench

    run = run_folder(args.home)
    try:
        status = ask(run, {"do": "status"}, ANSWERS_WITHIN_S)
        bench = Bench.model_validate(ask(run, {"do": "bench"}, ANSWERS_WITHIN_S)["bench"])
    except ControlError as error:
        return None, None if NOBODY in str(error) else str(error), None
    except FileNotFoundError:
        return None, None, None
    except (OSError, ValueError) as error:
        return None, one_line(error), None
    return status, None, bench


def _means() -> Means:
    from timerd.daemon.selfcheck.answers import Means

    try:
        from timerd.panel.means import means
    except ImportError as error:
        return Means(None, (), None, str(error))
    return Means(*means())
