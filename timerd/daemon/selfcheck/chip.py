"""The kernel's own word on a chip of lines: who holds which, and which way. Nothing is claimed, so nothing moves.

Numbers and layouts: linux/gpio.h, its second version (Linux 5.10 and later).
"""

from __future__ import annotations

import fcntl
import os
import struct
from collections.abc import Iterable
from pathlib import Path

from timerd.daemon.selfcheck.answers import Chip, ChipLine

GET_CHIPINFO = 0x8044B401
GET_LINEINFO = 0xC100B405
CHIPINFO = struct.Struct("=32s32sI")
LINEINFO = struct.Struct("=32s32sIIQ160s16s")
USED, OUTPUT = 1 << 0, 1 << 3


def ask_chip(path: Path, wanted: Iterable[int]) -> Chip:
    """What the kernel tells of a chip and of these of its lines."""
    try:
        device = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    except OSError as error:
        return Chip(str(path), "", {}, error.strerror)
    try:
        chip = bytearray(CHIPINFO.size)
        fcntl.ioctl(device, GET_CHIPINFO, chip)
        _, label, count = CHIPINFO.unpack(chip)
        lines = {}
        for offset in sorted(set(wanted)):
            if offset < count:
                asked = bytearray(LINEINFO.pack(b"", b"", offset, 0, 0, b"", b""))
                fcntl.ioctl(device, GET_LINEINFO, asked)
                lines[offset] = line_of(bytes(asked))
        return Chip(str(path), _text(label), lines)
    except OSError as error:
        return Chip(str(path), "", {}, error.strerror)
    finally:
        os.close(device)


def line_of(told: bytes) -> ChipLine:
    """A line from what the kernel wrote.

    >>> line_of(LINEINFO.pack(b"GPIO17", b"lg", 17, 0, USED | OUTPUT, b"", b""))
    ChipLine(consumer='lg', used=True, output=True)
    """
    _, consumer, _, _, flags, _, _ = LINEINFO.unpack(told)
    return ChipLine(_text(consumer), bool(flags & USED), bool(flags & OUTPUT))


def _text(field: bytes) -> str:
    return field.partition(b"\0")[0].decode("ascii", "replace")
