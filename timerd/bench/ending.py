"""When a light went dark whose keeper did not live to say so: from what it noted, and what was found after it. Pure.

The last off takes each line as it is and looks before it drives it. One that is still high was lit until now; with an
interlock its lamp may have been out from when the keeper was last alive (it notes that every 2 ms). One that is low
though the keeper had not written it low fell when the keeper ended, since the kernel let go of it: between its last
sign of life and the end that the last off waited for, some milliseconds. Where nobody waited (all three killed) that
is 0.6 s after that sign at the most: no daemon lets a keeper hang for longer. Through the pin library, which makes
inputs of all pins first, nothing can be seen: there the dose lies between the last sign of life and the last off. A
supply that outlives the mains for a moment lets the book count on while the lamp is out already: the interval's lower
end may then be too high by that moment. Only a mains sense input can know better.
"""

from __future__ import annotations

from typing import NamedTuple

from timerd.bench.keeper import LINE_NOT_LOW
from timerd.bench.note import Noted, Signs

WHY = "last off"
NEAR_S = 0.001
"""Two times of dark nearer than this count as one."""
UNSEEN_S = 0.6
"""A keeper whose end nobody saw lived no longer than this after its last sign of life: its daemon ends one that says
nothing for half a second."""


class LinesFound(NamedTuple):
    """What was found when the lines were claimed after a keeper: at which time (monotonic seconds), whether a lamp's
    line was still high (None: that could not be told), when all had been written low, and when the keeper was seen to
    end (None: it had ended before).

    A simulated line never falls by itself; an interlock may have put the lamp out though its line was high.
    """

    at: float
    high: bool | None
    dark: float
    ended: float | None
    simulated: bool
    interlock: bool


def completed(noted: Noted, signs: Signs | None, seen: LinesFound) -> Noted:
    """A keeper's note with the end of its burst: the same one where it has that already."""
    if noted.dark is not None and not (seen.high and noted.why == LINE_NOT_LOW):
        return noted
    signs = signs or Signs(noted.at, 0.0, noted.at)
    lit = noted.lit
    if lit is None and (seen.high or (signs.going_lit >= noted.at and not seen.simulated)):
        lit = max(noted.at, signs.going_lit)  # it did not live to note it
    if lit is None:
        return noted._replace(dark=seen.dark, why=WHY)
    lo, hi = _dark(lit, signs, seen)
    return noted._replace(lit=lit, dark=hi, why=WHY, dark_lo=None if hi - lo < NEAR_S else lo)


def _dark(lit: float, signs: Signs, seen: LinesFound) -> tuple[float, float]:
    """The two times between which a light that was lit went dark."""
    alive = max(lit, signs.alive)
    if seen.high:
        return alive if seen.interlock else seen.at, seen.dark
    wrote = signs.going_dark if signs.going_dark >= lit else None
    if seen.high is None:
        return wrote or alive, seen.dark
    if wrote is not None:
        return wrote, wrote
    # The kernel let it fall when the keeper ended: nobody else has.
    ended = alive + UNSEEN_S if seen.ended is None else seen.ended
    return alive, max(alive, min(ended, seen.dark))
