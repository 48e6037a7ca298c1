"""Pictures of a paper: its family of curves, R against the mix, what a flash, a burn or a choice of mix does."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from timerd.desk.fitting import Fit
from timerd.desk.readings import PatchReading
from timerd.inplace import placed
from timerd.printing.area import Way
from timerd.printing.contrast import Mixed, Spot
from timerd.printing.exposure import exposure
from timerd.printing.flash import flashed_range
from timerd.printing.paper import SPEED_POINT, Curve, IsoRange, iso_range, mix_words

_INK = "#222222"
_FAINT = "#b9b3aa"
_GREEN, _BLUE, _MARK = "#2e7d4f", "#2f55a4", "#b3402a"
_POINTS = 200
_MOST_CURVES = 9


def save(figure: Figure, path: Path) -> None:
    """Write a picture, as .png or .svg by its name, beside its place and then into place."""
    kind = path.suffix.lower().removeprefix(".")
    told = {"Date": None} if kind == "svg" else None
    with placed(path, over=True) as beside, matplotlib.rc_context({"svg.hashsalt": "timerd", "svg.fonttype": "none"}):
        figure.savefig(beside, dpi=110, facecolor="white", format=kind, metadata=told)


def paper_figure(name: str, curve: Curve, unit: str) -> Figure:
    """The family of curves over the mixes that were read, R against blue to green, and R after a flash."""
    figure = Figure(figsize=(13, 4.6), layout="constrained")
    family, ranges, flash = figure.subplots(1, 3)
    figure.suptitle(f"{name}: what the lights do to it", x=0.01, ha="left", fontsize=14, color=_INK, parse_math=False)
    _family(family, curve, unit)
    _ranges(ranges, curve)
    _flash_effect(flash, curve)
    return figure


def fit_figure(found: Fit, unit: str, file: str) -> Figure:
    """The readings on their curves, and how far each lies from it; those left out are crossed."""
    figure = Figure(figsize=(13, 4.8), layout="constrained")
    curves, left = figure.subplots(1, 2)
    figure.suptitle(
        f"{file}: {len(found.residuals)} readings, {found.form}",
        x=0.01,
        ha="left",
        fontsize=14,
        color=_INK,
        parse_math=False,
    )
    _family(curves, found.curve, unit)
    for axis in (curves, left):
        for stands_out, marker, size in ((False, "o", 9), (True, "x", 60)):
            some = [one for one in found.residuals if one.stands_out is stands_out and _total(one.reading) > 0.0]
            if some:
                axis.scatter(
                    [math.log10(_total(one.reading)) for one in some],
                    [one.reading.density if axis is curves else one.residual for one in some], s=size,
                    marker=marker, color=[_colour(one.reading.green, one.reading.blue, found.curve) for one in some],
                    linewidths=1.2 if stands_out else 0, zorder=3,
                )  # fmt: skip
    left.axhline(0.0, color=_INK, linewidth=0.8)
    for times in (-2.0, 2.0):
        left.axhline(times * found.scatter, color=_FAINT, linewidth=0.8, linestyle="--")
    out = any(one.stands_out for one in found.residuals)
    _plain(left, "density read, less the curve's", f"log H, {unit}", "density")
    left.set_title(
        f"how far readings lie from it; dashed: two deviations{'; crossed: left out' if out else ''}",
        loc="left", fontsize=11, color=_INK,
    )  # fmt: skip
    return figure


def range_figure(name: str, curve: Curve, found: IsoRange, mix: tuple[float, float], unit: str) -> Figure:
    """One curve with the points between which its ISO range lies."""
    figure = Figure(figsize=(7.5, 5), layout="constrained")
    axis = figure.subplots()
    _one(axis, curve, mix, found.log_ht - 0.6, found.log_hs + 0.5, color=_INK)
    points = (
        (found.log_ht, curve.low_point, "HT"), (found.log_hm, curve.dmin + SPEED_POINT, "Hm"),
        (found.log_hs, curve.high_point, "HS"),
    )  # fmt: skip
    for log, density, word in points:
        axis.plot([log, log], [0, density], color=_FAINT, linewidth=1, zorder=0)
        axis.plot([log], [density], "o", color=_MARK, markersize=6)
        low = word == "HT"
        axis.annotate(
            word, (log, density), (-7, 8) if low else (7, -12), textcoords="offset points", color=_MARK, fontsize=10,
            ha="right" if low else "left",
        )  # fmt: skip
    axis.annotate(
        "", (found.log_hs, 0.03), (found.log_ht, 0.03), arrowprops={"arrowstyle": "<->", "color": _MARK},
    )  # fmt: skip
    axis.text(
        (found.log_ht + found.log_hs) / 2, 0.06, f"R {found.r:.0f}", ha="center", color=_MARK, fontsize=11,
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.5},
    )  # fmt: skip
    axis.set_ylim(0, curve.dmax * 1.05)
    _plain(axis, f"{name}: {mix_words(*mix)}", f"log H, {unit}, both lights together", "density")
    return figure


def contrast_figure(
    name: str, curve: Curve, found: Sequence[Mixed], spots: Mapping[str, Spot]
) -> Figure:  # fmt: skip
    """The tones that each light at the easel comes to, for the mixes found; what was wanted is marked."""
    figure = Figure(figsize=(7.5, 5), layout="constrained")
    axis = figure.subplots()
    wanted = list(spots.items())
    lights = [math.log10(spot.green) for _, spot in wanted]
    low, high = min(lights) - 0.6, max(lights) + (0.5 if len(lights) > 1 else 1.6)
    for mixed, style in zip(found, ("-", "--"), strict=False):
        x = np.linspace(low, high, _POINTS)
        blue = [spot.blue / spot.green for _, spot in wanted]
        tilt = blue[0] if len(blue) == 1 else math.sqrt(blue[0] * blue[1])
        y = [curve.density(mixed.green_s * 10**v, mixed.blue_s * 10**v * tilt) for v in x]
        words = f"green {mixed.green_s:.1f} s, blue {mixed.blue_s:.1f} s"
        words += f" (gives way: {mixed.gives_way})" if mixed.gives_way else ""
        axis.plot(x, y, style, color=_INK, linewidth=1.6, label=words)
    for word, spot in wanted:
        axis.plot([math.log10(spot.green)], [spot.density], "o", color=_MARK, markersize=8, zorder=3)
        axis.annotate(
            f"{word} {spot.density:g}", (math.log10(spot.green), spot.density),
            (-6, 9) if word == "highlight" else (9, -6), textcoords="offset points", color=_MARK, fontsize=10,
            ha="right" if word == "highlight" else "left",
        )  # fmt: skip
    axis.set_ylim(0, curve.dmax * 1.05)
    axis.legend(loc="upper left", fontsize=9, frameon=False)
    _plain(axis, f"{name}: the wanted tones and the nearest mix", "log of the green light at the spot", "density")
    return figure


def flash_figure(name: str, curve: Curve, mix: tuple[float, float], flash: tuple[float, float], words: str) -> Figure:
    """The curve of the image's light without and with a flash."""
    figure = Figure(figsize=(7.5, 5), layout="constrained")
    axis = figure.subplots()
    found = iso_range(curve, *mix)
    after = flashed_range(curve, *mix, *flash)
    low, high = found.log_hs - after / 100 - 0.5, found.log_hs + 0.4
    _one(axis, curve, mix, low, high, color=_FAINT, label=f"without: R {found.r:.0f}")
    _one(axis, curve, mix, low, high, color=_INK, flash=flash, label=f"flashed, {words}: R {after:.0f}")
    axis.axhline(curve.low_point, color=_MARK, linewidth=0.8, linestyle="--")
    axis.text(high, curve.low_point + 0.02, "low point", color=_MARK, fontsize=9, ha="right")
    axis.set_ylim(0, curve.dmax * 1.05)
    axis.legend(loc="upper left", fontsize=10, frameon=False)
    _plain(axis, f"{name}: image light in {mix_words(*mix)}", "log H of the image's light", "density")
    return figure


