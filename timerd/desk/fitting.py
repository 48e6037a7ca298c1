"""Readings of a paper to its curve: least squares, as many parts as the readings carry, and how sure it all is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.optimize import least_squares

from timerd.desk.readings import Reading
from timerd.printing.paper import Curve, IsoRange, Mix, Part, iso_range
from timerd.sheet.profile.curvefile import MOST_DENSITY, MOST_MIXES, MOST_SLOPE, MOST_SPEED

Floats = np.ndarray[Any, np.dtype[np.float64]]

FEWEST = 8
MOST_PARTS = 3
_SAME_MIX = 0.005  # share of blue to green within which two readings are of one mix
_FALL = 0.15  # density by which readings may not fall while exposure rises
_ROBUST = 0.06  # beyond a residual of this density the first, robust fit counts a reading less
_STANDS_OUT = 4.0  # robust standard deviations
_STANDS_OUT_DENSITY = 0.05
_MOST_LEFT_OUT = 0.1  # share of the readings: where more stand out the model is wrong, not they
_UNSURE = 0.1  # of the net density: with a Dmax less certain than this the shoulder was not reached
_TOO_FAR = 0.15  # scatter in density beyond which the readings lie on no such curve
_STRONG = 10.0  # by so much the criterion must be better before parts get slopes or blue speeds of their own
_FAR = 40.0  # natural logarithm beyond which a search has lost its way
_LN10 = math.log(10.0)


class CannotFit(ValueError):
    """The readings cannot carry a fit; the reason in one line."""


@dataclass(frozen=True, slots=True)
class Residual:
    """One reading beside the curve; `stands_out` readings were left out of the fit."""

    reading: Reading
    fitted: float
    stands_out: bool

    @property
    def residual(self) -> float:
        return self.reading.density - self.fitted


@dataclass(frozen=True, slots=True)
class MixRange:
    """A mix that was read: its range with one standard deviation of R, or why there is none."""

    mix: Mix
    found: IsoRange | None
    within: float | None
    why: str | None


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted curve; `within` are one standard deviation of dmin, slopes, blue speeds, densities, green speeds."""

    curve: Curve
    form: str
    within: dict[str, tuple[float, ...]]
    shared_slope: bool
    shared_blue: bool
    scatter: float
    residuals: tuple[Residual, ...]
    ranges: tuple[MixRange, ...]
    criterion: dict[str, float]


def fit(readings: Sequence[Reading]) -> Fit:
    """The curve of a paper from its readings; CannotFit, with the reason, where they do not carry one.

    Candidates have 1 to 3 parts with one slope and one speed in blue, and such with slopes or speeds in blue of their
    own; the one with the least Bayesian information criterion (n ln(RSS / n) + p ln n, Schwarz 1978) is taken, numbers
    of their own only where it is better by 10 ("very strong", Kass and Raftery 1995; both from memory). A first fit
    counts far readings less; those that stand out from it are named and left out of the second, which is plain least
    squares. Needs 8 readings, toe and shoulder reached in some mix, densities that rise with exposure.
    """
    _refuse_what_cannot_be(readings)
    mixes = _mixes(readings)
    forms = _forms(readings)
    all_of_them = _Data.of(readings)
    rough = _choose({form: _robust(form, all_of_them) for form in forms if not form.own}, all_of_them)[0]
    out = _standing_out(rough[0].residuals(rough[1], all_of_them))
    kept = _Data.of([reading for reading, far in zip(readings, out, strict=True) if not far])
    solved: dict[_Form, _Solved] = {}
    for form in forms:
        alike = solved.get(replace(form, own_slopes=False, own_blues=False)) if form.own else None
        starts = _starts(form, kept) if alike is None else [form.apart(alike[0])]
        solved[form] = min((_solve(form, start, kept) for start in starts), key=lambda one: one[1])
    (form, theta), criterion = _choose(solved, kept)
    residuals: Floats = form.residuals(theta, kept)
    freedom = max(1, len(kept.density) - form.size)
    scatter = math.sqrt(float(residuals @ residuals) / freedom)
    covariance = _covariance(form, theta, kept, scatter)
    curve = form.curve(theta, mixes)
    _refuse_what_was_not_reached(curve, form, theta, covariance, scatter)
    fitted = [curve.density(reading.green, reading.blue) for reading in readings]
    return Fit(
        curve, form.words, form.within(theta, covariance), not form.own_slopes, not form.own_blues, scatter,
        tuple(Residual(*one) for one in zip(readings, fitted, out, strict=True)),
        tuple(_mix_range(form, theta, covariance, mixes, mix) for mix in mixes),
        criterion,
    )  # fmt: skip


