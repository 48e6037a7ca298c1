"""The commands, and the only place that prints. Everything heavy is imported by the command that needs it."""

from __future__ import annotations

import argparse
import io
import sys

from timerd import __version__
from timerd.cli import (
    baths,
    bench,
    book,
    comparing,
    editions,
    enlarge,
    flashing,
    lamps,
    mapping,
    moving,
    nextsheet,
    orders,
    panel,
    paper,
    planning,
    proof,
    report,
    serving,
    sheets,
    speaking,
    strips,
    tones,
)
from timerd.cli.files import one_line
from timerd.cli.parsing import Command, Parser


def main(argv: list[str] | None = None) -> int:
    """Run one command; what is wrong is said in one line each on standard error, and the exit status is not 0."""
    args = parser().parse_args(argv)
    if isinstance(sys.stdout, io.TextIOWrapper):  # what the user's own encoding does not have is written out
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        command: Command = args.command
        return command(args)
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except (ValueError, LookupError, OSError) as error:
        print(one_line(error), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


def parser() -> argparse.ArgumentParser:
    """All commands with their options."""
    top = Parser(prog="timerd", description="Works a print's exposures out and steps through them, hands free.")
    top.add_argument("--version", action="version", version=f"timerd {__version__}")
    top.add_argument("--home", metavar="DIR", help="where your own profiles and the book lie")
    subs = top.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def add(name: str, command: Command, text: str) -> argparse.ArgumentParser:
        sub = subs.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        sub.set_defaults(command=command)
        return sub

    for subject in (
        planning, mapping, serving, bench, orders, panel, speaking, sheets, book, baths, nextsheet, comparing,
        editions, strips, lamps, enlarge, paper, tones, flashing, moving, proof, report,
    ):  # fmt: skip
        subject.commands(add)
    return top
