"""One area of the image and a density wanted there: the burn in green, in blue, in both, or the flash that gets there.

So that burn and flash are compared and not guessed: each with the local contrast that it leaves.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

from timerd.printing.exposure import dose_of
from timerd.printing.paper import Curve
from timerd.printing.search import root

MOST = 1e4
"""An exposure so many times the one that gives the density by itself is as good as never."""


@dataclass(frozen=True, slots=True)
class Way:
    """What to add to what the base gave, in the paper's unit; below 0 is held back. `why` says what hinders.

    On a paper with a reciprocity it is what must be given, whose exposure is less. `stops` are counted over the base of
    the same light, for the flash over the area's own exposure in the flash's light; None where there is none to count
    over. `contrast` is density per decade of image light afterwards. `over_low_point`: the flash alone would leave a
    tone where the image gives no light.
    """

    by: Literal["green", "blue", "both", "flash"]
    green: float | None
    blue: float | None
    flash: float | None
    stops: float | None
    contrast: float | None
    reached: bool
    why: str | None = None
    over_low_point: bool = False


def ways(
    curve: Curve, green: float, blue: float, density: float, flash_green: float = 1.0, flash_blue: float = 0.0,
    reciprocity: float = 1.0,
) -> tuple[Way, ...]:  # fmt: skip
    """Four ways to a density for an area that gets `green` and `blue` from the base; nothing beyond the readings.

    Exposures in the paper's unit; the flash's two say what one unit of it gives in each light (green alone unless
    said, as is customary: common practice, no source). The paper's reciprocity counts from the base's time on, as in
    `exposure`. ValueError for exposures below 0 or a density that is none.

    >>> from timerd.printing.paper import Emulsion
    >>> paper = Curve(0.0, (Emulsion(2.0, 10.0, green=1.0, blue=1.0),))
    >>> [(way.by, round(way.stops, 6), round(way.contrast, 6)) for way in ways(paper, 0.25, 0.25, 1.0)]
    [('green', 1.584963, 5.0), ('blue', 1.584963, 5.0), ('both', 1.0, 5.0), ('flash', 1.584963, 2.5)]
    """
    for name, value in (("green", green), ("blue", blue), ("flash in green", flash_green), ("in blue", flash_blue)):
        if not 0.0 <= value < math.inf:
            raise ValueError(f"an exposure is 0 or more; found {name} {value:g}")
    if not 0.0 < density < math.inf:
        raise ValueError(f"a density is over 0; found {density:g}")
    if not flash_green + flash_blue > 0.0:
        raise ValueError("a flash gives light, in green or in blue; found 0 in both")

    def to_give(way: Way) -> Way:
        """From exposures to what must be given beside the base."""
        pairs = (way.green, green), (way.blue, blue)
        given = [None if x is None else dose_of(base + x, base, reciprocity) - base for x, base in pairs]
        return replace(way, green=given[0], blue=given[1])

    return (
        to_give(_way(curve, "green", green, blue, density, lambda x: (green + x, blue), -green, green)),
        to_give(_way(curve, "blue", green, blue, density, lambda x: (green, blue + x), -blue, blue)),
        to_give(_both(curve, green, blue, density)),
        _flash(curve, green, blue, density, flash_green, flash_blue),
    )


def _way(
    curve: Curve, by: Literal["green", "blue"], green: float, blue: float, density: float,
    after: Callable[[float], tuple[float, float]], least: float, base: float,
) -> Way:  # fmt: skip
    unit = (1.0, 0.0) if by == "green" else (0.0, 1.0)
    added, why = _added(curve, density, after, least, unit)
    why = why or _unknown(curve, density, *after(added))
    if why is not None:
        return Way(by, None, None, None, None, None, False, why)
    there = after(added)
    total = base + added
    stops = math.log2(total / base) if base > 0.0 and total > 0.0 else None
    at = (added, 0.0) if by == "green" else (0.0, added)
    return Way(by, *at, 0.0, stops, curve.contrast(*there), True)


def _both(curve: Curve, green: float, blue: float, density: float) -> Way:
    try:
        if not green + blue > 0.0:
            raise ValueError("the base gives nothing here, so there is no mix to burn in")
        low, high = curve.known(green, blue)
        if not low <= density <= high:
            raise ValueError(_read_words(low, high))
        times = curve.multiple(density, green, blue)
    except ValueError as error:
        return Way("both", None, None, None, None, None, False, str(error))
    there = (times * green, times * blue)
    return Way("both", there[0] - green, there[1] - blue, 0.0, math.log2(times), curve.contrast(*there), True)


def _flash(curve: Curve, green: float, blue: float, density: float, flash_green: float, flash_blue: float) -> Way:
    def after(x: float) -> tuple[float, float]:
        return green + x * flash_green, blue + x * flash_blue

    added, why = _added(curve, density, after, 0.0, (flash_green, flash_blue))
    why = why or _unknown(curve, density, *after(added))
    if why is not None:
        return Way("flash", None, None, None, None, None, False, why)
    flash = (added * flash_green, added * flash_blue)
    base = sum(image for image, share in ((green, flash_green), (blue, flash_blue)) if share > 0.0)
    stops = math.log2(1.0 + sum(flash) / base) if base > 0.0 else None
    contrast = curve.contrast(green, blue, *flash)
    return Way(
        "flash", 0.0, 0.0, added, stops, contrast, True, over_low_point=curve.density(*flash) >= curve.low_point
    )  # fmt: skip


def _added(
    curve: Curve, density: float, after: Callable[[float], tuple[float, float]], least: float,
    unit: tuple[float, float],
) -> tuple[float, str | None]:  # fmt: skip
    """How much to add so that the density is there, from the least on; or why it cannot be."""

    def miss(x: float) -> float:
        return curve.density(*after(x)) - density

    if miss(least) > 0.0:
        least_is = f"density {curve.density(*after(least)):.2f}"
        return 0.0, f"is {least_is} already" if least == 0.0 else f"is {least_is} with none of this light"
    try:
        most = curve.multiple(density, *unit)
    except ValueError:
        most = MOST * max(1.0, sum(after(0.0)))
        if miss(most) < 0.0:
            return 0.0, f"no exposure of this light gets there: it tends to {curve.density(*after(most)):.2f}"
    return root(miss, least, max(least, most) if miss(most) >= 0.0 else most * (1.0 + 1e-9)), None


def _unknown(curve: Curve, density: float, green: float, blue: float) -> str | None:
    """Why the curve is not known at these exposures, if so."""
    try:
        low, high = curve.known(green, blue)
    except ValueError as error:
        return str(error)
    return None if low <= density <= high else _read_words(low, high)


def _read_words(low: float, high: float) -> str:
    return f"is not among the densities read in this mix ({low:.2f} to {high:.2f})"