# -- what readings must have ---------------------------------------------------------------------------------


def _refuse_what_cannot_be(readings: Sequence[Reading]) -> None:
    if len(readings) < FEWEST:
        raise CannotFit(f"{len(readings)} readings cannot carry a fit: {FEWEST} or more are needed")
    densities = [reading.density for reading in readings]
    if max(densities) - min(densities) < 0.3:
        raise CannotFit(
            f"the densities lie between {min(densities):.2f} and {max(densities):.2f}: "
            "neither toe nor shoulder is reached"
        )
    groups = _by_mix(readings)
    if len(groups) > MOST_MIXES:
        raise CannotFit(f"the readings are in {len(groups)} mixes of lights: {MOST_MIXES} at most are taken")
    for same in groups:
        if len(same) < 3:
            continue
        ordered = sorted(same, key=_exposure)
        # the second greatest so far, so that one wild reading does not count for a fall
        greatest, second_greatest = sorted(ordered[:2], key=lambda reading: -reading.density)
        for first, second in pairwise(ordered[2:]):
            if max(first.density, second.density) < second_greatest.density - _FALL:
                raise CannotFit(
                    f"densities fall with exposure: {second_greatest.density:.2f} on line {second_greatest.line}, "
                    f"with more exposure {first.density:.2f} on line {first.line}: "
                    "are wedge or exposures the wrong way round?"
                )
            if first.density > second_greatest.density:
                greatest, second_greatest = sorted((greatest, first), key=lambda reading: -reading.density)


def _refuse_what_was_not_reached(
    curve: Curve, form: _Form, theta: Floats, covariance: Floats, scatter: float
) -> None:  # fmt: skip
    if scatter > _TOO_FAR:
        raise CannotFit(f"the readings lie {scatter:.2f} in density from any such curve: is a column mixed up?")
    if max(part.slope for part in curve.parts) > MOST_SLOPE:
        raise CannotFit("density jumps from one patch to the next: no slope can be told, give patches in smaller steps")
    if max(max(part.green, part.blue) for part in curve.parts) > MOST_SPEED:
        raise CannotFit("the readings do not tell how fast the paper is in each light: read it in more mixes")
    if curve.dmax > MOST_DENSITY:
        raise CannotFit(f"the curve that fits goes to density {curve.dmax:.1f}, which no paper has: read more patches")
    known = [curve.known(mix.green[1], mix.blue[1]) for mix in curve.mixes]
    net = curve.dmax - curve.dmin
    unsure = math.sqrt(max(0.0, float(form.dmax_gradient(theta) @ covariance @ form.dmax_gradient(theta))))
    unsure_low = math.sqrt(max(0.0, float(covariance[0, 0])))
    if all(low > curve.dmin for low, _ in known) or unsure_low > _UNSURE * net:
        raise CannotFit(_not_reached("toe", min(low for low, _ in known), curve.low_point, "less"))
    if all(high < curve.dmax for _, high in known) or unsure > _UNSURE * net:
        raise CannotFit(_not_reached("shoulder", max(high for _, high in known), curve.high_point, "more"))


def _not_reached(what: str, last: float, wanted: float, word: str) -> str:
    return (
        f"the {what} is not reached in any mix: the readings end at density {last:.2f}, it needs about {wanted:.2f}: "
        f"give {word} exposure"
    )


