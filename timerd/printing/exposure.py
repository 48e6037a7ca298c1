"""What a light's whole dose does on the paper: on paper with a reciprocity other than 1, long times count for less.

One rule for all that looks a dose up on a paper's curve. A print's bases stand for what the curve was read at; all that
comes on top of them in the same light, or is held back, makes the exposure longer or shorter than theirs.
"""

from __future__ import annotations

import math


def exposure(dose: float, base: float, reciprocity: float = 1.0) -> float:
    """The exposure of a dose in one light, where its bases give `base`: base * (dose / base)^p.

    In the unit of the doses, each 0 or more; the dose itself where there is no base, or p is 1. From Schwarzschild's
    exponent: time to the power p does what intensity does.

    >>> exposure(16.0, 8.0), exposure(8.0, 8.0, 0.5), exposure(32.0, 8.0, 0.5), exposure(3.0, 0.0, 0.5)
    (16.0, 8.0, 16.0, 3.0)
    """
    return dose if reciprocity == 1.0 or base <= 0.0 else base * math.pow(dose / base, reciprocity)


def dose_of(exposed: float, base: float, reciprocity: float = 1.0) -> float:
    """The dose that comes to an exposure: the inverse of `exposure`.

    >>> dose_of(16.0, 8.0, 0.5), dose_of(4.0, 8.0, 0.5)
    (32.0, 2.0)
    """
    return exposure(exposed, base, 1.0 / reciprocity)


def stops_apart(a: float | None, b: float | None, reciprocity: float = 1.0) -> float | None:
    """By how many stops dose `b` of a light is more than `a`: p * log2(b / a); None where either is not known, or is 0.

    From the definition of a stop, a doubling of exposure.

    >>> stops_apart(8.0, 16.0), stops_apart(8.0, 4.0, 0.9), stops_apart(8.0, 0.0), stops_apart(None, 3.0)
    (1.0, -0.9, None, None)
    """
    return reciprocity * math.log2(b / a) if a and b else None
