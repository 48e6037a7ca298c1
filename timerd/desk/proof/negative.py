"""The negative's densities, pixel by pixel: a scan, a grey PNG or TIFF of 8 or 16 bits, or values made up in code.

A scan's values say nothing by themselves: its density range is given, and in what its values are even. What is not
plainly a whole grey picture is refused in one line; nothing in the file is believed before it was looked at.
"""

from __future__ import annotations

import struct
import warnings
import zlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Literal

import numpy as np
from numpy.typing import NDArray
from PIL import Image, TiffImagePlugin, UnidentifiedImageError

MOST_PIXELS = 200_000_000
LEAST_PIXELS = 16
_FORMATS = ("PNG", "TIFF")
_SHAPE = 0.02  # how far a scan's shape may be from the image's before it is cut to it
_WHAT_READERS_RAISE = (
    OSError, SyntaxError, ValueError, TypeError, KeyError, IndexError, AttributeError, EOFError, OverflowError,
    MemoryError, AssertionError, RuntimeError, NotImplementedError, struct.error, zlib.error,
    Image.DecompressionBombError, Image.DecompressionBombWarning,
)  # fmt: skip
_PHOTOMETRIC, _ORIENTATION, _BITS, _SAMPLE_FORMAT = 262, 274, 258, 339

Values = NDArray[np.uint8] | NDArray[np.uint16]
ValuesIn = Literal["density", "light", "srgb"]
"""In what a scan's values are even: in density, in the light that came through, or in that light as sRGB has it."""


