"""What any program may ask at the socket, as JSON: what it sends is its own affair."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from timerd.control import ControlError, Link
from timerd.wire.control import No


def ask(run: Path, request: dict[str, Any], timeout: float = 10.0) -> dict[str, Any]:
    """One request and its answer. Raises ControlError where that is no."""
    link = Link(run, timeout)
    with link._socket as end:
        end.sendall(json.dumps(request).encode() + b"\n")
        answer: dict[str, Any] = json.loads(end.makefile("rb").readline())
    if not answer["ok"]:
        raise ControlError(No(answer["code"]), answer["why"])
    return answer
