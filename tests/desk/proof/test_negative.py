"""Scans: what a value stands for, and what is refused, in one line each, before anything is believed of it."""

from __future__ import annotations

import os
import struct
import warnings
import zlib
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, TiffImagePlugin

from timerd.desk.proof.negative import MOST_PIXELS, Negative, read_scan

SHAPE = 1.5
GREY = np.linspace(0, 255, 24 * 16).astype(np.uint8).reshape(16, 24)
DEEP = (GREY.astype(np.uint16) << 8) + 17


def scanned(path: Path, low: float = 0.2, high: float = 1.4, values_in: str = "density") -> Negative:
    return read_scan(path, low, high, values_in, SHAPE)  # type: ignore[arg-type]


def densities(negative: Negative) -> np.ndarray:
    return negative.densities[negative.rows(0, negative.height, 1)]


def save(path: Path, values: np.ndarray, **how: object) -> Path:
    Image.fromarray(values).save(path, **how)  # type: ignore[arg-type]
    return path


# -- values to densities --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
@pytest.mark.parametrize("values", [GREY, DEEP], ids=["8", "16"])
def test_values_lie_evenly_between_the_densities(tmp_path: Path, name: str, values: np.ndarray) -> None:
    most = 255 if values.dtype == np.uint8 else 65535
    negative = scanned(save(tmp_path / name, values))
    assert (negative.width, negative.height, negative.name, negative.said) == (24, 16, name, ())
    assert densities(negative) == pytest.approx(1.4 - 1.2 * values / most, abs=1e-6)
    assert (negative.rows(1, 16, 3) == values[1::3, ::3]).all()
    assert (negative.rows(4, 9, 1) == values[4:9]).all()


def test_values_as_light_came_through_become_densities(tmp_path: Path) -> None:
    path = save(tmp_path / "a.png", DEEP)
    light = DEEP / 65535
    assert densities(scanned(path, values_in="light")) == pytest.approx(
        np.minimum(1.4, 0.2 - np.log10(light)), abs=1e-6
    )
    linear = np.where(light <= 0.04045, light / 12.92, ((light + 0.055) / 1.055) ** 2.4)
    assert densities(scanned(path, values_in="srgb")) == pytest.approx(
        np.minimum(1.4, 0.2 - np.log10(linear)), abs=1e-6
    )


@pytest.mark.parametrize("how", ["raw", "tiff_lzw", "tiff_adobe_deflate"])
@pytest.mark.parametrize("values", [GREY, DEEP, DEEP.astype(">u2")], ids=["8", "16 little", "16 big"])
def test_tiffs_of_either_order_packed_or_not(tmp_path: Path, values: np.ndarray, how: str) -> None:
    path = tmp_path / "a.tif"
    if values.dtype == np.dtype(">u2"):
        if how != "raw":
            return
        path.write_bytes(tiff(values.tobytes(), 16, big=True))
    else:
        save(path, values, compression=how)
    most = 255 if values.dtype == np.uint8 else 65535
    assert densities(scanned(path)) == pytest.approx(1.4 - 1.2 * values.astype(float) / most, abs=1e-6)


def test_a_tiff_whose_white_is_0_is_turned_about(tmp_path: Path) -> None:
    for bits, values in ((8, GREY), (16, DEEP)):
        path = tmp_path / f"{bits}.tif"
        path.write_bytes(tiff(values.tobytes(), bits, photometric=0))
        assert densities(scanned(path)) == pytest.approx(0.2 + 1.2 * values / (2**bits - 1), abs=1e-6)


def test_of_a_scan_of_another_shape_the_middle_is_used_and_that_is_said(tmp_path: Path) -> None:
    wide = np.tile(np.arange(90, dtype=np.uint8), (30, 1))
    negative = scanned(save(tmp_path / "a.png", wide))
    assert (negative.width, negative.height) == (45, 30)
    assert (negative.rows(0, 30, 1) == wide[:, 22:67]).all()
    assert negative.said == (
        "the scan has another shape than the image on the sheet: its middle 45 x 30 pixels of 90 x 30 are used",
    )
    tall = scanned(save(tmp_path / "b.png", wide.T.copy()))
    assert (tall.width, tall.height) == (30, 20) and (tall.rows(0, 20, 1) == wide.T[35:55]).all()
    nearly = scanned(save(tmp_path / "c.png", np.zeros((60, 91), dtype=np.uint8)))
    assert (nearly.width, nearly.height, nearly.said) == (91, 60, ())


