"""How much more light a larger print needs, from magnifications, from lens-to-paper distances, or from a meter.

A factor is what a dose is multiplied by: over 1 when the new print needs more light. Aperture marks stand for exact
powers of two: `stops.aperture_factor` has that part, and asks where a mark could mean two things.
"""

from __future__ import annotations

import math


def magnification_factor(old: float, new: float) -> float:
    """From magnification `old` to `new` (print by negative, linear), lens focused, same lens: ((1+m2)/(1+m1))^2.

    Magnifications over 0, at most 1000, else ValueError. The square of the lens-to-paper distances, which are
    f * (1 + m); it holds for a lens whose pupils are of one size (a tenth of difference is 1/25 stop from 2 to 4).

    >>> round(magnification_factor(2, 4), 4), magnification_factor(5, 8)
    (2.7778, 2.25)
    """
    return ((1.0 + _above_0("magnification", new)) / (1.0 + _above_0("magnification", old))) ** 2


def lens_to_paper(lens_mm: float, magnification: float) -> float:
    """Millimetres from the lens to the paper: f * (1 + m), of a thin lens in focus; both over 0, else ValueError.

    Source: the lens equation, 1/u + 1/v = 1/f with m = v/u, as any textbook of optics has it.

    >>> lens_to_paper(80, 4.0)
    400.0
    """
    return _above_0("lens", lens_mm) * (1.0 + _above_0("magnification", magnification))


def magnified_at(lens_mm: float, distance_mm: float) -> float:
    """The magnification of a lens in focus so far from the paper: d / f - 1, the inverse of `lens_to_paper`.

    ValueError where it is no farther from the paper than its focal length: nothing is projected.

    >>> magnified_at(80, 400)
    4.0
    """
    found = _above_0("distance", distance_mm) / _above_0("lens", lens_mm) - 1.0
    if not found > 0.0:
        raise ValueError(f"a lens of {lens_mm:g} mm projects nothing onto paper {distance_mm:g} mm away")
    return found


def distance_factor(old: float, new: float) -> float:
    """From lens-to-paper distance `old` to `new`, in any one unit: (d2/d1)^2.

    Distances over 0, else ValueError. The inverse square law, from the lens as the source.

    >>> distance_factor(10, 15), distance_factor(24, 30)
    (2.25, 1.5625)
    """
    return (_above_0("distance", new) / _above_0("distance", old)) ** 2


def reading_factor(old: float, new: float) -> float:
    """From two readings of a meter on the easel, of the same spot of the negative, proportional to the light.

    Readings over 0 in any one unit, such as lux, else ValueError. They have size, aperture, lens and lamp in them.

    >>> reading_factor(12.0, 3.0)
    4.0
    """
    return _above_0("reading", old) / _above_0("reading", new)


def new_dose(dose: float, factor: float, reciprocity: float = 1.0) -> float:
    """The dose that does on the new print what `dose` did on the old one: dose * factor^(1/p), p the paper's exponent.

    Dose in seconds of full light, 0 or more; factor over 0; p from 0.1 to 10, 1 unless measured (Schwarzschild's law).
    ValueError outside.

    >>> new_dose(16.0, 1.5625), round(new_dose(10.0, 4.0, 0.95), 2)
    (25.0, 43.03)
    """
    if not (0.0 <= dose < math.inf):
        raise ValueError(f"a dose must be 0 or more; found {dose!r}")
    if not 0.1 <= reciprocity <= 10.0:
        raise ValueError(f"reciprocity is from 0.1 to 10, and 1 unless measured; found {reciprocity!r}")
    return float(dose * _above_0("factor", factor) ** (1.0 / reciprocity))


def farther(magnification: float, factor: float) -> float:
    """The magnification reached from `magnification` when the lens moves so that doses grow by `factor`.

    (1 + m) * sqrt(factor) - 1, the inverse of `magnification_factor`; ValueError where nothing would be projected.

    >>> farther(2.0, 2.25)
    3.5
    """
    found = (1.0 + _above_0("magnification", magnification)) * math.sqrt(_above_0("factor", factor)) - 1.0
    if not found > 0.0:
        raise ValueError(f"from magnification {magnification:g} a lens that near projects nothing")
    return found


def _above_0(name: str, value: float) -> float:
    if not 0.0 < value < math.inf:
        raise ValueError(f"a {name} must be over 0; found {value!r}")
    return float(value)
