"""Which sheets a command is about, and times as they are typed and shown: the clock of whoever reads."""

from __future__ import annotations

import argparse
import time
from datetime import datetime

from timerd.book.listing import Selection
from timerd.sheet.safe import safe

UNKNOWN = "not known"


def selection_options(sub: argparse.ArgumentParser) -> None:
    """The options that choose among the sheets of the book."""
    sub.add_argument("--print", metavar="P", help="only sheets of this print: its name, a part of it, or its file")
    sub.add_argument("--since", metavar="D", help="only sheets armed since: 2026-03-01, or 2026-03-01T20:30")


def selection_of(args: argparse.Namespace) -> Selection:
    """The sheets that were asked for. A print named by a file goes by the name that stands in it."""
    names: tuple[str, ...] = ()
    if args.print is not None:
        from timerd.cli.files import print_path, read_file  # a print by its file alone needs what reads files

        try:
            path = print_path(args.print, args)
        except LookupError:
            path = None  # a part of a name, then
        if path is not None:
            names = (read_file("print", path).value.print,)
    return Selection(args.print, names, since(args.since))


def since(text: str | None) -> float | None:
    """A day, or a day and a time, in this machine's own time zone unless it names another; in Unix seconds."""
    if text is None:
        return None
    try:
        return datetime.fromisoformat(text.strip()).timestamp()
    except (ValueError, OverflowError):
        raise ValueError(f"--since: write 2026-03-01 or 2026-03-01T20:30; found {safe(text[:40])!r}") from None


def clock(wall: float | None, beside: float | None = None) -> str:
    """A time in this machine's time zone; only of the day where that is the day of `beside`."""
    if wall is None:
        return UNKNOWN
    local = time.localtime(wall)
    same = beside is not None and time.localtime(beside)[:3] == local[:3]
    return time.strftime("%H:%M:%S" if same else "%Y-%m-%d %H:%M:%S", local)


def no_sheet(number: int, there: list[int]) -> LookupError:
    """That there is no sheet of this number, and which there are."""
    known = f"there are {there[0]} to {there[-1]}" if there else "there is none yet"
    return LookupError(f"there is no sheet {number} in the book: {known}")