# -- what is refused ------------------------------------------------------------------------------------------


def tiff(
    pixels: bytes, bits: int, *, photometric: int = 1, big: bool = False, more: dict[int, tuple[int, int]] | None = None
) -> bytes:
    """A plain TIFF of 24 by 16 pixels; `more` are tags with their type (3 short, 4 long) and value."""
    order = ">" if big else "<"
    tags = {
        256: (3, 24), 257: (3, 16), 258: (3, bits), 259: (3, 1), 262: (3, photometric), 273: (4, 8), 277: (3, 1),
        278: (3, 16), 279: (4, len(pixels)), **(more or {}),
    }  # fmt: skip
    told = (b"MM\0*" if big else b"II*\0") + struct.pack(order + "I", 8 + len(pixels)) + pixels
    told += struct.pack(order + "H", len(tags))
    for tag, (kind, value) in sorted(tags.items()):
        told += struct.pack(order + "HHI", tag, kind, 1)
        told += struct.pack(order + "HH", value, 0) if kind == 3 else struct.pack(order + "I", value)
    return told + b"\0\0\0\0"


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_head(width: int, height: int, bits: int = 8, colour: int = 0, *more: bytes) -> bytes:
    head = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0))
    return head + b"".join(more) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")


def _truncated(path: Path) -> None:
    save(path, np.random.default_rng(1).integers(0, 255, (200, 300)).astype(np.uint8))
    path.write_bytes(path.read_bytes()[:20000])


def _with_alpha(path: Path) -> None:
    Image.fromarray(np.dstack([GREY, GREY]), "LA").save(path)


def _clear_value(path: Path) -> None:
    Image.fromarray(GREY).save(path, transparency=3)


def _palette(path: Path) -> None:
    Image.fromarray(GREY).convert("P").save(path)


def _bits(path: Path) -> None:
    Image.fromarray(GREY).convert("1").save(path)


def _broken_checksum(path: Path) -> None:
    save(path, GREY)
    data = bytearray(path.read_bytes())
    data[data.index(b"IDAT") + 8] ^= 0x55
    path.write_bytes(bytes(data))