def area_figure(
    name: str, curve: Curve, base: tuple[float, float], density: float, found: Sequence[Way],
    flash: tuple[float, float], reciprocity: float = 1.0,
) -> Figure:  # fmt: skip
    """The tones around an area's own, as the base gives them and after each way that gets there."""
    figure = Figure(figsize=(7.5, 5), layout="constrained")
    axis = figure.subplots()
    x = np.linspace(-1.0, 1.0, _POINTS)
    axis.plot(
        x, [curve.density(base[0] * 10**v, base[1] * 10**v) for v in x], color=_FAINT, linewidth=2,
        label="the base alone",
    )  # fmt: skip
    looks = {"green": (_GREEN, "-"), "blue": (_BLUE, "-"), "both": (_INK, "-"), "flash": (_MARK, "--")}
    for way in found:
        if not way.reached or way.green is None or way.blue is None or way.flash is None:
            continue
        green, blue = (
            exposure(there + added, there, reciprocity)
            for there, added in zip(base, (way.green, way.blue), strict=True)
        )
        y = [
            curve.density(green * 10**v + way.flash * flash[0], blue * 10**v + way.flash * flash[1]) for v in x
        ]  # fmt: skip
        colour, style = looks[way.by]
        axis.plot(x, y, style, color=colour, linewidth=1.6, label=f"{way.by}: contrast {way.contrast:.2f}")
    axis.plot([0.0], [density], "o", color=_INK, markersize=7, zorder=3)
    axis.annotate("wanted", (0.0, density), (8, -12), textcoords="offset points", fontsize=10, color=_INK)
    axis.set_ylim(0, curve.dmax * 1.05)
    axis.legend(loc="upper left", fontsize=9, frameon=False)
    _plain(axis, f"{name}: an area and the tones around it", "log of image light, beside the area's own", "density")
    return figure


# -- parts of pictures ---------------------------------------------------------------------------------------


