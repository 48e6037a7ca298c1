"""The map drawn: the sheet as it lies, the area at hand filled, and ticks where the image does not show the way.

Where a sheet is laid back, the corner with its number is filled.
"""

from __future__ import annotations

import pygame

from timerd.panel import typeface
from timerd.panel.layout import Layout, Rect
from timerd.panel.palette import BLACK, FAINT, FULL
from timerd.panel.shown import MarkedMap
from timerd.panel.typeface import TextLine
from timerd.sheet.map import MapArea, Ring, ticks


def draw_map(canvas: pygame.Surface, rect: Rect, marked: MarkedMap, where: Layout, named: bool) -> list[TextLine]:
    """Draw the map into a rectangle; the texts that belong on it come back, to be drawn over it.

    With `named` every area has its name; the one at hand is named in the heading.
    """
    size = where.type_size(26)
    thin, thick = max(1, where.type_size(8) // 4), max(3, where.type_size(8) // 2)
    hair = max(1, where.type_size(8) // 8)
    tick_long = where.type_size(12)
    ticked = marked.ticked and marked.at_hand is not None
    left_room = typeface.width("000", size) + tick_long + size // 3 if ticked else thick
    top_room = size + tick_long if ticked else thick
    sheet = marked.sheet
    room_w, room_h = rect.w - 2 * left_room, rect.h - 2 * (tick_long + thick) - (top_room if ticked else 0)
    scale = min(room_w / sheet.width, room_h / sheet.height)
    x0 = rect.x + left_room + (room_w - sheet.width * scale) / 2
    y0 = rect.y + top_room + (rect.h - top_room - tick_long - thick - sheet.height * scale) / 2

    def point(at: tuple[float, float]) -> tuple[int, int]:
        return round(x0 + at[0] * scale), round(y0 + at[1] * scale)

    def ring(points: Ring) -> list[tuple[int, int]]:
        return [point(at) for at in points]

    area = marked.at_hand if marked.at_hand is not None and marked.at_hand.name != "all" else None
    if area is not None:
        pygame.draw.polygon(canvas, FAINT, ring(area.outline))
        if area.hole is not None:
            pygame.draw.polygon(canvas, BLACK, ring(area.hole))
    for other in sheet.areas:
        if other.name != "all" and other != area:
            for outline in (other.outline, other.hole):
                if outline is not None:
                    pygame.draw.polygon(canvas, FULL, ring(outline), hair)
    if area is not None:
        for outline in (area.outline, area.hole):
            if outline is not None:
                pygame.draw.polygon(canvas, FULL, ring(outline), thick)
    pygame.draw.polygon(canvas, FULL, ring(sheet.image), thin)
    (left, top), (right, bottom) = point((0, 0)), point((sheet.width, sheet.height))
    pygame.draw.rect(canvas, FULL, Rect(left, top, right - left, bottom - top), thick)
    if marked.corner:
        x, y = right if "right" in marked.corner else left, bottom if "bottom" in marked.corner else top
        across, down = size if x == left else -size, size if y == top else -size
        pygame.draw.polygon(canvas, FULL, [(x, y), (x + across, y), (x, y + down)])
    texts: list[TextLine] = []
    if ticked and area is not None:
        texts += _ticks(canvas, Rect(left, top, right - left, bottom - top), rect, area, scale, size, tick_long, thick)
    if named:
        texts += _names(marked, ring, where.type_size(20))
    return texts


def _ticks(canvas: pygame.Surface, sheet: Rect, rect: Rect, area: MapArea, scale: float, size: int, long: int,
           thick: int) -> list[TextLine]:  # fmt: skip
    """Ticks outside the sheet's edges, with their mm at the top and at the left."""
    found = ticks(area)
    texts: list[TextLine] = []
    across = [sheet.x + round(tick.mm * scale) for tick in found if tick.edge == "top"]
    down = [sheet.y + round(tick.mm * scale) for tick in found if tick.edge == "left"]
    for x in across:
        for y in (sheet.y - long, sheet.bottom):
            canvas.fill(FULL, Rect(x - thick // 2, y, thick, long))
    for y in down:
        for x in (sheet.x - long, sheet.right):
            canvas.fill(FULL, Rect(x, y - thick // 2, long, thick))
    words = [f"{tick.mm:.0f}" for tick in found]
    widths = [typeface.width(text, size) for text in words[:2]]
    lefts = _apart([x - w // 2 for x, w in zip(across, widths, strict=True)], widths, size // 2, rect.x, rect.right)
    baseline = sheet.y - long - round(0.12 * size)
    texts += [TextLine(text, size, x, baseline) for text, x in zip(words[:2], lefts, strict=True)]
    high = round(0.9 * size)
    tops = _apart([y - high // 2 for y in down], [high, high], 0, rect.y, rect.bottom)
    for text, y in zip(words[2:], tops, strict=True):
        x = sheet.x - long - size // 4 - typeface.width(text, size)
        texts.append(TextLine(text, size, x, y + round(0.82 * size)))
    return texts


def _apart(starts: list[int], lengths: list[int], gap: int, low: int, high: int) -> list[int]:
    """Two texts pushed apart where they would meet, and kept between two limits."""
    first, second = starts
    over = first + lengths[0] + gap - second
    if over > 0:
        first, second = first - (over + 1) // 2, second + (over + 1) // 2
    first = max(first, low)
    second = min(max(second, first + lengths[0] + gap), high - lengths[1])
    return [min(first, second - lengths[0] - gap), second]


def _names(marked: MarkedMap, ring, size: int) -> list[TextLine]:  # type: ignore[no-untyped-def]
    """Each area's name in its middle, where it fits in and no other name is yet."""
    taken: list[Rect] = []
    texts: list[TextLine] = []
    for area in marked.sheet.areas:
        if area == marked.at_hand or area.name == "all" or area.hole is not None:
            continue
        xs, ys = zip(*ring(area.outline), strict=True)
        wide = typeface.width(area.words, size)
        if wide > max(xs) - min(xs) or size > max(ys) - min(ys):
            continue
        text = TextLine(
            area.words, size, (min(xs) + max(xs) - wide) // 2, (min(ys) + max(ys)) // 2 + round(0.36 * size)
        )
        if not any(text.ink.meets(other) for other in taken):
            taken.append(text.ink)
            texts.append(text)
    return texts
