"""The rows of a SQLite file read page by page, past its trees: what is still there when a part of it is not.

A row lies whole on a leaf page of its table (and on overflow pages that the leaf names), so every page that can be read
gives its rows, whatever happened to the others. Of the log the pages of whole transactions count, each held against its
own checksum. The file is opened to read only. By the file format's description: sqlite.org/fileformat2, sections 1.3 to
1.6, 2.1 and 4.
"""

from __future__ import annotations

import contextlib
import os
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

Value = int | float | str | bytes | None
_TABLE_LEAF = 0x0D
_PAGE = 4096
"""What a page is taken to have where the file no longer says it: SQLite's own choice."""
_LONGEST_ROW = 64 * 1024 * 1024
_UNREADABLE = (IndexError, ValueError, struct.error, UnicodeDecodeError)


class Row(NamedTuple):
    """A row of some table: its number, and its values in order (None first where the number stands for one)."""

    number: int
    values: tuple[Value, ...]


class Pages:
    """A file and its log, to be read and never written. Raises OSError where the file cannot be opened.

    `lost` counts the places where something was found that could not be read.
    """

    def __init__(self, path: Path) -> None:
        self._file = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
        self._log: int | None = None
        self.lost = 0
        with contextlib.suppress(OSError):
            self._log = os.open(f"{path}-wal", os.O_RDONLY | os.O_CLOEXEC)
        head = self._read(self._file, 0, 100)
        self._size = _page_size(head) or self._log_page_size() or _PAGE
        self._usable = self._size - (head[20] if len(head) > 20 and head[20] <= 64 else 0)
        self._logged = dict(self._frames()) if self._log is not None else {}
        pages = -(-os.fstat(self._file).st_size // self._size)
        self._count = max([pages, *self._logged])

    def close(self) -> None:
        """Close the files."""
        for file in (self._file, self._log):
            if file is not None:
                os.close(file)

    def rows(self) -> Iterator[Row]:
        """Every row that can be read, in the order of the pages."""
        for number in range(1, self._count + 1):
            page = self._page(number)
            start = 100 if number == 1 else 0
            if len(page) < start + 8 or page[start] != _TABLE_LEAF:
                self.lost += len(page) < self._size
                continue
            (cells,) = struct.unpack_from(">H", page, start + 3)
            for i in range(min(cells, (len(page) - start - 8) // 2)):
                (at,) = struct.unpack_from(">H", page, start + 8 + 2 * i)
                try:
                    yield self._cell(page, at)
                except _UNREADABLE:
                    self.lost += 1

    # -- pages -----------------------------------------------------------------------------------------------------

    def _page(self, number: int) -> bytes:
        if number in self._logged and self._log is not None:
            return self._read(self._log, self._logged[number], self._size)
        return self._read(self._file, (number - 1) * self._size, self._size)

    @staticmethod
    def _read(file: int, at: int, size: int) -> bytes:
        try:
            return os.pread(file, size, at)
        except OSError:  # the disk itself cannot read it
            return b""

    def _log_page_size(self) -> int | None:
        head = self._read(self._log, 0, 32) if self._log is not None else b""
        return _power_of_two(struct.unpack(">I", head[8:12])[0]) if len(head) == 32 else None

    def _frames(self) -> Iterator[tuple[int, int]]:
        """The pages in the log up to its last whole transaction, and where each lies; a later one takes its place."""
        assert self._log is not None
        head = self._read(self._log, 0, 32)
        if len(head) < 32:
            return
        order = ">" if struct.unpack(">I", head[:4])[0] & 1 else "<"
        before = _sum(head[:24], (0, 0), order)
        since: list[tuple[int, int]] = []
        at = 32
        while len(frame := self._read(self._log, at, 24 + self._size)) == 24 + self._size:
            number, commit = struct.unpack(">II", frame[:8])
            stored = struct.unpack(">II", frame[16:24])
            if frame[8:16] != head[16:24]:
                return  # left over from before the log was begun anew
            if number and _sum(frame[24:], _sum(frame[:8], before, order), order) == stored:
                since.append((number, at + 24))
                if commit:
                    yield from since
                    since.clear()
            else:
                self.lost += 1
            before = stored  # each sum goes on from the one before, as that is written: one bad page spoils no other
            at += 24 + self._size

    # -- rows ------------------------------------------------------------------------------------------------------

    def _cell(self, page: bytes, at: int) -> Row:
        size, at = _varint(page, at)
        number, at = _varint(page, at)
        number -= 1 << 64 if number >= 1 << 63 else 0
        if not 0 < size <= _LONGEST_ROW:
            raise ValueError("no row is so long")
        most = self._usable - 35
        here = size
        if size > most:
            least = (self._usable - 12) * 32 // 255 - 23
            here = least + (size - least) % (self._usable - 4)
            here = here if here <= most else least
        payload = page[at : at + here]
        if size > here:
            payload += self._overflow(struct.unpack_from(">I", page, at + here)[0], size - here)
        if len(payload) != size:
            raise ValueError("a row that is not whole")
        return Row(number, _values(payload))

    def _overflow(self, number: int, size: int) -> bytes:
        found = b""
        while len(found) < size:
            page = self._page(number) if 0 < number <= self._count else b""
            if len(page) < self._usable:
                raise ValueError("a page that is not there")
            number = struct.unpack(">I", page[:4])[0]
            found += page[4 : self._usable]
        return found[:size]


def _page_size(head: bytes) -> int | None:
    if len(head) < 18 or head[:16] != b"SQLite format 3\0":
        return None
    size = int.from_bytes(head[16:18], "big")
    return _power_of_two(65536 if size == 1 else size)


def _power_of_two(size: int) -> int | None:
    return size if 512 <= size <= 65536 and size & (size - 1) == 0 else None


def _sum(data: bytes, before: tuple[int, int], order: str) -> tuple[int, int]:
    """The log's checksum (section 4.2 of the description), going on from the one before."""
    a, b = before
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for x, y in zip(words[::2], words[1::2], strict=True):
        a = (a + x + b) & 0xFFFFFFFF
        b = (b + y + a) & 0xFFFFFFFF
    return a, b


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for i in range(8):
        byte = data[at + i]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + i + 1
    return value << 8 | data[at + 8], at + 9


def _values(payload: bytes) -> tuple[Value, ...]:
    end, at = _varint(payload, 0)
    kinds = []
    while at < end:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    at = end
    values: list[Value] = []
    for kind in kinds:
        value, size = _value(payload, at, kind)
        values.append(value)
        at += size
    if at != len(payload):
        raise ValueError("a row that is longer, or shorter, than it says")
    return tuple(values)


_INTEGER = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    if kind in _INTEGER:
        size = _INTEGER[kind]
        return int.from_bytes(payload[at : at + size], "big", signed=True), size
    if kind == 7:
        return struct.unpack_from(">d", payload, at)[0], 8
    if kind in (0, 8, 9):
        return {0: None, 8: 0, 9: 1}[kind], 0
    if kind < 12:
        raise ValueError("no such kind of value")
    size = (kind - 12) // 2
    data = payload[at : at + size]
    with contextlib.suppress(UnicodeDecodeError):  # a text that is damaged is given as it is
        return (data.decode() if kind % 2 else data), size
    return data, size
