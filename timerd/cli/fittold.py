"""A fit as it is told: its numbers and how sure they are, what speaks against the curve, the ranges of the mixes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from timerd.cli.values import LEVEL, decimals
from timerd.printing.paper import IsoRange, mix_words
from timerd.sheet.columns import columns
from timerd.sheet.safe import safe

if TYPE_CHECKING:
    from timerd.desk.fitting import Fit

_BENT = 0.9  # from here on it is said that a curve is not made of logistic parts
_LIGHT = 0.012  # decades from mix to mix that are said: a twenty-fifth of a stop


def fit_facts(found: Fit, unit: str, value: dict[str, Any]) -> dict[str, Any]:
    """A fit as --json has it; `value` is the curve as the paper's file keeps it."""
    curve = found.curve
    return {
        "unit": unit, "readings": len(found.residuals), "form": found.form, "parts": len(curve.parts),
        "criterion": found.criterion, "scatter": found.scatter, "curve": value, "dmin": curve.dmin,
        "dmax": curve.dmax, "dmax_within": found.dmax_within, "level": "one deviation",
        "mixes": [
            {
                "green": one.mix.green[1], "blue": one.mix.blue[1],
                "R": one.found.r if one.found else None, "R_within": one.within,
                "R_iso": one.found.r_iso if one.found else None, **speeds(one.found, unit),
                "log_hm_within": one.log_hm_within, "why": one.why,
                "R_interpolated": one.beside[0] if one.beside else None,
                "R_interpolated_within": one.beside[1] if one.beside else None,
            } for one in found.ranges
        ],
        "bent": found.bent, "light_within": found.light,
        "misfit": {
            "runs": found.misfit.runs, "runs_expected": found.misfit.runs_expected, "apart": found.misfit.apart,
            "widened": found.misfit.widen,
        },
        "mind": _fit_mind(found),
        "residuals": [
            {
                "line": one.reading.line, "green": one.reading.green, "blue": one.reading.blue,
                "density": one.reading.density, "fitted": one.fitted, "residual": one.residual,
                "stands_out": one.stands_out,
            } for one in found.residuals
        ],
        "stand_out": [one.reading.line for one in found.residuals if one.stands_out],
    }  # fmt: skip


def _fit_mind(found: Fit) -> list[str]:
    """What speaks against the curve, and what else is in its plus or minus."""
    said = list(found.misfit.said)
    if found.bent >= _BENT:
        said.append("this paper's parts are not the usual S (the logistic): they are fitted with a bend")
    if found.misfit.widen > 1.0:
        said.append(f"every plus or minus is made {found.misfit.widen:.1f} times as wide for that")
    if found.light >= _LIGHT:
        said.append(
            f"the light differs from mix to mix, by about {found.light:.3f} log: speeds are as unsure; "
            "expose all mixes in one go, lamps warm"
        )
    return said


def speeds(found: IsoRange | None, unit: str) -> dict[str, Any]:
    """The ISO speed where exposures are in lux seconds, else a relative one."""
    iso = unit == "lux seconds"
    return {
        "speed_iso": found.speed_iso if found is not None and iso else None,
        "speed_relative": found.speed if found is not None and not iso else None,
    }


def fit_table(found: Fit, unit: str, file: str) -> list[str]:
    """A fit as lines to read."""
    curve, within = found.curve, found.within
    lines = [f"{safe(file)}: {len(found.residuals)} readings, exposures in {unit}"]
    lines += [f"fitted: {found.form}; readings lie {found.scatter:.3f} in density from the curve", LEVEL, ""]
    cells = [["", "value", "plus or minus"], ["Dmin", f"{curve.dmin:.3f}", f"{within['dmin'][0]:.3f}"]]
    cells.append(["Dmax", f"{curve.dmax:.3f}", decimals(found.dmax_within, 3)])
    for key, words, shared in (
        ("slope", "slope per decade", found.shared_slope), ("blue", "speed in blue", found.shared_blue),
    ):  # fmt: skip
        if shared:
            cells.append([words, f"{getattr(curve.parts[0], key):.4g}", f"{within[key][0]:.2g}"])
    for i, part in enumerate(curve.parts):
        cells.append([f"part {i + 1}: density", f"{part.density:.3f}", f"{within['density'][i]:.3f}"])
        cells.append(["        speed in green", f"{part.green:.4g}", f"{within['green'][i]:.2g}"])
        for key, words, shared in (
            ("slope", "        slope", found.shared_slope), ("blue", "        speed in blue", found.shared_blue),
        ):  # fmt: skip
            if not shared:
                cells.append([words, f"{getattr(part, key):.4g}", f"{within[key][i]:.2g}"])
    lines += [*columns(cells), "", *_ranges_table(found, unit)]
    mind = _fit_mind(found)
    lines += ["", "mind:", *(f"  - {one}" for one in mind)] if mind else []
    out = [one for one in found.residuals if one.stands_out]
    if out:
        lines += ["", "these readings stand out, and were left out of the fit: read the patches again"]
        for one in out:
            lines.append(
                f"  line {one.reading.line}: density {one.reading.density:.2f}, the curve has {one.fitted:.2f}"
            )
    return lines


def _ranges_table(found: Fit, unit: str) -> list[str]:
    speed = "ISO speed" if unit == "lux seconds" else "speed, relative"
    cells = [["in the mix", "R", "plus or minus", "interpolated", "ISO range", speed]]
    why = []
    for one in found.ranges:
        words = mix_words(one.mix.green[1], one.mix.blue[1])
        if one.found is None:
            cells.append([words, "-", "-", "-", "-", "-"])
            why.append(f"  {one.why}")
            continue
        told = speeds(one.found, unit)
        value = told["speed_iso"] if told["speed_iso"] is not None else f"{told['speed_relative']:.4g}"
        beside = f"{one.beside[0]:.0f} +- {one.beside[1]:.0f}" if one.beside else "-"
        iso = f"R{one.found.r_iso}"
        cells.append([words, f"{one.found.r:.1f}", decimals(one.within, 1), beside, iso, str(value)])
    shown = cells if len(cells) <= 13 else cells[:12]
    more = [f"and {len(cells) - 12} more mixes"] if len(cells) > 13 else []
    return columns(shown) + more + list(dict.fromkeys(why))[:5]
