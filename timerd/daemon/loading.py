"""Requests checked: a print to load, worked out again (the daemon takes nobody's word for a plan), or a sheet of the
daemon's own book to be repeated.
"""

from __future__ import annotations

import contextlib
from pathlib import Path, PurePath

from timerd.book.reading import Reader
from timerd.sheet.plan.boxes import from_box, opened
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.repeating import repeated
from timerd.wire.control import LoadAgain, LoadPrint, SentFile


def to_load(request: LoadPrint | LoadAgain, bench: Profile[Bench], home: Path) -> tuple[Plan, int]:
    """A print, or a sheet of the book in `home`, as a request wants; ValueError or OSError with what is wrong.

    Where the book's last sheet on its paper was from another box, the first one's start prompt asks for the new box.
    """
    if isinstance(request, LoadAgain):
        return repeating(request, bench, home)
    plan, sheets = loading(request, bench)
    if plan.box is None and plan.batch is None:
        return plan, sheets
    with contextlib.closing(Reader(home)) as reader:
        return from_box(plan, opened(plan, reader.last_on(plan.paper))), sheets


def loading(request: LoadPrint, bench: Profile[Bench]) -> tuple[Plan, int]:
    """The plan of the print in a request and how many sheets of it; ValueError with all that is wrong, a line each."""
    print_ = read(*text_of(request.print, "print"), "print")
    paper = read(*text_of(request.paper, "paper"), "paper")
    if print_.value.bench != bench.value.bench:
        raise ValueError(f"the print is for the bench '{print_.value.bench}'; served is '{bench.value.bench}'")
    if print_.value.paper not in (paper.value.paper, PurePath(paper.file).stem):  # a paper goes by its file's name
        raise ValueError(f"the print is on the paper '{print_.value.paper}'; sent with it is '{paper.value.paper}'")
    baths = read(*text_of(request.bath, "bath"), "bath") if request.bath is not None else None
    named = getattr(print_.value.steps[-1], "develop", None)
    if baths is not None and named not in (baths.value.bath, PurePath(baths.file).stem):
        raise ValueError(f"the print goes into the baths '{named}'; sent with it is '{baths.value.bath}'")
    return make_plan(print_, bench, paper, request.by_step, baths), request.sheets


def repeating(request: LoadAgain, bench: Profile[Bench], home: Path) -> tuple[Plan, int]:
    """The plan that gives once more what the sheet in a request was given, as the book in `home` has it, and how many
    sheets of it; ValueError or BookError with what is wrong."""
    number = request.repeat
    with contextlib.closing(Reader(home)) as reader:
        sheet, plan = reader.sheet(number), reader.plan(number)
    if sheet is None or plan is None:
        raise ValueError(f"there is no sheet {number} in the book")
    return repeated(plan, sheet, bench.value), request.sheets


def text_of(file: SentFile, what: str) -> tuple[bytes, str]:
    """A profile's text, and the name to give it in messages, made fit to be shown."""
    shown = "".join(c for c in file.name[:200] if c.isprintable())
    return file.text.encode("utf-8", "replace"), shown or what
