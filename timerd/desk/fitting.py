"""Readings of a paper to its curve: least squares, as many parts as the readings carry, and how sure it all is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from scipy.optimize import least_squares

from timerd.desk.fitcheck import Beside, Misfit, misfit
from timerd.desk.fitform import BENDS, STEPS, Data, Floats, Form
from timerd.desk.fitsure import BENDS_TRIED, Fitted, Sure, causes, freedom, how_sure, penalized
from timerd.desk.readings import PatchReading
from timerd.printing.deviation import Deviation, Pair, deviation, deviations
from timerd.printing.paper import Curve, IsoRange, Mix, iso_range
from timerd.sheet.profile.curvefile import MOST_DENSITY, MOST_MIXES, MOST_SLOPE, MOST_SPEED

FEWEST = 8
MOST_PARTS = 3
_SAME_MIX = 0.005  # share of blue to green within which two readings are of one mix
_FALL = 0.15  # density by which readings may not fall while exposure rises
_ROBUST = 0.06  # beyond a residual of this density the first, robust fit counts a reading less
_USUAL = 0.02  # density by which readings lie from their curve, before that is known
_STANDS_OUT = 4.0  # robust standard deviations
_STANDS_OUT_DENSITY = 0.05
_MOST_LEFT_OUT = 0.1  # share of the readings: where more stand out the model is wrong, not they
_UNSURE = 0.1  # of the net density: with a Dmax less certain than this the shoulder was not reached
_TOO_FAR = 0.15  # scatter in density beyond which the readings lie on no such curve
_STRONG = 10.0  # by so much the criterion must be better before parts get slopes or blue speeds of their own
_LN10 = math.log(10.0)


class CannotFit(ValueError):
    """The readings cannot carry a fit; the reason in one line."""


@dataclass(frozen=True, slots=True)
class Residual:
    """One reading beside the curve; `stands_out` readings were left out of the fit."""

    reading: PatchReading
    fitted: float
    stands_out: bool

    @property
    def residual(self) -> float:
        return self.reading.density - self.fitted


@dataclass(frozen=True, slots=True)
class MixRange:
    """A mix that was read: its range with one standard deviation of R, or why there is none.

    `log_hm_within` is one deviation of log10 of the exposure at the speed point; `beside` is R by interpolation, with
    one deviation of it.
    """

    mix: Mix
    found: IsoRange | None
    within: float | None
    why: str | None
    log_hm_within: float | None = None
    beside: Beside | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted curve; `within` are one standard deviation of dmin, slopes, blue speeds, densities, green speeds.

    `deviations` are the same with how they go together, `bent` how likely the parts are not the logistic (0 to 1),
    `light` by how many decades the light seems to have differed from mix to mix, `misfit` what speaks against it all.
    """

    curve: Curve
    form: str
    within: dict[str, tuple[float, ...]]
    shared_slope: bool
    shared_blue: bool
    scatter: float
    residuals: tuple[Residual, ...]
    ranges: tuple[MixRange, ...]
    criterion: dict[str, float]
    dmax_within: float | None
    deviations: tuple[Deviation, ...]
    bent: float
    light: float
    misfit: Misfit


def fit(readings: Sequence[PatchReading]) -> Fit:
    """The curve of a paper from its readings; CannotFit, with the reason, where they do not carry one.

    Candidates have 1 to 3 parts with one slope and one speed in blue, and such with slopes or speeds in blue of their
    own, each with a bend and without; the one with the least Bayesian information criterion (n ln(RSS / n) + p ln n,
    Schwarz 1978) is taken, numbers of their own only where it is better by 10 ("very strong", Kass and Raftery 1995;
    both from memory). A first fit counts far readings less; those that stand out from it are named and left out of the
    second. How sure it is takes in what the readings leave open of the bend, and of the light from mix to mix
    (`fitsure`); where they still do not lie about the curve as by chance, deviations are widened (`fitcheck`). Needs 8
    readings, toe and shoulder reached in some mix, densities that rise with exposure.
    """
    _refuse_what_cannot_be(readings)
    mixes = _mixes(readings)
    forms = _forms(readings)
    everything = _data(readings)
    out = _standing_out(_rough(forms, everything))
    data = everything.kept(~np.array(out))
    forms = [form for form in forms if form.size < len(data)]
    best, criterion = _choose(_candidates(forms, data), len(data))
    _refuse_what_is_no_curve(best.form.curve(best.straight, mixes), best.scatter)
    sure = how_sure(best.form, best.straight, best.bent, best.scatter, data)
    curve = best.form.curve(sure.theta, mixes)
    found = misfit(curve, data.shifted(sure.shifts), sure.scatter)
    sure = replace(sure, covariance=sure.covariance * found.widen**2)
    told = causes(best.form, sure, data)
    pairs = [one.pair(curve) for one in told]
    _refuse_what_is_no_curve(curve, sure.scatter)
    _refuse_what_was_not_reached(curve, pairs)
    fitted = [curve.density(reading.green, reading.blue) for reading in readings]
    return Fit(
        curve, best.form.words + (", bent" if curve.bend is not None else ""), _within(best.form, sure),
        not best.form.own_slopes, not best.form.own_blues, sure.scatter,
        tuple(Residual(*one) for one in zip(readings, fitted, out, strict=True)),
        tuple(_mix_range(curve, pairs, *one) for one in zip(mixes, found.beside, strict=True)),
        criterion, deviation(lambda one: one.dmax, curve, pairs), told, sure.bent, sure.light, found,
    )  # fmt: skip


