"""The report of a sheet or a print, as a page."""

from __future__ import annotations

import argparse
import contextlib
import re
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.book.reading import Reader
from timerd.cli.files import read_profile, worked
from timerd.cli.parsing import Add
from timerd.cli.proof import negative_of, scan_options
from timerd.cli.selecting import clock, no_sheet
from timerd.cli.values import desk, not_there
from timerd.desk.keeping import write_new
from timerd.desk.report.browser import browser, write_pdf
from timerd.desk.report.page import report_page
from timerd.desk.report.subject import Subject
from timerd.places import home
from timerd.sheet.plan.value import Plan
from timerd.sheet.safe import safe

if TYPE_CHECKING:
    from timerd.desk.proof.negative import Negative

_NOT_IN_A_NAME = re.compile(r"[^a-z0-9]+")
_NUMBER = re.compile(r"[0-9]{1,9}", re.ASCII)


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    report = add("report", _report)
    report.add_argument("what", metavar="N|PRINT", help="a sheet's number, or a print's name or file")
    report.add_argument("--out", metavar="DIR", required=True, help="the folder in which the page goes")
    scan_options(report)
    report.add_argument("--red", action="store_true", help="the page opens in red on black")
    report.add_argument("--force", action="store_true", help="write over a report that is there")


def _report(args: argparse.Namespace) -> int:
    if _NUMBER.fullmatch(args.what):
        subject, name = _of_sheet(int(args.what), args), f"sheet-{int(args.what)}"
    else:
        subject, name = _of_print(args.what, args), f"print-{_plain(args.what)}"
    out = Path(args.out)
    for end in (".html", ".pdf"):
        not_there(out / f"{name}{end}", args.force)
    with desk():
        scan = negative_of(args, subject.plan)
    page = put(proved(subject, scan), out, name, args.red, args.force)
    print(f"{safe(str(page))}: open it in any browser")
    found = browser()
    if found is None:
        print("no PDF: there is no browser here that makes one (Debian: chromium); print the page from any browser")
        return 0
    pdf = page.with_suffix(".pdf")
    write_pdf(page, pdf, found)
    print(f"{safe(str(pdf))}: the same on paper")
    return 0


def proved(subject: Subject, scan: Negative | None = None) -> Subject:
    """The subject with its proof, of a scan or of the invented scene, or with why there is none."""
    plan, paper, bench = subject.plan, subject.paper, subject.bench
    if paper is None or bench is None:
        missing = f"paper '{plan.paper}'" if paper is None else f"bench '{plan.bench}'"
        return replace(subject, no_proof=f"there is no file of {missing} here")
    try:
        from timerd.desk.proof.making import make_proof
        from timerd.desk.report.proofs import WIDTH

        sheet = subject.history.progress if subject.history is not None else None
        return replace(subject, proof=make_proof(plan, bench, paper, scan, sheet, width=WIDTH))
    except ImportError as error:
        return replace(subject, no_proof=f"{error.name} is not installed; to get it: pip install 'timerd[desk]'")
    except (LookupError, ValueError) as error:
        return replace(subject, no_proof=str(error.args[0]))


def put(subject: Subject, out: Path, name: str, red: bool = False, force: bool = False) -> Path:
    """Write a report's page into a folder, which is made where it is not there; the page's path."""
    text = report_page(subject, "red" if red else "light")
    out.mkdir(parents=True, exist_ok=True)
    page = out / f"{name}.html"
    write_new(page, text, force)
    return page


def _of_sheet(number: int, args: argparse.Namespace) -> Subject:
    with contextlib.closing(Reader(home(args.home))) as reader:
        history = reader.history(number)
        if history is None:
            raise no_sheet(number, reader.sheets())
        dated = tuple(reader.dated(number))
    noted = tuple(clock(note.wall) for note in history.notes)
    files = _files(history.plan, args)
    return Subject(history.plan, history, dated, clock(history.armed_wall), noted, **files)


def _of_print(what: str, args: argparse.Namespace) -> Subject:
    made = worked(what, args)
    return Subject(made.plan, paper=made.paper.value, bench=made.bench.value)


def _files(plan: Plan, args: argparse.Namespace) -> dict[str, Any]:
    """The files of a plan's paper and bench as they are now; None for one that is not found, or has a fault."""
    folder = home(args.home) / "profiles" / "prints"
    found: dict[str, Any] = {}
    for kind in ("paper", "bench"):
        try:
            found[kind] = read_profile(kind, getattr(plan, kind), args, folder=folder).value
        except (LookupError, ValueError, OSError):
            found[kind] = None
    return found


def _plain(what: str) -> str:
    """A file's name of a print's name or file, with nothing in it that a shell or another system would take amiss."""
    return _NOT_IN_A_NAME.sub("-", Path(what).stem.lower()).strip("-")[:80] or "unnamed"
