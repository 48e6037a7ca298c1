"""The commands with lights on: check files, work a print out, rehearse it."""

from __future__ import annotations

import argparse
import json
from contextlib import suppress
from pathlib import Path
from typing import Any

from timerd.bench.rehearsal import Unplayed, rehearse
from timerd.cli.files import read_profile, worked, worked_file
from timerd.cli.oneline import one_line
from timerd.cli.parsing import Add
from timerd.places import FOLDERS, find, home, read_bytes
from timerd.sheet.account import sheet_table, timeline
from timerd.sheet.plan.view import plan_facts, plan_table
from timerd.sheet.profile.benchchecks import bench_minds
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.printfile import Print
from timerd.sheet.profile.reading import read
from timerd.sheet.profile.schema import schema
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    check = add("check", _check)
    check.add_argument("files", metavar="FILE", nargs="+", help="a file, or the name of a profile")
    check.add_argument("--json", action="store_true", help="faults as JSON")

    plan = add("plan", _plan)
    plan.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    plan.add_argument("--json", action="store_true", help="the plan as JSON")

    rehearse = add("rehearse", _rehearse)
    rehearse.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    rehearse.add_argument("--feet", metavar="FEET", required=True, help="the presses: a feet file, or its name")
    rehearse.add_argument("--json", action="store_true", help="edges, sheets and records as JSON")

    schema = add("schema", _schema)
    schema.add_argument("kind", choices=("print", "bench", "paper", "bath", "feet"))


def _check(args: argparse.Namespace) -> int:
    faults: list[dict[str, Any]] = []
    mind: list[str] = []
    more = False
    for file in (file for text in args.files for file in _meant(text, args)):
        try:
            kind, minds = _check_one(file, args)
        except ProfileError as error:
            for fault in error.faults:
                faults.append({
                    "file": fault.file, "line": fault.line, "place": fault.place, "message": fault.message,
                })  # fmt: skip
                if not args.json:
                    print(fault)
            if error.more:
                more = True
                if not args.json:
                    print(f"{safe(str(file))}: more may follow: mend these, then its files are held against each other")
        except (OSError, LookupError) as error:
            faults.append({"file": str(file), "line": None, "place": "", "message": one_line(error)})
            if not args.json:
                print(one_line(error))
        else:
            mind += minds
            if not args.json:
                print("\n".join([f"{safe(str(file))}: {kind}, nothing wrong", *(f"mind: {text}" for text in minds)]))
    if args.json:
        print(json.dumps({"faults": faults, "more_may_follow": more, "mind": mind}, indent=2))
    return 1 if faults else 0


def _meant(text: str, args: argparse.Namespace) -> list[Path]:
    """The files that a word means: a file by its path, else every profile of that name, of whatever kind."""
    if "/" in text or text.endswith((".yaml", ".yml")) or Path(text).exists():
        return [Path(text)]
    found = []
    for kind in FOLDERS:
        with suppress(LookupError):
            found.append(find(kind, text, None, home(args.home)))
    return found or [Path(text)]


def _check_one(path: Path, args: argparse.Namespace) -> tuple[str, list[str]]:
    """Read one file, and what to mind of it; a print is worked out too, with what it names, so that faults between
    files are found."""
    try:
        profile = read(read_bytes(path), str(path))
    except ProfileError as error:
        if isinstance(getattr(error.usable, "value", None), Print):
            worked_file(path, args)
        raise
    if isinstance(profile.value, Print):
        worked_file(path, args)
    minds = bench_minds(profile.value) if isinstance(profile.value, Bench) else ()
    return profile.kind, [str(profile.fault(place, said)) for place, said in minds]


def _plan(args: argparse.Namespace) -> int:
    plan = worked(args.print, args).plan
    print(json.dumps(plan_facts(plan), indent=2) if args.json else plan_table(plan))
    return 0


def _rehearse(args: argparse.Namespace) -> int:
    feet = read_profile("feet", args.feet, args)
    made = worked(args.print, args, feet.value.by_step)
    plan = made.plan
    try:
        rehearsed = rehearse(plan, made.bench.value, feet)
    except Unplayed as error:  # what was played until then shows why
        if not args.json:
            print(timeline(plan, error.so_far.records), flush=True)
        raise
    if args.json:
        print(json.dumps(rehearsed.as_json(), indent=2))
        return 0
    print(timeline(plan, rehearsed.records))
    for sheet in rehearsed.progress.sheets.values():
        print()
        print(sheet_table(plan, sheet))
    return 0


def _schema(args: argparse.Namespace) -> int:
    print(json.dumps(schema(args.kind), indent=2))
    return 0
