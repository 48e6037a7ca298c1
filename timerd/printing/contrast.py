"""How much green and how much blue: for two wanted tones, or for an ISO range and one tone, both solved together.

Blue light lights the highlights too, so neither light can be chosen before the other. The mixes are gone through from
green alone to blue alone; in each the held tone fixes how much light there is, and what is left is one number that
must be zero.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from timerd.printing.paper import Curve, iso_range
from timerd.printing.search import least, root

Tone = Literal["highlight", "shadow"]
Pair = tuple[float, float]
"""Seconds in green and in blue, only their ratio counting."""

Miss = Callable[[Pair], float | None]
"""What is missing in a mix, above or below 0; None where the readings do not tell the curve."""

WITHIN = 0.0005
"""A tone this near in density is reached."""
R_WITHIN = 0.05
_AS_GOOD = 1e-9  # misses below this are all the same: rounding
_STEP = 0.1  # decades of blue to green between the mixes that are looked at first
_BEYOND = 4.0  # decades past the last part's own ratio: from there on it is one light alone


@dataclass(frozen=True, slots=True)
class Spot:
    """A spot of the image: its wanted density, and what one second of each light gives there, in the paper's unit."""

    density: float
    green: float
    blue: float


@dataclass(frozen=True, slots=True)
class Mixed:
    """Seconds of full light in green and blue, the densities they give, and what is not as wanted.

    `r` is the ISO range at the highlight's (or the anchor's) mix, None where the readings do not tell it.
    `gives_way` is the tone (or `range`) that is only as near as can be; None where everything is reached.
    """

    green_s: float
    blue_s: float
    highlight: float | None
    shadow: float | None
    r: float | None
    gives_way: Literal["highlight", "shadow", "range"] | None

    @property
    def reached(self) -> bool:
        return self.gives_way is None


def for_tones(curve: Curve, highlight: Spot, shadow: Spot) -> tuple[Mixed, ...]:
    """The mix that gives both tones; where none does, the nearest ones: one tone held, the other gives way.

    The first is the answer: both tones reached, or the miss that an eye sees least, in lightness (CIE 1976 L*). A
    second one holds the other tone. Of several mixes that reach both, the one with the least seconds. Seconds are of
    full light, without any lamp's lag. ValueError where neither tone can be held, or the spots are the wrong way round.
    """
    if not highlight.density < shadow.density:
        raise ValueError(
            f"the highlight must be lighter than the shadow; found {highlight.density:g} and {shadow.density:g}"
        )
    if not (highlight.green < shadow.green and highlight.blue < shadow.blue):
        raise ValueError("the highlight's spot must get less light than the shadow's, in each light: are they swapped?")
    found = []
    turns: tuple[tuple[Spot, Spot, Tone], ...] = ((highlight, shadow, "shadow"), (shadow, highlight, "highlight"))
    for held, other, gives_way in turns:
        best = _holding(curve, held, other)
        if best is None:
            continue
        (green_s, blue_s), miss = best
        reached = abs(miss) <= WITHIN
        mixed = Mixed(
            green_s, blue_s,
            curve.density(green_s * highlight.green, blue_s * highlight.blue),
            curve.density(green_s * shadow.green, blue_s * shadow.blue),
            _range_or_none(curve, green_s * highlight.green, blue_s * highlight.blue),
            None if reached else gives_way,
        )  # fmt: skip
        if reached:
            return (mixed,)
        found.append((abs(_lightness(other.density + miss) - _lightness(other.density)), mixed))
    if not found:
        low, high = f"{curve.dmin:.2f}", f"{curve.dmax:.2f}"
        raise ValueError(f"neither tone can be held: the paper goes from {low} to {high}, as far as it was read")
    found.sort(key=lambda pair: pair[0])
    return tuple(mixed for _, mixed in found)


def for_range(curve: Curve, r: float, anchor: Spot, tone: Tone = "highlight") -> Mixed:
    """The mix with this ISO range R, and how much of it gives one tone; the nearest R where none has it.

    ValueError where the tone is not on the curve in any mix, or no range is known.
    """

    def miss(pair: Pair) -> float | None:
        green, blue = pair[0] * anchor.green, pair[1] * anchor.blue
        found = _range_or_none(curve, green, blue)
        return None if found is None or _held(curve, anchor, pair) is None else found - r

    best = _best(curve, anchor, miss)
    if best is None:
        raise ValueError(f"in no mix that was read are both the range and density {anchor.density:g} known")
    (green_s, blue_s), off = best
    green, blue = green_s * anchor.green, blue_s * anchor.blue
    density = curve.density(green, blue)
    return Mixed(
        green_s, blue_s, density if tone == "highlight" else None, density if tone == "shadow" else None,
        iso_range(curve, green, blue).r, None if abs(off) <= R_WITHIN else "range",
    )  # fmt: skip


def _lightness(density: float) -> float:
    """CIE 1976 L* of a density, a perfect white as 100."""
    y = math.pow(10.0, -density)
    return 116.0 * y ** (1.0 / 3.0) - 16.0 if y > (6.0 / 29.0) ** 3 else y * (29.0 / 3.0) ** 3


