"""Whether a burst that is asked for is within what a bench allows. Pure."""

from __future__ import annotations

from timerd.wire.keeper import Expose, Setup

CAP_S = 1800.0
"""No burst is longer, whatever limits the daemon hands over."""
FARTHEST_AT_S = 120.0
"""A burst may not be asked for further ahead: the longest lead-in and some."""


def why_not(setup: Setup, asked: Expose, now: float) -> str | None:
    """Why a bench does not allow this burst, in words; None if it does."""
    if asked.light not in setup.lights:
        return "no such light"
    if asked.at < now:
        return "its time is past"
    if asked.at > now + FARTHEST_AT_S:
        return "its time is too far ahead"
    if asked.view and asked.light not in setup.views:
        return "this light is not one to look at"
    if not setup.darkens.issubset(asked.cut_on):
        return "a pedal that must darken it is left out"
    limit = min(CAP_S, setup.view_s if asked.view else setup.longest_s[setup.lights[asked.light]])
    if not 0 < asked.seconds <= limit:
        return f"longer than {limit:g} s"
    return None
