"""What commands share: profiles by name or file, a print worked out, and an error in one line."""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from timerd.cli.oneline import one_line
from timerd.places import find, home, read_bytes
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.onbench import missing_on
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import FileFault, ProfileError
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import Print
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.safe import safe as safe
from timerd.wire.control import SentFile


@dataclass(frozen=True)
class Worked:
    """A print worked out: its file, the profiles that it names with where they lie, and the plan they make."""

    path: Path
    print: Profile[Print]
    bench: Profile[Bench]
    paper: Profile[Paper]
    bath: Profile[BathLine] | None
    named: dict[str, Path]
    plan: Plan


def read_profile(kind: str, name: str, args: argparse.Namespace, folder: Path | None = None) -> Any:
    """A profile by name or, as typed by the user, by its file. `folder` is that of the file that names it."""
    return read_file(kind, find(kind, name, folder, home(args.home)))


def read_file(kind: str, path: Path) -> Any:
    """A profile from its file, whose name in messages is as short as can be."""
    return read(read_bytes(path), shown_path(path), kind)


def print_path(name: str, args: argparse.Namespace) -> Path:
    """The file of a print that was typed by name or as a file."""
    return find("print", name, None, home(args.home))


def worked(name: str, args: argparse.Namespace, by_step: bool = False) -> Worked:
    """A print by name or file, worked out with what it names: sought beside it, at home and among the shipped."""
    return worked_file(print_path(name, args), args, by_step)


def worked_file(path: Path, args: argparse.Namespace, by_step: bool = False) -> Worked:
    """The same, of a file. ProfileError tells all that can be told: of a print with faults, what it names too."""
    faults: list[FileFault] = []
    try:
        print_ = read_file("print", path)
    except ProfileError as error:
        if error.usable is None:
            raise
        print_, faults = error.usable, error.faults
    parts: dict[str, Any] = {"bath": None}
    named: dict[str, Path] = {}
    own = bool(faults)
    for kind, name, place in _named(print_.value):
        try:
            named[kind] = find_named(kind, name, path, args)
            parts[kind] = read_file(kind, named[kind])
        except LookupError as error:
            faults.append(print_.fault(place, one_line(error)))
        except ProfileError as error:
            faults += error.faults
    if own and "bench" in parts:
        faults += [print_.fault(place, said) for place, said in missing_on(parts["bench"].value, print_.value)]
    if faults:
        raise ProfileError(faults, more=True)
    plan = make_plan(print_, parts["bench"], parts["paper"], by_step, parts["bath"])
    return Worked(path, print_, **parts, named=named, plan=plan)


def find_named(kind: str, name: str, print_: Path, args: argparse.Namespace) -> Path:
    """The file of a profile that a print's file names."""
    return find(kind, name, print_.absolute().parent, home(args.home))


def _named(print_: Print) -> list[tuple[str, str, tuple[str | int, ...]]]:
    """The files that a print names: of which kind, by which name, and where in it; as far as it could be read."""
    last = len(print_.steps or ()) - 1
    line = getattr(print_.steps[last], "develop", None) if last >= 0 else None
    named: list[tuple[str, Any, tuple[str | int, ...]]] = [
        ("bench", print_.bench, ("bench",)),
        ("paper", print_.paper, ("paper",)),
        ("bath", line, ("steps", last, "develop")),
    ]
    return [one for one in named if one[1] is not None]


def files_to_load(made: Worked) -> dict[str, SentFile]:
    """A print's file, its paper's and its bath line's, as the daemon wants them; the bench is the daemon's own."""
    found = {"print": made.path, **{kind: path for kind, path in made.named.items() if kind != "bench"}}
    return {what: SentFile(shown_path(file), read_bytes(file).decode("utf-8")) for what, file in found.items()}


def shown_path(path: Path) -> str:
    """A path below the current folder is shown from there, but whole where that is the root, as a service's is."""
    try:
        here = Path.cwd()
        return str(path.resolve().relative_to(here)) if here != Path("/") else str(path)
    except (ValueError, OSError):
        return str(path)