@dataclass(frozen=True, slots=True)
class Negative:
    """A negative of `width` by `height` pixels: the density that each value stands for, and rows of values.

    `rows(top, bottom, every)` are the values from row `top` to before `bottom`, of every so many-th row and column.
    `said` is what was done to make it fit.
    """

    name: str
    width: int
    height: int
    densities: NDArray[np.float32]
    rows: Callable[[int, int, int], Values]
    said: tuple[str, ...] = ()

    def narrowed(self, width: int) -> Negative:
        """The same negative, at most so many pixels wide: the mean of k by k values, k a whole number."""
        k = -(-self.width // width)
        if k <= 1:
            return self
        wide, high = self.width // k, max(1, self.height // k)

        def rows(top: int, bottom: int, every: int) -> Values:
            picked = []
            for row in range(top, bottom, every):
                all_of_it = self.rows(row * k, min(self.height, (row + 1) * k), 1)
                means = all_of_it[:, : wide * k].reshape(-1, wide, k).mean(axis=(0, 2))
                picked.append((means[::every] + 0.5).astype(all_of_it.dtype))
            return np.stack(picked)

        return replace(self, width=wide, height=high, rows=rows)


def of_values(name: str, values: Values, low: float, high: float) -> Negative:
    """A negative from values made in code, evenly in density: 0 is the densest place, the most a value can be the
    thinnest.

    >>> two = of_values("two", np.array([[0, 255]], dtype=np.uint8), 0.1, 1.3)
    >>> print(two.densities[two.rows(0, 1, 1)])
    [[1.3 0.1]]
    """

    def rows(top: int, bottom: int, every: int) -> Values:
        return values[top:bottom:every, ::every]

    table = _densities(int(np.iinfo(values.dtype).max), low, high, "density")
    return Negative(name, values.shape[1], values.shape[0], table, rows)


def read_scan(path: Path, low: float, high: float, values_in: ValuesIn, shape: float) -> Negative:
    """A scan as a negative: `low` and `high` are the densities of its brightest and its darkest value.

    `shape` is the image's width over its height: of a scan of another shape the middle is taken, and that is said.
    ValueError, in one line, for a file that is not a whole grey PNG or TIFF of 8 or 16 bits, upright, without alpha,
    or has over 200 million pixels; OSError where it cannot be read.
    """
    image, inverted = _loaded(path)
    most = 255 if image.mode == "L" else 65535
    width, height = image.size
    left, top, wide, high_px = middle(width, height, shape)
    said: tuple[str, ...] = ()
    if (wide, high_px) != (width, height):
        said = (
            f"the scan has another shape than the image on the sheet: its middle {wide} x {high_px} pixels of "
            f"{width} x {height} are used",
        )

    def rows(first: int, last: int, every: int) -> Values:
        if every > 1:
            return np.concatenate([band(row, row + 1)[:, ::every] for row in range(first, last, every)])
        return band(first, last)

    def band(first: int, last: int) -> Values:
        found = np.asarray(image.crop((left, top + first, left + wide, top + last)))
        return found if most == 255 else found.astype(np.uint16, copy=False)

    table = _densities(most, low, high, values_in)
    return Negative(path.name, wide, high_px, table[::-1].copy() if inverted else table, rows, said)


def _loaded(path: Path) -> tuple[Image.Image, bool]:
    """The whole picture, looked at before it is read; and whether its values run the other way, black the most."""
    before = Image.MAX_IMAGE_PIXELS
    try:
        Image.MAX_IMAGE_PIXELS = MOST_PIXELS
        with _file(path) as file, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            head = file.read(32)
            image = _opened(path, file, head)
            inverted = _checked(path, image, head)
            _load(path, image)
    finally:
        Image.MAX_IMAGE_PIXELS = before
    return image, inverted


def _load(path: Path, image: Image.Image) -> None:
    try:
        image.load()
    except _WHAT_READERS_RAISE as error:
        raise ValueError(f"{path}: is damaged or cut short: {_first_line(error)}") from None


def _file(path: Path) -> IO[bytes]:
    """The file; only a plain file is opened, since a pipe might never end."""
    try:
        if path.exists() and not path.is_file():
            raise ValueError(f"{path}: is not a plain file")
        return path.open("rb")
    except ValueError as error:
        if "null" in str(error):
            raise ValueError(f"{path}: is not a file's name") from None
        raise


def _opened(path: Path, file: IO[bytes], head: bytes) -> Image.Image:
    try:
        return Image.open(file, formats=_FORMATS)
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        raise ValueError(f"{path}: has over {MOST_PIXELS // 10**6} million pixels: scan it smaller") from None
    except UnidentifiedImageError:
        known = head.startswith((b"\x89PNG", b"II*\0", b"MM\0*"))
        what = "is damaged: its head cannot be read" if known else "is neither a PNG nor a TIFF"
        raise ValueError(f"{path}: {what}") from None
    except OSError as error:
        if error.errno is not None:
            raise
        raise ValueError(f"{path}: is damaged: {_first_line(error)}") from None
    except _WHAT_READERS_RAISE as error:
        raise ValueError(f"{path}: is damaged: {_first_line(error)}") from None


def _checked(path: Path, image: Image.Image, head: bytes) -> bool:
    """Refuse what is not a grey picture as it should be; whether its values run the other way, black the most."""
    width, height = image.size
    if width < LEAST_PIXELS or height < LEAST_PIXELS:
        raise ValueError(f"{path}: is {width} x {height} pixels: a scan has {LEAST_PIXELS} or more each way")
    if width * height > MOST_PIXELS:
        raise ValueError(f"{path}: has over {MOST_PIXELS // 10**6} million pixels: scan it smaller")
    kinds = {"P": "colours from a palette", "1": "black and white alone, 1 bit", "F": "fractions", "CMYK": "colours"}
    if image.mode in ("LA", "La", "RGBA", "RGBa", "PA") or "transparency" in image.info:
        raise ValueError(f"{path}: has transparency (alpha): save it without, as plain grey of 8 or 16 bits")
    tags = image.tag_v2 if isinstance(image, TiffImagePlugin.TiffImageFile) else None
    wide_png = tags is None and image.mode == "I" and head[24:25] == b"\x10"
    if image.mode not in ("L", "I;16", "I;16B", "I;16L") and not wide_png:
        what = kinds.get(image.mode, "colours" if len(image.getbands()) > 1 else f"values of the kind '{image.mode}'")
        raise ValueError(f"{path}: has {what}: save it as plain grey of 8 or 16 bits")
    bits = _first(tags.get(_BITS, 1)) if tags is not None else head[24]
    if bits not in (8, 16) or (bits == 8) != (image.mode == "L"):
        raise ValueError(f"{path}: has {bits} bits a pixel: save it as plain grey of 8 or 16 bits")
    if tags is None:
        return False
    if _first(tags.get(_SAMPLE_FORMAT, 1)) != 1:
        raise ValueError(f"{path}: has values with a sign or a point: save it as plain grey of 8 or 16 bits")
    turned = _first(tags.get(_ORIENTATION, 1))
    if turned != 1:
        raise ValueError(f"{path}: is turned or mirrored by a tag (orientation {turned}): save it upright")
    # Pillow turns 8 bits with white at 0 about by itself, and leaves 16 bits as they are.
    return image.mode != "L" and _first(tags.get(_PHOTOMETRIC, 1)) == 0


def _first(tag: object) -> object:
    return tag[0] if isinstance(tag, tuple) and tag else tag


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0][:120]


def middle(width: int, height: int, shape: float) -> tuple[int, int, int, int]:
    """Left, top, width and height of the middle of a scan that has the image's shape."""
    if abs(width / height / shape - 1.0) <= _SHAPE:
        return 0, 0, width, height
    wide = min(width, max(1, round(height * shape)))
    high = min(height, max(1, round(width / shape)))
    return (width - wide) // 2, (height - high) // 2, wide, high


def _densities(most: int, low: float, high: float, values_in: ValuesIn) -> NDArray[np.float32]:
    """The density of each value from 0 to `most`: `low` at `most`, never over `high`."""
    value = np.arange(most + 1) / most
    if values_in == "density":
        return (high - (high - low) * value).astype(np.float32)
    if values_in == "srgb":
        value = np.where(value <= 0.04045, value / 12.92, np.power((value + 0.055) / 1.055, 2.4))
    with np.errstate(divide="ignore"):
        return np.minimum(high, low - np.log10(value)).astype(np.float32)
