"""The map of a sheet as an SVG at real size, for paper: print it at 100 % and lay it beside, or under, the sheet."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from xml.sax.saxutils import escape

from timerd.sheet.map import CORNER, MapArea, Ring, SheetMap, area_at_hand, image_falls, sheet_map, ticks
from timerd.sheet.plan.value import LIGHTS, Plan

_TEXT_MM = 3.6
_SMALL_MM = 2.8
_LINE_MM = 5.0
_TICK_MM = 6.0
_FIGURE_TEXT = 1 / 32
"""How high text is in a figure, in parts of the sheet's width: 10.6 px where the figure is 340 px wide."""
_CHARACTER = 0.6
"""How wide a character is, in parts of its height: a round figure, since no typeface is known here."""


def map_svg(plan: Plan, back: bool) -> str:
    """A plan's map, upright and face up, or with `back` mirrored, to mark the sheet from behind.

    The page is the sheet with some lines below it. Every area is outlined; those that a flash lights, where no image
    shows the way, have ticks on the sheet's edges. LookupError where the plan knows no sheet.
    """
    made = sheet_map(plan)
    if made is None:
        raise LookupError("this plan knows no sheet, so there is no map of it")
    made = made.mirrored() if back else made
    marked = _marked(plan, made)
    words = _words(plan, made, bool(marked), back)
    height = made.height + _LINE_MM * (len(words) + 2)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{made.width:g}mm" height="{height:g}mm"'
        f' viewBox="0 0 {made.width:g} {height:g}" font-family="sans-serif" fill="none" stroke="black"'
        f' stroke-width="0.25">',
        f"<title>{_safe(plan.print)}</title>",
        f'<rect x="0" y="0" width="{made.width:g}" height="{made.height:g}"/>',
        f'<path class="image" d="{_path(made.image)}" stroke-width="0.5"/>',
        *_outlines(made),
        *_labels(made, _TEXT_MM),
    ]
    for area in marked:
        parts += _ticks(made, area, _SMALL_MM)
    for i, line in enumerate(words):
        parts.append(_text(2, made.height + _LINE_MM * (i + 1), _TEXT_MM, line))
    parts += _scale(made, height)
    return "\n".join([*parts, "</svg>", ""])


def map_figure(plan: Plan) -> str:
    """A plan's map as a figure in a page, face up: as wide as its place, its text in proportion, coloured by the page.

    Areas and ticks as in `map_svg`, with nothing below the sheet. LookupError where the plan knows no sheet.
    """
    made = sheet_map(plan)
    if made is None:
        raise LookupError("this plan knows no sheet, so there is no map of it")
    text = made.width * _FIGURE_TEXT
    parts = [
        f'<svg class="map" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {made.width:g} {made.height:g}"'
        f' font-family="sans-serif" fill="none" stroke="black" stroke-width="{made.width / 600:.2f}" role="img">',
        f"<title>{_safe(f'the sheet with its areas: {plan.print}')}</title>",
        f'<rect x="0" y="0" width="{made.width:g}" height="{made.height:g}"/>',
        f'<path class="image" d="{_path(made.image)}" stroke-width="{made.width / 300:.2f}"/>',
        *_outlines(made),
        *_labels(made, text),
    ]
    for area in _marked(plan, made):
        parts += _ticks(made, area, text)
    return "\n".join([*parts, "</svg>"])


def _marked(plan: Plan, made: SheetMap) -> list[MapArea]:
    """The areas that are lit without an image, each once."""
    named = dict.fromkeys(area_at_hand(s) for s in plan.steps if s.kind in LIGHTS and not image_falls(s))
    return [area for name in named if (area := made.find(*name)) is not None]


def _words(plan: Plan, made: SheetMap, marked: bool, back: bool) -> list[str]:
    side = "BACK of the sheet, mirrored: for pencil marks on the back" if back else "front of the sheet, face up"
    negative = f", negative {plan.negative}" if plan.negative is not None else ""
    lines = [f"{plan.print}{negative}", f"{side}; {made.width:g} x {made.height:g} mm, print at 100 %"]
    if marked:
        lines.append(f"ticks: mm from the {CORNER} corner of this page, borders counted; the same on the edges across")
    if not made.image_given:
        lines.append("the print has no image_mm: the image is taken to fill the sheet")
    width = max(10, int((made.width - 4) / (_TEXT_MM * _CHARACTER)))
    return [part for line in lines for part in textwrap.wrap(line, width)]


