"""The scene that comes along: as it was kept at its own sizes, its middle where another shape is wanted."""

from __future__ import annotations

from importlib import resources

import numpy as np
import pytest
from PIL import Image, ImageSequence

from timerd.desk.proof.scene import scene

KEPT = resources.files("timerd.desk.proof").joinpath("scene.tif")
GRAIN = 0.02
"""Density: grain is 0.011 as one deviation, times 0.6 to 1.4 by the tone."""


def densities(width: int, height: int) -> np.ndarray:
    negative = scene(width, height)
    assert (negative.width, negative.height) == (width, height)
    return negative.densities[negative.rows(0, height, 1)]


def kept(size: int) -> np.ndarray:
    """What the file has, without grain, as a negative can show it."""
    with KEPT.open("rb") as file, Image.open(file) as image:
        pages = [np.asarray(page, dtype=float) for page in ImageSequence.Iterator(image)]
    return np.clip(1.6 * (1.0 - pages[size] / 255.0), 0.10, 1.60)


@pytest.mark.parametrize(("size", "width", "height"), [(0, 430, 553), (1, 900, 1156)])
def test_its_own_sizes_are_as_they_were_kept(size: int, width: int, height: int) -> None:
    apart = densities(width, height) - kept(size)
    assert abs(apart.mean()) < 0.001 and 0.005 < apart.std() < 0.014
    assert np.mean(np.abs(apart) > 3 * GRAIN) < 1e-4
    assert (densities(width, height) == densities(width, height)).all()


def test_of_another_shape_it_is_the_middle() -> None:
    wide = densities(900, 600) - kept(1)[278:878]
    assert np.mean(np.abs(wide) > 3 * GRAIN) < 1e-4
    high = densities(200, 1156)
    assert np.corrcoef(high.ravel(), kept(1)[:, 350:550].ravel())[0, 1] > 0.9


def test_the_file_is_small() -> None:
    assert len(KEPT.read_bytes()) < 400_000