def _by_mix(readings: Sequence[Reading]) -> list[list[Reading]]:
    """The exposed readings, those of one ratio of blue to green together, from green alone to blue alone."""
    groups: list[list[Reading]] = []
    lit = [reading for reading in readings if reading.green + reading.blue > 0.0]
    for reading in sorted(lit, key=lambda one: (math.atan2(one.blue, one.green), one.line)):
        if groups:
            first = groups[-1][0]
            gap = abs(first.green * reading.blue - first.blue * reading.green)
            if gap <= _SAME_MIX * min(first.green * reading.blue, first.blue * reading.green):
                groups[-1].append(reading)
                continue
        groups.append([reading])
    return groups


def _mixes(readings: Sequence[Reading]) -> tuple[Mix, ...]:
    mixes = []
    for same in _by_mix(readings):
        ends = [min(same, key=_exposure), max(same, key=_exposure)]
        # the ratio of the greatest exposure, so that rounding in the file makes no mix of its own
        least = _exposure(ends[0]) / _exposure(ends[1])
        green, blue = ends[1].green, ends[1].blue
        mixes.append(Mix((green * least, green), (blue * least, blue)))
    return tuple(mixes)


def _exposure(reading: Reading) -> float:
    return reading.green + reading.blue


# -- the model -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Data:
    green: Floats
    blue: Floats
    density: Floats

    @staticmethod
    def of(readings: Sequence[Reading]) -> _Data:
        rows = np.array([(reading.green, reading.blue, reading.density) for reading in readings], dtype=float)
        return _Data(rows[:, 0], rows[:, 1], rows[:, 2])


