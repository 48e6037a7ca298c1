"""A request to load a print, read, checked and worked out again: the daemon takes nobody's word for a plan. Pure."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile, read

MOST_SHEETS = 1000


def loading(request: dict[str, Any], bench: Profile[Bench]) -> tuple[Plan, int]:
    """The plan of the print in a request and how many sheets of it; ValueError with all that is wrong, a line each."""
    sheets = request.get("sheets", 1)
    if not isinstance(sheets, int) or isinstance(sheets, bool) or not 1 <= sheets <= MOST_SHEETS:
        raise ValueError(f"sheets: must be a whole number from 1 to {MOST_SHEETS}")
    print_ = read(*_file(request, "print"), "print")
    paper = read(*_file(request, "paper"), "paper")
    if print_.value.bench != bench.value.bench:
        raise ValueError(f"the print is for the bench '{print_.value.bench}'; served is '{bench.value.bench}'")
    if print_.value.paper not in (paper.value.paper, PurePath(paper.file).stem):  # a paper goes by its file's name
        raise ValueError(f"the print is on the paper '{print_.value.paper}'; sent with it is '{paper.value.paper}'")
    baths = read(*_file(request, "bath"), "bath") if "bath" in request else None
    named = getattr(print_.value.steps[-1], "develop", None)
    if baths is not None and named not in (baths.value.bath, PurePath(baths.file).stem):
        raise ValueError(f"the print goes into the baths '{named}'; sent with it is '{baths.value.bath}'")
    return make_plan(print_, bench, paper, baths=baths), sheets


def _file(request: dict[str, Any], what: str) -> tuple[bytes, str]:
    """A profile's text, and the name to give it in messages, made fit to be shown."""
    file = request.get(what)
    text, name = (file.get("text"), file.get("name")) if isinstance(file, dict) else (None, None)
    if not isinstance(text, str) or not isinstance(name, str):
        raise ValueError(f"load: needs {what}: {{name, text}}")
    shown = "".join(c for c in name[:200] if c.isprintable())
    return text.encode("utf-8", "replace"), shown or what