def _outlines(made: SheetMap) -> Iterator[str]:
    for area in made.areas:
        if area.name == "all":
            continue  # the image's own outline
        rings = _path(area.outline) + (f" {_path(area.hole)}" if area.hole is not None else "")
        yield f'<path class="area" d="{rings}" fill="black" fill-opacity="0.05" fill-rule="evenodd"/>'


def _labels(made: SheetMap, text: float) -> Iterator[str]:
    """Each area's name in it, where no other name is yet; the smallest areas have the first choice."""
    taken: list[tuple[float, float, float, float]] = []
    for area in sorted((area for area in made.areas if area.name != "all"), key=_size):
        left, top, right, bottom = _bounds(area.outline)
        wide = len(area.words) * text * _CHARACTER
        x = max(1.0, min((left + right - wide) / 2, made.width - wide - 1))
        if area.hole is not None:  # in the frame itself, at the bottom
            places = [min(bottom, _bounds(area.hole)[3] + text + 1)]
        else:
            middle = (top + bottom + text) / 2
            places = [middle, *(middle + step * (text + 1) for step in (1, -1, 2, -2, 3, -3, 4, -4))]
        free = (y for y in places if not any(_meet((x, y - text, x + wide, y), other) for other in taken))
        y = next(free, places[0])
        taken.append((x, y - text, x + wide, y))
        yield _text(x, y, text, area.words)


def _ticks(made: SheetMap, area: MapArea, text: float) -> Iterator[str]:
    for tick in ticks(area):
        words = f"{tick.mm:.0f} {area.words}"
        at = tick.mm
        if tick.edge == "top":
            for y, to in ((0.0, _TICK_MM), (made.height, made.height - _TICK_MM)):
                yield _line(at, y, at, to)
            beside = at + 0.8 if at + 0.8 + text < made.width else at - 0.8 - text * 0.8  # not off the page
            yield _text(0, 0, text, words, f"translate({beside:.2f} 1.5) rotate(90)")
        else:
            for x, to in ((0.0, _TICK_MM), (made.width, made.width - _TICK_MM)):
                yield _line(x, at, to, at)
            yield _text(1.5, at - 0.8 if at > text + 1 else at + text + 0.8, text, words)


def _scale(made: SheetMap, height: float) -> Iterator[str]:
    """A line of a round length, to see whether the page was printed at its size."""
    long = 100 if made.width >= 110 else 20
    y = height - 2
    if long + 4 > made.width:
        return
    yield _line(2, y, 2 + long, y)
    yield from (_line(x, y - 1.5, x, y + 1.5) for x in (2, 2 + long))
    yield _text(3, y - 0.8, _SMALL_MM, f"{long} mm" if long < 100 else "100 mm: measure it on the page")


def _line(x: float, y: float, to_x: float, to_y: float) -> str:
    return f'<path class="tick" d="M{x:.2f} {y:.2f} L{to_x:.2f} {to_y:.2f}"/>'


def _text(x: float, y: float, size: float, words: str, transform: str | None = None) -> str:
    turned = f' transform="{transform}"' if transform is not None else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" fill="black" stroke="none"{turned}>{_safe(words)}</text>'
    )


def _path(ring: Ring) -> str:
    return "M" + " L".join(f"{x:.2f} {y:.2f}" for x, y in ring) + " Z"


def _bounds(ring: Ring) -> tuple[float, float, float, float]:
    across, down = zip(*ring, strict=True)
    return min(across), min(down), max(across), max(down)


def _size(area: MapArea) -> float:
    left, top, right, bottom = _bounds(area.outline)
    return (right - left) * (bottom - top)


def _meet(one: tuple[float, float, float, float], other: tuple[float, float, float, float]) -> bool:
    return one[0] < other[2] and other[0] < one[2] and one[1] < other[3] and other[1] < one[3]


def _safe(words: str) -> str:
    return escape("".join(c if c.isprintable() else " " for c in words))
