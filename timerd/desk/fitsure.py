"""How sure the numbers of a fit are: what readings, their kind of curve and the light from mix to mix leave open.

Three things are not known of readings: how far each is off, by how much the parts differ from the logistic (the
bend), and by how much the light differed from mix to mix. For the latter two a few sizes are gone through, from none to
much; each is fitted with penalties (Gaussian priors of that size) and weighed by how likely it makes the readings
(Laplace's approximation of the marginal likelihood, as in MacKay 1992; from memory). What is told is the mean over all
of them, and as covariance the mean of theirs and of how far they lie from it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from timerd.desk.fitform import BENDS, STEPS, Data, Floats, Form
from timerd.printing.bend import PLACES
from timerd.printing.deviation import Deviation

Bends = tuple[float, float]
"""The size of a bend in the toe and in the shoulder: of a step as long as the logistic's unit, natural logarithm."""

BENDS_TRIED: Bends = (0.3, 0.3)
"""That which is tried where one only is."""
_SIZES = ((0.0, 0.3), (0.3, 0.5), (0.7, 0.2))  # of either, and how likely each is beforehand
_LOGISTIC = 0.25  # how likely it is that neither is bent
_LIGHTS = ((0.0, 0.4), (0.008, 0.3), (0.02, 0.2), (0.05, 0.1))  # decades from mix to mix, likewise
_STRAIGHT = 0.5  # the logistic itself is told where it is as likely as all bends together
_WIDER = 1.1  # deviations beside what is worked out: tests/measure/paper_coverage.py counted that much too few
_HELD = 1e-3  # the size of a bend that is none, beside one that is
_KNOWN = 1.5  # no number is told to be less sure than so much of its natural logarithm
_TELLS = 1e-4  # of all that is open: a deviation that does less is not kept
_MOST_TURNS = 40


@dataclass(frozen=True, slots=True)
class Sure:
    """The numbers to tell (with a bend's, which are 0 where there is none), how sure, and what was found likely.

    `bent` is the weight of all bends together, 0 to 1; `light` how much the light differed from mix to mix, decades,
    and `shifts` by how much it seems to have in each.
    """

    theta: Floats
    covariance: Floats
    scatter: float
    bent: float
    light: float
    shifts: Floats


@dataclass(frozen=True, slots=True)
class Fitted:
    """One fit with penalties: the numbers with the bend's behind them, the shifts of the mixes, and what it left."""

    theta: Floats
    shifts: Floats
    squares: float
    penalty: float
    information: Floats


def how_sure(form: Form, straight: Floats, bent: Fitted, scatter: float, data: Data) -> Sure:
    """What is known of a form's numbers; `straight` are its numbers without a bend, `scatter` that of the readings."""
    found: list[tuple[float, Bends, float, Fitted]] = []
    for bends, likely in _bends():
        numbers = bent.theta if any(bends) else straight
        for light, as_likely in _LIGHTS:
            one = penalized(form, numbers, data, scatter, bends, light)
            weight = _log_evidence(form, one, scatter, bends, light) + math.log(likely * as_likely)
            found.append((weight, bends, light, one))
            numbers = one.theta
    most = max(weight for weight, _, _, _ in found)
    weights = np.array([math.exp(weight - most) for weight, _, _, _ in found])
    weights /= weights.sum()
    with_bend = float(sum(w for w, (_, bends, _, _) in zip(weights, found, strict=True) if any(bends)))
    thetas = np.array([_whole(form, one.theta) for _, _, _, one in found])
    told = weights if with_bend > 1.0 - _STRAIGHT else weights * [not any(bends) for _, bends, _, _ in found]
    theta: Floats = told @ thetas / told.sum()
    shifts = sum(
        w * (one.shifts if len(one.shifts) else np.zeros(data.mixes))
        for w, (_, _, _, one) in zip(told / told.sum(), found, strict=True)
    )
    covariance = sum(
        w * (_covariance(form, one) + np.outer(each - theta, each - theta))
        for w, each, (_, _, _, one) in zip(weights, thetas, found, strict=True)
    )
    light = math.sqrt(sum(w * light**2 for w, (_, _, light, _) in zip(weights, found, strict=True)))
    return Sure(theta, np.asarray(covariance) * _WIDER**2, scatter, with_bend, light, np.asarray(shifts))


def _bends() -> Iterator[tuple[Bends, float]]:
    """All sizes of both ends, the logistic first, with how likely they are beforehand."""
    both = [((toe, shoulder), a * b) for toe, a in _SIZES for shoulder, b in _SIZES]
    rest = sum(likely for bends, likely in both if any(bends))
    for bends, likely in both:
        yield bends, likely * (1.0 - _LOGISTIC) / rest if any(bends) else _LOGISTIC


def _steps(bends: Bends) -> Floats:
    """How far each step of a bend may lie from 0; an end that has none is held straight."""
    sizes = np.where(np.array(PLACES) < 0.0, *bends)
    return np.asarray(STEPS * np.maximum(sizes, _HELD))


def causes(form: Form, sure: Sure, data: Data) -> tuple[Deviation, ...]:
    """The covariance as a few deviations that have nothing to do with each other, the one that does most first.

    What they do is measured on the densities of the readings, and of readings between neighbouring mixes.
    """
    values, vectors = np.linalg.eigh(sure.covariance)
    root = vectors * np.sqrt(np.clip(values, 0.0, None))
    effect = form.jacobian(sure.theta, _between(data)) @ root
    _, does, turned = np.linalg.svd(effect, full_matrices=False)
    kept = does**2 > _TELLS * float((does**2).sum())
    return tuple(form.deviation(sure.theta, root @ row) for row in turned[kept])


