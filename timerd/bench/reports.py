"""The keeper's reports as the engine's events."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.setup import STAY
from timerd.sheet.engine import events as ev

KEEPER_GONE = "keeper gone"
"""Why everything is dark when the keeper has died: told by the daemon, since the keeper cannot."""


def event_of(report: dict[str, Any]) -> ev.Event:
    """A keeper's report as the engine's event."""
    return _EVENTS[report["is"]](report)


_EVENTS: dict[str, Callable[[dict[str, Any]], ev.Event]] = {
    "pedal": lambda r: ev.Edge(r["pedal"], r["down"], r["at"], r["number"]),
    "found down": lambda r: ev.FoundDown(r["pedal"], r["at"]),
    "unplugged": lambda r: ev.Unplugged(r["pedal"], r["why"], r["at"]),
    "plugged in": lambda r: ev.PluggedIn(r["pedal"], r["at"]),
    "stay": lambda r: ev.LampTurned(r["line"].removeprefix(STAY), r["on"], r["at"]),
    "lit": lambda r: ev.Lit(r["burst"], r["at"]),
    "dark": lambda r: ev.Dark(r["burst"], r["at"], r["why"], r.get("lo")),
    "refused": lambda r: ev.Refused(r["burst"], r["why"], r["at"]),
    "fault": lambda r: ev.Fault(r["why"], r["at"]),
    "low": lambda r: ev.Low(r["at"]),
    "rest": lambda r: ev.Rest(r["low"], r["at"]),
    SAFELIGHT: lambda r: ev.SafelightEdge(r["lit"], r["at"]),
}
