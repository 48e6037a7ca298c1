"""Pieces that outlines cut each other into: areas by hand, against another program's polygons, and what is refused."""

from __future__ import annotations

import math
import random
from collections import Counter

import pytest

from timerd.printing.outlines import MOST, Shape, pieces


def box(left: float, top: float, right: float, bottom: float) -> Shape:
    return (((left, top), (right, top), (right, bottom), (left, bottom)),)


def sizes(*shapes: Shape) -> dict[str, float]:
    """The area of each piece, by the numbers of the shapes over it."""
    return {"".join(map(str, sorted(over))): area for over, area in pieces(shapes)}


ARROW: Shape = (((0.0, 0.0), (4.0, 2.0), (0.0, 4.0), (2.0, 2.0)),)  # hollow: the notch reaches half-way in
BOW: Shape = (((0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.0)),)  # crosses itself in the middle
STAR: Shape = (tuple((math.sin(4 * math.pi * k / 5), -math.cos(4 * math.pi * k / 5)) for k in range(5)),)
FRAME: Shape = (*box(0, 0, 10, 8), *box(2, 2, 8, 6))


@pytest.mark.parametrize(
    ("shapes", "by_hand"),
    [
        ((box(0, 0, 4, 3),), {"0": 12.0}),
        ((box(0, 0, 4, 4), box(1, 1, 2, 2)), {"0": 15.0, "01": 1.0}),
        ((box(0, 0, 4, 4), box(3, 3, 6, 5)), {"0": 15.0, "01": 1.0, "1": 5.0}),
        ((box(0, 0, 1, 1), box(2, 0, 3, 1)), {"0": 1.0, "1": 1.0}),
        ((box(0, 0, 1, 1), box(1, 0, 2, 1)), {"0": 1.0, "1": 1.0}),  # they share an edge
        ((box(0, 0, 2, 2), box(0, 0, 2, 2)), {"01": 4.0}),
        ((ARROW,), {"0": 4.0}),
        ((ARROW, box(0, 0, 1, 4)), {"0": 3.5, "01": 0.5, "1": 3.5}),  # between x / 2 and x, and the same from below
        ((BOW,), {"0": 2.0}),  # two triangles of 1 by the even-odd rule
        ((BOW, box(0, 0, 2, 1)), {"0": 1.0, "01": 1.0, "1": 1.0}),
        ((FRAME, box(0, 0, 10, 8)), {"01": 56.0, "1": 24.0}),
        ((FRAME, box(1, 1, 3, 3)), {"0": 53.0, "01": 3.0, "1": 1.0}),
        ((box(0, 0, 1, 1), (((5.0, 5.0), (6.0, 6.0), (7.0, 7.0)),)), {"0": 1.0}),  # a line has no area
        ((), {}),
    ],
)
def test_by_hand(shapes: tuple[Shape, ...], by_hand: dict[str, float]) -> None:
    assert sizes(*shapes) == pytest.approx(by_hand)


def test_a_star_is_hollow_in_its_middle() -> None:
    """The area of a pentagram's points and of its pentagon, from the golden ratio."""
    (_, points), *rest = pieces((STAR,))
    phi = (1 + math.sqrt(5)) / 2
    inner = math.cos(2 * math.pi / 5) / math.cos(math.pi / 5)  # how far the inner corners lie from the middle
    side = 2 * inner * math.sin(math.pi / 5)
    points_by_hand = 5 * 0.5 * side * math.sqrt((side * phi) ** 2 - (side / 2) ** 2)
    assert rest == [] and points == pytest.approx(points_by_hand)
    assert dict(pieces((STAR, box(-2, -2, 2, 2))))[frozenset({1})] == pytest.approx(16 - points_by_hand)


def outline(rng: random.Random) -> Shape:
    """A ring of 3 to 12 corners in the unit square: round, hollow, or crossing itself; sometimes on the edge."""
    count = rng.randint(3, 12)
    if rng.random() < 0.4:
        corners = [(rng.random(), rng.random()) for _ in range(count)]
    else:
        x, y, reach = rng.random(), rng.random(), rng.uniform(0.1, 0.6)
        corners = [
            (x + reach * rng.uniform(0.3, 1) * math.cos(6.2832 * k / count), y + reach * math.sin(6.2832 * k / count))
            for k in range(count)
        ]
    if rng.random() < 0.3:
        corners = [(round(x, 1), round(y, 1)) for x, y in corners]  # corners on corners, edges on edges
    return (tuple((min(1.0, max(0.0, x)), min(1.0, max(0.0, y))) for x, y in corners),)


@pytest.mark.parametrize("seed", range(12))
def test_random_outlines_against_points_in_paths_of_a_plotting_library(seed: int) -> None:
    """Evenly strewn points, each asked of every outline by matplotlib; 3 in 1,000 is five of their deviations."""
    numpy, path, qmc = (
        pytest.importorskip(name) for name in ("numpy", "matplotlib.path", "scipy.stats.qmc")
    )  # fmt: skip
    rng = random.Random(seed)
    shapes = (box(0, 0, 1, 1), *(outline(rng) for _ in range(rng.randint(2, 7))))
    points = qmc.Sobol(2, rng=seed).random_base2(16)
    inside = numpy.array([path.Path([*ring, ring[0]]).contains_points(points) for (ring,) in shapes])
    counted = Counter(frozenset(map(int, numpy.flatnonzero(column))) for column in inside.T)
    found = dict(pieces(shapes))
    assert sum(found.values()) == pytest.approx(1.0)
    for over in found.keys() | (counted.keys() - {frozenset()}):
        assert found.get(over, 0.0) == pytest.approx(counted[over] / len(points), abs=0.003), over


def test_the_order_and_the_side_from_which_one_looks_do_not_matter() -> None:
    rng = random.Random(5)
    shapes = tuple(outline(rng) for _ in range(6))
    turned = tuple(tuple(tuple((y, -x) for x, y in reversed(ring)) for ring in shape) for shape in shapes)
    plain = dict(pieces(shapes))
    for other in (turned, tuple(tuple(ring[2:] + ring[:2] for ring in shape) for shape in shapes)):
        assert dict(pieces(other)) == pytest.approx(plain, abs=1e-12)


def test_too_many_crossings_are_refused_before_they_are_gone_through() -> None:
    rng = random.Random(1)
    wild = tuple((tuple((rng.random(), rng.random()) for _ in range(200)),) for _ in range(100))
    assert len(wild) * 200 < MOST
    with pytest.raises(ValueError, match="cross too often"):
        pieces(wild)
    comb = tuple((x / 3000, (x * 7919 % 1000) / 1000) for x in range(3000))
    with pytest.raises(ValueError, match="cross too often"):
        pieces(((comb,), (tuple((y, x) for x, y in comb),)))
