"""The commands, and the only place that prints. `table` has them all; the module of one is imported when it is used."""

from __future__ import annotations

import argparse
import io
import sys

from timerd import __version__
from timerd.cli.oneline import one_line
from timerd.cli.parsing import Parser, Run, put_on
from timerd.cli.table import ALL


def main(argv: list[str] | None = None) -> int:
    """Run one command; what is wrong is said in one line each on standard error, and the exit status is not 0."""
    args = parser().parse_args(argv)
    if isinstance(sys.stdout, io.TextIOWrapper):  # what the user's own encoding does not have is written out
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        run: Run = args.run
        return run(args)
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except (ValueError, LookupError, OSError) as error:
        print(one_line(error), file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        return 130


def parser() -> argparse.ArgumentParser:
    """All commands; each has its options when it is used."""
    top = Parser(prog="timerd", description=ALL.text)
    top.add_argument("--version", action="version", version=f"timerd {__version__}")
    top.add_argument("--home", metavar="DIR", help="where your own profiles and the book lie")
    put_on(top, ALL)
    return top