@dataclass(frozen=True, slots=True)
class _Form:
    """Which numbers a candidate has: dmin, then natural logarithms of slopes, blue speeds, densities, green speeds.

    In readings of one light alone the parts differ in that light, and the other has no speed.
    """

    parts: int
    own_slopes: bool = False
    own_blues: bool = False
    greens: bool = True
    blues: bool = True

    @property
    def own(self) -> bool:
        """Whether parts have what the emulsion's parts usually share."""
        return self.own_slopes or (self.own_blues and self.greens)

    @property
    def words(self) -> str:
        own = [name for name, there in (("slopes", self.own_slopes), ("speeds in blue", self.own_blues)) if there]
        return f"{self.parts} part{'s' if self.parts > 1 else ''}" + (f", own {' and '.join(own)}" if own else "")

    @property
    def counts(self) -> tuple[int, int, int, int]:
        """How many slopes, blue speeds, densities, green speeds."""
        n = self.parts
        return n if self.own_slopes else 1, (n if self.own_blues else 1) * self.blues, n, n * self.greens

    @property
    def size(self) -> int:
        return 1 + sum(self.counts)

    def apart(self, theta: Floats) -> Floats:
        """The numbers of the form in which the parts share slope and speed in blue, each with a copy of its own."""
        copies = (1, self.counts[0], self.counts[1])
        shared = [np.full(n, value) for n, value in zip(copies, theta[:3], strict=True)]
        return np.concatenate([*shared, theta[3:]])

    def _cut(self, theta: Floats) -> list[Floats]:
        """Slopes, blue speeds, densities, green speeds, one for each part."""
        places = np.cumsum((1, *self.counts))
        pieces = [np.exp(np.clip(theta[a:b], -_FAR, _FAR)) for a, b in pairwise(places)]
        return [np.resize(piece, self.parts) if len(piece) else np.zeros(self.parts) for piece in pieces]

    def _inside(self, theta: Floats, data: _Data) -> tuple[Floats, Floats, Floats]:
        """For each part and reading: the share of its density, its log10 exposure, the blue share of that."""
        slopes, blues, _, greens = self._cut(theta)
        from_blue = blues[:, None] * data.blue[None, :]
        exposure = from_blue + greens[:, None] * data.green[None, :]
        dark = exposure <= 0.0
        log = np.log10(np.where(dark, 1.0, exposure))
        share = np.where(dark, 0.0, 1.0 / (1.0 + np.exp(np.clip(-slopes[:, None] * log, -700.0, 700.0))))
        return share, log, np.where(dark, 0.0, from_blue / np.where(dark, 1.0, exposure))

    def residuals(self, theta: Floats, data: _Data) -> Floats:
        share, _, _ = self._inside(theta, data)
        found: Floats = theta[0] + self._cut(theta)[2] @ share - data.density
        return found

    def jacobian(self, theta: Floats, data: _Data) -> Floats:
        slopes, _, densities, _ = self._cut(theta)
        share, log, blue_share = self._inside(theta, data)
        steep = densities[:, None] * share * (1.0 - share) * slopes[:, None]
        columns = [np.ones((1, len(data.density)))]
        slope, blue = steep * log, steep * blue_share / _LN10
        columns.append(slope if self.own_slopes else slope.sum(axis=0, keepdims=True))
        if self.blues:
            columns.append(blue if self.own_blues else blue.sum(axis=0, keepdims=True))
        columns.append(densities[:, None] * share)
        if self.greens:
            columns.append(steep * (1.0 - blue_share) / _LN10)
        return np.concatenate(columns).T

    def dmax_gradient(self, theta: Floats) -> Floats:
        gradient = np.zeros(self.size)
        gradient[0] = 1.0
        start = 1 + self.counts[0] + self.counts[1]
        gradient[start : start + self.parts] = self._cut(theta)[2]
        return gradient

    def curve(self, theta: Floats, mixes: tuple[Mix, ...] = ()) -> Curve:
        slopes, blues, densities, greens = self._cut(theta)
        rows = sorted(zip(greens, blues, densities, slopes, strict=True), key=lambda row: (-row[0], -row[1]))
        parts = tuple(Part(float(d), float(s), float(g), float(b)) for g, b, d, s in rows)
        return Curve(max(0.0, float(theta[0])), parts, mixes)

    def within(self, theta: Floats, covariance: Floats) -> dict[str, tuple[float, ...]]:
        """One standard deviation of each number, in the order of the curve's parts."""
        errors = np.sqrt(np.clip(np.diag(covariance), 0.0, None))
        slopes, blues, densities, greens = self._cut(theta)
        places = np.cumsum((1, *self.counts))
        of = [errors[a:b] for a, b in pairwise(places)]
        spread = [np.resize(one, self.parts) if len(one) else np.zeros(self.parts) for one in of]
        order = sorted(range(self.parts), key=lambda i: (-greens[i], -blues[i]))
        found: dict[str, tuple[float, ...]] = {"dmin": (float(errors[0]),)}
        names = ("slope", "blue", "density", "green")
        for name, values, relative in zip(names, (slopes, blues, densities, greens), spread, strict=True):
            found[name] = tuple(float(values[i] * relative[i]) for i in order)
        return found


def _forms(readings: Sequence[Reading]) -> list[_Form]:
    greens, blues = any(one.green > 0.0 for one in readings), any(one.blue > 0.0 for one in readings)
    if not (greens and blues):
        found = [_Form(n, own_blues=n > 1 and blues, greens=greens, blues=blues) for n in range(1, MOST_PARTS + 1)]
    else:
        found = [_Form(n) for n in range(1, MOST_PARTS + 1)]
        found += [_Form(n, own_slopes=True) for n in range(2, MOST_PARTS + 1)]
        found += [_Form(n, own_blues=True) for n in range(2, MOST_PARTS + 1)]
    return [form for form in found if form.size < len(readings)]


# -- least squares -------------------------------------------------------------------------------------------

_Solved = tuple[Floats, float]
"""The numbers found, and the sum of squares that is left."""


