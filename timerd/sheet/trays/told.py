"""A record of the wet side as text: for the timeline of an evening and for a sheet's own account."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

_LATE_S = 0.5


def record_words(kind: str, facts: Mapping[str, Any]) -> str | None:
    """What a record of the trays, the baths or the safelight says; None for what is said by another.

    >>> facts = {"bath": "fixer-1", "batch": 3, "celsius": 20.0, "planned_s": 60.0, "actual_s": 95.0, "late_s": 35.0}
    >>> record_words("out of bath", facts)
    'fixer-1, batch 3, 20 °C: 95.0 s of 60.0, 35.0 s late'
    """
    match kind:
        case "to trays":
            return "into its box, until all are developed together" if facts["boxed"] else "to the trays"
        case "out of the box":
            return "out of its box"
        case "in bath":
            return f"in {facts['bath']} for {facts['planned_s']:.0f} s, at {facts['celsius']:g} °C"
        case "out of bath":
            return _out_of_bath(facts)
        case "bath time":
            shown = f", the image showed after {facts['emerged_s']:.1f} s" if "emerged_s" in facts else ""
            return f"{facts['planned_s']:.0f} s in all, at {facts['celsius']:g} °C{shown}"
        case "out of the baths":
            return "out of the baths" + (" by command" if facts.get("by") == "command" else "")
        case "temperature":
            return f"{facts['bath']} has {facts['celsius']:g} °C"
        case "batch":
            return f"{facts['bath']}: batch {facts['batch']}"
        case "under safelight":
            return _under_safelight(facts)
    return None


def _out_of_bath(facts: Mapping[str, Any]) -> str:
    batch = f", batch {facts['batch']}" if facts["batch"] else ""
    late = facts["late_s"]
    how = "" if abs(late) < _LATE_S else f", {abs(late):.1f} s {'late' if late > 0 else 'early'}"
    about = "about " if facts.get("approximate") else ""
    times = f"{about}{facts['actual_s']:.1f} s of {facts['planned_s']:.1f}{how}"
    return f"{facts['bath']}{batch}, {facts['celsius']:g} °C: {times}"


def _under_safelight(facts: Mapping[str, Any]) -> str:
    about = "at most " if facts["at_most"] else ""
    about += "about " if facts.get("approximate") else ""
    seen = f"{about}{facts['seconds']:.0f} s under the safelight"
    if facts["allowed_s"] is None:
        return f"{seen}; this paper's safe time was not tested"
    stands = {"none": ", flashed beyond: no margin left", "over": ", more than it may"}.get(facts["margin"], "")
    return f"{seen}, of {facts['allowed_s']:.0f} s{stands}"


OF_A_SHEET = frozenset(
    {"to trays", "out of the box", "out of bath", "bath time", "out of the baths", "under safelight"}
)
"""Kinds that belong to a sheet's own account; the others are told in the evening's timeline."""
