"""What a maintainer wants to know, told to standard error: under systemd that is the journal."""

from __future__ import annotations

import argparse
import logging

from timerd.sheet.safe import safe

LEVELS = ("debug", "info", "warning", "error")


def log_option(sub: argparse.ArgumentParser) -> None:
    """The option of a command that runs on."""
    sub.add_argument(
        "--log-level", choices=LEVELS, default="warning", metavar="LEVEL",
        help=f"what to tell on standard error while it runs: {', '.join(LEVELS)} (%(default)s)",
    )  # fmt: skip


def log_from(args: argparse.Namespace) -> None:
    """Tell it from this level on, a line each."""
    handler = logging.StreamHandler()
    handler.setFormatter(_Safe("%(levelname)s %(name)s: %(message)s"))
    logging.basicConfig(handlers=[handler], level=args.log_level.upper())


class _Safe(logging.Formatter):
    """No name that somebody wrote makes a terminal do anything."""

    def formatMessage(self, record: logging.LogRecord) -> str:
        return safe(super().formatMessage(record))
