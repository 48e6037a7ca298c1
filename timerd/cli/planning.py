"""The commands with lights on: check files, work a print out, rehearse it, show a demo."""

from __future__ import annotations

import argparse
import json
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.cli.files import one_line, read_profile, safe, worked, worked_file
from timerd.cli.parsing import Add

if TYPE_CHECKING:
    from timerd.bench.rehearsal import Rehearsed
    from timerd.cli.files import Worked


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    demo = add("demo", _demo, "play two sheets of a print on the simulated bench, and draw what happened")
    demo.add_argument("--out", metavar="DIR", default="timerd-demo", help="where the picture goes (%(default)s)")
    demo.add_argument("--panel", action="store_true", help="in a window instead, in real time, with your own presses")

    check = add("check", _check, "say all that is wrong with print, bench, paper, bath and feet files")
    check.add_argument("files", metavar="FILE", nargs="+", help="a file, or the name of a profile")
    check.add_argument("--json", action="store_true", help="faults as JSON")

    plan = add("plan", _plan, "work a print out: every step with its dose, seconds and cues")
    plan.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    plan.add_argument("--json", action="store_true", help="the plan as JSON")

    rehearse = add("rehearse", _rehearse, "play a print on the simulated bench by scripted feet, in virtual time")
    rehearse.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    rehearse.add_argument("--feet", metavar="FEET", required=True, help="the presses: a feet file, or its name")
    rehearse.add_argument("--json", action="store_true", help="edges, sheets and records as JSON")

    schema = add("schema", _schema, "print the JSON schema of a kind of file, for editors")
    schema.add_argument("kind", choices=("print", "bench", "paper", "bath", "feet"))


def _check(args: argparse.Namespace) -> int:
    from timerd.sheet.profile.faults import ProfileError

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
    from timerd.places import FOLDERS, find, home

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
    from timerd.places import read_bytes
    from timerd.sheet.profile.benchchecks import bench_minds
    from timerd.sheet.profile.benchfile import Bench
    from timerd.sheet.profile.faults import ProfileError
    from timerd.sheet.profile.printfile import Print
    from timerd.sheet.profile.reading import read

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
    from timerd.sheet.plan.view import plan_facts, plan_table

    plan = worked(args.print, args).plan
    print(json.dumps(plan_facts(plan), indent=2) if args.json else plan_table(plan))
    return 0


def _rehearse(args: argparse.Namespace) -> int:
    from timerd.bench.rehearsal import Unplayed, rehearse
    from timerd.sheet.account import sheet_table, timeline

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


def _demo(args: argparse.Namespace) -> int:
    if args.panel:
        from timerd.cli.trial import trial

        return trial(args)
    from timerd.bench.rehearsal import rehearse
    from timerd.sheet.account import sheet_table, timeline

    made = worked("breakwater", args)
    plan = made.plan
    feet = read_profile("feet", "breakwater", args)
    rehearsed = rehearse(plan, made.bench.value, feet)
    minutes, seconds = divmod(rehearsed.seconds, 60)
    print(f"{plan.print}: {feet.value.sheets} sheets of {len(plan.steps)} steps on the simulated bench '{plan.bench}',")
    print(f"{minutes:.0f} min {seconds:.0f} s of darkroom in virtual time. No lamp is switched.")
    print()
    print(timeline(plan, rehearsed.records))
    for sheet in rehearsed.progress.sheets.values():
        print()
        print(sheet_table(plan, sheet))
    print()
    _demo_saved(rehearsed, made, args)
    return 0


def _demo_saved(rehearsed: Rehearsed, made: Worked, args: argparse.Namespace) -> None:
    """Save and name what the demo's sheets are told by: the timeline, and the proof and the report of the last one."""
    from timerd.cli.report import proved, put
    from timerd.desk.keeping import placed
    from timerd.desk.report.subject import Subject
    from timerd.sheet.history import Dated, history

    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    last = max(rehearsed.progress.sheets)
    plan = made.plan
    dated = [Dated(record, None) for record in rehearsed.records if record.sheet == last]
    paper, bench = made.paper.value, made.bench.value
    subject = proved(Subject(plan, history(plan, dated), dated, paper=paper, bench=bench))
    named = []
    try:
        from timerd.desk.timeline import draw
    except ImportError as error:
        print(f"No pictures: {error.name} is not installed. To get them: pip install 'timerd[desk]'")
    else:
        draw(plan, rehearsed.edges, rehearsed.records, out / "timeline.png")
        named.append(("The timeline as a picture", out / "timeline.png"))
    if subject.proof is not None:
        with placed(out / "proof.png", force=True) as file:
            subject.proof.write(file)
        named.append((f"The proof of sheet {last}, straight print and worked print", out / "proof.png"))
    named.append((f"The report of sheet {last}, for any browser", put(subject, out, f"sheet-{last}", force=True)))
    for what, path in named:
        print(f"{what}: {safe(str(path))}")


def _schema(args: argparse.Namespace) -> int:
    from timerd.sheet.profile.schema import schema

    print(json.dumps(schema(args.kind), indent=2))
    return 0