def _family(axis: Axes, curve: Curve, unit: str) -> None:
    mixes = sorted(curve.mixes, key=lambda mix: mix.blue[1] / (mix.green[1] + mix.blue[1]))
    if len(mixes) > _MOST_CURVES:
        mixes = [mixes[round(i * (len(mixes) - 1) / (_MOST_CURVES - 1))] for i in range(_MOST_CURVES)]
    for mix in mixes:
        pair = (mix.green[1], mix.blue[1])
        low = max(1e-12, mix.green[0] + mix.blue[0], (pair[0] + pair[1]) * 1e-4)
        _one(axis, curve, pair, math.log10(low), math.log10(sum(pair)), _colour(*pair, curve), mix_words(*pair))
    axis.set_ylim(0, curve.dmax * 1.05)
    axis.legend(loc="upper left", fontsize=8.5, frameon=False)
    _plain(axis, "curves in the mixes that were read", f"log H, {unit}, both lights together", "density")


def _one(
    axis: Axes, curve: Curve, mix: tuple[float, float], low: float, high: float, color: str, label: str | None = None,
    flash: tuple[float, float] = (0.0, 0.0),
) -> None:  # fmt: skip
    total = mix[0] + mix[1]
    x = np.linspace(low, high, _POINTS)
    y = [curve.density(mix[0] * 10**v / total + flash[0], mix[1] * 10**v / total + flash[1]) for v in x]
    axis.plot(x, y, color=color, linewidth=1.6, label=label)


def _ranges(axis: Axes, curve: Curve) -> None:
    """R over the blue share of the effective exposure, so that both lights alone are in the picture."""
    shares, found = [], []
    for share in np.linspace(0.0, 1.0, 121):
        green, blue = _pair_of_share(float(share), curve)
        try:
            r = iso_range(curve, green, blue).r
        except ValueError:
            r = math.nan
        shares.append(float(share))
        found.append(r)
    axis.plot(shares, found, color=_INK, linewidth=1.6)
    for mix in curve.mixes:
        try:
            r = iso_range(curve, mix.green[1], mix.blue[1]).r
        except ValueError:
            continue
        share = _share(mix.green[1], mix.blue[1], curve)
        axis.plot([share], [r], "o", color=_colour(mix.green[1], mix.blue[1], curve), markersize=6)
    axis.set_xlim(-0.04, 1.04)
    ticks = [0.0, 0.25, 0.5, 0.75, 1.0]
    axis.set_xticks(
        ticks, ["green\nalone", *(_ratio_words(*_pair_of_share(t, curve)) for t in ticks[1:-1]), "blue\nalone"]
    )
    _plain(axis, "ISO range R; dots: mixes that were read", "exposure in blue to one in green", "R")


def _flash_effect(axis: Axes, curve: Curve) -> None:
    """R after a green flash of so much of HT, for some mixes."""
    fractions = np.linspace(0.0, 0.9, 46)
    try:
        ht = curve.multiple(curve.low_point, 1.0, 0.0)
        curve.known(1.0, 0.0)
    except ValueError:
        axis.set_axis_off()
        axis.text(0.5, 0.5, "a green flash: green alone\nwas not read", ha="center", color=_INK)
        return
    for share in (0.0, 0.5, 1.0):
        mix = _pair_of_share(share, curve)
        try:
            y = [flashed_range(curve, *mix, float(f) * ht, 0.0) for f in fractions]
        except ValueError:
            continue
        axis.plot(fractions * 100.0, y, color=_colour(*mix, curve), linewidth=1.6, label=f"image in {mix_words(*mix)}")
    axis.legend(loc="upper left", fontsize=8.5, frameon=False)
    _plain(axis, "R after a green flash", "flash, per cent of HT in green", "R")


def _balance(curve: Curve) -> float:
    """Exposure in blue that does as much as one in green, on the geometric mean of the parts that answer both."""
    logs = [math.log10(part.green / part.blue) for part in curve.parts if part.green > 0.0 and part.blue > 0.0]
    return math.pow(10.0, sum(logs) / len(logs)) if logs else 1.0


def _share(green: float, blue: float, curve: Curve) -> float:
    return blue / (blue + green * _balance(curve))


def _pair_of_share(share: float, curve: Curve) -> tuple[float, float]:
    return 1.0 - share, share * _balance(curve)


def _colour(green: float, blue: float, curve: Curve) -> str:
    """From green to blue by what each light does."""
    share = _share(green, blue, curve)
    pairs = zip(_rgb(_GREEN), _rgb(_BLUE), strict=True)
    return "#" + "".join(f"{round(g + (b - g) * share):02x}" for g, b in pairs)


def _rgb(colour: str) -> tuple[int, int, int]:
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def _ratio_words(green: float, blue: float) -> str:
    return f"{blue / green:.2g}"


def _total(reading: PatchReading) -> float:
    return reading.green + reading.blue


def _plain(axis: Axes, title: str, x: str, y: str) -> None:
    axis.set_title(title, loc="left", fontsize=11, color=_INK)
    axis.set_xlabel(x, fontsize=9.5, color=_INK)
    axis.set_ylabel(y, fontsize=9.5, color=_INK)
    axis.grid(color="#eeeae3", linewidth=0.8)
    axis.set_axisbelow(True)
    for side in ("top", "right"):
        axis.spines[side].set_visible(False)
