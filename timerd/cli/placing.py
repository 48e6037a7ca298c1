"""How commands put files in place: read back by the strict loader first, never over another file unless told."""

from __future__ import annotations

import argparse
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from timerd.cli.files import read_file, shown_path
from timerd.desk.keeping import edited, write_new
from timerd.places import read_bytes, shipped
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import Print
from timerd.sheet.profile.reading import Profile, read


def out_options(sub: argparse.ArgumentParser, what: str) -> None:
    """The options of a command that writes a file."""
    sub.add_argument("--out", metavar="FILE", help=what)
    sub.add_argument("--force", action="store_true", help="write over the file that is there")


def place_new(text: str, kind: str, out: str, force: bool) -> str:
    """Write a new profile; its path as it is shown. Nothing is written where the strict loader finds a fault."""
    path = Path(out)
    read(text.encode(), shown_path(path), kind)
    write_new(path, text, force)
    return shown_path(path)


def changed_text(path: Path, changes: Mapping[Any, object]) -> str:
    """A file's text with some places changed; ValueError names the file."""
    try:
        return edited(read_bytes(path).decode(), changes)
    except ValueError as error:
        raise ValueError(f"{shown_path(path)}: {error}") from None


def planned(
    text: str, what: str, bench: Profile[Bench], paper: Profile[Paper], why_not: str
) -> tuple[Profile[Print], Plan]:  # fmt: skip
    """A new print, called `what` in messages, and its plan; ValueError with a line for each fault where it has any."""
    try:
        made = read(text.encode(), what, "print")
        return made, make_plan(made, bench, paper)
    except ProfileError as error:
        raise ValueError("\n".join(f"{why_not}: {fault}" for fault in error.faults)) from None


def change(path: Path, kind: str, changes: Mapping[Any, object], out: str | None, force: bool) -> str:
    """Change some places of a profile, in its own file or, with `out`, in a new one; the path as it is shown.

    A profile that came with timerd is not written to: ValueError.
    """
    read_file(kind, path)
    target = Path(os.path.realpath(path)) if out is None else Path(out)  # a profile may be kept behind a link
    if out is None and path.resolve().is_relative_to(shipped().resolve()):
        raise ValueError(
            f"{shown_path(path)}: lies among the profiles that come with timerd: say --out FILE, or copy it first"
        )
    text = changed_text(path, changes)
    read(text.encode(), shown_path(target), kind)
    write_new(target, text, force=force or out is None)
    return shown_path(path if out is None else target)
