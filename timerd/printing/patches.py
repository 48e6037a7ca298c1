"""A paper without a densitometer: two patches of a strip, judged by eye, give its range and a rough curve."""

import math
from dataclasses import dataclass

from timerd.printing.deviation import Deviation
from timerd.printing.paper import HIGH_POINT, LOW_POINT, Emulsion


@dataclass(frozen=True, slots=True)
class Counted:
    """ISO range R, how far off it may be (one patch), and the exposure at the low point, in the strip's unit."""

    r: float
    within: float
    ht: float


def count_patches(first_tone: float, first_black: float, step: float) -> Counted:
    """R from the exposures of the first patch with a tone and the first that is full black, `step` stops apart.

    100 * log10(black / tone): 15 for each patch of half a stop. Each end lies somewhere between its patch and the one
    before, so R is right within one patch. Exposures over 0, black over tone, step over 0 and up to 2 stops, else
    ValueError. From the definition of R; an eye's ends lie a little outside those of ISO 6846.

    >>> counted = count_patches(4.0, 64.0, 0.5)
    >>> round(counted.r, 1), round(counted.within, 1), round(counted.ht, 3)
    (120.4, 15.1, 3.364)
    """
    for name, value in (("first tone", first_tone), ("first full black", first_black)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"the exposure of the {name} must be over 0; found {value:g}")
    if not 0.0 < step <= 2.0:
        raise ValueError(f"the patches of a strip are over 0 and up to 2 stops apart; found {step:g}")
    if not math.log2(first_black / first_tone) > 1.5 * step:
        raise ValueError(
            f"between the first tone ({first_tone:g}) and the first full black ({first_black:g}) "
            f"there must be patches of {step:g} stop to count"
        )
    within = 100.0 * step * math.log10(2.0)
    return Counted(100.0 * math.log10(first_black / first_tone), within, first_tone * math.exp2(-step / 2.0))


def one_part(counted: Counted, net_density: float) -> Emulsion:
    """A one-part curve with this range, in the light of the strip: its speed is told for green and blue alike.

    Net density over twice the low point's 0.04, else ValueError. The logistic's own ends: see `paper.Curve`.

    >>> from timerd.printing.paper import Curve, iso_range
    >>> part = one_part(count_patches(4.0, 64.0, 0.5), 2.0)
    >>> round(iso_range(Curve(0.06, (part,)), 1.0, 0.0).r, 1)
    120.4
    """
    if not 2.0 * LOW_POINT < net_density < 4.0:
        raise ValueError(f"the net density of a paper is over {2 * LOW_POINT:g} and below 4; found {net_density:g}")
    low = math.log(LOW_POINT / (net_density - LOW_POINT))
    slope = (math.log(HIGH_POINT / (1.0 - HIGH_POINT)) - low) * 100.0 / counted.r
    speed = math.pow(10.0, low / slope) / counted.ht
    return Emulsion(net_density, slope, speed, speed)


def ends_off(first_tone: float, first_black: float, step: float, net_density: float) -> tuple[Deviation, Deviation]:
    """What the two patches leave open of that curve, one deviation each: where the tone begins, and where black does.

    Each end lies anywhere between its patch and the one before: a deviation of a patch over the root of 12. White and
    black themselves are taken as told.

    >>> tone, black = ends_off(4.0, 64.0, 0.5, 2.0)
    >>> round(tone.slopes[0], 4), round(black.slopes[0], 4)
    (0.0368, -0.0354)
    """
    here = one_part(count_patches(first_tone, first_black, step), net_density)
    off = 2.0 ** (step / math.sqrt(12.0))

    def deviation(tone: float, black: float) -> Deviation:
        there = one_part(count_patches(tone, black, step), net_density)
        speed = (math.log(there.green / here.green),)
        return Deviation(0.0, (math.log(there.slope / here.slope),), speed, (0.0,), speed)

    return deviation(first_tone * off, first_black), deviation(first_tone, first_black * off)