def _starts(form: _Form, data: _Data) -> list[Floats]:
    """Some first guesses: half of the net density is reached where b * B + g * G = 1, the parts to both sides of it."""
    dmin, dmax = float(np.min(data.density)), float(np.max(data.density))
    net = dmax - dmin
    middle = (data.density > dmin + 0.25 * net) & (data.density < dmin + 0.75 * net)
    if not middle.any():
        middle = np.abs(data.density - dmin - 0.5 * net) <= 0.45 * net
    if not middle.any():
        middle = data.green + data.blue > 0.0
    speeds = [
        1.0 / float(np.exp(np.mean(np.log(light[only])))) if (only := middle & (light > 0.0) & (other <= 0.0)).any()
        else 1.0 / float(np.exp(np.mean(np.log(light[mixed])))) if (mixed := middle & (light > 0.0)).any() else 1.0
        for light, other in ((data.green, data.blue), (data.blue, data.green))
    ]  # fmt: skip
    found = []
    for slope in (5.0, 10.0):
        for spread in (0.0,) if form.parts == 1 else (0.4, 0.9):
            steps = (np.arange(form.parts) - (form.parts - 1) / 2.0) * spread * _LN10
            slopes, blues, densities, greens = form.counts
            side = -steps if not form.greens else np.zeros(form.parts)
            found.append(
                np.concatenate([
                    [dmin], np.full(slopes, math.log(slope)),
                    math.log(speeds[1]) + (side[:blues] if blues == form.parts else np.zeros(blues)),
                    np.full(densities, math.log(net / form.parts)), (math.log(speeds[0]) - steps)[:greens],
                ])
            )  # fmt: skip
    return found


def _robust(form: _Form, data: _Data) -> _Solved:
    """The best of some starts, with far readings counting less."""
    return min((_solve(form, start, data, loss="soft_l1") for start in _starts(form, data)), key=lambda one: one[1])


def _solve(form: _Form, start: Floats, data: _Data, loss: str = "linear") -> _Solved:
    found = least_squares(
        form.residuals, start, form.jacobian, args=(data,), loss=loss, f_scale=_ROBUST, max_nfev=100,
        method="lm" if loss == "linear" else "trf",
    )  # fmt: skip
    return found.x, 2.0 * float(found.cost)


def _choose(solved: dict[_Form, _Solved], data: _Data) -> tuple[tuple[_Form, Floats], dict[str, float]]:
    n = len(data.density)
    floor = n * 1e-12  # readings without any scatter would make a criterion of minus infinity
    criterion = {
        form: n * math.log(max(squares, floor) / n) + form.size * math.log(n) for form, (_, squares) in solved.items()
    }
    best = min(criterion, key=lambda form: (criterion[form] + (_STRONG if form.own else 0.0), form.size))
    return (best, solved[best][0]), {form.words: value for form, value in criterion.items()}


def _standing_out(residuals: Floats) -> list[bool]:
    scale = 1.4826 * float(np.median(np.abs(residuals)))
    far = np.abs(residuals) > max(_STANDS_OUT * scale, _STANDS_OUT_DENSITY)
    if far.sum() > _MOST_LEFT_OUT * len(residuals):
        far = np.zeros(len(residuals), dtype=bool)
    return [bool(one) for one in far]


def _covariance(form: _Form, theta: Floats, data: _Data, scatter: float) -> Floats:
    jacobian = form.jacobian(theta, data)
    return np.asarray(scatter**2 * np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-12), dtype=np.float64)


def _mix_range(form: _Form, theta: Floats, covariance: Floats, mixes: tuple[Mix, ...], mix: Mix) -> MixRange:
    """The range in one mix; its uncertainty by how R changes with each number of the fit."""

    def r(numbers: Floats) -> float:
        return iso_range(form.curve(numbers), mix.green[1], mix.blue[1]).r

    try:
        found = iso_range(form.curve(theta, mixes), mix.green[1], mix.blue[1])
    except ValueError as error:
        return MixRange(mix, None, None, str(error))
    gradient = np.zeros(form.size)
    for i in range(form.size):
        step = np.zeros(form.size)
        step[i] = 1e-5
        gradient[i] = (r(theta + step) - r(theta - step)) / 2e-5
    return MixRange(mix, found, math.sqrt(max(0.0, float(gradient @ covariance @ gradient))), None)