def _between(data: Data) -> Data:
    """The readings, and for two neighbouring mixes as many with half of the light of each."""
    greens, blues = [data.green], [data.blue]
    mixes = [data.mix == k for k in range(data.mixes)]
    for first, second in pairwise(some for some in mixes if some.any()):
        total = data.green[first] + data.blue[first]
        sizes = total / total.max()
        for light, found in ((data.green, greens), (data.blue, blues)):
            found.append(sizes * (light[first].max() + light[second].max()) / 2.0)
    many = sum(len(one) for one in greens)
    return Data(np.concatenate(greens), np.concatenate(blues), np.zeros(many), np.full(many, -1))


def penalized(form: Form, numbers: Floats, data: Data, scatter: float, bends: Bends, light: float) -> Fitted:
    """Least squares with penalties for a bend and for light that differs from mix to mix, of the sizes told.

    Gauss and Newton's steps, damped where one would lead away (Levenberg and Marquardt), from the numbers given.
    """
    posed = _Posed(form, data, scatter, bends, light)
    at = posed.start(numbers)
    rest, slopes = posed.rest(at), posed.slopes(at)
    cost, damping = float(rest @ rest), 1e-4
    for _ in range(_MOST_TURNS):
        normal, downhill = slopes.T @ slopes, slopes.T @ rest
        while damping < 1e8:
            step = np.linalg.lstsq(normal + damping * np.diag(np.diag(normal) + 1e-12), -downhill, rcond=None)[0]
            there = posed.rest(at + step)
            if float(there @ there) <= cost * (1.0 + 1e-12):
                break
            damping *= 8.0
        else:
            break
        gain, at, rest = cost - float(there @ there), at + step, there
        cost, damping, slopes = float(rest @ rest), damping / 8.0, posed.slopes(at)
        if gain < 1e-3:
            break
    read = rest[: len(data)]
    squares = float(read @ read) * scatter**2
    return Fitted(*posed.apart(at), squares, cost - float(read @ read), slopes.T @ slopes)


class _Posed:
    """Residuals in deviations: the readings', then the bend's, then the light's; a size of 0 takes the last two out."""

    def __init__(self, form: Form, data: Data, scatter: float, bends: Bends, light: float) -> None:
        self._form, self._data, self._scatter = form, data, scatter
        self._steps, self._light = _steps(bends), light
        self._numbers = form.size + (BENDS if any(bends) else 0)
        self._shifts = data.mixes if light > 0.0 else 0

    def start(self, numbers: Floats) -> Floats:
        return np.concatenate([_whole(self._form, numbers)[: self._numbers], np.zeros(self._shifts)])

    def apart(self, at: Floats) -> tuple[Floats, Floats]:
        return at[: self._numbers], at[self._numbers :]

    def _lit(self, shifts: Floats) -> Data:
        return self._data.shifted(shifts) if self._shifts else self._data

    def rest(self, at: Floats) -> Floats:
        numbers, shifts = self.apart(at)
        rest = [self._form.residuals(numbers, self._lit(shifts)) / self._scatter]
        if self._numbers > self._form.size:
            rest.append(numbers[self._form.size :] / self._steps)
        if self._shifts:
            rest.append(shifts / self._light)
        return np.concatenate(rest)

    def slopes(self, at: Floats) -> Floats:
        numbers, shifts = self.apart(at)
        lit, n, size = self._lit(shifts), len(self._data), self._form.size
        bends = self._numbers - size
        slopes = np.zeros((n + bends + self._shifts, len(at)))
        slopes[:n, : self._numbers] = self._form.jacobian(numbers, lit) / self._scatter
        if bends:
            slopes[n : n + bends, size : self._numbers] = np.diag(1.0 / self._steps)
        if self._shifts:
            read = np.flatnonzero(self._data.mix >= 0)
            slopes[read, self._numbers + self._data.mix[read]] = self._form.per_log(numbers, lit)[read] / self._scatter
            slopes[n + bends :, self._numbers :] = np.eye(self._shifts) / self._light
        return slopes


def freedom(form: Form, fitted: Fitted, data: Data, scatter: float) -> float:
    """How many of the readings are not used up by the fit; a penalized number uses up less than one."""
    slopes = form.jacobian(fitted.theta, data) / scatter
    used = np.trace(np.linalg.pinv(fitted.information, rcond=1e-13, hermitian=True) @ slopes.T @ slopes)
    return max(1.0, len(data) - float(used))


def _log_evidence(form: Form, fitted: Fitted, scatter: float, bends: Bends, light: float) -> float:
    total = fitted.squares / scatter**2 + fitted.penalty + float(np.linalg.slogdet(_information(fitted))[1])
    if any(bends):
        total += 2.0 * float(np.log(_steps(bends)).sum())
    if light > 0.0:
        total += 2.0 * len(fitted.shifts) * math.log(light)
    return -0.5 * total


def _covariance(form: Form, fitted: Fitted) -> Floats:
    """Of the numbers, those of the bend's too."""
    n = len(fitted.theta)
    found = np.zeros((form.size + BENDS, form.size + BENDS))
    found[:n, :n] = np.linalg.pinv(_information(fitted), rcond=1e-13, hermitian=True)[:n, :n]
    return found


def _information(fitted: Fitted) -> Floats:
    """With as much on every logarithm that none of them is less sure than is worth telling."""
    n = len(fitted.theta)
    information = fitted.information.copy()
    information[range(1, n), range(1, n)] += _KNOWN**-2
    return information


def _whole(form: Form, numbers: Floats) -> Floats:
    """The numbers with a bend behind them, if only one of nothing."""
    return np.concatenate([numbers, np.zeros(form.size + BENDS - len(numbers))])
