"""The manual, a topic a page, as plain text; and each command's own help."""

from __future__ import annotations

import argparse
import pydoc
import re
import sys
import textwrap
from collections.abc import Sequence
from importlib.resources import files
from itertools import zip_longest

from timerd.cli import parser
from timerd.cli.parsing import Add
from timerd.cli.table import SUBJECTS, TOPICS
from timerd.sheet.columns import columns
from timerd.sheet.profile.faults import did_you_mean, shown

WIDTH = 100
_NOT_SHOWN = re.compile(r"^<!--.*?-->\n|^```\w*\n", re.M)
_MARKS = re.compile(r"\*\*|(?<!`)`(?!`)")
_TABLE = re.compile(r"(?:^\|.*\|\n)+", re.M)
_LINK = re.compile(r"\[([^\]]+)\]\(([^)]+)\)")


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    help_ = add("help", _help)
    help_.add_argument("about", metavar="TOPIC", nargs="*", help="a topic, or a command; without one, what there is")


def _help(args: argparse.Namespace) -> int:
    about = " ".join(args.about)
    if not about:
        print(contents())
    elif about in TOPICS:
        text = topic(about)
        pydoc.pager(text) if sys.stdout.isatty() else print(text, end="")
    else:
        names = {one.name for group in SUBJECTS.values() for one in group}
        if args.about[0] not in names:
            raise LookupError(f"there is no help about {shown(about)}{did_you_mean(about, [*TOPICS, *names])}")
        parser().parse_args([*args.about, "--help"])
    return 0


def topic(name: str) -> str:
    """A page of the manual as it reads on a terminal.

    >>> topic("pedals").splitlines()[0]
    'The pedals'
    """
    text = (files("timerd") / "manual" / f"{name}.md").read_text(encoding="utf-8")
    text = _LINK.sub(r"\1 (\2)", _MARKS.sub("", _NOT_SHOWN.sub("", text)))
    return _TABLE.sub(_table, re.sub(r"^#+ ", "", text, flags=re.M))


def _table(found: re.Match[str]) -> str:
    """A table in columns no wider than a page: the widest give way, and their cells go over several lines."""
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in found[0].splitlines()]
    rows = [row for row in rows if any(cell.strip("-") for cell in row)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    while sum(widths) + 2 * (len(widths) - 1) > WIDTH:
        widths[widths.index(max(widths))] -= 1
    lines: list[Sequence[str]] = []
    for row in rows:
        cells = [textwrap.wrap(cell, width, break_on_hyphens=False) for cell, width in zip(row, widths, strict=True)]
        lines += zip_longest(*cells, fillvalue="")
    return "\n".join(columns(lines, "<")) + "\n"


def contents() -> str:
    """What there is to read: the topics, then the commands by subject."""
    width = max(map(len, TOPICS))
    lines = ["Read about one of these with  timerd help TOPIC:", ""]
    lines += [f"  {name.ljust(width)}  {text}" for name, text in TOPICS.items()]
    lines += ["", "Commands, by what they are for; each has its own help:  timerd COMMAND --help"]
    for subject, group in SUBJECTS.items():
        names = f"{subject}: {', '.join(one.name for one in group)}"
        lines += [
            "",
            *textwrap.wrap(names, WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False),
        ]
    return "\n".join(lines)
