"""The commands, and the only place that prints. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd import __version__

if TYPE_CHECKING:
    from timerd.sheet.plan.value import Plan
    from timerd.sheet.profile.benchfile import Bench


def main(argv: list[str] | None = None) -> int:
    """Run one command; what is wrong is said in one line each on standard error, and the exit status is not 0."""
    args = _parser().parse_args(argv)
    try:
        command: Callable[[argparse.Namespace], int] = args.command
        return command(args)
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except (ValueError, LookupError, OSError) as error:
        print(_one_line(error), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="timerd", description="Works a print's exposures out and steps through them, hands free."
    )
    parser.add_argument("--version", action="version", version=f"timerd {__version__}")
    parser.add_argument("--home", metavar="DIR", help="where your own profiles and the book lie")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def add(name: str, command: Callable[[argparse.Namespace], int], text: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        sub.set_defaults(command=command)
        return sub

    demo = add("demo", _demo, "play two sheets of a print on the simulated bench, and draw what happened")
    demo.add_argument("--out", metavar="DIR", default="timerd-demo", help="where the picture goes (%(default)s)")

    check = add("check", _check, "say all that is wrong with print, bench, paper, bath and feet files")
    check.add_argument("files", metavar="FILE", nargs="+")
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
    return parser


# -- commands ----------------------------------------------------------------------------------------------------


def _check(args: argparse.Namespace) -> int:
    from timerd.sheet.profile.faults import ProfileError

    faults: list[dict[str, Any]] = []
    for file in args.files:
        try:
            kind = _check_one(Path(file), args)
        except ProfileError as error:
            for fault in error.faults:
                faults.append({
                    "file": fault.file, "line": fault.line, "place": fault.place, "message": fault.message,
                })  # fmt: skip
                if not args.json:
                    print(fault)
        except (OSError, LookupError) as error:
            faults.append({"file": file, "line": None, "place": "", "message": _one_line(error)})
            if not args.json:
                print(_one_line(error))
        else:
            if not args.json:
                print(f"{_safe(file)}: {kind}, nothing wrong")
    if args.json:
        print(json.dumps({"faults": faults}, indent=2))
    return 1 if faults else 0


def _check_one(path: Path, args: argparse.Namespace) -> str:
    """Read one file; a print is worked out too, with its bench and paper, so that faults between files are found."""
    from timerd.places import read_bytes
    from timerd.sheet.profile.printfile import Print
    from timerd.sheet.profile.reading import read

    profile = read(read_bytes(path), str(path))
    if isinstance(profile.value, Print):
        _planned(path, args)
    return profile.kind


def _plan(args: argparse.Namespace) -> int:
    from timerd.sheet.plan.view import plan_facts, plan_table

    plan, _ = _plan_of(args.print, args)
    print(json.dumps(plan_facts(plan), indent=2) if args.json else plan_table(plan))
    return 0


def _rehearse(args: argparse.Namespace) -> int:
    from timerd.bench.rehearsal import rehearse
    from timerd.sheet.account import sheet_table, timeline

    plan, bench = _plan_of(args.print, args)
    rehearsed = rehearse(plan, bench, _read("feet", args.feet, args))
    if args.json:
        print(json.dumps(rehearsed.as_json(), indent=2))
        return 0
    print(timeline(plan, rehearsed.records))
    for sheet in rehearsed.progress.sheets.values():
        print()
        print(sheet_table(plan, sheet))
    return 0


def _demo(args: argparse.Namespace) -> int:
    from timerd.bench.rehearsal import rehearse
    from timerd.sheet.account import sheet_table, timeline

    plan, bench = _plan_of("breakwater", args)
    feet = _read("feet", "breakwater", args)
    rehearsed = rehearse(plan, bench, feet)
    minutes, seconds = divmod(rehearsed.seconds, 60)
    print(f"{plan.print}: {feet.value.sheets} sheets of {len(plan.steps)} steps on the simulated bench '{plan.bench}',")
    print(f"{minutes:.0f} min {seconds:.0f} s of darkroom in virtual time. No lamp is switched.")
    print()
    print(timeline(plan, rehearsed.records))
    for sheet in rehearsed.progress.sheets.values():
        print()
        print(sheet_table(plan, sheet))
    print()
    try:
        from timerd.desk.timeline import draw
    except ImportError as error:
        print(f"No picture: {error.name} is not installed. To get it: pip install 'timerd[desk]'")
        return 0
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    picture = out / "timeline.png"
    draw(plan, rehearsed.edges, rehearsed.records, picture)
    print(f"The timeline as a picture: {picture}")
    return 0


def _schema(args: argparse.Namespace) -> int:
    from timerd.sheet.profile.schema import schema

    print(json.dumps(schema(args.kind), indent=2))
    return 0


# -- files -------------------------------------------------------------------------------------------------------


def _read(kind: str, name: str, args: argparse.Namespace, beside: Path | None = None) -> Any:
    """A profile by name or, as typed by the user, by its file. Its name in messages is as short as can be."""
    from timerd.places import find, home

    return _read_file(kind, find(kind, name, beside, home(args.home)))


def _read_file(kind: str, path: Path) -> Any:
    from timerd.places import read_bytes
    from timerd.sheet.profile.reading import read

    return read(read_bytes(path), _shown(path), kind)


def _plan_of(name: str, args: argparse.Namespace) -> tuple[Plan, Bench]:
    """A print's plan with its bench and paper, each sought beside the print, at home and among the shipped ones."""
    from timerd.places import find, home

    return _planned(find("print", name, None, home(args.home)), args)


def _planned(path: Path, args: argparse.Namespace) -> tuple[Plan, Bench]:
    from timerd.sheet.plan.making import make_plan
    from timerd.sheet.profile.faults import ProfileError

    print_ = _read_file("print", path)
    parts: dict[str, Any] = {}
    faults = []
    for kind in ("bench", "paper"):
        try:
            parts[kind] = _read(kind, getattr(print_.value, kind), args, beside=path.parent)
        except LookupError as error:
            faults.append(print_.fault((kind,), _one_line(error)))
        except ProfileError as error:
            faults += error.faults
    if faults:
        raise ProfileError(faults)
    return make_plan(print_, parts["bench"], parts["paper"]), parts["bench"].value


def _shown(path: Path) -> str:
    """A path below the current folder is shown from there."""
    try:
        return str(path.resolve().relative_to(Path.cwd()))
    except (ValueError, OSError):
        return str(path)


def _one_line(error: BaseException) -> str:
    """An error's own words; ProfileError has a line for each fault, any other has one."""
    from timerd.sheet.profile.faults import ProfileError

    if isinstance(error, ProfileError):
        return str(error)
    if isinstance(error, OSError) and error.strerror and error.filename is not None:
        return _safe(f"{error.filename}: {error.strerror}")
    text = error.args[0] if error.args else type(error).__name__
    return _safe(str(text))


def _safe(text: str) -> str:
    """Without anything that a terminal would obey."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


if __name__ == "__main__":
    sys.exit(main())
