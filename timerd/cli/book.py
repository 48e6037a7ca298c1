"""The command `book`: its sheets carried out, a backup, a check, and what can be read of a damaged one."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from timerd.book.carrying import COLUMNS, FORMS, KEYS, export
from timerd.book.checking import MOST_FAULTS, check
from timerd.book.listing import listing
from timerd.book.reading import DamagedRecord, Reader
from timerd.book.rescue import RECORDS, rescue
from timerd.book.store import NAME
from timerd.cli.oneline import one_line
from timerd.cli.parsing import Add
from timerd.cli.selecting import selection_of, selection_options
from timerd.places import home
from timerd.sheet.history import History
from timerd.sheet.safe import safe

_TOLD_EVERY = 500
_MOST_TOLD = 20


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    export = add("export", _export)
    export.add_argument("file", metavar="FILE", help="its name ends in .csv or .jsonl")
    selection_options(export)
    export.add_argument("--only", metavar="N,N-N", help="only these sheets, as in 3,7-12")
    add("columns", _columns)
    add("backup", _backup).add_argument("file", metavar="FILE", help="the copy")
    add("check", _check)
    rescue = add("rescue", _rescue)
    rescue.add_argument("--out", metavar="DIR", required=True, help="a new folder for what is found")
    rescue.add_argument("file", metavar="FILE", nargs="?", help="the damaged book; else the one at home")


def _export(args: argparse.Namespace) -> int:
    path = Path(args.file)
    if path.suffix not in FORMS:
        raise ValueError(f"{safe(args.file)}: its name must end in {' or '.join(FORMS)}, to say what to write")
    only = None if args.only is None else _numbers(args.only)
    reader = Reader(home(args.home))
    rows = [row.sheet for row in listing(reader, selection_of(args)) if only is None or row.sheet in only]
    damaged: list[str] = []
    export(_histories(reader, rows, damaged), path)
    print(f"{safe(str(path))}: {_sheets(len(rows) - len(damaged))}")
    for words in damaged:
        print(f"not in it: {words}", file=sys.stderr)
    return 1 if damaged else 0


def _columns(args: argparse.Namespace) -> int:
    for heading, names in ((".csv: a header, then a line a step", COLUMNS), (".jsonl: an object a sheet", KEYS)):
        print(heading)
        for name, what in names.items():
            print(f"  {name:<11} {what}")
    return 0


def _histories(reader: Reader, sheets: list[int], damaged: list[str]) -> Iterator[History]:
    """The history of each, with a word now and then to who waits; `damaged` gathers what is said of those without."""
    for done, sheet in enumerate(sheets, 1):
        try:
            found = reader.history(sheet)
        except DamagedRecord as error:
            damaged.append(one_line(error))
            found = None
        if found is not None:
            yield found
        _progress(done, len(sheets), "written")


def _progress(done: int, of: int, what: str) -> None:
    """How far it has come, in one line that is written over, where somebody looks."""
    if sys.stderr.isatty() and of > _TOLD_EVERY and (done % _TOLD_EVERY == 0 or done == of):
        print(f"\r{done:,} of {of:,} sheets {what}", end="\n" if done == of else "", file=sys.stderr, flush=True)


def _sheets(count: int) -> str:
    return f"{count:,} sheet{'' if count == 1 else 's'}"


def _numbers(text: str) -> set[int]:
    """Sheets as they are typed: 3,7-12."""
    found: set[int] = set()
    for part in text.split(","):
        match = re.fullmatch(r"\s*([0-9]{1,6})(?:-([0-9]{1,6}))?\s*", part, re.ASCII)
        if match is None or int(match[2] or match[1]) < int(match[1]):
            raise ValueError(f"--only: write numbers of sheets, as in 3,7-12; found {safe(text[:40])!r}")
        found.update(range(int(match[1]), int(match[2] or match[1]) + 1))
    return found


def _backup(args: argparse.Namespace) -> int:
    path = Path(args.file)
    Reader(home(args.home)).backup(path)
    print(
        f"{safe(str(path))}: {path.stat().st_size / 1000:,.0f} kB, looked through. As book.sqlite it is a book again."
    )
    return 0


def _check(args: argparse.Namespace) -> int:
    where = home(args.home)
    last = max(Reader(where).sheets(), default=0)
    checked = check(where, lambda sheet: _progress(sheet, last, "checked"))
    for fault in checked.faults:
        print(safe(fault))
    if len(checked.faults) >= MOST_FAULTS:
        print("and more: this is only the beginning")
    if checked.faults:
        print("keep the book as it is, and copy what can be read of it:  timerd book rescue --out DIR")
        return 1
    print(f"nothing wrong: {checked.records:,} records, {_sheets(checked.sheets)}")
    return 0


def _rescue(args: argparse.Namespace) -> int:
    path = Path(args.file) if args.file is not None else home(args.home) / NAME
    out = Path(args.out)
    found = rescue(path, out)
    shown = safe(str(out))
    print(
        f"{shown}/{RECORDS}: {found.records:,} records" + (f", {found.missing:,} are missing" if found.missing else "")
    )
    print(f"{shown}/{NAME}: a book of {_sheets(found.sound)}; read it with  timerd --home {shown} sheets")
    for damage in found.damaged[:_MOST_TOLD]:
        print(f"not in it: {safe(damage.words)}")
    if len(found.damaged) > _MOST_TOLD:
        print(f"not in it: {_sheets(len(found.unsound))} in all; of the others {safe(RECORDS)} has what was found")
    if found.unreadable:
        print(f"{found.unreadable} place{'s' if found.unreadable != 1 else ''} in the damaged file could not be read")
    print(f"{safe(str(path))} was not touched. Before you go on with the new book, read what is missing in it.")
    return 0
