"""A screen drawn: in levels of red on a surface that cannot hold anything else."""

from __future__ import annotations

from collections import OrderedDict
from typing import NamedTuple

import pygame

from timerd.panel import typeface
from timerd.panel.layout import BURST_CAPS, CAP, FIGURE_CAPS, Layout, Rect, layout
from timerd.panel.mapping import draw_map
from timerd.panel.palette import BLACK, FULL, palette
from timerd.panel.shown import CueBar, Shown, StepRow
from timerd.panel.typeface import CLOSE, LOOSE, TIGHT, TextLine

_KEPT_TEXTS = 400
_TICK = "✓"


class Placed(NamedTuple):
    """A text that was drawn, in which part of the layout, and the pixels it takes at the most."""

    part: str
    text: str
    ink: Rect
    whole: bool


class Painter:
    """Draws screens of one size. The surface has one byte a pixel, and its 256 colours are shades of red."""

    def __init__(self, size: tuple[int, int]) -> None:
        self.size = size
        self.canvas = pygame.Surface(size, depth=8)
        self.canvas.set_palette(palette(1.0))
        self.placed: list[Placed] = []
        self._texts: OrderedDict[tuple[str, int, int, int], pygame.Surface] = OrderedDict()

    def draw(self, shown: Shown) -> Layout:
        """Draw it whole; what was placed where is in `placed` afterwards."""
        wide = 3 if len(shown.figure) >= 3 and "." not in shown.figure else 2
        there = (bool(part) for part in (shown.card, shown.trays, shown.told))
        where = layout(shown.kind, self.size, wide, len(shown.cues), *there)
        self.placed = []
        self.canvas.set_clip(None)
        self.canvas.fill(BLACK)
        if shown.kind == "nothing":
            return where
        parts = where.parts
        self._band(shown, where)
        if shown.notice:
            self._fill(parts["heading"])
            inner = _inset(parts["heading"], where.type_size(8))
            lines = typeface.block((shown.notice,), inner, *where_sizes(where, 44, 20), TIGHT)
            self._lines("heading", _centred(lines, inner), BLACK, FULL)
        else:
            self._heading(shown, where)
        if "figure" in parts:
            self._figure(shown, where)
        if "bar" in parts and shown.bar is not None:
            self._bar(parts["bar"], shown.bar)
        if "amount" in parts and shown.amount:
            size = self._burst_size()
            self._lines("amount", typeface.block((shown.amount,), parts["amount"], size, size, TIGHT), FULL, BLACK)
        if "caption" in parts:
            self._line("caption", typeface.line(shown.caption, parts["caption"], *where_sizes(where, 34, 20)))
        if "side" in parts:
            self._lines("side", typeface.block(shown.side, parts["side"], *where_sizes(where, 36, 22)), FULL, BLACK)
        if "card" in parts:
            card = typeface.block((shown.card,), parts["card"], *where_sizes(where, 44, 18), CLOSE)
            self._lines("card", card, FULL, BLACK)
        if "lines" in parts:
            self._lines("lines", self._block(shown, where), FULL, BLACK)
        self._rows(shown.rows, where)
        for i, cue in enumerate(shown.cues if shown.kind == "burst" else ()):
            self._cue(f"cue {i}", cue, where)
        if "map" in parts and shown.map is not None:
            for text in draw_map(self.canvas, parts["map"], shown.map, where, named=shown.kind == "map"):
                self._line("map", text)
        if "told" in parts:
            self._fill(parts["told"])
            inner = _inset(parts["told"], where.type_size(8), 1)
            lines = typeface.block((shown.told,), inner, *where_sizes(where, 36, 16), CLOSE)
            self._lines("told", _centred(lines, inner), BLACK, FULL)
        self._foot(shown, where)
        self._edge(shown, where)
        return where

    # -- the parts ---------------------------------------------------------------------------------------------------

    def _burst_size(self) -> int:
        return -(-round(BURST_CAPS * self.size[1] * 100) // round(CAP * 100))

    def _heading(self, shown: Shown, where: Layout) -> None:
        """One line; where there is nothing but words, it may be two."""
        rect, largest = where.parts["heading"], self._burst_size()
        smallest = largest if shown.kind == "burst" else where.type_size(30)
        one = typeface.line(shown.heading, rect, largest, smallest)
        if shown.kind == "words" and not one.whole:
            lines = typeface.block((shown.heading,), rect, *where_sizes(where, 30, 20), TIGHT)
            self._lines("heading", lines, FULL, BLACK)
        else:
            self._line("heading", one)

    def _block(self, shown: Shown, where: Layout) -> tuple[TextLine, ...]:
        """The texts below or beside the figure."""
        rect = where.parts["lines"]
        if shown.kind == "burst":
            return typeface.block(shown.lines, rect, self._burst_size(), self._burst_size(), TIGHT)
        largest = 44 if shown.kind in ("words", "carry") else 36
        return typeface.block(shown.lines, rect, *where_sizes(where, largest, 18), CLOSE if shown.card else LOOSE)

    def _band(self, shown: Shown, where: Layout) -> None:
        """The state and the light: filled while a light is lit, else a frame with smaller type in it."""
        rect = where.parts["band"]
        back, front = (FULL, BLACK) if shown.lit else (BLACK, FULL)
        frame = max(2, where.type_size(8) // 2)
        if shown.lit:
            self._fill(rect)
        else:
            pygame.draw.rect(self.canvas, FULL, rect, frame)
        inner = _inset(rect, where.type_size(14), 0 if shown.lit else frame)
        largest = self._burst_size() if shown.lit else where.type_size(48)
        smallest = where.type_size(34)
        state = typeface.line(shown.state, inner, largest, smallest)
        taken = typeface.width(state.text, state.size) + where.type_size(30)
        rest = Rect(inner.x + taken, inner.y, max(1, inner.w - taken), inner.h)
        self._line("band", state, front, back)
        if shown.light:
            self._line("band", typeface.line(shown.light, rest, largest, smallest, right=True), front, back)

    def _figure(self, shown: Shown, where: Layout) -> None:
        if shown.figure:
            largest = round(FIGURE_CAPS * self.size[1] / CAP)
            self._line("figure", typeface.line(shown.figure, where.parts["figure"], largest, 8, caps=True))

    def _bar(self, rect: Rect, share: float) -> None:
        pygame.draw.rect(self.canvas, FULL, rect, 2)
        self._fill(Rect(rect.x, rect.y, round(rect.w * share), rect.h))

    def _rows(self, rows: tuple[StepRow, ...], where: Layout) -> None:
        """All in one size: the largest in which every row is whole, or the smallest, in which some are shortened."""
        places = [where.parts[f"row {i}"] for i in range(len(rows)) if f"row {i}" in where.parts]
        if not places or not rows:
            return
        largest, smallest = where.type_size(27), where.type_size(18)
        high = int(places[0].h / typeface.LINE_HIGH)
        size = next((s for s in range(min(largest, high), smallest, -1) if all(_fits(r, places[0].w, s) for r in rows)),
                    min(smallest, high))  # fmt: skip
        for i, (row, rect) in enumerate(zip(rows, places, strict=False)):
            front, back = (BLACK, FULL) if row.here else (FULL, BLACK)
            if row.here:
                self._fill(rect)
            number, words, amount = _columns(rect, row, size)
            part = f"row {i}"
            self._line(part, typeface.line(_TICK if row.over else str(row.n), number, size, size), front, back)
            self._line(part, typeface.line(row.words, words, size, size), front, back)
            self._line(part, typeface.line(row.amount, amount, size, size, right=True), front, back)

    def _cue(self, part: str, cue: CueBar, where: Layout) -> None:
        rect = where.parts[part]
        inner = _inset(rect, where.type_size(10), 0)
        size = self._burst_size()
        text = typeface.line(cue.words, inner, size, min(size, where.type_size(34)))
        split = rect.x + round(rect.w * cue.filled)
        self._line(part, text)
        if split > rect.x:
            full = Rect(rect.x, rect.y + 1, split - rect.x, rect.h - 2)
            self._fill(full)
            self._line(part, text, BLACK, FULL, clip=full, told=False)
        pygame.draw.rect(self.canvas, FULL, _inset(rect, 0, 1), max(2, where.type_size(8) // 4))

    def _foot(self, shown: Shown, where: Layout) -> None:
        sizes = where_sizes(where, 28, 14)
        rect = where.parts["white"]
        warned = not shown.white_safe and shown.kind != "burst"
        if warned:
            inner = _inset(rect, where.type_size(8), 0)
            text = typeface.line(shown.white, inner, *sizes)
            self._fill(Rect(rect.x, rect.y, typeface.width(text.text, text.size) + 2 * (inner.x - rect.x), rect.h))
            self._line("white", text, BLACK, FULL)
        else:
            self._line("white", typeface.line(shown.white, rect, *sizes))
        self._line("sheet", typeface.line(shown.trays or shown.sheet, where.parts["sheet"], *sizes, right=True))

    def _edge(self, shown: Shown, where: Layout) -> None:
        for name in ("top", "bottom", "left", "right"):
            rect = where.parts[f"edge {name}"]
            if shown.edge:
                self._fill(rect)
            if shown.edge == 1:  # half as thick as on every fifth second
                self.canvas.fill(BLACK, _inner_half(rect, name))

    # -- text and fills ------------------------------------------------------------------------------------------

    def _fill(self, rect: Rect, level: int = FULL) -> None:
        self.canvas.fill(level, rect)

    def _lines(self, part: str, lines: tuple[TextLine, ...], front: int, back: int) -> None:
        for line in lines:
            self._line(part, line, front, back)

    def _line(self, part: str, line: TextLine, front: int = FULL, back: int = BLACK, clip: Rect | None = None,
              told: bool = True) -> None:  # fmt: skip
        if not line.text:
            return
        image = self._text(line.text, line.size, front, back)
        self.canvas.set_clip(clip or line.ink)
        self.canvas.blit(image, (line.x, line.baseline - typeface.font(line.size).get_ascent()))
        self.canvas.set_clip(None)
        if told:
            self.placed.append(Placed(part, line.text, line.ink, line.whole))

    def _text(self, text: str, size: int, front: int, back: int) -> pygame.Surface:
        """A text in our own palette, kept: the same few are drawn again and again."""
        key = (text, size, front, back)
        if (kept := self._texts.get(key)) is not None:
            self._texts.move_to_end(key)
            return kept
        rendered = typeface.font(size).render(text, True, (front, 0, 0), (back, 0, 0))
        image = pygame.Surface(rendered.get_size(), depth=8)
        image.set_palette(palette(1.0))
        image.blit(rendered, (0, 0))
        self._texts[key] = image
        if len(self._texts) > _KEPT_TEXTS:
            self._texts.popitem(last=False)
        return image


def where_sizes(where: Layout, largest: int, smallest: int) -> tuple[int, int]:
    """Two sizes of type written for 800x480, for this screen."""
    return where.type_size(largest), where.type_size(smallest)


def _inset(rect: Rect, across: int, down: int | None = None) -> Rect:
    down = across // 2 if down is None else down
    return Rect(rect.x + across, rect.y + down, rect.w - 2 * across, rect.h - 2 * down)


def _inner_half(rect: Rect, name: str) -> Rect:
    half_w, half_h = rect.w // 2, rect.h // 2
    match name:
        case "top":
            return Rect(rect.x + half_h, rect.y + half_h, rect.w - 2 * half_h, rect.h - half_h)
        case "bottom":
            return Rect(rect.x + half_h, rect.y, rect.w - 2 * half_h, rect.h - half_h)
        case "left":
            return Rect(rect.x + half_w, rect.y, rect.w - half_w, rect.h)
    return Rect(rect.x, rect.y, rect.w - half_w, rect.h)


def _centred(lines: tuple[TextLine, ...], rect: Rect) -> tuple[TextLine, ...]:
    """The lines moved down to the rectangle's middle."""
    if not lines:
        return lines
    ink = lines[-1].baseline + round(0.22 * lines[-1].size) - rect.y
    down = max(0, (rect.h - ink) // 2)
    return tuple(line._replace(baseline=line.baseline + down) for line in lines)


def _columns(rect: Rect, row: StepRow, size: int) -> tuple[Rect, Rect, Rect]:
    """A row's number, words and amount."""
    pad = size // 4
    number = Rect(rect.x + pad, rect.y, typeface.width("00", size), rect.h)
    wide = typeface.width(row.amount, size)
    amount = Rect(rect.right - pad - wide, rect.y, wide, rect.h)
    left = number.right + pad
    return number, Rect(left, rect.y, max(1, amount.x - 2 * pad - left), rect.h), amount


def _fits(row: StepRow, wide: int, size: int) -> bool:
    return typeface.width(row.words, size) <= _columns(Rect(0, 0, wide, 1), row, size)[1].w
