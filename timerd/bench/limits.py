"""Whether a burst that is asked for is within what a bench allows. Pure."""

from __future__ import annotations

from typing import NamedTuple

from timerd.wire.keeper import Expose, Setup

CAP_S = 1800.0
"""No burst is longer, whatever limits the daemon hands over."""
FARTHEST_AT_S = 120.0
"""A burst may not be asked for further ahead: the longest lead-in and some."""


class WhyNot(NamedTuple):
    """Why a burst is not taken: a code, and what it is of."""

    why: str
    what: str | None = None


def why_not(setup: Setup, asked: Expose, now: float) -> WhyNot | None:
    """Why a bench does not allow this burst; None if it does."""
    if asked.light not in setup.lights:
        return WhyNot("unknown light")
    if asked.at < now:
        return WhyNot("too late")
    if asked.at > now + FARTHEST_AT_S:
        return WhyNot("too far ahead")
    if asked.view and asked.light not in setup.views:
        return WhyNot("not to look at")
    if not setup.darkens.issubset(asked.cut_on):
        return WhyNot("pedal left out")
    limit = min(CAP_S, setup.view_s if asked.view else setup.longest_s[setup.lights[asked.light]])
    if not 0 < asked.seconds <= limit:
        return WhyNot("too long", f"{limit:g}")
    return None
