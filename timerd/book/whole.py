"""Files that are there whole, or not at all: what is carried out of a book is written beside its place first."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
from collections.abc import Iterator
from pathlib import Path


@contextlib.contextmanager
def put_whole(path: Path) -> Iterator[Path]:
    """A path beside `path` to write to; when all is written it is synced and put in place.

    Nothing that is there is ever written over: FileExistsError. Where anything fails, nothing is left behind.
    """
    if os.path.lexists(path):
        raise _there(path)
    beside = path.parent / f".{path.name[:200]}.{secrets.token_hex(8)}.new"
    try:
        os.close(os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, 0o666))
        yield beside
        descriptor = os.open(beside, os.O_RDONLY | os.O_CLOEXEC)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
        _into_place(beside, path)
    except FileExistsError:
        raise _there(path) from None
    except OSError as error:
        if not error.strerror:  # it has its own words
            raise
        raise OSError(error.errno or errno.EIO, error.strerror, str(path)) from None
    finally:
        for end in ("", "-journal", "-wal", "-shm"):
            with contextlib.suppress(OSError):
                os.unlink(f"{beside}{end}")


def _there(path: Path) -> FileExistsError:
    return FileExistsError(errno.EEXIST, "is there already: choose another name", str(path))


def _into_place(beside: Path, path: Path) -> None:
    try:
        os.link(beside, path)  # unlike a rename, refuses a file that has come up meanwhile
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise _there(path) from None
        os.rename(beside, path)
    sync_folder(path.parent)


def made(folder: Path, mode: int = 0o755) -> None:
    """Make a folder, and those above it that are not there: others may not write to them, whatever the umask is."""
    try:
        folder.mkdir(mode=mode)
    except FileNotFoundError:
        if folder.parent == folder:
            raise
        made(folder.parent)
        made(folder, mode)
    except OSError:
        if not folder.is_dir():
            raise


def sync_folder(folder: Path) -> None:
    """What was put into a folder, or taken out of it, is so after a power cut too."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
