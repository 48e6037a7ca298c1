"""Where things go: rectangles for a kind of screen and a size in pixels. Pure, and tested by its rectangles.

Everything is written for 800x480. Heights grow with the screen's height and widths with its width; the figure is at
least a third of the screen high, so the column beside it is what is left.
"""

from __future__ import annotations

from typing import NamedTuple

from timerd.panel.shown import ROWS, Kind

CAP = 0.73
"""How high a capital or a figure is, in parts of the type's size: of the typeface that is shipped."""
FIGURE_CAPS = 161 / 480
"""The large figure's height, in parts of the screen's: a little over a third."""
BURST_CAPS = 45 / 480
"""The height of the letters of all that is needed during a burst: 8 mm on a 7-inch screen (86 mm high)."""


class Rect(NamedTuple):
    """A rectangle in whole pixels, from its top left corner."""

    x: int
    y: int
    w: int
    h: int

    @property
    def right(self) -> int:
        return self.x + self.w

    @property
    def bottom(self) -> int:
        return self.y + self.h

    def meets(self, other: Rect) -> bool:
        """Whether the two have a pixel in common."""
        return self.x < other.right and other.x < self.right and self.y < other.bottom and other.y < self.bottom

    def rows(self, count: int, gap: int = 0) -> list[Rect]:
        """The rectangle cut into so many rows of one height."""
        height = (self.h - gap * (count - 1)) // count
        return [Rect(self.x, self.y + i * (height + gap), self.w, height) for i in range(count)]


class Layout(NamedTuple):
    """The parts of a screen that its kind has, by name, and the size of type from which texts are fitted."""

    size: tuple[int, int]
    parts: dict[str, Rect]
    unit: float

    def type_size(self, at_800: float) -> int:
        """A size of type written for 800x480."""
        return max(8, int(at_800 * self.unit))


def layout(
    kind: Kind, size: tuple[int, int], figure_digits: int = 2, cue_rows: int = 0, card: bool = False,
    trays: bool = False, told: bool = False,
) -> Layout:  # fmt: skip
    """The rectangles of a kind of screen: inside the screen, and none on another.

    `figure_digits` is 2 where the figure is no wider than two digits and a point, 3 where it has three digits;
    `cue_rows` is how many cues a burst shows; those over two make the rows lower; `card` gives the card
    a part of its own, where the step waits; `trays` gives the foot's right more room, for what is due there; `told`
    makes room for what was said there, but in a burst: in the map's column or the list's, else above the foot.
    """
    width, height = size
    unit = min(width / 800, height / 480)

    def y(at_480: float) -> int:
        return round(at_480 * height / 480)

    margin = round(10 * unit)
    gap = round(12 * unit)
    right = width - margin

    def part(left: int, top: float, end: int, bottom: float) -> Rect:
        return Rect(left, y(top), end - left, y(bottom) - y(top))

    def whole(top: float, bottom: float) -> Rect:
        return part(margin, top, right, bottom)

    figure_em = FIGURE_CAPS * height / CAP
    middle = margin + round(figure_em * (1.80 if figure_digits < 3 else 2.12))
    beside = middle + gap
    foot_top = 445 if kind == "burst" else 436
    # The foot: white light on the left, on the right the sheet or what is due at the trays; in a burst both are small.
    foot_split = margin + round((right - margin) * (0.55 if trays else 0.68))
    parts = {
        "band": whole(9, 73),
        "heading": whole(74, 135),
        "white": part(margin, foot_top, foot_split - gap // 2, 470),
        "sheet": part(foot_split + gap // 2, foot_top, right, 470),
    }
    thick = round(8 * unit)
    parts |= {
        "edge top": Rect(0, 0, width, thick),
        "edge bottom": Rect(0, height - thick, width, thick),
        "edge left": Rect(0, thick, thick, height - 2 * thick),
        "edge right": Rect(width - thick, thick, thick, height - 2 * thick),
    }
    match kind:
        case "burst":
            parts["figure"] = part(margin, 136, middle, 304)
            parts["amount"] = part(beside, 137, right, 261)
            parts["caption"] = part(beside, 265, right, 303)
            parts["bar"] = whole(307, 317)
            # Cues from the top, and below them what the hands hold: 8 mm letters leave room for two rows in all.
            rows = whole(320, 442).rows(max(2, cue_rows))
            parts |= {f"cue {i}": row for i, row in enumerate(rows[:cue_rows])}
            if cue_rows < 2:
                top = rows[cue_rows].y
                parts["lines"] = Rect(margin, top, right - margin, rows[-1].bottom - top)
        case "steps" | "offer":
            parts["figure"] = part(margin, 136, middle, 304)
            side = part(beside, 137, right, 303)
            rows = side.rows(ROWS)
            parts |= {"side": side} if kind == "offer" else {f"row {i}": row for i, row in enumerate(rows)}
            parts["bar"] = whole(307, 317)
            parts["lines"] = whole(363 if card else 321, 433)
            if card:
                parts["card"] = whole(318, 362)
        case "marks":
            parts["figure"] = part(margin, 136, middle, 304)
            parts["bar"] = part(margin, 306, middle, 317)
            parts["lines"] = part(margin, 321, middle, 432)
            parts["map"] = part(beside, 140, right, 430)
        case "asks":
            narrow = margin + round(figure_em * 1.42)
            parts["figure"] = part(margin, 136, narrow, 304)
            parts["caption"] = part(margin, 310, narrow, 346)
            parts["lines"] = part(narrow + 2 * gap, 143, right, 432)
        case "carry":
            parts["lines"] = part(margin, 146, middle, 432)
            parts["map"] = part(beside, 140, right, 430)
        case "words":
            parts["lines"] = whole(146, 432)
        case "map":
            parts["map"] = part(margin, 140, middle, 430)
            parts["lines"] = part(beside, 146, right, 432)
        case "nothing":
            parts = {}
    if told and kind not in ("burst", "nothing"):
        if kind == "steps":
            above, below = parts.pop("row 3"), parts.pop("row 4")
            parts["told"] = Rect(above.x, above.y, above.w, below.bottom - above.y)
        else:
            whose, high = ("map", 70) if "map" in parts else ("lines", 38)
            rect = parts[whose]
            parts[whose] = Rect(rect.x, rect.y, rect.w, rect.h - y(high))
            parts["told"] = Rect(rect.x, rect.bottom - y(high - 3), rect.w, y(high - 3))
    return Layout(size, parts, unit)
