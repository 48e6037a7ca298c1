"""What was found of a paper, as its file keeps it: the curve's values, and the file's text with them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from timerd.desk.keeping import GONE, edited, written
from timerd.sheet.profile.curvefile import Unit
from timerd.sheet.profile.text import read_text

if TYPE_CHECKING:
    from timerd.desk.fitting import Fit  # it brings numpy, which a counted curve does not need

_FIGURES = 5
_UNKNOWN = 1e15  # an uncertainty that says nothing at all


def curve_value(fit: Fit, unit: Unit) -> dict[str, Any]:
    """The `curve` of a paper's file, to 5 figures: what all parts share at the top, the rest in each part."""
    curve, within = fit.curve, fit.within
    value: dict[str, Any] = {"unit": unit, "by": "readings", "readings": len(fit.residuals)}
    value["scatter"] = _short(fit.scatter)
    value["dmin"] = _short(curve.dmin)
    sure: dict[str, float] = {"dmin": _short(within["dmin"][0])}
    shared = {"slope": fit.shared_slope, "blue": fit.shared_blue}
    for key, alike in shared.items():
        if alike:
            value[key] = _short(getattr(curve.parts[0], key))
            sure[key] = _short(min(within[key][0], _UNKNOWN))
    value["within"] = sure
    own = ("density", "green", *(key for key, alike in shared.items() if not alike))
    value["parts"] = [
        {
            **{key: _short(getattr(part, key)) for key in own},
            "within": {key: _short(min(within[key][i], _UNKNOWN)) for key in own},
        }
        for i, part in enumerate(curve.parts)
    ]
    value["mixes"] = [
        {"green": [_short(x) for x in mix.green], "blue": [_short(x) for x in mix.blue]} for mix in curve.mixes
    ]  # fmt: skip
    return value


def paper_text(name: str, curve: dict[str, Any], found_by: str, old: str | None = None) -> str:
    """A paper's file with this curve: a new one, or an old text in which nothing else changes.

    ValueError where the old text cannot be changed so.
    """
    if old is None:
        return written({"paper": name, "curve": curve}, head=found_by)
    there = read_text(old.encode(), "").data
    if isinstance(there, dict) and "curve" in there:
        old = edited(old, {("curve",): GONE})
    return old.rstrip("\n") + "\n" + written({"curve": curve}, {("curve",): found_by})


def _short(value: float) -> float:
    if value == 0.0:
        return 0.0
    return round(value, _FIGURES - 1 - math.floor(math.log10(abs(value))))
