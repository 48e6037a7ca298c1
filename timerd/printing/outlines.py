"""What outlines cut a plane into: which shapes lie over each piece, and how large it is.

Exact but for rounding, for any outlines: hollow ones, ones that cross themselves or each other, frames. The plane is
taken in bands, from one corner or crossing down to the next: within a band no two edges cross, so it is made of
trapezoids. A place is in a shape where a line from outside crosses the shape's edges an odd number of times.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import pairwise

Ring = tuple[tuple[float, float], ...]
Shape = tuple[Ring, ...]

MOST = 500_000
"""So many looks at an edge are taken, about a second of work, before the outlines are called too many."""
_SLIVER = 1e-9  # of all that is covered: what rounding leaves between edges that are one

_Edge = tuple[float, float, float, float, int]
"""From (x, y) down to (x, y), and the shape that it belongs to."""
_Cut = tuple[float, float, int]
"""Where an edge passes through a band: x at the top and at the bottom, and its shape."""


Pieces = tuple[tuple[frozenset[int], float], ...]


def pieces(shapes: tuple[Shape, ...]) -> Pieces:
    """What shapes cut each other into: which shapes, by their place, cover each piece, and its area; the largest first.

    A shape is one ring of corners or several, closed by themselves. Pieces under the same shapes count as one.
    ValueError where the outlines are too many, or cross too often, to be gone through.

    >>> square = (((0.0, 0.0), (2.0, 0.0), (2.0, 2.0), (0.0, 2.0)),)
    >>> corner = (((1.0, 1.0), (2.0, 1.0), (2.0, 2.0)),)
    >>> [(sorted(over), area) for over, area in pieces((square, corner))]
    [([0], 3.5), ([0, 1], 0.5)]
    """
    found = _pieces(shapes)
    if found is None:
        raise ValueError("the outlines of the areas cross too often to be gone through")
    return found


class _TooMany(Exception):
    """More looks were needed than are taken."""


@lru_cache(maxsize=16)
def _pieces(shapes: tuple[Shape, ...]) -> Pieces | None:
    """Gone through once: a print's outlines are asked for again and again, and so are those that are too many."""
    found: defaultdict[frozenset[int], float] = defaultdict(float)
    try:
        _add_up(found, shapes)
    except _TooMany:
        return None
    least = sum(found.values()) * _SLIVER
    return tuple(sorted(((over, area) for over, area in found.items() if area > least), key=lambda piece: -piece[1]))


def _add_up(found: defaultdict[frozenset[int], float], shapes: Sequence[Shape]) -> None:
    for top, bottom, cuts in _bands(_edges(shapes)):
        cuts.sort(key=lambda cut: cut[0] + cut[1])
        over: frozenset[int] = frozenset()
        for left, right in pairwise(cuts):
            over ^= {left[2]}
            if over:
                found[over] += (right[0] + right[1] - left[0] - left[1]) / 2.0 * (bottom - top)


def _edges(shapes: Sequence[Shape]) -> list[_Edge]:
    """Every edge that is not level, downwards, those that begin first first."""
    edges = []
    for number, shape in enumerate(shapes):
        for ring in shape:
            for (x0, y0), (x1, y1) in pairwise((*ring, *ring[:1])):
                if y0 != y1:
                    edges.append((x0, y0, x1, y1, number) if y0 < y1 else (x1, y1, x0, y0, number))
    return sorted(edges, key=lambda edge: edge[1])


def _bands(edges: Sequence[_Edge]) -> Iterator[tuple[float, float, list[_Cut]]]:
    """Bands from top to bottom in which no two edges cross, each with the edges that pass through it."""
    looks, begun = 0, 0
    through: list[_Edge] = []
    for top, bottom in pairwise(sorted({y for edge in edges for y in (edge[1], edge[3])})):
        through = [edge for edge in through if edge[3] > top]
        while begun < len(edges) and edges[begun][1] <= top:
            through.append(edges[begun])
            begun += 1
        cuts = [(_across(edge, top), _across(edge, bottom), edge[4]) for edge in through]
        shares = _crossings(cuts, MOST - looks)
        looks += len(cuts) * (len(shares) + 1)
        if looks > MOST:
            raise _TooMany
        for first, last in pairwise((0.0, *shares, 1.0)):
            height = bottom - top
            yield (
                top + first * height,
                top + last * height,
                [(a + (b - a) * first, a + (b - a) * last, shape) for a, b, shape in cuts],
            )


def _across(edge: _Edge, y: float) -> float:
    x0, y0, x1, y1, _ = edge
    return x1 if y == y1 else x0 + (x1 - x0) * ((y - y0) / (y1 - y0))


def _crossings(cuts: list[_Cut], most: int) -> list[float]:
    """How far down a band edges cross, from 0 to 1: found where they change places between its top and its bottom."""
    found: set[float] = set()
    placed: list[_Cut] = []
    for cut in sorted(cuts, key=lambda cut: cut[:2]):
        at = len(placed)
        while at and placed[at - 1][1] > cut[1]:
            other = placed[at - 1]
            before, after = cut[0] - other[0], other[1] - cut[1]
            share = before / (before + after)
            if 0.0 < share < 1.0:
                found.add(share)
            at, most = at - 1, most - 1
            if most < 0:
                raise _TooMany
        placed.insert(at, cut)
    return sorted(found)
