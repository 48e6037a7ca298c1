"""Test strips: which bursts reach which patches, so that each patch gets what one whole exposure would have given it.

Patch 1 has the least light. Seconds are those of ONE burst from cold; doses are seconds of full light.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from timerd.printing.light import Response, measured_lag
from timerd.printing.stops import format_stops

MOST_PATCHES = 24
MOST_STOPS = 10
GRID_S = 0.1
FINE_GRID_S = 0.01
SHORT_S = 5.0
"""Times are rounded to a tenth; to a hundredth below this, where a tenth would be more than 1/70 stop."""


@dataclass(frozen=True, slots=True)
class StripBurst:
    """One burst of a strip, so many seconds from cold, and the patches it reaches, from the first to the last."""

    seconds: float
    first: int
    last: int


def patch_times(
    first_s: float, step: Fraction, count: int, response: Response, reciprocity: float = 1.0
) -> tuple[float, ...]:
    """Seconds of each patch, the first as given, each with so many stops more than the one before.

    The stops are counted in doses and, with the paper's exponent p, in what they do: dose * 2^(s/p). All but the first
    are rounded last, each by itself, so that no error builds up. First over 0 s and more than the lamp loses; step
    over 0 stops; 2 to 24 patches over 10 stops at most; ValueError outside, or where two patches would be alike.

    >>> patch_times(8.0, Fraction(1, 3), 6, Response())
    (8.0, 10.1, 12.7, 16.0, 20.2, 25.4)
    """
    if not 0.0 < first_s <= 3600.0:
        raise ValueError(f"the first patch must be over 0 s, and 3600 s at most; found {first_s!r}")
    if not 2 <= count <= MOST_PATCHES:
        raise ValueError(f"a strip has 2 to {MOST_PATCHES} patches; found {count!r}")
    if step <= 0 or step * (count - 1) > MOST_STOPS:
        found = f"{count} patches in steps of {format_stops(step)}"
        raise ValueError(f"a strip climbs, by {MOST_STOPS} stops at most; found {found}")
    if not 0.1 <= reciprocity <= 10.0:
        raise ValueError(f"reciprocity is from 0.1 to 10, and 1 unless measured; found {reciprocity!r}")
    least = response.dose(first_s)
    if least <= 0.0:
        raise ValueError(f"{first_s:g} s give no light: the lamp loses {response.seconds(1.0) - 1.0:.2f} s of a burst")
    rest = [response.seconds(least * math.exp2(k * step / reciprocity)) for k in range(1, count)]
    return _unlike((float(first_s), *_rounded(rest, GRID_S if first_s >= SHORT_S else FINE_GRID_S)))


def dried_times(seconds: float, percent: Sequence[float], response: Response) -> tuple[float, ...]:
    """Seconds of patches whose doses are so many percent under a base's: what a dry-down test is made of.

    Percent from 0 to under 100, falling, so that patch 1 has the least light; rounded to a hundredth. ValueError
    outside.

    >>> dried_times(14.0, (12, 8, 4, 0), Response())
    (12.32, 12.88, 13.44, 14.0)
    """
    if len(percent) < 2 or any(not 0 <= p < 100 for p in percent):
        found = ", ".join(f"{p:g}" for p in percent)
        raise ValueError(f"a dry-down test has 2 patches or more, each from 0 to under 100 % less; found {found}")
    dose = response.dose(seconds)
    if dose <= 0.0:
        raise ValueError(f"{seconds:g} s give no light")
    return _unlike(_rounded([response.seconds(dose * (1.0 - p / 100.0)) for p in percent], FINE_GRID_S))


def by_patch(seconds: Sequence[float]) -> tuple[StripBurst, ...]:
    """Each patch its own exposure, from patch 1: nothing adds up, and the lamp's lag counts once.

    >>> by_patch((8.0, 16.0))
    (StripBurst(seconds=8.0, first=1, last=1), StripBurst(seconds=16.0, first=2, last=2))
    """
    _rising(seconds)
    return tuple(StripBurst(s, k, k) for k, s in enumerate(seconds, 1))


def by_uncovering(seconds: Sequence[float], response: Response) -> tuple[StripBurst, ...]:
    """The patch with the most is uncovered first, then one more before each burst, until all lie open.

    The times of the patches are differenced as doses, and every burst is as long as its dose needs from cold: so each
    patch gets the dose of ONE burst of its seconds, however many bursts it got.

    >>> [(b.seconds, b.first) for b in by_uncovering((8.0, 12.0, 18.0), Response(lag_s=0.5))]
    [(6.5, 3), (4.5, 2), (8.0, 1)]
    """
    _rising(seconds)
    doses = [0.0, *(response.dose(s) for s in seconds)]
    last = len(seconds)
    bursts = [StripBurst(response.seconds(doses[k] - doses[k - 1]), k, last) for k in range(last, 0, -1)]
    return tuple(burst for burst in bursts if burst.seconds > 0.0)


def doses(bursts: Sequence[StripBurst], response: Response) -> tuple[float, ...]:
    """What each patch gets in all, from patch 1.

    >>> doses(by_uncovering((8.0, 12.0), Response(lag_s=0.5)), Response(lag_s=0.5))
    (7.5, 11.5)
    """
    last = max(burst.last for burst in bursts)
    return tuple(
        sum(response.dose(b.seconds) for b in bursts if b.first <= patch <= b.last) for patch in range(1, last + 1)
    )


def chosen_time(seconds: Sequence[float], patch: float, response: Response) -> float:
    """Seconds of a patch, or of what lies between two: 3.5 is as many stops from patch 3 as from patch 4.

    From 1 to as many patches as there are, else ValueError.

    >>> chosen_time((8.0, 16.0, 32.0), 2, Response()), round(chosen_time((8.0, 16.0), 1.5, Response()), 2)
    (16.0, 11.31)
    """
    if not 1 <= patch <= len(seconds):
        raise ValueError(f"the strip has patches 1 to {len(seconds)}; found {patch:g}")
    below = int(patch)
    if below == patch:
        return seconds[below - 1]
    low, high = response.dose(seconds[below - 1]), response.dose(seconds[below])
    return response.seconds(low * (high / low) ** (patch - below))


def shift_stops(under: float, added: float, speed: float) -> float:
    """How much darker a tone gets, in stops, by `added` of one light over `under` of another: log2(1 + speed * a / u).

    Doses, under over 0, added 0 or more; `speed` is how much more the added light does there a second than the other.
    Blue lights the highlights too: this says by how much. It holds where both lights reach the same part of the
    emulsion, as in the highlights.

    >>> shift_stops(12.0, 8.0, 1.5)
    1.0
    """
    if not (under > 0.0 and added >= 0.0 and speed > 0.0 and math.isfinite(under + added + speed)):
        raise ValueError(f"doses and speed must be over 0; found {under!r}, {added!r}, {speed!r}")
    return math.log2(1.0 + speed * added / under)


def lag_error(long_s: float, short_s: float, bursts: int, match_stops: float) -> float:
    """How far off, in seconds, a measured lag may be when two densities are matched to so many stops.

    The light of the short bursts may be q = 2^match times the long one's: n * (t - lag) = q * (T - lag). From what is
    measured the true lag is then off by (T - lag) * (q - 1) / (n - q), on the side where that is most: long bursts
    measure a lag badly, many short ones well. Seconds and match over 0, two bursts or more and more than q, else
    ValueError.

    >>> round(lag_error(10.0, 1.12, 10, 1 / 12), 3), round(lag_error(10.0, 5.06, 2, 1 / 12), 3)
    (0.066, 0.625)
    """
    if not (long_s > 0.0 and short_s > 0.0 and match_stops > 0.0 and math.isfinite(long_s + short_s + match_stops)):
        raise ValueError(f"seconds and stops must be over 0; found {long_s!r}, {short_s!r}, {match_stops!r}")
    if bursts < 2:
        raise ValueError(f"a lag is measured with 2 short bursts or more; found {bursts!r}")
    ratio = math.exp2(match_stops)
    if bursts <= ratio:
        raise ValueError(f"{bursts} bursts tell no lag where densities match to {match_stops:g} stops only: take more")
    return (long_s - measured_lag(long_s, short_s, bursts)) * (ratio - 1.0) / (bursts - ratio)


def _rounded(times: Sequence[float], grid: float) -> tuple[float, ...]:
    parts = round(1.0 / grid)
    return tuple(round(t * parts) / parts for t in times)


def _unlike(times: tuple[float, ...]) -> tuple[float, ...]:
    if any(after <= before for before, after in zip((0.0, *times), times, strict=False)):
        raise ValueError(f"patches would be alike: {', '.join(f'{t:g}' for t in times)} s; take larger steps or times")
    return times


def _rising(seconds: Sequence[float]) -> None:
    if not seconds or any(b <= a for a, b in zip((-1e-300, *seconds), seconds, strict=False)):
        raise ValueError(f"the patches' times must rise from patch 1; found {list(seconds)}")
