"""Requests checked: a print to load, worked out again (the daemon takes nobody's word for a plan), or a sheet of the
daemon's own book to be repeated; an order.
"""

from __future__ import annotations

from pathlib import Path, PurePath
from typing import Any

from timerd.book.reading import Reader
from timerd.sheet.engine.events import ORDERS, Told
from timerd.sheet.plan.boxes import from_box, opened
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.repeating import repeated

MOST_SHEETS = 1000
MOST_N = 1_000_000


def to_load(request: dict[str, Any], bench: Profile[Bench], home: Path) -> tuple[Plan, int]:
    """A print, or a sheet of the book in `home`, as a request wants; ValueError or OSError with what is wrong.

    Where the book's last sheet on its paper was from another box, the first one's start prompt asks for the new box.
    """
    if "repeat" in request:
        return repeating(request, bench, home)
    plan, sheets = loading(request, bench)
    if plan.box is None and plan.batch is None:
        return plan, sheets
    reader = Reader(home)
    try:
        return from_box(plan, opened(plan, reader.last_on(plan.paper))), sheets
    finally:
        reader.close()


def loading(request: dict[str, Any], bench: Profile[Bench]) -> tuple[Plan, int]:
    """The plan of the print in a request and how many sheets of it; ValueError with all that is wrong, a line each."""
    sheets = _whole(request.get("sheets", 1), "sheets", MOST_SHEETS)
    by_step = request.get("by_step", False)
    if not isinstance(by_step, bool):
        raise ValueError("by_step: must be true or false")
    print_ = read(*file_of(request, "print"), "print")
    paper = read(*file_of(request, "paper"), "paper")
    if print_.value.bench != bench.value.bench:
        raise ValueError(f"the print is for the bench '{print_.value.bench}'; served is '{bench.value.bench}'")
    if print_.value.paper not in (paper.value.paper, PurePath(paper.file).stem):  # a paper goes by its file's name
        raise ValueError(f"the print is on the paper '{print_.value.paper}'; sent with it is '{paper.value.paper}'")
    baths = read(*file_of(request, "bath"), "bath") if "bath" in request else None
    named = getattr(print_.value.steps[-1], "develop", None)
    if baths is not None and named not in (baths.value.bath, PurePath(baths.file).stem):
        raise ValueError(f"the print goes into the baths '{named}'; sent with it is '{baths.value.bath}'")
    return make_plan(print_, bench, paper, by_step, baths), sheets


def order_of(request: dict[str, Any], at: float) -> Told:
    """What a request tells the engine to do, and of which step or sheet; ValueError where it is nothing known."""
    what, n = request.get("what"), request.get("n")
    if what not in ORDERS:
        raise ValueError(f"tell: needs what: one of {', '.join(ORDERS)}")
    if n is not None and (not isinstance(n, int) or isinstance(n, bool) or not 1 <= n <= MOST_N):
        raise ValueError(f"n: must be a whole number from 1 to {MOST_N}")
    if n is None and what in ("step", "owe"):
        raise ValueError(f"{what}: needs n: which step?")
    return Told(what, at, n)


def repeating(request: dict[str, Any], bench: Profile[Bench], home: Path) -> tuple[Plan, int]:
    """The plan that gives once more what the sheet in a request was given, as the book in `home` has it, and how many
    sheets of it; ValueError or BookError with what is wrong."""
    sheets = _whole(request.get("sheets", 1), "sheets", MOST_SHEETS)
    number = _whole(request["repeat"], "repeat", MOST_N)
    reader = Reader(home)
    try:
        sheet, plan = reader.sheet(number), reader.plan(number)
    finally:
        reader.close()
    if sheet is None or plan is None:
        raise ValueError(f"there is no sheet {number} in the book")
    return repeated(plan, sheet, bench.value), sheets


def _whole(value: object, key: str, most: int) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 1 <= value <= most:
        raise ValueError(f"{key}: must be a whole number from 1 to {most}")
    return value


def file_of(request: dict[str, Any], what: str) -> tuple[bytes, str]:
    """A profile's text, and the name to give it in messages, made fit to be shown."""
    file = request.get(what)
    text, name = (file.get("text"), file.get("name")) if isinstance(file, dict) else (None, None)
    if not isinstance(text, str) or not isinstance(name, str):
        raise ValueError(f"load: needs {what}: {{name, text}}")
    shown = "".join(c for c in name[:200] if c.isprintable())
    return text.encode("utf-8", "replace"), shown or what
