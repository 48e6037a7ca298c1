"""Where an area is for light, at its edges, corners and holes, and at the image's own edge."""

from __future__ import annotations

import numpy as np
import pytest

from timerd.desk.proof.cards import covered

IMAGE = ((10.0, 20.0), (110.0, 20.0), (110.0, 90.0), (10.0, 90.0))
ACROSS, DOWN = np.linspace(10.0, 110.0, 101), np.linspace(20.0, 90.0, 71)


def box(left: float, top: float, right: float, bottom: float) -> tuple[tuple[float, float], ...]:
    return ((left, top), (right, top), (right, bottom), (left, bottom))


def test_an_area_of_the_whole_image_has_no_edge() -> None:
    assert (covered([IMAGE], ACROSS, DOWN, IMAGE, 15.0) == 1.0).all()
    assert (covered([IMAGE[::-1]], ACROSS, DOWN, IMAGE, 15.0) == 1.0).all()


def test_half_the_light_at_the_outline_and_all_of_it_half_a_penumbra_inside() -> None:
    found = covered([box(40, 40, 80, 70)], ACROSS, DOWN, IMAGE, 8.0)
    along = found[35]  # 55 mm down: the middle of the box
    assert along[[26, 30, 34]].tolist() == [0.0, 0.5, 1.0]
    assert along[[66, 70, 74]].tolist() == [1.0, 0.5, 0.0]
    assert (np.diff(along[26:35]) > 0).all()
    assert found.max() == 1.0 and found.min() == 0.0
    # Outside a corner the nearest place is the corner itself: 2 mm across and 2 mm down from it.
    u = 0.5 - np.hypot(2, 2) / 8
    assert found[18, 28] == pytest.approx(u * u * (3 - 2 * u))


def test_a_frame_is_soft_towards_its_hole_alone() -> None:
    found = covered([IMAGE, box(25, 35, 95, 75)], ACROSS, DOWN, IMAGE, 6.0)
    assert (found[:11] == 1.0).all() and (found[:, :12] == 1.0).all()
    assert found[35, [15, 12, 18, 50]].tolist() == [0.5, 1.0, 0.0, 0.0]


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
def test_a_strip_along_an_edge_is_soft_on_its_inner_side_alone(side: str) -> None:
    strips = {
        "left": box(10, 20, 30, 90), "right": box(90, 20, 110, 90), "top": box(10, 20, 110, 40),
        "bottom": box(10, 70, 110, 90),
    }  # fmt: skip
    found = covered([strips[side]], ACROSS, DOWN, IMAGE, 8.0)
    turned = {"left": found.T, "right": found.T[::-1], "top": found, "bottom": found[::-1]}[side]
    assert (turned[:17] == 1.0).all() and turned[20] == pytest.approx(0.5) and (turned[24:] == 0.0).all()


def test_any_outline_is_as_even_odd_has_it_away_from_its_edges() -> None:
    """Random outlines, crossing themselves too: against a ray sent from each node."""
    rng = np.random.default_rng(8)
    for _ in range(25):
        ring = tuple((float(x), float(y)) for x, y in rng.uniform((12, 22), (108, 88), (int(rng.integers(3, 9)), 2)))
        found = covered([ring], ACROSS, DOWN, IMAGE, 1e-6)
        for i, j in rng.integers((0, 0), (71, 101), (60, 2)):
            x, y = float(ACROSS[j]), float(DOWN[i])
            crossings = 0
            for (x0, y0), (x1, y1) in zip(ring, (*ring[1:], ring[0]), strict=True):
                if (y0 > y) != (y1 > y) and x < x0 + (y - y0) * (x1 - x0) / (y1 - y0):
                    crossings += 1
            assert found[i, j] == crossings % 2
