"""A paper's curve: exposure in green and blue light to density and back, with ISO range and speed (ISO 6846).

The emulsion is a mixture of parts of the same slope and the same speed in blue light, that differ in their speed in
green light, and of one shape: the logistic, or that with a bend. Exposures of both lights add before the logarithm is
taken. Exposures are in any one unit, the same for the whole curve; densities are reflection densities. Nothing is said
beyond what was read of a paper.
"""

import math
from dataclasses import dataclass, field

from timerd.printing.bend import Bend

LOW_POINT = 0.04
"""Density over the paper's white at which the range begins (ISO 6846)."""
HIGH_POINT = 0.90
"""Share of the greatest net density at which the range ends (ISO 6846; of the NET density, from memory)."""
SPEED_POINT = 0.60
"""Net density at which speed is counted (ISO 6846, from memory)."""

_SLACK = 0.002  # decades of blue to green: a mix typed by hand and one read from a file are the same mix
_R10 = (100, 125, 160, 200, 250, 320, 400, 500, 640, 800)  # speed numbers in thirds of a stop (from memory)
_BANDS = ((1.40, 0), (1.15, 1), (0.95, 2), (0.80, 3), (0.65, 4), (0.50, 5), (0.35, 6))


@dataclass(frozen=True, slots=True)
class Emulsion:
    """A part of the emulsion: the density it adds, its slope (per decade of exposure), its speed in each light.

    Half of its density is reached where blue * B + green * G = 1. Density and slope over 0, speeds 0 or more, not
    both 0.
    """

    density: float
    slope: float
    green: float
    blue: float