# -- what readings must have ---------------------------------------------------------------------------------


def _refuse_what_cannot_be(readings: Sequence[PatchReading]) -> None:
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


def _refuse_what_is_no_curve(curve: Curve, scatter: float) -> None:
    if scatter > _TOO_FAR:
        raise CannotFit(f"the readings lie {scatter:.2f} in density from any such curve: is a column mixed up?")
    if max(part.slope for part in curve.parts) > MOST_SLOPE:
        raise CannotFit("density jumps from one patch to the next: no slope can be told, give patches in smaller steps")
    if max(max(part.green, part.blue) for part in curve.parts) > MOST_SPEED:
        raise CannotFit("the readings do not tell how fast the paper is in each light: read it in more mixes")
    if curve.dmax > MOST_DENSITY:
        raise CannotFit(f"the curve that fits goes to density {curve.dmax:.1f}, which no paper has: read more patches")


def _refuse_what_was_not_reached(curve: Curve, pairs: Sequence[Pair]) -> None:
    known = [curve.known(mix.green[1], mix.blue[1]) for mix in curve.mixes]
    net = curve.dmax - curve.dmin
    unsure_low, unsure = (
        deviation(worked_out, curve, pairs) or 0.0 for worked_out in (lambda one: one.dmin, lambda one: one.dmax)
    )
    if all(low > curve.dmin for low, _ in known) or unsure_low > _UNSURE * net:
        raise CannotFit(_not_reached("toe", min(low for low, _ in known), curve.low_point, "less"))
    if all(high < curve.dmax for _, high in known) or unsure > _UNSURE * net:
        raise CannotFit(_not_reached("shoulder", max(high for _, high in known), curve.high_point, "more"))


def _not_reached(what: str, last: float, wanted: float, word: str) -> str:
    return (
        f"the {what} is not reached in any mix: the readings end at density {last:.2f}, it needs about {wanted:.2f}: "
        f"give {word} exposure"
    )


def _by_mix(readings: Sequence[PatchReading]) -> list[list[PatchReading]]:
    """The exposed readings, those of one ratio of blue to green together, from green alone to blue alone."""
    groups: list[list[PatchReading]] = []
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


def _mixes(readings: Sequence[PatchReading]) -> tuple[Mix, ...]:
    mixes = []
    for same in _by_mix(readings):
        ends = [min(same, key=_exposure), max(same, key=_exposure)]
        # the ratio of the greatest exposure, so that rounding in the file makes no mix of its own
        least = _exposure(ends[0]) / _exposure(ends[1])
        green, blue = ends[1].green, ends[1].blue
        mixes.append(Mix((green * least, green), (blue * least, blue)))
    return tuple(mixes)


def _data(readings: Sequence[PatchReading]) -> Data:
    numbers = {id(reading): k for k, same in enumerate(_by_mix(readings)) for reading in same}
    rows = np.array([(reading.green, reading.blue, reading.density) for reading in readings], dtype=float)
    mix = np.array([numbers.get(id(reading), -1) for reading in readings], dtype=int)
    return Data(rows[:, 0], rows[:, 1], rows[:, 2], mix)


def _exposure(reading: PatchReading) -> float:
    return reading.green + reading.blue


# -- the candidates ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A form fitted without a bend and with one; how far readings lie from it, and its criterion."""

    form: Form
    straight: Floats
    bent: Fitted
    scatter: float
    criterion: float


def _forms(readings: Sequence[PatchReading]) -> list[Form]:
    greens, blues = any(one.green > 0.0 for one in readings), any(one.blue > 0.0 for one in readings)
    if not (greens and blues):
        found = [Form(n, own_blues=n > 1 and blues, greens=greens, blues=blues) for n in range(1, MOST_PARTS + 1)]
    else:
        found = [Form(n) for n in range(1, MOST_PARTS + 1)]
        found += [Form(n, own_slopes=True) for n in range(2, MOST_PARTS + 1)]
        found += [Form(n, own_blues=True) for n in range(2, MOST_PARTS + 1)]
    return [form for form in found if form.size < len(readings)]


