"""Where things lie on the sheet: its image and areas as outlines in millimetres, and ticks on the sheet's edges.

Everything is the finished print, face up: what is left here is left on the print. No enlarger turns that round, since
the outlines are of the print and not of the negative. All places are (across, down) in mm from the sheet's top left
corner, borders and what the easel's blades cover counted.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from timerd.sheet.plan.value import LIGHTS, Area, Plan, Sheet, Step
from timerd.sheet.profile.fields import RESERVED_AREAS
from timerd.sheet.words import area_words

Point = tuple[float, float]
Ring = tuple[Point, ...]

CORNER = "top left"
"""The corner from which ticks are counted: of the sheet as it lies on the map."""
_TURNED = {0: CORNER, 90: "top right", 180: "bottom right", 270: "bottom left"}


def own_corner(turn: int) -> str:
    """Where the print's own top left corner is while the sheet lies turned before the printer: it has the number.

    >>> own_corner(0), own_corner(90)
    ('top left', 'top right')
    """
    return _TURNED[turn]


@dataclass(frozen=True, slots=True)
class MapArea:
    """An area by its name, with the width of a strip: its outline, and a hole in it where it is a frame."""

    name: str
    mm: float | None
    outline: Ring
    hole: Ring | None = None

    @property
    def words(self) -> str:
        """The area as it is called everywhere: `left 20 mm`."""
        return area_words(self.name, self.mm)

    @property
    def rings(self) -> tuple[Ring, ...]:
        """Its outline, and its hole's."""
        return (self.outline,) if self.hole is None else (self.outline, self.hole)


@dataclass(frozen=True, slots=True)
class SheetMap:
    """A sheet of `width` by `height` mm with the image's corners and its areas; the strips that steps name are areas.

    `image_given` is False where the print does not say where the image lies, and it is taken to fill the sheet.
    """

    width: float
    height: float
    image: Ring
    image_given: bool
    areas: tuple[MapArea, ...]

    def turned(self, degrees: int) -> SheetMap:
        """The sheet turned clockwise as it lies before the printer: 0, 90, 180 or 270, else ValueError.

        Turned by 90 its top edge is at the right.
        """
        w, h = self.width, self.height
        moves: dict[int, Callable[[Point], Point]] = {
            0: lambda p: p,
            90: lambda p: (h - p[1], p[0]),
            180: lambda p: (w - p[0], h - p[1]),
            270: lambda p: (p[1], w - p[0]),
        }
        if degrees not in moves:
            raise ValueError(f"a sheet lies turned by 0, 90, 180 or 270 degrees; found {degrees}")
        return self._moved(moves[degrees], (w, h) if degrees in (0, 180) else (h, w))

    def mirrored(self) -> SheetMap:
        """The sheet as seen from its back: left and right change places."""
        return self._moved(lambda p: (self.width - p[0], p[1]), (self.width, self.height))

    def find(self, name: str, mm: float | None = None) -> MapArea | None:
        """The area of this name and, for a strip, of this width."""
        return next((area for area in self.areas if (area.name, area.mm) == (name, mm)), None)

    def _moved(self, move: Callable[[Point], Point], size: Point) -> SheetMap:
        def ring(points: Ring) -> Ring:
            return tuple(move(point) for point in points)

        areas = tuple(
            replace(area, outline=ring(area.outline), hole=None if area.hole is None else ring(area.hole))
            for area in self.areas
        )
        return SheetMap(size[0], size[1], ring(self.image), self.image_given, areas)


class Tick(NamedTuple):
    """A place on the sheet's top or left edge, so many mm from its top left corner; the edge across has its twin."""

    edge: Literal["top", "left"]
    mm: float


def sheet_map(plan: Plan) -> SheetMap | None:
    """A plan's sheet, upright. The areas: those with an outline, then the strips and `all` that its steps name.

    None where the plan knows no sheet.
    """
    sheet = plan.sheet
    if sheet is None:
        return None
    left, top, width, height = sheet.image
    areas = [_outlined(sheet, area) for area in sheet.areas]
    for step in plan.steps:
        named = [area_at_hand(step), *((cue.area, cue.mm) for cue in step.dodges)] if step.kind in LIGHTS else []
        for name, mm in named:
            if all((area.name, area.mm) != (name, mm) for area in areas):
                areas.append(outline_of(sheet, name, mm) or MapArea(name, mm, _box(left, top, width, height)))
    return SheetMap(sheet.width, sheet.height, _box(left, top, width, height), sheet.image_given, tuple(areas))


def outline_of(sheet: Sheet, name: str, mm: float | None) -> MapArea | None:
    """Where an area lies on a sheet: outlined, a strip of so many mm, or `all`; None where the sheet does not tell."""
    if name in RESERVED_AREAS:
        return _reserved(sheet, name, mm)
    return next((_outlined(sheet, area) for area in sheet.areas if area.name == name), None)


def area_at_hand(step: Step) -> tuple[str, float | None]:
    """The area that a step lights, with the width of a strip; a base lights all."""
    return ("all", None) if step.kind == "base" or step.area is None else (step.area, step.mm)


def ticks(area: MapArea) -> tuple[Tick, Tick, Tick, Tick]:
    """Between which places of the edges an area lies: two on the top edge, two on the left, the smaller first.

    They are its outermost corners; of a frame it is the hole that counts, since the card covers that.
    """
    across, down = zip(*(area.hole or area.outline), strict=True)
    return Tick("top", min(across)), Tick("top", max(across)), Tick("left", min(down)), Tick("left", max(down))


def image_falls(step: Step) -> bool:
    """Whether an image is projected in a step that gives light: in all but a flash."""
    return step.kind != "flash"


def _outlined(sheet: Sheet, area: Area) -> MapArea:
    left, top, width, height = sheet.image
    return MapArea(area.name, None, tuple((left + x * width, top + y * height) for x, y in area.corners))


def _reserved(sheet: Sheet, name: str, mm: float | None) -> MapArea:
    """`all`, or a strip along the image's edge; one that is wider than the image is all of it."""
    left, top, width, height = sheet.image
    whole = _box(left, top, width, height)
    across, down = min(mm or 0.0, width), min(mm or 0.0, height)
    match name:
        case "left":
            return MapArea(name, mm, _box(left, top, across, height))
        case "right":
            return MapArea(name, mm, _box(left + width - across, top, across, height))
        case "top":
            return MapArea(name, mm, _box(left, top, width, down))
        case "bottom":
            return MapArea(name, mm, _box(left, top + height - down, width, down))
        case "edges" if 2 * across < width and 2 * down < height:
            hole = _box(left + across, top + down, width - 2 * across, height - 2 * down)
            return MapArea(name, mm, whole, hole)
    return MapArea(name, mm, whole)


def _box(left: float, top: float, width: float, height: float) -> Ring:
    return ((left, top), (left + width, top), (left + width, top + height), (left, top + height))