@dataclass(frozen=True, slots=True)
class Mix:
    """What was read in one mix of lights: the least and the most exposure in green, and in blue."""

    green: tuple[float, float]
    blue: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Curve:
    """Density of a paper: Dmin + sum of density_i / (1 + exp(-slope_i * log10(blue_i * B + green_i * G))).

    `mixes` are the limits of the readings behind it; a curve without any is not limited. With a `bend` the product
    after exp's sign is bent by it, in all parts alike.

    >>> curve = Curve(0.0, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),))
    >>> curve.density(0.0, 1.0), curve.density(2.0, 0.0), curve.density(1.0, 0.5)
    (1.0, 1.0, 1.0)
    """

    dmin: float
    parts: tuple[Emulsion, ...]
    mixes: tuple[Mix, ...] = ()
    bend: Bend | None = None
    _read: tuple[tuple[float, float, float], ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Sort the mixes by blue to green; each with the densities that were read there."""
        read = sorted(
            (
                _place(mix.green[1], mix.blue[1]),
                self.density(mix.green[0], mix.blue[0]),
                self.density(mix.green[1], mix.blue[1]),
            )
            for mix in self.mixes
        )
        object.__setattr__(self, "_read", tuple(read))

    @property
    def dmax(self) -> float:
        """The greatest density that the curve tends to."""
        return self.dmin + sum(part.density for part in self.parts)

    @property
    def low_point(self) -> float:
        """The density at which the ISO range begins."""
        return self.dmin + LOW_POINT

    @property
    def high_point(self) -> float:
        """The density at which the ISO range ends."""
        return self.dmin + HIGH_POINT * (self.dmax - self.dmin)

    def density(self, green: float, blue: float) -> float:
        """Density after these exposures, each 0 or more."""
        total = self.dmin
        for part in self.parts:
            exposure = part.blue * blue + part.green * green
            if exposure > 0.0:
                x = part.slope * math.log10(exposure)
                if self.bend is not None:
                    x = self.bend.at(x)
                total += part.density / (1.0 + math.exp(-x)) if x > -700.0 else 0.0
        return total

    def contrast(self, green: float, blue: float, flash_green: float = 0.0, flash_blue: float = 0.0) -> float:
        """Density per decade of image light, where the image gives `green` and `blue` and a flash the rest.

        A flash lights the paper alike everywhere, so it lifts the tone and takes local contrast away.

        >>> Curve(0.0, (Emulsion(2.0, 10.0, green=1.0, blue=1.0),)).contrast(0.5, 0.5)
        5.0
        """
        steep = 0.0
        for part in self.parts:
            image = part.blue * blue + part.green * green
            all_of_it = image + part.blue * flash_blue + part.green * flash_green
            if image > 0.0:
                x, slope = part.slope * math.log10(all_of_it), part.slope
                if self.bend is not None:
                    x, slope = self.bend.at(x), slope * self.bend.steep(x)
                share = 1.0 / (1.0 + math.exp(-x)) if x > -700.0 else 0.0
                steep += part.density * slope * share * (1.0 - share) * image / all_of_it
        return steep

    def multiple(self, density: float, green: float, blue: float) -> float:
        """By what to multiply a pair of exposures so that the density is reached: the inverse of `density`.

        ValueError where no exposure in this mix gives it. A bracketed search: every part reaches the wanted share
        of its own density somewhere, and the answer lies between the first and the last of these places.

        >>> Curve(0.0, (Emulsion(2.0, 10.0, green=0.5, blue=1.0),)).multiple(1.0, 4.0, 0.0)
        0.5
        """
        alive = [
            (part.density, part.slope, exposure)
            for part in self.parts
            if (exposure := part.blue * blue + part.green * green) > 0.0
        ]
        net, most = density - self.dmin, sum(weight for weight, _, _ in alive)
        if not 0.0 < net < most:
            reach = f"from {self.dmin:.2f} to {self.dmin + most:.2f}, not with the ends themselves"
            raise ValueError(f"density {density:.2f} is not on the curve of this mix, which goes {reach}")
        logit, bend = math.log(net / (most - net)), self.bend
        straight = logit if bend is None else bend.back(logit)
        places = [straight / slope - math.log10(exposure) for _, slope, exposure in alive]
        low, high = min(places), max(places)
        x = (low + high) / 2.0
        logs = [(weight, slope, math.log10(exposure)) for weight, slope, exposure in alive]
        for _ in range(100):
            if high - low <= 1e-15 * max(1.0, abs(low)):
                break
            value, steep = -net, 0.0
            for weight, slope, log in logs:
                at = slope * (x + log)
                if bend is not None:
                    at, slope = bend.at(at), slope * bend.steep(at)
                share = 1.0 / (1.0 + math.exp(min(700.0, -at)))
                value += weight * share
                steep += weight * slope * share * (1.0 - share)
            if value > 0.0:
                high = x
            else:
                low = x
            following = x - value / steep if steep > 0.0 else math.nan
            if not low <= following <= high:
                following = (low + high) / 2.0
            if abs(following - x) <= 1e-15 * max(1.0, abs(x)):
                x = following
                break
            x = following
        return math.pow(10.0, x)

    def known(self, green: float, blue: float) -> tuple[float, float]:
        """From which density to which the readings tell the curve in this mix; ValueError for a mix outside them.

        Between two mixes that were read, what both of them tell. Where the readings pass the low point the toe is
        known down to Dmin; where they pass the high point the shoulder is known up to Dmax.
        """
        if not self._read:
            return self.dmin, self.dmax
        place = _place(green, blue)
        near = [mix for mix in self._read if mix[0] == place or abs(mix[0] - place) <= _SLACK]
        if not near:
            below = [mix for mix in self._read if mix[0] < place]
            above = [mix for mix in self._read if mix[0] > place]
            if not below or not above:
                first, last = _place_words(self._read[0][0]), _place_words(self._read[-1][0])
                there = f"in {first} only" if first == last else f"from {first} to {last}"
                raise ValueError(f"the paper was read {there}, not in {_place_words(place)}: read it there too")
            near = [below[-1], above[0]]
        low, high = max(mix[1] for mix in near), min(mix[2] for mix in near)
        return (self.dmin if low <= self.low_point else low), (self.dmax if high >= self.high_point else high)

    def mix_places(self) -> tuple[float, ...]:
        """log10 of blue to green of every mix that was read, in order; infinite for one light alone."""
        return tuple(mix[0] for mix in self._read)


@dataclass(frozen=True, slots=True)
class IsoRange:
    """log10 of the exposures at the low, the speed and the high point: green and blue exposure together.

    >>> found = IsoRange(-0.2625, 0.36111, 1.07182)
    >>> round(found.r, 1), found.r_iso, round(found.speed, 1), found.speed_iso
    (133.4, 130, 435.4, 400)
    """

    log_ht: float
    log_hm: float
    log_hs: float

    @property
    def r(self) -> float:
        """ISO range, not rounded: 100 * (log HS - log HT)."""
        return 100.0 * (self.log_hs - self.log_ht)

    @property
    def r_iso(self) -> int:
        """ISO range as it is reported, to the nearest 10."""
        return 10 * math.floor(self.r / 10.0 + 0.5)

    @property
    def speed(self) -> float:
        """1000 / Hm: the ISO speed before rounding where exposures are in lux seconds, else relative."""
        return 1000.0 / math.pow(10.0, self.log_hm)

    @property
    def speed_iso(self) -> int | float:
        """Speed as it is reported, in steps of a third of a stop; right where exposures are in lux seconds."""
        steps = round(10.0 * math.log10(self.speed))
        value: float = _R10[steps % 10] * 10.0 ** (steps // 10 - 2)
        return round(value) if value >= 10 else value


def iso_range(curve: Curve, green: float, blue: float) -> IsoRange:
    """ISO range and speed of a paper in the mix of these two exposures, whatever their size.

    ValueError where the mix is outside the readings, or where they do not reach the toe or the shoulder there.
    Points after ISO 6846; the speed point and the high point's net density are from memory of it.

    >>> paper = Curve(0.0, (Emulsion(2.1, 10.0, green=0.1, blue=1.0),))
    >>> round(iso_range(paper, 0.0, 1.0).r, 1), round(iso_range(paper, 3.0, 1.0).r, 1)
    (61.4, 61.4)
    """
    if green < 0.0 or blue < 0.0 or not 0.0 < green + blue < math.inf:
        raise ValueError(f"exposures must be 0 or more, and not both 0; found green {green:g}, blue {blue:g}")
    low, high = curve.known(green, blue)
    words = mix_words(green, blue)
    if low > curve.dmin:
        raise ValueError(f"the readings do not reach the toe in {words}: least density known {low:.2f}")
    if high < curve.dmax:
        raise ValueError(f"the readings do not reach the shoulder in {words}: greatest density known {high:.2f}")
    points = (curve.low_point, curve.dmin + SPEED_POINT, curve.high_point)
    total = math.log10(green + blue)
    log_ht, log_hm, log_hs = (total + math.log10(curve.multiple(point, green, blue)) for point in points)
    return IsoRange(log_ht, log_hm, log_hs)


def grade(r: float) -> int | None:
    """The old paper grade of an ISO range R, 0 (very soft) to 6; None outside of them.

    Bands after ANSI PH2.2-1966 (inner limits and grade 6 from memory); a limit belongs to the softer grade, which
    is our own rule, for none is published.

    >>> [grade(r) for r in (155, 128, 105, 88, 73, 58, 43, 171, 34)]
    [0, 1, 2, 3, 4, 5, 6, None, None]
    """
    log_range = r / 100.0
    if log_range > 1.70:
        return None
    return next((number for lower, number in _BANDS if log_range >= lower), None)


def mix_words(green: float, blue: float) -> str:
    """A mix of lights in words, by its ratio alone.

    >>> mix_words(20.0, 5.0), mix_words(3.0, 9.0), mix_words(0.0, 9.0)
    ('green 1 : blue 0.25', 'green 1 : blue 3', 'blue alone')
    """
    return _place_words(_place(green, blue))


def _place(green: float, blue: float) -> float:
    """log10 of blue to green."""
    if green <= 0.0:
        return math.inf
    return math.log10(blue / green) if blue > 0.0 else -math.inf


def _place_words(place: float) -> str:
    if math.isinf(place):
        return "blue alone" if place > 0 else "green alone"
    return f"green 1 : blue {math.pow(10.0, place):.3g}"
