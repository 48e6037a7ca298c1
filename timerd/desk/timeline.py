"""The timeline of a rehearsal or an evening as a picture: a strip a sheet, a lane a light, bursts numbered by step."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.simulated import LineEdge
from timerd.desk.keeping import placed
from timerd.sheet.facts import BurstLit, SheetArmed
from timerd.sheet.history import paused
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record
from timerd.sheet.words import step_words

_INK = "#222222"
_LAMP = "#444444"
_SAFE = "#b9b3aa"
_PAUSE = "#e3ddd2"


def draw(plan: Plan, edges: Iterable[LineEdge], records: Iterable[Record], picture: Path) -> None:
    """Write the picture as a PNG: for each sheet when each light was lit, by what step, and where it was paused."""
    edges, records = tuple(edges), tuple(records)
    lanes = [*dict.fromkeys(step.light for step in plan.steps if step.light is not None), SAFELIGHT]
    spans = _spans(records, end=max([edge.at for edge in edges] + [record.at for record in records], default=1.0))
    rows = max(1, len(spans))
    figure = Figure(figsize=(13, 1.9 + 0.6 * (len(lanes) + 1) * rows), layout="constrained")
    axes = figure.subplots(rows + 1, 1, squeeze=False, height_ratios=[len(lanes) + 1] * rows + [2])[:, 0]
    figure.suptitle(
        f"{plan.print}: when each light was lit", x=0.01, ha="left", fontsize=14, color=_INK, parse_math=False
    )
    longest = max((end - begin for begin, end in spans.values()), default=1.0)
    for axis, (sheet, (begin, end)) in zip(axes, spans.items(), strict=False):
        _strip(axis, plan, sheet, begin, end, longest, lanes, edges, [r for r in records if r.sheet == sheet])
    _key(axes[-1], plan)
    with placed(picture, force=True) as file:
        figure.savefig(file, dpi=110, facecolor="white", format="png")


def _key(axis: Axes, plan: Plan) -> None:
    """What the numbers in the strips stand for, in columns."""
    axis.set_axis_off()
    steps = [f"{step.n}  {step_words(step)}" for step in plan.steps if step.pedal is not None]
    tall = max(1, -(-len(steps) // 4))
    for i in range(0, len(steps), tall):
        text = "\n".join(steps[i : i + tall])
        axis.text(
            i / tall / 4,
            1,
            text,
            transform=axis.transAxes,
            fontsize=9,
            color=_INK,
            va="top",
            linespacing=1.5,
            parse_math=False,
        )


def _spans(records: Sequence[Record], end: float) -> dict[int, tuple[float, float]]:
    """From when to when each sheet had the bench."""
    armed = [(record.sheet, record.at) for record in records if isinstance(record.fact, SheetArmed)]
    nexts = [at for _, at in armed[1:]] + [end]
    return {sheet: (at, until) for (sheet, at), until in zip(armed, nexts, strict=True)}


def _lit(edges: Sequence[LineEdge], line: str, begin: float, end: float) -> list[tuple[float, float]]:
    """(from, length) of each time that the line was lit between two times; the safelight is lit at the start."""
    lit, since, spans = line == SAFELIGHT, 0.0, []
    for edge in (*(e for e in edges if e.line == line), LineEdge(end, line, False)):
        if lit and not edge.lit and edge.at > begin:
            start = max(since, begin)
            spans.append((start - begin, min(edge.at, end) - start))
        if edge.lit and not lit:
            since = edge.at
        lit = edge.lit
        if edge.at >= end:
            break
    return [span for span in spans if span[1] > 0]


def _strip(
    axis: Axes, plan: Plan, sheet: int, begin: float, end: float, longest: float, lanes: list[str],
    edges: Sequence[LineEdge], records: Sequence[Record],
) -> None:  # fmt: skip
    for row, lane in enumerate(lanes):
        safe = lane == SAFELIGHT
        axis.broken_barh(
            _lit(edges, lane, begin, end), (row - 0.36, 0.72), facecolor=_SAFE if safe else _LAMP, linewidth=0
        )
    for cut, end in paused(records):
        axis.axvspan(records[cut].at - begin, records[end].at - begin, color=_PAUSE, zorder=0, linewidth=0)
    for record in records:
        if isinstance(record.fact, BurstLit):
            row = lanes.index(record.fact.light)
            axis.text(record.at - begin, row - 0.42, str(record.step), fontsize=9, color=_INK, va="bottom")
    axis.set_ylim(len(lanes) - 0.4, -0.85)
    axis.set_xlim(0, longest * 1.02)
    axis.set_yticks(range(len(lanes)), lanes)
    axis.tick_params(axis="y", length=0, labelsize=10)
    axis.set_title(f"sheet {sheet}", loc="left", fontsize=11, color=_INK)
    axis.set_xlabel("seconds since the sheet was armed; shaded: paused", fontsize=9, color=_INK)
    for side in ("top", "right", "left"):
        axis.spines[side].set_visible(False)
