"""Where a function of one number crosses zero, and where it is least, between two ends. No derivative is asked for."""

from collections.abc import Callable

_GOLDEN = 0.6180339887498949
_MOST_STEPS = 200


def root(f: Callable[[float], float], low: float, high: float, within: float = 1e-12) -> float:
    """Where f crosses zero between two ends at which its signs differ (or it is 0); ValueError where they do not.

    The answer lies within `within` of a crossing, relative to the ends. A secant step where it halves the bracket
    soon enough, else the middle: the bracket is kept throughout.

    >>> round(root(lambda x: x * x - 2.0, 0.0, 2.0), 9)
    1.414213562
    """
    at_low, at_high = f(low), f(high)
    if at_low == 0.0:
        return low
    if at_high == 0.0:
        return high
    if not at_low * at_high < 0.0:
        raise ValueError(f"no crossing is known between {low!r} and {high!r}: the signs at the ends are the same")
    last = 0  # the end that stayed in the last step: kept twice, its value is halved (the Illinois rule)
    for step in range(_MOST_STEPS):
        if abs(high - low) <= within * max(abs(low), abs(high)):
            break
        middle = (low + high) / 2.0
        x = middle if step % 4 == 3 else (low * at_high - high * at_low) / (at_high - at_low)
        if not min(low, high) < x < max(low, high):
            x = middle
        value = f(x)
        if value == 0.0:
            return x
        if value * at_low < 0.0:
            high, at_high = x, value
            at_low /= 2.0 if last == 1 else 1.0
            last = 1
        else:
            low, at_low = x, value
            at_high /= 2.0 if last == -1 else 1.0
            last = -1
    return (low + high) / 2.0


def least(f: Callable[[float], float], low: float, high: float, within: float = 1e-9) -> float:
    """Where f is least between two ends, for an f that falls and then rises: by golden sections.

    >>> round(least(lambda x: (x - 1.5) ** 2, 0.0, 4.0), 6)
    1.5
    """
    inner, outer = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_inner, at_outer = f(inner), f(outer)
    while high - low > within:
        if at_inner <= at_outer:
            high, outer, at_outer = outer, inner, at_inner
            inner = high - _GOLDEN * (high - low)
            at_inner = f(inner)
        else:
            low, inner, at_inner = inner, outer, at_outer
            outer = low + _GOLDEN * (high - low)
            at_outer = f(outer)
    return (low + high) / 2.0
