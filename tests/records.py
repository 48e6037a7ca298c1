"""Records as a test tells them: what a kind must say, and is of no matter there, is filled in."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from timerd.sheet.record import Record

_LEAST: dict[str, dict[str, Any]] = {
    "armed": {"steps": ()},
    "ready": {"owed": None},
    "show": {"light": "flash"},
    "lit": {"light": "green", "lit": 0.0, "seconds": 1.0, "most": 1.0},
    "dark": {"lit": 0.0, "dark": 0.0, "why": "deadline", "given": 0.0},
    "recovered": {"lit": None, "dark": None, "why": "power"},
    "refused": {"pedal": None, "why": "it is Sunday"},
    "ended": {"by": "dose"},
    "went": {"come_from": 1},
    "owed again": {"come_from": 1},
    "set aside": {"why": "asked"},
    "fault": {"why": "line not low"},
    "called off": {"why": None},
    "to trays": {"boxed": False},
    "out of the box": {"stack": ()},
    "line low": {"more": 0.0},
    "so far": {"seconds": 1.0},
    "loaded": {"print": "Low tide", "sheets": 1},
    "in bath": {
        "batch": 0,
        "celsius": 20.0,
        "planned_s": 60.0,
        "stack": (),
        "base": None,
        "eights": 1.0,
        "untold": None,
    },
    "viewing": {"lit": True},
    "safelight": {"lit": True},
}


def wrote(
    kind: str, at: float, sheet: int = 0, step: int = 0, burst: int = 0, facts: Mapping[str, Any] | None = None
) -> Record:
    """A record of this kind that says at least this."""
    return Record.read(kind, at, sheet, step, burst, {**_LEAST.get(kind, {}), **(facts or {})})
