"""An edition as a picture: how far each sheet lies off the plan, step by step and area by area, and hour by hour."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from timerd.sheet.edition import Edition, Printed, Spread, evenings
from timerd.sheet.profile.faults import printable

_INK = "#222222"
_DOT = "#444444"
_MEAN = "#b9b3aa"
_LINES = ("-", "--", ":", "-.")
_LEAST_REACH = 1 / 12
_LONGEST = 40


def edition_figure(edition: Edition) -> Figure:
    """Dots for sheets on a row for each step and each area; below them the evenings, light by light."""
    rows = [_named(row) for row in edition.steps], [_named(row) for row in edition.areas]
    tall = max(len(rows[0]), len(rows[1]), 3)
    figure = Figure(figsize=(13, 3.9 + 0.27 * tall), layout="constrained")
    left, right, below = _axes(figure, tall)
    title = f"{printable(edition.plan.print)}: {len(edition.sheets)} sheets beside the plan"
    figure.suptitle(title, x=0.01, ha="left", fontsize=14, color=_INK, parse_math=False)
    reach = max([_LEAST_REACH, *(abs(off) for row in (*edition.steps, *edition.areas) for off in row.known)])
    _dots(left, "step by step", rows[0], edition.steps, reach)
    _dots(right, "area by area, all of a light", rows[1], edition.areas, reach)
    _evenings(below, edition)
    return figure


def _axes(figure: Figure, tall: int) -> tuple[Axes, Axes, Axes]:
    grid = figure.add_gridspec(2, 2, height_ratios=[0.27 * tall + 0.6, 2.4])
    return figure.add_subplot(grid[0, 0]), figure.add_subplot(grid[0, 1]), figure.add_subplot(grid[1, :])


def _named(row: Spread) -> str:
    name = printable(f"{'– ' if row.card else ''}{row.words}")
    return name if len(name) <= _LONGEST else f"{name[: _LONGEST - 1]}…"


def _dots(axis: Axes, title: str, names: Sequence[str], rows: Sequence[Spread], reach: float) -> None:
    """A dot for each sheet, those alike darker; a bar for the mean; a gap where a sheet has nothing there."""
    axis.axvline(0, color=_INK, linewidth=0.8, zorder=1)
    for y, row in enumerate(rows):
        if row.mean is not None:
            axis.plot([row.mean, row.mean], [y - 0.32, y + 0.32], color=_MEAN, linewidth=4, zorder=2)
        axis.plot(row.known, [y] * len(row.known), "o", color=_DOT, alpha=0.45, markersize=5.5, linewidth=0, zorder=3)
    axis.set_ylim(len(rows) - 0.4, -0.6)
    axis.set_xlim(-1.08 * reach, 1.08 * reach)
    axis.set_yticks(range(len(rows)))
    axis.set_yticklabels(names, parse_math=False)
    axis.set_title(title, loc="left", fontsize=11, color=_INK)
    axis.set_xlabel("stops off the plan; a bar is the mean", fontsize=9, color=_INK)
    _plain(axis)


def _evenings(axis: Axes, edition: Edition) -> None:
    """What the rest of the image got, sheet after sheet: a line for each light, broken between evenings."""
    place = {one.sheet: k for k, one in enumerate(edition.sheets)}
    rest = [row for row in edition.areas if row.what is None]
    for row, style in zip(rest, _LINES * len(rest), strict=False):
        for i, evening in enumerate(_runs(edition.sheets)):
            across = [place[one.sheet] for one in evening]
            up = [math.nan if (off := row.off[k]) is None else off for k in across]
            name = printable(", ".join(filter(None, (row.light, row.negative)))) if i == 0 else None
            axis.plot(across, up, style, color=_DOT, marker="o", markersize=4, label=name)
    axis.axhline(0, color=_INK, linewidth=0.8, zorder=1)
    low, high = axis.get_ylim()
    middle, half = (low + high) / 2, max(high - low, _LEAST_REACH) / 2
    axis.set_ylim(middle - 1.05 * half, middle + 1.05 * half)
    shown = range(0, len(edition.sheets), max(1, -(-len(edition.sheets) // 14)))
    axis.set_xticks(list(shown), [_when(edition.sheets[k]) for k in shown])
    axis.set_title("evening by evening: the image outside of all areas", loc="left", fontsize=11, color=_INK)
    axis.set_ylabel("stops off the plan", fontsize=9, color=_INK)
    if rest:
        axis.legend(frameon=False, fontsize=9, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    _plain(axis)
    axis.spines["left"].set_visible(True)


def _runs(sheets: Sequence[Printed]) -> list[list[Printed]]:
    """Evenings where the clock told them, and the sheets without a time together."""
    without = [one for one in sheets if one.wall is None]
    return [*evenings(sheets), *([without] if without else [])]


def _when(printed: Printed) -> str:
    if printed.wall is None:
        return f"{printed.sheet}"
    return f"{printed.sheet}\n{datetime.fromtimestamp(printed.wall):%d %b\n%H:%M}"


def _plain(axis: Axes) -> None:
    axis.tick_params(axis="y", length=0, labelsize=9)
    axis.tick_params(axis="x", labelsize=9)
    for side in ("top", "right", "left"):
        axis.spines[side].set_visible(False)
