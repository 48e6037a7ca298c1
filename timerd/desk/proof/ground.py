"""All light that falls on the image, added up over it before any logarithm, as what each part of the emulsion gets.

The light is worked out on a grid of nodes, fine enough for a card's soft edge, and read off between them: so one area
costs no more than a hundred.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from timerd.desk.proof.cards import Field, covered
from timerd.desk.proof.lights import Spot, StepLit
from timerd.printing.paper import Curve
from timerd.sheet.map import SheetMap

_NODES_A_PENUMBRA = 16
_MOST_NODES = 1024

Kinds = Collection[str]
Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class GridLight:
    """Exposure at the nodes of a grid over the image, from its top left: of the image where the negative lets all
    through, and of the flash, in green and in blue."""

    green: Field
    blue: Field
    flash_green: Field
    flash_blue: Field

    def of_parts(self, curve: Curve) -> tuple[list[Field], list[Field]]:
        """What each part of the emulsion gets of it: of the image, and of the flash."""
        image = [part.green * self.green + part.blue * self.blue for part in curve.parts]
        flash = [part.green * self.flash_green + part.blue * self.flash_blue for part in curve.parts]
        return image, flash


class Ground:
    """The image with its areas, as a grid of nodes. A penumbra is over 0."""

    def __init__(self, map_: SheetMap, penumbra_mm: float) -> None:
        self._map = map_
        self._penumbra = penumbra_mm
        lefts, tops = [point[0] for point in map_.image], [point[1] for point in map_.image]
        self._across = _nodes(min(lefts), max(lefts), penumbra_mm)
        self._down = _nodes(min(tops), max(tops), penumbra_mm)
        self._covered: dict[Spot, Field] = {}

    def area(self, spot: Spot) -> Field:
        """How much of an area lies at each node, with its soft edges. LookupError where there is no such area."""
        if spot not in self._covered:
            found = self._map.find(*spot)
            if found is None:
                raise LookupError(f"the sheet has no area '{spot[0]}'")
            self._covered[spot] = covered(found.rings, self._across, self._down, self._map.image, self._penumbra)
        return self._covered[spot]

    def light(
        self, lit: Sequence[StepLit], reciprocity: float = 1.0, cards: Kinds = ("base", "burn"),
        kinds: Kinds = ("base", "burn", "flash"),
    ) -> GridLight:  # fmt: skip
        """The light of the steps of some kinds, added up; cards are held in the steps of the kinds in `cards`.

        Where the paper's reciprocity is not 1, a light's whole exposure counts to that power, over its bases'.
        """
        sums = {place: np.zeros((len(self._down), len(self._across))) for place in ("gi", "bi", "gf", "bf")}
        bases = {"g": 0.0, "b": 0.0}
        for one in lit:
            if one.kind not in kinds:
                continue
            dose = self._dose(one, one.kind in cards)
            for colour, rate in (("g", one.green), ("b", one.blue)):
                if rate > 0.0:
                    sums[colour + ("f" if one.kind == "flash" else "i")] += rate * dose
                    bases[colour] += rate * one.dose if one.kind == "base" else 0.0
        green, blue = (_by_time(sums[c + "i"], bases[c], reciprocity) for c in ("g", "b"))
        return GridLight(green, blue, sums["gf"], sums["bf"])

    def _dose(self, one: StepLit, with_cards: bool) -> Field:
        """The dose that a step leaves at each node. Where two cards are in at once, light passes neither."""
        there = np.ones((len(self._down), len(self._across))) if one.area[0] == "all" else self.area(one.area)
        if not with_cards or not one.held:
            return one.dose * there
        marks = sorted({0.0, one.dose, *(mark for held in one.held for mark in (held.start, held.stop))})
        passed = np.zeros_like(there)
        for begin, end in pairwise(marks):
            open_ = np.ones_like(there)
            for held in one.held:
                if held.start < end and held.stop > begin:
                    open_ *= 1.0 - self.area(held.area)
            passed += (end - begin) * open_
        return there * passed


class GridValues:
    """Values at nodes, read off between them for the pixels of a picture of so many rows and columns."""

    def __init__(self, field: Field, width: int, height: int) -> None:
        self._field = field
        self._field32 = field.astype(np.float32)
        self._left, self._share = _between(field.shape[1], width)
        self._share32 = self._share.astype(np.float32)
        self._above, self._down = _between(field.shape[0], height)

    def band(self, top: int, bottom: int) -> Floats32 | np.float32:
        """In rows from `top` to before `bottom`, in 32 bits; one number where they are all the same."""
        above = self._above[top:bottom]
        first, last = int(above[0]), int(above[-1]) + 2
        rows = self._field32[first:last]
        if rows.min() == rows.max():
            return np.float32(rows[0, 0])
        left = rows.take(self._left, axis=1)
        wide = left + self._share32 * (rows.take(self._left + 1, axis=1) - left)
        steps = np.diff(wide, axis=0)
        found = np.empty((bottom - top, len(self._share)), dtype=np.float32)
        share = self._down[top:bottom].astype(np.float32)
        for node in range(first, last - 1):
            here = slice(*np.searchsorted(above, (node, node + 1)))
            np.multiply(share[here, None], steps[node - first], out=found[here])
            found[here] += wide[node - first]
        return found

    def grid(self, every: int) -> Field:
        """At every so many-th row and column."""
        left, across = self._left[::every], self._share[::every]
        above, down = self._above[::every], self._down[::every, None]
        wide = self._field[:, left] * (1.0 - across) + self._field[:, left + 1] * across
        return wide[above] * (1.0 - down) + wide[above + 1] * down


def _between(nodes: int, pixels: int) -> tuple[NDArray[np.intp], Field]:
    """For each pixel's middle the node before it, and how far it is on the way to the next."""
    at = (np.arange(pixels) + 0.5) / pixels * (nodes - 1)
    before = np.minimum(at.astype(np.intp), nodes - 2)
    return before, at - before


def _nodes(first: float, last: float, penumbra_mm: float) -> Field:
    """Places of the nodes: as close as the edge asks for, and never too many."""
    asked = math.ceil((last - first) * _NODES_A_PENUMBRA / penumbra_mm)
    return np.linspace(first, last, min(asked, _MOST_NODES) + 1)


def _by_time(exposure: Field, base: float, reciprocity: float) -> Field:
    if reciprocity == 1.0 or base <= 0.0:
        return exposure
    return base * np.power(exposure / base, reciprocity)


def spreads(fields: Iterable[Field], width: int, height: int) -> list[GridValues]:
    """One for each part of the emulsion."""
    return [GridValues(field, width, height) for field in fields]
