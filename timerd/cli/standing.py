"""How the bench stands, as the daemon answers."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from timerd.wire.control import Request

if TYPE_CHECKING:
    from timerd.sheet.status import Status


def stands(args: argparse.Namespace, request: Request) -> Status:
    """The status that the daemon answers a request with. Raises ControlError, and ValueError where it is none that
    this version knows."""
    from timerd.control import ask_status
    from timerd.places import run_folder

    return told(ask_status(run_folder(args.home), request))


def told(answer: Mapping[str, Any]) -> Status:
    """A status as it came over the socket."""
    from timerd.sheet.status import status_of

    try:
        return status_of(answer)
    except ValueError as error:
        raise ValueError(
            f"the daemon tells what this command does not know ({error}): are both of one version?"
        ) from None
