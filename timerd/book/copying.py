"""Copies of the book by themselves: one for each evening, into a folder or onto a stick, whole or not at all.

A process of its own makes one (`python -m timerd.book.copying HOME FOLDER`), so that neither a slow disk nor a stick
that hangs can hold up whoever asked for it; it may be killed at any time. It prints one object: what was made, or why
not.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import re
import sqlite3
import sys
import time
from itertools import count
from pathlib import Path
from typing import NamedTuple

from timerd.book.checking import damaged
from timerd.book.reading import Reader
from timerd.book.store import BookError
from timerd.inplace import sync_folder

KEPT = 7
"""Copies of so many evenings are kept."""
NOON_S = 12 * 3600.0
"""What is printed after midnight is of the evening before."""
_STEP_PAGES = 64
_SYNCED_EVERY = 16
"""After so many steps what was copied is synced: little is ever on its way to the disk at once."""
_A_COPY = re.compile(r"book-([0-9]{4}-[0-9]{2}-[0-9]{2})(-[0-9]+)?\.sqlite")


class NoCopy(OSError):
    """The copy could not be made; the words are short enough to be spoken."""


class Copied(NamedTuple):
    """The copy that was made, or was there already: its file's name, its records, and which of them is damaged (as a
    Damage words it)."""

    file: str
    records: int
    damaged: str | None


def evening_of(wall_s: float) -> str:
    """The evening of a wall clock's time in Unix seconds: the local date at noon before.

    >>> noon = time.mktime((2026, 3, 1, 12, 0, 0, 0, 0, -1))
    >>> evening_of(noon), evening_of(noon + 14 * 3600), evening_of(noon - 1)
    ('2026-03-01', '2026-03-01', '2026-02-28')
    """
    return time.strftime("%Y-%m-%d", time.localtime(wall_s - NOON_S))


def copy(home: Path, folder: Path, evening: str) -> Copied:
    """Copy the book of a home into a folder as that of an evening; the copies of older evenings go, but KEPT.

    It takes the place of an older copy of this book and evening, and of nothing else. It is looked through before; one
    in which a record is damaged is named so, and no other goes for it. Raises NoCopy.
    """
    try:
        if not folder.is_dir():
            raise NoCopy("the folder is not there")
        with contextlib.closing(Reader(home)) as reader, reader.still():
            return _copy(reader, folder, evening)
    except NoCopy:
        raise
    except sqlite3.Error as error:
        name = "_".join(error.sqlite_errorname.split("_")[:2])
        raise NoCopy(_SQLITE.get(name, str(error))) from None
    except BookError as error:
        raise NoCopy(f"the book cannot be read: {error}") from None
    except OSError as error:
        raise NoCopy(_SYSTEM.get(error.errno or 0, error.strerror or str(error))) from None


_SYSTEM = {
    errno.ENOSPC: "its disk is full", errno.EDQUOT: "its disk is full", errno.EROFS: "its disk is read-only",
    errno.EACCES: "this user may not write there", errno.EPERM: "this user may not write there",
    errno.ENOENT: "the folder is gone", errno.ENOTDIR: "the folder is not there", errno.EIO: "its disk fails",
    errno.ENODEV: "its disk is gone",
}  # fmt: skip
_SQLITE = {
    "SQLITE_FULL": _SYSTEM[errno.ENOSPC], "SQLITE_READONLY": _SYSTEM[errno.EROFS],
    "SQLITE_IOERR": "its disk fails, or the book's", "SQLITE_CANTOPEN": "the folder is gone",
    "SQLITE_CORRUPT": "the book is damaged. see book check",
}  # fmt: skip
"""By the beginning of the name of SQLite's error."""


