"""Whether readings follow a fitted curve at all: runs of residuals, and the range without any curve."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby, pairwise

import numpy as np

from timerd.desk.fitform import Data, Floats
from timerd.printing.paper import Curve

_FEW_RUNS = -2.33  # deviations: one time in a hundred where residuals are independent
_TOO_FAR = 0.99  # of made readings that follow the curve so many must lie nearer than those read
_ROUNDED = 0.003  # scatter below what densities to a hundredth can have: nothing is left to be told from it
_MADE = 199
_SEED = 6846  # the same readings always get the same answer
_MOST_ALIKE = 0.8


Some = np.ndarray[tuple[int], np.dtype[np.intp]]
"""Which of the readings."""
Beside = tuple[float, float]
"""R by interpolation, and one deviation of it."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """How the readings lie about the curve. `runs` of residuals of one sign, how many independent ones would have.

    `beside` is R by interpolation for each mix, freed of what the scatter alone does to that, with one deviation of it;
    None where toe or shoulder is not crossed. `apart` is how far these lie from the curve's, beside how far they would
    if it were right (root mean square). `widen` is by what deviations are to be multiplied, 1 where nothing speaks
    against the curve. `said` in words what does.
    """

    runs: int
    runs_expected: float
    beside: tuple[Beside | None, ...]
    apart: float | None
    widen: float
    said: tuple[str, ...]


def misfit(curve: Curve, data: Data, scatter: float) -> Misfit:
    """What the readings say against a curve that was fitted to them; `data` without those that were left out."""
    fitted = np.array([curve.density(float(g), float(b)) for g, b in zip(data.green, data.blue, strict=True)])
    order = [
        some[np.argsort(data.green[some] + data.blue[some], kind="stable")]
        for some in (np.flatnonzero(data.mix == k) for k in range(data.mixes))
    ]
    residuals = data.density - fitted
    runs, expected, spread = _runs([residuals[some] for some in order])
    widen, said = 1.0, []
    if scatter < _ROUNDED:
        return Misfit(runs, expected, (None,) * data.mixes, None, 1.0, ())
    if spread > 0.0 and (runs - expected) / spread < _FEW_RUNS:
        alike = _alike([residuals[some] for some in order])
        widen = max(widen, math.sqrt((1.0 + alike) / (1.0 - alike)))
        said.append(
            f"residuals lie in {runs} runs of one sign, {expected:.0f} would be usual: the curve is of another kind"
        )
    beside, apart, usual = _by_interpolation(curve, data, order, fitted, scatter)
    if apart is not None and usual is not None and apart > usual:
        widen = max(widen, apart)
        said.append(
            "R by interpolation lies apart from the curve's, by more than chance would have it: "
            "the curve is of another kind"
        )
    return Misfit(runs, expected, beside, apart, widen, tuple(said))


def _runs(residuals: list[Floats]) -> tuple[int, float, float]:
    """Runs of one sign within the mixes, how many are expected, and their deviation (Wald and Wolfowitz 1940)."""
    runs, expected, variance = 0, 0.0, 0.0
    for some in residuals:
        signs = [one > 0.0 for one in some if one != 0.0]
        n, above = len(signs), sum(signs)
        if n < 2:
            continue
        both = 2.0 * above * (n - above)
        runs += sum(1 for _ in groupby(signs))
        expected += both / n + 1.0
        variance += both * (both - n) / (n * n * (n - 1.0))
    return runs, float(expected), math.sqrt(max(0.0, variance))


def _alike(residuals: list[Floats]) -> float:
    """How alike neighbours are: the residuals' correlation with the next one in their mix, from 0 to 0.8."""
    own = sum(float(some @ some) for some in residuals)
    next_ = sum(float(some[:-1] @ some[1:]) for some in residuals)
    return min(_MOST_ALIKE, max(0.0, next_ / own)) if own > 0.0 else 0.0


def _by_interpolation(
    curve: Curve, data: Data, order: list[Some], fitted: Floats, scatter: float
) -> tuple[tuple[Beside | None, ...], float | None, float | None]:
    """R of each mix; how far all lie from the curve's (1 is usual), and how far only one set in a hundred does."""
    chance = np.random.default_rng(_SEED)
    beside: list[Beside | None] = []
    off, off_made = [], []
    for some in order:
        logs = np.log10(data.green[some] + data.blue[some])
        read = _range(logs, data.density[some], curve)
        beside.append(None)
        made = [_range(logs, fitted[some] + chance.normal(0.0, scatter, len(some)), curve) for _ in range(_MADE)]
        if read is None or any(one is None for one in made) or scatter <= 0.0:
            continue
        values = np.array(made, dtype=float)
        middle, spread = float(values.mean()), float(values.std())
        if spread > 0.0:
            beside[-1] = (_curves_own(curve, data, some) + read - middle, spread)
            off.append((read - middle) / spread)
            off_made.append((values - middle) / spread)
    if not off:
        return tuple(beside), None, None
    apart = math.sqrt(float(np.mean(np.square(off))))
    usual = float(np.quantile(np.sqrt(np.mean(np.square(off_made), axis=0)), _TOO_FAR))
    return tuple(beside), apart, usual


def _curves_own(curve: Curve, data: Data, some: Some) -> float:
    """R of the curve itself in a mix, read or not."""
    mix = float(data.green[some].max()), float(data.blue[some].max())
    ends = (curve.multiple(point, *mix) for point in (curve.high_point, curve.low_point))
    return 100.0 * math.log10(next(ends) / next(ends))


def _range(logs: Floats, densities: Floats, curve: Curve) -> float | None:
    """R between the curve's low and high point, densities made to rise and read off between neighbours."""
    rising = _rising(densities)
    ends = []
    for wanted in (curve.low_point, curve.high_point):
        for (log, low), (next_log, high) in pairwise(zip(logs, rising, strict=True)):
            if low <= wanted < high:
                ends.append(log + (wanted - low) / (high - low) * (next_log - log))
                break
        else:
            return None
    return float(100.0 * (ends[1] - ends[0]))


def _rising(densities: Floats) -> list[float]:
    """The nearest densities that nowhere fall: neighbours that do are given their mean (isotonic least squares)."""
    pools: list[tuple[float, int]] = []
    for density in densities:
        mean, many = float(density), 1
        while pools and pools[-1][0] >= mean:
            before, more = pools.pop()
            mean, many = (mean * many + before * more) / (many + more), many + more
        pools.append((mean, many))
    return [mean for mean, many in pools for _ in range(many)]