def _holding(curve: Curve, held: Spot, other: Spot) -> tuple[Pair, float] | None:
    """The seconds that give the held tone and bring the other nearest, and by how much that misses."""

    def miss(pair: Pair) -> float | None:
        seconds = _held(curve, held, pair)
        if seconds is None:
            return None
        green, blue = seconds * pair[0] * other.green, seconds * pair[1] * other.blue
        try:
            low, high = curve.known(green, blue)
        except ValueError:
            return None
        density = curve.density(green, blue)
        return density - other.density if low <= density <= high else None

    return _best(curve, held, miss)


def _held(curve: Curve, held: Spot, pair: Pair) -> float | None:
    """By what to multiply a pair of seconds so that a tone is held; None where the mix does not have it."""
    green, blue = pair[0] * held.green, pair[1] * held.blue
    try:
        low, high = curve.known(green, blue)
        return curve.multiple(held.density, green, blue) if low <= held.density <= high else None
    except ValueError:
        return None


def _range_or_none(curve: Curve, green: float, blue: float) -> float | None:
    try:
        return iso_range(curve, green, blue).r
    except ValueError:
        return None


def _best(curve: Curve, held: Spot, miss: Miss) -> tuple[Pair, float] | None:
    """Among all mixes the one that misses least, with the seconds that hold a tone; of several, the shortest."""
    found: list[tuple[float, float, Pair]] = []
    for pair, off in _crossings(_pairs(curve, held), miss):
        times = _held(curve, held, pair)
        if times is not None:
            seconds = (pair[0] * times, pair[1] * times)
            found.append((off, sum(seconds), seconds))
    if not found:
        return None
    nearest = min(abs(off) for off, _, _ in found)
    off, _, seconds = min(
        (one for one in found if abs(one[0]) <= max(nearest, _AS_GOOD)), key=lambda one: one[1]
    )  # fmt: skip
    return seconds, off


def _crossings(pairs: list[Pair], miss: Miss) -> Iterator[tuple[Pair, float]]:
    """Every mix at which the miss is zero, and every one at which it is nearest to zero without reaching it."""
    missed = [miss(pair) for pair in pairs]
    for k, here in enumerate(missed):
        if here is None:
            continue
        yield pairs[k], here
        after = missed[k + 1] if k + 1 < len(missed) else None
        before = missed[k - 1] if k > 0 else None
        if after is not None and here * after < 0.0:
            yield _crossing(_along(pairs[k : k + 2]), 0.0, 1.0, here, miss)
        if (
            before is not None and after is not None
            and abs(here) <= min(abs(before), abs(after)) and abs(here) < max(abs(before), abs(after)) - _AS_GOOD
            and min(here * before, here * after) > 0.0
        ):  # fmt: skip
            yield from _touching(_along(pairs[k - 1 : k + 2]), here, miss)


def _along(pairs: list[Pair]) -> Callable[[float], Pair]:
    """The mixes between neighbours: 0 stands for the first of them, 1 for the second, and so on."""

    def place(t: float) -> Pair:
        k = min(math.floor(t), len(pairs) - 2)
        (g0, b0), (g1, b1) = pairs[k], pairs[k + 1]
        return g0 + (g1 - g0) * (t - k), b0 + (b1 - b0) * (t - k)

    return place


def _crossing(
    place: Callable[[float], Pair], low: float, high: float, here: float, miss: Miss
) -> tuple[Pair, float]:  # fmt: skip
    at = place(root(lambda t: _number(miss(place(t)), here), low, high))
    return at, _number(miss(at), here)


def _touching(place: Callable[[float], Pair], here: float, miss: Miss) -> Iterator[tuple[Pair, float]]:
    """Around a mix whose neighbours miss by more: the nearest one, and where it is passed, the crossings."""

    def off(t: float) -> float:
        return _number(miss(place(t)), here)

    sign = math.copysign(1.0, here)
    t = least(lambda t: sign * off(t), 0.0, 2.0)
    yield place(t), off(t)
    for low, high in ((0.0, t), (t, 2.0)):
        if off(low) * off(high) < 0.0:
            yield _crossing(place, low, high, here, miss)


def _number(value: float | None, otherwise: float) -> float:
    """Within a stretch of mixes that are known the value is there."""
    return otherwise if value is None else value


def _pairs(curve: Curve, spot: Spot) -> list[Pair]:
    """Mixes from green alone to blue alone, close together where the parts differ, within the readings."""
    lights = math.log10(spot.green / spot.blue)  # the same seconds are another mix where the lights differ
    own = [math.log10(part.green / part.blue) for part in curve.parts if part.green > 0.0 and part.blue > 0.0]
    first, last = (min(own) - _BEYOND, max(own) + _BEYOND) if own else (0.0, 0.0)
    steps = max(1, round((last - first) / _STEP))
    places = {first + k * (last - first) / steps for k in range(steps + 1)}
    limits = curve.mix_places()
    if limits:
        places = {place for place in places if limits[0] <= place <= limits[-1]} | set(limits)
    else:
        places |= {-math.inf, math.inf}
    return [_pair(place + lights) for place in sorted(places)]


def _pair(place: float) -> Pair:
    if math.isinf(place):
        return (0.0, 1.0) if place > 0 else (1.0, 0.0)
    ratio = math.pow(10.0, place)
    return (1.0 / (1.0 + ratio), ratio / (1.0 + ratio))
