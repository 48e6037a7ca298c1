"""A grey PNG of 8 bits, written band by band as it is made: no picture is ever whole in memory.

Each band is packed by itself (so that several cores do it) as a part of one stream that any reader unpacks; with sRGB
named as what the levels mean (PNG specification, third edition: 11.3.2.5 and 10.1).
"""

from __future__ import annotations

import struct
import zlib
from typing import IO

import numpy as np
from numpy.typing import NDArray

_FAST = 1
_RAW_DEFLATE = -15
_MEMORY = 9
_SUB = 1  # the filter of every row: each value less the one on its left. So no row needs another


def packed(band: NDArray[np.uint8], last: bool) -> tuple[bytes, bytes]:
    """A band of rows filtered, and the same packed as a part of the stream.

    Grain has hardly two runs alike, so only runs of one value are sought: twice as fast, and no larger.
    """
    rows = np.empty((band.shape[0], band.shape[1] + 1), dtype=np.uint8)
    rows[:, 0] = _SUB
    rows[:, 1] = band[:, 0]
    np.subtract(band[:, 1:], band[:, :-1], out=rows[:, 2:])
    raw = rows.tobytes()
    deflate = zlib.compressobj(_FAST, zlib.DEFLATED, _RAW_DEFLATE, _MEMORY, zlib.Z_RLE)
    return raw, deflate.compress(raw) + deflate.flush(zlib.Z_FINISH if last else zlib.Z_SYNC_FLUSH)


class PngWriter:
    """Takes the packed bands of a picture in order, the last one packed as such; `close` ends the file."""

    def __init__(self, file: IO[bytes], width: int, height: int) -> None:
        self._file = file
        self._sum = 1
        file.write(b"\x89PNG\r\n\x1a\n")
        self._chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
        self._chunk(b"sRGB", b"\0")
        self._chunk(b"IDAT", b"\x78\x01")

    def put(self, raw: bytes, deflated: bytes) -> None:
        """One band, as `packed` gives it."""
        self._sum = zlib.adler32(raw, self._sum)
        self._chunk(b"IDAT", deflated)

    def close(self) -> None:
        """The end of the stream and of the file."""
        self._chunk(b"IDAT", struct.pack(">I", self._sum))
        self._chunk(b"IEND", b"")

    def _chunk(self, kind: bytes, data: bytes) -> None:
        self._file.write(struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)))
