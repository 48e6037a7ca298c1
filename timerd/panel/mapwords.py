"""What the map says in words, beside it. Pure."""

from __future__ import annotations

from timerd.panel.shown import MarkedMap
from timerd.sheet.map import CORNER, ticks


def map_lines(marked: MarkedMap) -> tuple[str, ...]:
    """What stands beside a map: the area at hand, and where its ticks are."""
    area = marked.at_hand
    lines = [] if area is None else [area.words]
    if marked.ticked and area is not None:
        on = {tick: f"{tick.mm:.0f}" for tick in ticks(area)}
        for side in ("top", "left"):
            lines.append(f"{side} edge: {' and '.join(mm for tick, mm in on.items() if tick.edge == side)}")
        lines.append(f"mm from the {CORNER} corner, borders counted; the same on the edge across")
    elif area is not None:
        lines.append("the image shows the place")
    if not marked.sheet.image_given:
        lines.append("the print has no image_mm: the image is taken to fill the sheet")
    return tuple(lines)
