"""The negative that comes along: an invented breakwater at low tide, in haze. It stands in where there is no scan.

`scene.tif` has it in two sizes, without grain: 8 bits, evenly in density from 0 to `HIGH`. Each size is read at points,
as what it shows was drawn; grain is of the size that is asked for.
"""

from __future__ import annotations

import io
from functools import lru_cache
from importlib import resources

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageSequence
from scipy.ndimage import gaussian_filter

from timerd.desk.proof.negative import Negative, middle, of_values

NAME = "an invented scene"
LOW, HIGH = 0.10, 1.60
"""Densities of the negative's thinnest and densest value."""

_GRAIN = 0.011


@lru_cache(maxsize=2)
def scene(width: int, height: int) -> Negative:
    """The scene as a negative of so many pixels, the same every time; of another shape than its own, its middle."""
    density = np.float32(HIGH) * (1.0 - _picture(width, height) / np.float32(255.0))
    grain = gaussian_filter(np.random.default_rng(24).standard_normal(density.shape, dtype=np.float32), 0.6)
    grain *= _GRAIN / float(grain.std())
    density += grain * (0.6 + 0.5 * density)
    values = (65535.0 * np.clip((HIGH - density) / (HIGH - LOW), 0.0, 1.0) + 0.5).astype(np.uint16)
    return of_values(NAME, values, LOW, HIGH)


def _picture(width: int, height: int) -> NDArray[np.float32]:
    """The smaller size that has as many pixels across, else the larger, at so many points."""
    with Image.open(io.BytesIO(resources.files(__package__).joinpath("scene.tif").read_bytes())) as file:
        sizes = [page.convert("F") for page in ImageSequence.Iterator(file)]
    kept = next((one for one in sizes if one.width >= width), sizes[-1])
    left, top, wide, high = middle(*kept.size, width / height)
    whole = (left, top, left + wide, top + high)
    at_points = kept.transform((width, height), Image.Transform.EXTENT, whole, Image.Resampling.BICUBIC)
    return np.clip(np.asarray(at_points, dtype=np.float32), 0.0, 255.0)
