"""A flash: what light without an image does to a paper's range.

The flash adds to the image's light before the logarithm is taken: shadows hardly notice, highlights come up.
"""

import math

from timerd.printing.paper import Curve, iso_range
from timerd.printing.search import root

SEEN = 0.02
"""Density over white that an eye just sees beside it: 0.01 to 0.02 (from memory); the threshold is the dose before."""


def effective_range(r: float, fraction: float) -> float:
    """ISO range R after a flash of this fraction of HT (the exposure at the low point), by the closed form.

    100 * log10((10^(R/100) - f) / (1 - f)): the flash lies on both ends of the range. Exact where the paper is one
    part; on several it counts the flash as if it were in the print's own mix. R over 0, fraction from 0 to below 1,
    else ValueError.

    >>> round(effective_range(110.0, 0.5), 1)
    138.3
    """
    if not 0.0 < r < 1000.0:
        raise ValueError(f"an ISO range R is over 0 and below 1000; found {r:g}")
    if not 0.0 <= fraction < 1.0:
        raise ValueError(f"a flash of {fraction * 100:.0f} % of HT leaves a tone of its own: there is no range to tell")
    return 100.0 * math.log10((math.pow(10.0, r / 100.0) - fraction) / (1.0 - fraction))


def flashed_range(curve: Curve, green: float, blue: float, flash_green: float, flash_blue: float) -> float:
    """ISO range R of the image's light in the mix of `green` and `blue` when the sheet was flashed, by the curve.

    The flash in exposures of the paper's unit. ValueError where it leaves a tone at the low point or more, or where
    the readings do not tell the range.

    >>> from timerd.printing.paper import Emulsion
    >>> paper = Curve(0.0, tuple(Emulsion(0.7, 5.0, green, 1.0) for green in (1.0, 10**-0.5, 0.1)))
    >>> ht = paper.multiple(0.04, 1.0, 0.0)
    >>> [round(flashed_range(paper, 1.0, 1.0, f * ht, 0.0), 1) for f in (0.0, 0.5)]
    [127.9, 155.4]
    """
    iso_range(curve, green, blue)  # for what it refuses
    if not curve.density(flash_green, flash_blue) < curve.low_point:
        raise ValueError("the flash alone reaches the low point: it leaves a tone of its own, and there is no range")

    def log_exposure(density: float) -> float:
        most = curve.multiple(density, green, blue)

        def over(times: float) -> float:
            return curve.density(times * green + flash_green, times * blue + flash_blue) - density

        return math.log10(root(over, 0.0, most) if over(most) > 0.0 else most)

    return 100.0 * (log_exposure(curve.high_point) - log_exposure(curve.low_point))


def threshold_of_ht(curve: Curve, flash_green: float, flash_blue: float) -> float:
    """The threshold as a fraction of HT in the flash's own mix, where an eye sees `SEEN` over white.

    For a threshold found by eye on a strip: the curve tells how far below the low point it lies.

    >>> from timerd.printing.paper import Emulsion
    >>> round(threshold_of_ht(Curve(0.0, (Emulsion(2.0, 10.0, 1.0, 1.0),)), 1.0, 0.0), 3)
    0.85
    """
    seen = curve.multiple(curve.dmin + SEEN, flash_green, flash_blue)
    return seen / curve.multiple(curve.low_point, flash_green, flash_blue)
