"""How the bench stands, as the daemon answers."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import Any

from timerd.control import ask_status
from timerd.places import run_folder
from timerd.sheet.status import Status, status_of
from timerd.wire.control import Request


def stands(args: argparse.Namespace, request: Request) -> Status:
    """The status that the daemon answers a request with. Raises ControlError, and ValueError where it is none that
    this version knows."""
    return told(ask_status(run_folder(args.home), request))


def told(answer: Mapping[str, Any]) -> Status:
    """A status as it came over the socket."""
    try:
        return status_of(answer)
    except ValueError as error:
        raise ValueError(
            f"the daemon tells what this command does not know ({error}): are both of one version?"
        ) from None