REFUSED: list[tuple[str, Callable[[Path], object], str]] = [
    ("cut.png", _truncated, "is damaged or cut short: "),
    ("checksum.png", _broken_checksum, "is damaged"),
    ("colour.png", lambda p: save(p, np.dstack([GREY] * 3)), "has colours: save it as plain grey of 8 or 16 bits"),
    ("colour.tif", lambda p: save(p, np.dstack([GREY] * 3)), "has colours: save it as plain grey of 8 or 16 bits"),
    ("cmyk.tif", lambda p: Image.fromarray(GREY).convert("CMYK").save(p), "has colours: "),
    ("alpha.png", _with_alpha, r"has transparency \(alpha\): save it without"),
    ("rgba.png", lambda p: save(p, np.dstack([GREY] * 4)), r"has transparency \(alpha\)"),
    ("clear.png", _clear_value, r"has transparency \(alpha\)"),
    ("palette.png", _palette, "has colours from a palette: "),
    ("bits.png", _bits, "has black and white alone, 1 bit: "),
    ("bits.tif", _bits, "has black and white alone, 1 bit: "),
    ("float.tif", lambda p: save(p, GREY.astype(np.float32)), "has fractions: "),
    ("long.tif", lambda p: save(p, GREY.astype(np.int32)), "has values of the kind 'I': "),
    ("signed.tif", lambda p: p.write_bytes(tiff(DEEP.tobytes(), 16, more={339: (3, 2)})), "has values"),
    ("twelve.tif", lambda p: p.write_bytes(tiff(bytes(24 * 16 * 3 // 2), 12)), "has 12 bits a pixel: "),
    ("four.png", lambda p: p.write_bytes(png_head(24, 16, 4)), "has 4 bits a pixel: "),
    ("turned.tif", lambda p: save(p, GREY, tiffinfo=_orientation(6)), r"is turned .* by a tag \(orientation 6\)"),
    ("one.png", lambda p: save(p, GREY[:1, :1].copy()), "is 1 x 1 pixels: a scan has 16 or more each way"),
    ("thin.png", lambda p: save(p, np.zeros((8, 200), dtype=np.uint8)), "is 200 x 8 pixels"),
    ("huge.png", lambda p: p.write_bytes(png_head(60000, 60000)), "has over 200 million pixels: scan it smaller"),
    ("vast.png", lambda p: p.write_bytes(png_head(2**31 - 1, 2**31 - 1)), "has over 200 million pixels"),
    ("large.png", lambda p: p.write_bytes(png_head(20000, 10001)), "has over 200 million pixels"),
    ("empty.png", lambda p: p.write_bytes(b""), "is neither a PNG nor a TIFF"),
    ("nothing.png", lambda p: p.write_bytes(png_head(0, 0)), "is "),
    ("text.png", lambda p: p.write_text("low tide"), "is neither a PNG nor a TIFF"),
    ("jpeg.png", lambda p: Image.fromarray(GREY).save(p, "JPEG"), "is neither a PNG nor a TIFF"),
    ("head.png", lambda p: p.write_bytes(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"), "is damaged"),
    ("head.tif", lambda p: p.write_bytes(b"II*\0\xff\xff\xff\xff"), "is damaged"),
    ("offset.tif", lambda p: p.write_bytes(tiff(GREY.tobytes(), 8, more={273: (4, 2**31)})), "is damaged or cut short"),
    ("strange.tif", lambda p: p.write_bytes(tiff(GREY.tobytes(), 8, more={259: (3, 999)})), "is "),
    ("planes.tif", lambda p: p.write_bytes(tiff(GREY.tobytes(), 8, more={277: (3, 60000)})), "is "),
    ("note.png", lambda p: p.write_bytes(png_head(24, 16, 8, 0, _text_bomb())), "is damaged"),
]  # fmt: skip


def _orientation(value: int) -> TiffImagePlugin.ImageFileDirectory_v2:
    tags = TiffImagePlugin.ImageFileDirectory_v2()
    tags[274] = value
    return tags


def _text_bomb() -> bytes:
    return chunk(b"zTXt", b"note\0\0" + zlib.compress(b"x" * 5_000_000))


@pytest.mark.parametrize(("name", "make", "told"), REFUSED, ids=[name for name, _, _ in REFUSED])
def test_what_is_not_a_whole_grey_scan_is_refused_in_one_line(
    tmp_path: Path, name: str, make: Callable[[Path], object], told: str
) -> None:
    make(tmp_path / name)
    before = Image.MAX_IMAGE_PIXELS
    with pytest.raises(ValueError, match=told) as error, warnings.catch_warnings():
        warnings.simplefilter("error")
        scanned(tmp_path / name)
    assert "\n" not in str(error.value) and str(error.value).startswith(f"{tmp_path / name}: ")
    assert before == Image.MAX_IMAGE_PIXELS


def test_just_as_many_pixels_as_may_be_are_not_refused_for_it(tmp_path: Path) -> None:
    path = tmp_path / "most.png"
    path.write_bytes(png_head(20000, MOST_PIXELS // 20000))
    with pytest.raises(ValueError, match="damaged or cut short"):
        scanned(path)


def test_a_pipe_a_folder_and_a_name_that_is_none(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.png")
    for path in (tmp_path / "pipe.png", tmp_path, Path("/dev/zero")):
        with pytest.raises(ValueError, match="is not a plain file"):
            scanned(path)
    with pytest.raises(FileNotFoundError):
        scanned(tmp_path / "none.png")
    with pytest.raises(ValueError, match="is not a file's name"):
        scanned(Path("a\0.png"))


def test_any_damage_is_refused_in_one_line_or_is_no_damage(tmp_path: Path) -> None:
    """Bytes changed, cut out and doubled at random in good scans."""
    rng = np.random.default_rng(11)
    whole = []
    for name, values in (("a.png", GREY), ("b.png", DEEP), ("a.tif", GREY), ("b.tif", DEEP)):
        whole.append((name, save(tmp_path / name, values).read_bytes()))
    whole.append(("c.tif", save(tmp_path / "c.tif", DEEP, compression="tiff_lzw").read_bytes()))
    refused = 0
    for turn in range(400):
        name, good = whole[turn % len(whole)]
        data = bytearray(good)
        for _ in range(int(rng.integers(1, 4))):
            at = int(rng.integers(0, len(data)))
            match int(rng.integers(0, 3)):
                case 0:
                    data[at] = int(rng.integers(0, 256))
                case 1:
                    del data[at : at + int(rng.integers(1, 40))]
                case _:
                    data[at:at] = data[at : at + int(rng.integers(1, 40))]
        (tmp_path / name).write_bytes(bytes(data))
        try:
            densities(scanned(tmp_path / name))
        except ValueError as error:
            assert "\n" not in str(error)
            refused += 1
    assert refused > 100
