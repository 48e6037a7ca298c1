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
from timerd.sheet.profile.reading import read


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
    try:
        text = edited(read_bytes(path).decode(), changes)
    except ValueError as error:
        raise ValueError(f"{shown_path(path)}: {error}") from None
    read(text.encode(), shown_path(target), kind)
    write_new(target, text, force=force or out is None)
    return shown_path(path if out is None else target)
