"""Files that are there whole, or as they were: written beside their place, to disk, and then into it.

Folders too, with the rights that they should have. The standard library alone.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path

INSTEAD = "choose another name"


@contextlib.contextmanager
def placed(path: Path, over: bool = False, instead: str = INSTEAD) -> Iterator[Path]:
    """A path beside `path` to write to; when all is written it is synced and put in place.

    What is there already is refused (FileExistsError, which says what to do `instead`) unless `over`; with it, its
    rights stay. A link, a folder or a device is never written over. OSError where it cannot be done; whatever is
    raised, nothing is left behind, and what stood there stands there.
    """
    mode = _mode_of(path, over, instead)
    beside = path.parent / f".{path.name[:200]}.{secrets.token_hex(8)}.new"
    try:
        os.close(os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, 0o666))
        yield beside
        if mode is not None:
            os.chmod(beside, mode)
        _synced(beside, 0)
        _into_place(beside, path, over)
        sync_folder(path.parent)
    except FileExistsError:
        raise _there(path, instead) from None
    except OSError as error:
        if error.errno is None:  # it has its own words
            raise
        raise OSError(error.errno, error.strerror or "cannot be written", str(path)) from None
    finally:
        for end in ("", "-journal", "-wal", "-shm"):  # of a book
            with contextlib.suppress(OSError):
                os.unlink(f"{beside}{end}")


def put(path: Path, text: str) -> None:
    """Write a small file for others to read: they find the last one or this one. Not synced; OSError."""
    beside = path.with_suffix(".new")
    try:
        beside.write_text(text)
        os.replace(beside, path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise


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
    _synced(folder, os.O_DIRECTORY)


def _mode_of(path: Path, over: bool, instead: str) -> int | None:
    """The rights of the file that is to be replaced, if there is one."""
    try:
        found = os.lstat(path).st_mode
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(found) and over:
        raise IsADirectoryError(errno.EISDIR, "is a folder, not a file", str(path))
    if not over:
        raise _there(path, instead)
    if stat.S_ISLNK(found):
        raise OSError(errno.ELOOP, "is a link to another file: name that one", str(path))
    if not stat.S_ISREG(found):
        raise OSError(errno.EINVAL, "is a pipe or a device, not a file", str(path))
    return stat.S_IMODE(found)


def _there(path: Path, instead: str) -> FileExistsError:
    return FileExistsError(errno.EEXIST, f"is there already: {instead}", str(path))


def _into_place(beside: Path, path: Path, over: bool) -> None:
    if over:
        os.replace(beside, path)
        return
    try:
        os.link(beside, path)  # unlike a rename, refuses a file that has come up meanwhile
    except FileExistsError:
        raise
    except OSError:  # a file system without links
        if os.path.lexists(path):
            raise FileExistsError from None
        os.rename(beside, path)


def _synced(path: Path, flags: int) -> None:
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC | flags)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
