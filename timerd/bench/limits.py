"""What a bench allows: its lines, its limits, and whether a burst that is asked for is within them. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from timerd.wire.keeper import Expose

CAP_S = 1800.0
"""No burst is longer, whatever limits the daemon hands over."""
FARTHEST_AT_S = 120.0
"""A burst may not be asked for further ahead: the longest lead-in and some."""


@dataclass(frozen=True)
class Setup:
    """The lines and limits that the daemon hands over once.

    `lights` gives each light its line (a lamp), `longest_s` each line its limit in seconds, `views` the lights that
    may be shown to look at, for at most `view_s`; `pedals` are the contacts, those at the trays left out of
    `darkens`. `stay` gives each shutter's line the line of its lamp, which stays on behind it; `cues` says whether
    there is a cue line; `senses` gives the lines of lamps that something sees the name of that input.
    """

    lights: Mapping[str, str]
    longest_s: Mapping[str, float]
    pedals: tuple[str, ...]
    darkens: frozenset[str]
    views: frozenset[str] = frozenset()
    view_s: float = 600.0
    safelight: bool = True
    stay: Mapping[str, str] = field(default_factory=dict)
    cues: bool = False
    senses: Mapping[str, str] = field(default_factory=dict)

    def why_not(self, asked: Expose, now: float) -> str | None:
        """Why the bench does not allow this burst, in words; None if it does."""
        if asked.light not in self.lights:
            return "no such light"
        if asked.at < now:
            return "its time is past"
        if asked.at > now + FARTHEST_AT_S:
            return "its time is too far ahead"
        if asked.view and asked.light not in self.views:
            return "this light is not one to look at"
        if not self.darkens.issubset(asked.cut_on):
            return "a pedal that must darken it is left out"
        limit = min(CAP_S, self.view_s if asked.view else self.longest_s[self.lights[asked.light]])
        if not 0 < asked.seconds <= limit:
            return f"longer than {limit:g} s"
        return None
