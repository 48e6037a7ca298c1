"""A proof in one call: from a plan, or from what a sheet was given, to the pair of pictures and the table."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import IO

from timerd.desk.proof.ground import Ground
from timerd.desk.proof.lights import Easel, StepLit, lit
from timerd.desk.proof.negative import Negative
from timerd.desk.proof.outlines import Outline
from timerd.desk.proof.picture import Pair
from timerd.desk.proof.scene import scene
from timerd.desk.proof.table import AreaTones, area_tones
from timerd.printing.paper import Curve
from timerd.sheet.map import MapArea, SheetMap, sheet_map
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.progress import SheetProgress

WIDTH = 900
PENUMBRA_MM = 15.0
"""How wide the edge of a moving card is, unless said (common practice, no source)."""


@dataclass(frozen=True)
class Proof:
    """A pair, the table of its areas, and what had to be assumed. The table is worked out when it is asked for."""

    pair: Pair
    said: tuple[str, ...]
    areas: tuple[MapArea, ...]
    _table: Callable[[], tuple[AreaTones, ...]]

    @cached_property
    def table(self) -> tuple[AreaTones, ...]:
        """A row an area, in the order of their numbers in the picture."""
        return self._table()

    def write(self, file: IO[bytes], progress: Callable[[float], None] | None = None) -> None:
        """The pair as a grey PNG of 8 bits, sRGB; `progress` is told the share that is done."""
        self.pair.write(file, progress)

    def png(self) -> bytes:
        """The pair as the bytes of a PNG, to be put into a page."""
        told = io.BytesIO()
        self.write(told)
        return told.getvalue()


def make_proof(
    plan: Plan, bench: Bench, paper: Paper, negative: Negative | None = None, sheet: SheetProgress | None = None,
    easel: Easel | None = None, penumbra_mm: float = PENUMBRA_MM, width: int | None = None, outlines: bool = False,
) -> Proof:  # fmt: skip
    """The proof of a print, or of what `sheet` was given of it. `paper` is the plan's; it needs a curve.

    `negative` is a scan (`read_scan`), else the scene that is made up stands in for it. `width` is the most pixels of
    each of the two prints: unless said all of a scan, and 900 of the scene. LookupError where the paper has no curve;
    ValueError where there is nothing to show or a light is not known; each in one line.
    """
    if paper.curve is None:
        raise LookupError(
            f"paper '{paper.paper}' has no curve, so there is no proof: read a step wedge on it, then timerd paper fit"
        )
    curve = paper.curve.curve
    map_ = _map(plan)
    lights, said = lit(plan, bench, paper, curve, easel or Easel(), sheet)
    shape = _shape(map_)
    if negative is None:
        wide = width or WIDTH
        negative = scene(wide, max(1, round(wide / shape)))
    elif width is not None:
        negative = negative.narrowed(width)
    ground = Ground(map_, penumbra_mm)
    areas = tuple(area for area in map_.areas if area.name != "all")
    pair = Pair(
        negative, curve,
        ground.light(lights, plan.reciprocity, cards=(), kinds=("base",)),
        ground.light(lights, plan.reciprocity),
        ("straight print", "worked print" if sheet is None else f"sheet {sheet.sheet}, as it was given"),
        _outlines(areas, map_) if outlines else (),
    )  # fmt: skip
    everywhere = MapArea("all", None, map_.image)
    pairs = paper.curve.pairs

    def lit_on(one: Curve) -> tuple[StepLit, ...]:
        return lit(plan, bench, paper, one, easel or Easel(), sheet)[0]

    def table() -> tuple[AreaTones, ...]:
        return area_tones((*areas, everywhere), ground, lights, plan.reciprocity, negative, curve, pairs, lit_on)

    return Proof(pair, (*negative.said, *said, *_beyond(curve, pair)), areas, table)


def _map(plan: Plan) -> SheetMap:
    found = sheet_map(plan)
    if found is None:
        raise ValueError(f"the plan of '{plan.print}' does not tell where its image lies: there is no proof of it")
    return found


def _shape(map_: SheetMap) -> float:
    lefts, tops = [point[0] for point in map_.image], [point[1] for point in map_.image]
    return (max(lefts) - min(lefts)) / (max(tops) - min(tops))


def image_shape(plan: Plan) -> float:
    """The image's width over its height; ValueError where the plan does not tell it."""
    return _shape(_map(plan))


def _outlines(areas: tuple[MapArea, ...], map_: SheetMap) -> tuple[Outline, ...]:
    """The areas' outlines in fractions of the image, numbered from 1."""
    lefts, tops = [point[0] for point in map_.image], [point[1] for point in map_.image]
    left, top = min(lefts), min(tops)
    wide, high = max(lefts) - left, max(tops) - top
    return tuple(
        (str(number), tuple(tuple(((x - left) / wide, (y - top) / high) for x, y in ring) for ring in area.rings))
        for number, area in enumerate(areas, 1)
    )


def _beyond(curve: Curve, pair: Pair) -> tuple[str, ...]:
    """Say it where the paper was not read in the straight print's mix."""
    green, blue = float(pair.straight.green.flat[0]), float(pair.straight.blue.flat[0])
    try:
        low, high = curve.known(green, blue)
    except ValueError as error:
        return (f"beyond what was read of the paper: {error}",)
    if low <= curve.dmin and high >= curve.dmax:
        return ()
    return (f"the paper was read from density {low:.2f} to {high:.2f} in this mix: beyond that the tones are a guess",)
