"""What commands share: profiles by name or file, a print worked out, and an error in one line."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.sheet.safe import safe as safe

if TYPE_CHECKING:
    from timerd.sheet.plan.value import Plan
    from timerd.sheet.profile.benchfile import Bench
    from timerd.sheet.profile.printfile import Print


def read_profile(kind: str, name: str, args: argparse.Namespace, beside: Path | None = None) -> Any:
    """A profile by name or, as typed by the user, by its file. Its name in messages is as short as can be."""
    from timerd.places import find, home

    return read_file(kind, find(kind, name, beside, home(args.home)))


def read_file(kind: str, path: Path) -> Any:
    from timerd.places import read_bytes
    from timerd.sheet.profile.reading import read

    return read(read_bytes(path), shown_path(path), kind)


def plan_of(name: str, args: argparse.Namespace, by_step: bool = False) -> tuple[Plan, Bench]:
    """A print's plan with its bench and paper, each sought beside the print, at home and among the shipped ones."""
    from timerd.places import find, home

    return planned(find("print", name, None, home(args.home)), args, by_step)


def planned(path: Path, args: argparse.Namespace, by_step: bool = False) -> tuple[Plan, Bench]:
    from timerd.sheet.plan.making import make_plan
    from timerd.sheet.profile.faults import ProfileError

    print_ = read_file("print", path)
    parts: dict[str, Any] = {"bath": None}
    faults = []
    for kind, name, place in _named(print_.value):
        try:
            parts[kind] = read_profile(kind, name, args, beside=path.parent)
        except LookupError as error:
            faults.append(print_.fault(place, one_line(error)))
        except ProfileError as error:
            faults += error.faults
    if faults:
        raise ProfileError(faults)
    return make_plan(print_, parts["bench"], parts["paper"], by_step, parts["bath"]), parts["bench"].value


def _named(print_: Print) -> list[tuple[str, str, tuple[str | int, ...]]]:
    """The files that a print names: of which kind, by which name, and where in it."""
    last = len(print_.steps) - 1
    line = getattr(print_.steps[last], "develop", None)
    named: list[tuple[str, str, tuple[str | int, ...]]] = [
        ("bench", print_.bench, ("bench",)), ("paper", print_.paper, ("paper",)),
    ]  # fmt: skip
    return named if line is None else [*named, ("bath", line, ("steps", last, "develop"))]


def files_of(name: str, args: argparse.Namespace, by_step: bool = False) -> tuple[dict[str, dict[str, str]], Plan]:
    """A print's file, its paper's and its bath line's, as the daemon wants them to load it, and the plan they make."""
    from timerd.places import find, home, read_bytes

    where = home(args.home)
    path = find("print", name, None, where)
    plan, _ = planned(path, args, by_step)
    found = {"print": path}
    for kind, named, _ in _named(read_file("print", path).value):
        if kind != "bench":  # that is the daemon's own
            found[kind] = find(kind, named, path, where)
    files = {what: {"name": shown_path(file), "text": read_bytes(file).decode("utf-8")} for what, file in found.items()}
    return files, plan


def shown_path(path: Path) -> str:
    """A path below the current folder is shown from there, but whole where that is the root, as a service's is."""
    try:
        here = Path.cwd()
        return str(path.resolve().relative_to(here)) if here != Path("/") else str(path)
    except (ValueError, OSError):
        return str(path)


def one_line(error: BaseException) -> str:
    """An error's own words; ProfileError has a line for each fault, any other has one."""
    from timerd.sheet.profile.faults import ProfileError

    if isinstance(error, ProfileError):
        return str(error)
    if isinstance(error, OSError) and error.strerror and error.filename is not None:
        return safe(f"{error.filename}: {error.strerror}")
    if isinstance(error, OSError) and error.strerror:
        return safe(error.strerror)
    text = error.args[0] if error.args else type(error).__name__
    return safe(str(text))
