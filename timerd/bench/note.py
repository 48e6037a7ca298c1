"""The keeper's note: what it last did, where any later process can read it, however the keeper died.

Two slots in a small mapped file, each with a checksum, written in turn: one of them is always whole. The run folder is
in memory: the note outlives a kill, not a power cut.
"""

from __future__ import annotations

import json
import mmap
import os
import struct
import zlib
from pathlib import Path
from typing import NamedTuple

_SLOT = 512
_TIME = struct.Struct("d")
_SIZE = 2 * _SLOT + 3 * _TIME.size
_NAME = "note"
_MOST = 1 << 20


class Noted(NamedTuple):
    """The last burst that the keeper took: asked for at `at`, lit, dark and why, as far as it came to that.

    Times are monotonic seconds of the boot named; `book` is the book whose burst it is. Where nobody saw it go dark,
    that was between `dark_lo` and `dark`.
    """

    book: str
    boot: str
    burst: int
    at: float
    lit: float | None
    dark: float | None
    why: str | None
    dark_lo: float | None = None


class Note:
    """The writing end: held by the keeper or, when that is dead, by the last off."""

    def __init__(self, folder: Path) -> None:
        path = folder / _NAME
        descriptor = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | os.O_NOFOLLOW, 0o640)
        try:
            if os.fstat(descriptor).st_size != _SIZE:
                os.ftruncate(descriptor, _SIZE)
            os.posix_fallocate(descriptor, 0, _SIZE)  # on a full disk this fails; a write to a hole would kill
            self._map = mmap.mmap(descriptor, _SIZE)
        finally:
            os.close(descriptor)
        newest = _newest(self._map[:])
        self._turn = newest[0] if newest is not None else 0

    def write(self, noted: Noted) -> None:
        """Put down what was done last. A reader finds this or what stood there before, never half of it."""
        self._turn += 1
        body = json.dumps([self._turn, *noted]).encode()
        framed = f"{zlib.crc32(body):08x}".encode() + body
        begin = (self._turn % 2) * _SLOT
        self._map[begin : begin + _SLOT] = framed.ljust(_SLOT, b"\0")

    def alive(self, now: float) -> None:
        """The keeper lives: told all the while that a burst is under way, so that it is known until when it did."""
        _TIME.pack_into(self._map, 2 * _SLOT, now)

    def going_dark(self, now: float) -> None:
        """A lamp's line is written low next: soon told, since that must not wait for a whole note."""
        _TIME.pack_into(self._map, 2 * _SLOT + _TIME.size, now)

    def going_lit(self, now: float) -> None:
        """A lamp's line is written high next; that it was is noted after it, if the keeper lives to."""
        _TIME.pack_into(self._map, 2 * _SLOT + 2 * _TIME.size, now)


def read_note(folder: Path) -> Noted | None:
    """The newest whole note, or None where there is none."""
    raw = _read(folder)
    newest = _newest(raw) if raw is not None else None
    return newest[1] if newest is not None else None


class Signs(NamedTuple):
    """When the keeper last was, while a burst was under way; when it last wrote a lamp's line low, and when high.

    Monotonic seconds, 0 for never.
    """

    alive: float
    going_dark: float
    going_lit: float


def last_signs(folder: Path) -> Signs | None:
    """The keeper's last signs of life, or None where there is no note."""
    raw = _read(folder)
    if raw is None or len(raw) != _SIZE:
        return None
    return Signs(*(time for (time,) in _TIME.iter_unpack(raw[2 * _SLOT :])))


def _read(folder: Path) -> bytes | None:
    try:
        return read_plain(folder / _NAME)
    except OSError:
        return None


def read_plain(path: Path) -> bytes:
    """What a small file of the run folder says: no link is followed, and no pipe waited for. Raises OSError."""
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NOFOLLOW | os.O_NONBLOCK)
    try:
        return os.read(descriptor, _MOST)
    finally:
        os.close(descriptor)


def _newest(raw: bytes) -> tuple[int, Noted] | None:
    found = [slot for i in (0, 1) if (slot := _slot(raw[i * _SLOT : (i + 1) * _SLOT])) is not None]
    return max(found, key=lambda slot: slot[0]) if found else None


def _slot(raw: bytes) -> tuple[int, Noted] | None:
    body = raw.rstrip(b"\0")[8:]
    if not body or raw[:8] != f"{zlib.crc32(body):08x}".encode():
        return None
    turn, *facts = json.loads(body)
    return turn, Noted(*facts)
