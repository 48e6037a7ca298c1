"""What was found of a paper, as its file keeps it: the curve's values, and the file's text with them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from timerd.desk.keeping import GONE, edited, written
from timerd.printing.deviation import Deviation
from timerd.sheet.profile.curvefile import Unit
from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.text import read_text

if TYPE_CHECKING:
    from timerd.desk.fitting import Fit, MixRange  # it brings numpy, which a counted curve does not need

_FIGURES = 5
_IN_ORDER = "each: dmin, slope, blue, densities, greens, bend"
_MOST = 20.0  # of a change: more than that a file does not take
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
    if curve.bend is not None:
        value["bend"] = [_short(times, 4) for times in curve.bend.times]
    value["mixes"] = [_mix_value(one) for one in fit.ranges]
    value["deviations"] = [_deviation_value(one, shared) for one in fit.deviations]
    return value


def _mix_value(one: MixRange) -> dict[str, Any]:
    value: dict[str, Any] = {
        "green": [_short(x) for x in one.mix.green], "blue": [_short(x) for x in one.mix.blue]
    }  # fmt: skip
    if one.found is not None:
        value["range"] = round(one.found.r, 1)
        if one.within is not None:
            value["within"] = _short(min(one.within, _UNKNOWN), 2)
    return value


def _deviation_value(one: Deviation, shared: Mapping[str, bool]) -> list[float]:
    """A deviation in the file's order, to so many places that what it does is right to some hundredths of it."""
    slopes, blues = (
        many[:1] if alike else many for many, alike in ((one.slopes, shared["slope"]), (one.blues, shared["blue"]))
    )
    changes = (*slopes, *blues, *one.densities, *one.greens, *one.bend)
    return [round(one.dmin, 4), *(min(_MOST, max(-_MOST, round(change, 4))) for change in changes)]


def paper_text(name: str, curve: dict[str, Any], found_by: str, old: str | None = None) -> str:
    """A paper's file with this curve: a new one, or an old text in which nothing else changes.

    ValueError where the old text cannot be changed so.
    """
    notes: dict[Place, str] = {("curve", "deviations"): _IN_ORDER} if curve.get("deviations") else {}
    if old is None:
        return written({"paper": name, "curve": curve}, notes, head=found_by)
    there = read_text(old.encode(), "").data
    if isinstance(there, dict) and "curve" in there:
        if isinstance(there["curve"], dict) and "deviations" in there["curve"]:
            old = edited(old, {("curve", "deviations"): GONE})  # by itself, for the note behind it is a fit's own
        old = edited(old, {("curve",): GONE})
    return old.rstrip("\n") + "\n" + written({"curve": curve}, {("curve",): found_by, **notes})


def _short(value: float, figures: int = _FIGURES) -> float:
    if value == 0.0:
        return 0.0
    return round(value, figures - 1 - math.floor(math.log10(abs(value))))