def _candidates(forms: Sequence[Form], data: Data) -> list[_Candidate]:
    n = len(data)
    floor = n * 1e-12  # readings without any scatter would make a criterion of minus infinity
    found: dict[Form, _Candidate] = {}
    for form in forms:
        alike = found.get(replace(form, own_slopes=False, own_blues=False)) if form.own else None
        starts = _starts(form, data) if alike is None else [form.apart(alike.straight)]
        straight, squares = min((_solve(form, start, data) for start in starts), key=lambda one: one[1])
        scatter = math.sqrt(max(floor, squares) / (n - form.size))
        bent = penalized(form, np.concatenate([straight, np.zeros(BENDS)]), data, scatter, BENDS_TRIED, 0.0)
        left = freedom(form, bent, data, scatter)
        criterion = min(
            n * math.log(max(rest, floor) / n) + used * math.log(n)
            for rest, used in ((squares, form.size), (bent.squares, n - left))
        )
        found[form] = _Candidate(form, straight, bent, math.sqrt(max(floor, bent.squares) / left), criterion)
    return list(found.values())


def _choose(found: Sequence[_Candidate], n: int) -> tuple[_Candidate, dict[str, float]]:
    best = min(found, key=lambda one: (one.criterion + (_STRONG if one.form.own else 0.0), one.form.size))
    return best, {one.form.words: one.criterion for one in found}


# -- least squares -------------------------------------------------------------------------------------------

_Solved = tuple[Floats, float]
"""The numbers found, and the sum of squares that is left."""


def _starts(form: Form, data: Data) -> list[Floats]:
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


def _rough(forms: Sequence[Form], data: Data) -> Floats:
    """Residuals of a first fit in which far readings count less: the likeliest number of parts, with a bend."""
    n = len(data)
    plain: dict[Form, _Solved] = {}
    for form in forms:
        if not form.own:
            starts = _starts(form, data)
            plain[form] = min((_solve(form, start, data, "soft_l1") for start in starts), key=lambda one: one[1])
    form = min(plain, key=lambda one: n * math.log(max(plain[one][1], n * 1e-12) / n) + one.size * math.log(n))
    weights = _USUAL / (BENDS_TRIED[0] * STEPS)

    def rest(theta: Floats) -> Floats:
        return np.concatenate([form.residuals(theta, data), weights * theta[form.size :]])

    def slopes(theta: Floats) -> Floats:
        penalty = np.hstack([np.zeros((BENDS, form.size)), np.diag(weights)])
        return np.concatenate([form.jacobian(theta, data), penalty])

    start = np.concatenate([plain[form][0], np.zeros(BENDS)])
    found = least_squares(rest, start, slopes, loss="soft_l1", f_scale=_ROBUST, max_nfev=100, method="trf").x
    return form.residuals(found, data)


def _solve(form: Form, start: Floats, data: Data, loss: str = "linear") -> _Solved:
    found = least_squares(
        form.residuals, start, form.jacobian, args=(data,), loss=loss, f_scale=_ROBUST, max_nfev=100,
        method="lm" if loss == "linear" else "trf",
    )  # fmt: skip
    return found.x, 2.0 * float(found.cost)


def _standing_out(residuals: Floats) -> list[bool]:
    scale = 1.4826 * float(np.median(np.abs(residuals)))
    far = np.abs(residuals) > max(_STANDS_OUT * scale, _STANDS_OUT_DENSITY)
    if far.sum() > _MOST_LEFT_OUT * len(residuals):
        far = np.zeros(len(residuals), dtype=bool)
    return [bool(one) for one in far]


# -- what is told --------------------------------------------------------------------------------------------


def _within(form: Form, sure: Sure) -> dict[str, tuple[float, ...]]:
    """One standard deviation of each number, in the order of the curve's parts."""
    errors = np.sqrt(np.clip(np.diag(sure.covariance), 0.0, None))
    curve, relative = form.curve(sure.theta), form.deviation(sure.theta, errors)
    found: dict[str, tuple[float, ...]] = {"dmin": (relative.dmin,)}
    names = {"slope": "slopes", "blue": "blues", "density": "densities", "green": "greens"}
    for name, plural in names.items():
        many = getattr(relative, plural)
        found[name] = tuple(getattr(part, name) * one for part, one in zip(curve.parts, many, strict=True))
    return found


def _mix_range(curve: Curve, pairs: Sequence[Pair], mix: Mix, beside: Beside | None) -> MixRange:
    """The range in one mix, and how sure it is."""

    def r_and_speed(one: Curve) -> tuple[float, float]:
        found = iso_range(one, mix.green[1], mix.blue[1])
        return found.r, found.log_hm

    try:
        found = iso_range(curve, mix.green[1], mix.blue[1])
    except ValueError as error:
        return MixRange(mix, None, None, str(error))
    within = deviations(r_and_speed, curve, pairs)
    return MixRange(mix, found, within[0], None, within[1], beside)
