"""The safelight: how long a sheet may lie under it, and how near a sheet is to that.

The safe time of a paper under a light is tested (`timerd strip safelight`): half of what shows a change.
"""

import math
from typing import Literal

NEAR = 0.7
"""The share of the allowed time at which the printer is warned first."""


def allowed_seconds(safe_s: float, fraction: float) -> float:
    """How long a sheet may lie under the safelight when it is flashed by this fraction of its threshold.

    `safe_s` is the tested safe time: half of what shows a change. Flash and safelight draw on one margin:
    max(0, min(safe, 2 * safe * (0.9 - fraction))). Both 0 or more, else ValueError.

    >>> allowed_seconds(240.0, 0.0), round(allowed_seconds(240.0, 0.6), 6), allowed_seconds(240.0, 0.95)
    (240.0, 144.0, 0.0)
    """
    if not (0.0 <= safe_s < math.inf and 0.0 <= fraction < math.inf):
        raise ValueError(f"safe seconds and a flash's fraction are 0 or more; found {safe_s:g} and {fraction:g}")
    return max(0.0, min(safe_s, 2.0 * safe_s * (0.9 - fraction)))


def margin(seconds: float, allowed: float) -> Literal["", "near", "over", "none"]:
    """How a sheet stands: nothing to say, `near` from 70 % of the allowed time, `over` from 100 %, `none` where the
    flash has used all of it.

    >>> [margin(seconds, 100.0) for seconds in (69.0, 70.0, 100.0)], margin(0.0, 0.0)
    (['', 'near', 'over'], 'none')
    """
    if allowed <= 0.0:
        return "none"
    if seconds >= allowed:
        return "over"
    return "near" if seconds >= NEAR * allowed else ""
