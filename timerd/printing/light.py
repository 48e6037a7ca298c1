"""How a lamp answers being switched: seconds switched on to dose (seconds of full light), and back."""

import math
from dataclasses import dataclass

_SHORTEST_RISE_S = 1e-6  # with an after-glow; below this no switch could choose a dose shorter than the glow
_SHORTEST_ON_S = 1e-9  # the least that a line is switched on for, where a relay's own delays give more than is wanted


@dataclass(frozen=True, slots=True)
class Response:
    """How a lamp answers being switched, all in seconds, 0 or more, finite.

    Either `rise_s` and `fall_s`, the times in which the light goes 63 % of its way up and down (filaments;
    a table's 10-90 % time is 2.197 of them), with `relay_on_s` and `relay_off_s`, how long after its
    line the relay closes and opens; or `lag_s`, the dose lost per burst, found with `measured_lag`, which has
    all of them in it already. An LED is `Response()`. ValueError where both are given, and for an after-glow
    with no rise: every burst would give the whole glow, so no smaller dose could be given.

    A burst is one unbroken on-time of the line, from cold. The light has the time from `relay_on_s` after its
    beginning to `relay_off_s` after its end: it rises at first order, then decays from the level it had reached.

    >>> Response(rise_s=0.5, fall_s=0.25).dose(64.0), Response(lag_s=0.5).dose(64.0), Response().dose(64.0)
    (63.75, 63.5, 64.0)
    >>> Response(relay_on_s=0.5, relay_off_s=0.25).dose(64.0)
    63.75
    """

    rise_s: float = 0.0
    fall_s: float = 0.0
    lag_s: float = 0.0
    relay_on_s: float = 0.0
    relay_off_s: float = 0.0

    def __post_init__(self) -> None:
        for name in ("rise", "fall", "lag", "relay_on", "relay_off"):
            value = getattr(self, f"{name}_s")
            if not 0.0 <= value < math.inf:
                raise ValueError(f"a lamp's {name.replace('_', ' ')} must be 0 seconds or more; found {value!r}")
        if self.lag_s and (self.rise_s or self.fall_s):
            raise ValueError(
                "give a lamp its rise and fall or its measured lag, not both: the lag has them in it; "
                f"found rise {self.rise_s!r}, fall {self.fall_s!r}, lag {self.lag_s!r}"
            )
        if self.lag_s and (self.relay_on_s or self.relay_off_s):
            raise ValueError(
                "give a lamp its relay's delays or its measured lag, not both: the lag has them in it; "
                f"found relay on {self.relay_on_s!r}, relay off {self.relay_off_s!r}, lag {self.lag_s!r}"
            )
        if self.fall_s and self.rise_s < _SHORTEST_RISE_S:
            raise ValueError(
                "a lamp that falls must also rise: doses shorter than the after-glow could not be given; "
                f"found rise {self.rise_s!r}, fall {self.fall_s!r}"
            )

    def dose(self, seconds: float) -> float:
        """Dose of one burst, after-glow included: t - tr(1 - e^(-t/tr)) + tf(1 - e^(-t/tr)), t the time with current.

        With a lag: t - lag, not below 0. Seconds of the line, 0 or more, finite, else ValueError. It is the light
        summed over the burst and the glow after it. A relay is taken to pass on every burst, however short: one
        that is too short for it to close at all is counted as light that it may not have given.

        >>> Response(rise_s=1.0).dose(1.0) == math.exp(-1.0), Response(lag_s=0.25).dose(1.0)
        (True, 0.75)
        """
        _no_less_than_0("a burst", seconds)
        if seconds == 0.0:
            return 0.0
        return self._dose_with_current(max(0.0, seconds + (self.relay_off_s - self.relay_on_s)))

    def _dose_with_current(self, seconds: float) -> float:
        if not self.rise_s:
            return max(0.0, float(seconds) - self.lag_s)
        x = seconds / self.rise_s
        level = -math.expm1(-x)
        # Rise apart from glow: both grow, so nothing cancels and short bursts keep all their figures.
        risen = self.rise_s * _series(x) if x < 0.05 else seconds - self.rise_s * level
        return risen + self.fall_s * level

    def seconds(self, dose: float) -> float:
        """Length of the ONE burst from cold that gives this dose: the inverse of `dose`, to 1e-12; 0 for 0.

        Dose in seconds of full light, 0 or more, finite, else ValueError. A relay that opens later than it closes
        gives the difference at least: a smaller dose gets the shortest burst there is, and that little too much.

        >>> Response(lag_s=0.25).seconds(0.75), Response().seconds(0.75)
        (1.0, 0.75)
        >>> round(Response(rise_s=1.0).seconds(math.exp(-1.0)), 12)
        1.0
        >>> Response(relay_on_s=0.25).seconds(0.75), Response(relay_off_s=0.25).seconds(0.125)
        (1.0, 1e-09)
        """
        _no_less_than_0("a dose", dose)
        if dose == 0.0:
            return 0.0
        more = self.relay_off_s - self.relay_on_s
        seconds = self._seconds_with_current(dose) - more
        return max(_SHORTEST_ON_S, seconds) if more > 0.0 else seconds

    def _seconds_with_current(self, dose: float) -> float:
        if not self.rise_s:
            return float(dose) + self.lag_s
        lost = self.rise_s - self.fall_s
        if lost >= 0.0:
            # Upper bound: x - 1 + e^-x >= x^2/(2 + x), solved for x; near enough for doses of any size.
            bound = (dose + math.sqrt(dose) * math.sqrt(dose + 8.0 * self.rise_s)) / 2.0
            low, high = float(dose), max(dose, min(bound, dose + lost))
            t = high
        else:
            low, high = max(0.0, dose + lost), float(dose)
            t = low
        # The dose bends one way only, so Newton's steps from this end of the bracket never pass the answer:
        # the first that turns back is rounding.
        while True:
            fade = math.exp(-t / self.rise_s)
            slope = -math.expm1(-t / self.rise_s) + self.fall_s * fade / self.rise_s
            following = min(high, max(low, t - (self._dose_with_current(t) - dose) / slope))
            settled = abs(following - t) <= 4e-16 * t
            if settled or (following < t) != (lost >= 0.0):
                return following
            t = following


def measured_lag(long_s: float, short_s: float, bursts: int) -> float:
    """Lag in seconds, where one burst T and n short ones of t leave the same density: (n*t - T)/(n - 1).

    Seconds over 0, at least two bursts, else ValueError. Relay delays and what the paper loses between bursts
    are in it. Below 0 where the after-glow outweighs the rise: `Response` then wants rise and fall. From
    T - lag = n * (t - lag).

    >>> round(measured_lag(10.0, 1.12, 10), 4)
    0.1333
    """
    for name, value in (("long", long_s), ("short", short_s)):
        if not 0.0 < value < math.inf:
            raise ValueError(f"the {name} burst must be over 0 seconds; found {value!r}")
    if bursts < 2:
        raise ValueError(f"a lag is measured with 2 short bursts or more; found {bursts!r}")
    return (bursts * short_s - long_s) / (bursts - 1)


def _series(x: float) -> float:
    """x - 1 + e^-x for small x, where the difference would lose its figures."""
    tail = 1.0
    for k in range(9, 2, -1):
        tail = 1.0 - x / k * tail
    return x * x / 2.0 * tail


def _no_less_than_0(name: str, value: float) -> None:
    if not 0.0 <= value < math.inf:
        raise ValueError(f"{name} must be 0 seconds or more; found {value!r}")