def _copy(reader: Reader, folder: Path, evening: str) -> Copied:
    ((last,),) = reader.each("SELECT coalesce(max(number), 0) FROM records")
    name = f"book-{evening}"
    if _read(folder / f"{name}.sqlite") == (reader.id, last):
        return Copied(f"{name}.sqlite", last, None)
    beside = folder / f".book-{reader.id[:8]}.new"
    _away(beside)
    try:
        os.close(os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC | os.O_NOFOLLOW, 0o640))
        _fill(reader, beside)
        wrong = _looked_through(folder, beside.name)
        path = _place(folder, name if wrong is None else f"{name}-damaged", reader.id, last)
        os.replace(beside, path)
        sync_folder(folder)
        _prune(folder, reader.id, path)
    finally:
        _away(beside)
    return Copied(path.name, last, wrong)


def _away(beside: Path) -> None:
    """What one that was killed has left."""
    for end in ("", "-journal", "-wal", "-shm"):
        with contextlib.suppress(FileNotFoundError):
            os.unlink(f"{beside}{end}")


def _fill(reader: Reader, beside: Path) -> None:
    """The book into a file, in small steps; what was copied is on disk, and no longer in memory, when this ends."""
    file = os.open(beside, os.O_RDWR | os.O_CLOEXEC | os.O_NOFOLLOW)
    steps = count(1)

    def between(*_: int) -> None:
        if next(steps) % _SYNCED_EVERY == 0:
            os.fdatasync(file)

    try:
        reader.copy_into(beside, _STEP_PAGES, between)
        os.fsync(file)
        os.posix_fadvise(file, 0, 0, os.POSIX_FADV_DONTNEED)
    finally:
        os.close(file)


def _looked_through(folder: Path, name: str) -> str | None:
    """The copy read back from its disk: the first of its records that is damaged. NoCopy where it is not whole."""
    with contextlib.closing(Reader(folder, name)) as copied:
        said = next(copied.each("PRAGMA integrity_check(1)"))[0]
        if said != "ok":
            raise NoCopy("what was copied is damaged. see book check")
        return next((one.words for one in damaged(copied).values()), None)


def _place(folder: Path, name: str, book: str, last: int) -> Path:
    """Where a copy goes: nowhere but in the place of an older one of the same book."""
    names = (folder / f"{name}{'' if n == 1 else f'-{n}'}.sqlite" for n in count(1))
    return next(path for path in names if not os.path.lexists(path) or _is_older(path, book, last))


def _is_older(path: Path, book: str, last: int) -> bool:
    there = _read(path)
    return there is not None and there[0] == book and there[1] <= last


def _read(path: Path) -> tuple[str, int] | None:
    """The book that a copy is of, and its last record; None for what is none, nor as a copy is left (with no log)."""
    if not path.is_file() or path.is_symlink():
        return None
    with contextlib.suppress(OSError), path.open("rb") as file:
        if file.read(20)[18:] == b"\1\1":
            with contextlib.closing(Reader(path.parent, path.name)) as found:
                ((last,),) = found.each("SELECT coalesce(max(number), 0) FROM records")
                return found.id, last
    return None


def _prune(folder: Path, book: str, newest: Path) -> None:
    """Take the whole copies of older evenings away: by how far they go, since a clock may have been wrong."""
    found = []
    for path in folder.iterdir():
        named = _A_COPY.fullmatch(path.name)
        there = _read(path) if named is not None else None
        if named is not None and there is not None and there[0] == book:
            found.append((path == newest, there[1], path, named[1]))
    evenings: dict[str, None] = {}
    for _, _, path, evening in sorted(found, reverse=True):
        evenings.setdefault(evening)
        if len(evenings) > KEPT:
            path.unlink()


def main(argv: list[str]) -> int:
    """Make the copy of this evening, and print what came of it."""
    with contextlib.suppress(OSError):  # a sandbox may not let it
        os.nice(19)
    home, folder = map(Path, argv)
    try:
        told = {"is": "copied", **copy(home, folder, evening_of(time.time()))._asdict()}
    except NoCopy as error:
        told = {"is": "not copied", "why": str(error)}
    sys.stdout.write(json.dumps(told) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
