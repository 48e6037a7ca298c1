"""Where things lie: the home folder, and profiles by name. No other module reads one from disk.

Decided:

- **Nothing is written through a link**: with `--force` too a link is refused, since whoever put it there may have
  meant a book. A profile that is changed in its place may lie behind one.
- **A home that was named has a run folder of its own** (in XDG_RUNTIME_DIR, else its `run`), so that a trial never
  meets the bench that is served from /run/timerd.
- **Profiles that come along are never changed**: a command that would says `--out`.
- **`profiles/feet/`** holds the demo's presses, so that what the demo does can be read, changed and rehearsed.
"""

from __future__ import annotations

import difflib
import errno
import os
import re
import stat
import zlib
from pathlib import Path

MOST_BYTES = 256 * 1024
FOLDERS = {"print": "prints", "bench": "benches", "paper": "papers", "bath": "baths", "feet": "feet"}
_NAME = re.compile(r"[a-z0-9-]{1,80}", re.ASCII)
_SERVICE = Path("/run/timerd")
_FILE_ENDS = (".yaml", ".yml")
_TOP_KEY = re.compile(rb"^([a-z]{4,5})[ \t]*:", re.MULTILINE)


def home(given: str | None) -> Path:
    """Where the user's profiles and the book lie: `given`, else TIMERD_HOME, else the user's data folder."""
    for told in (given, os.environ.get("TIMERD_HOME")):
        if told:
            return Path(told).expanduser()
    data = os.environ.get("XDG_DATA_HOME", "")
    if os.path.isabs(data):  # the standard has a relative one ignored
        return Path(data) / "timerd"
    try:
        return Path.home() / ".local" / "share" / "timerd"
    except RuntimeError:
        raise LookupError("this user has no home folder: set TIMERD_HOME, or give --home DIR") from None


def run_folder(given: str | None) -> Path:
    """Where the socket and the keeper's note lie, in memory where there is such a place.

    /run/timerd for the service (its home is the user's own default, or /var/lib/timerd), else a folder in
    XDG_RUNTIME_DIR, else the home's `run`. A home that was named has a run folder of its own, so that a trial never
    meets the bench that is served.
    """
    where = home(given).absolute()
    named = given or os.environ.get("TIMERD_HOME")
    if (not named or where == Path("/var/lib/timerd")) and os.access(_SERVICE, os.X_OK):
        return _SERVICE
    memory = os.environ.get("XDG_RUNTIME_DIR", "")
    if os.path.isabs(memory) and os.access(memory, os.W_OK):
        own = f"timerd-{zlib.crc32(os.fsencode(where)):08x}" if named else "timerd"
        return Path(memory) / own
    return where / "run"


def closed_service() -> Path | None:
    """The service's run folder, where there is one that this user may not enter."""
    return _SERVICE if _SERVICE.is_dir() and not os.access(_SERVICE, os.X_OK) else None


def cache_folder() -> Path:
    """Where what can be made again is kept, such as rendered words: timerd's part of the user's cache."""
    cache = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(cache):  # the standard has a relative one ignored
        return Path(cache) / "timerd"
    try:
        return Path.home() / ".cache" / "timerd"
    except RuntimeError:
        raise LookupError("this user has no home folder: set XDG_CACHE_HOME") from None


def shipped() -> Path:
    """The profiles that come with timerd: in the wheel inside the package, in a clone beside it."""
    inside = Path(__file__).parent / "profiles"
    return inside if inside.is_dir() else Path(__file__).parent.parent / "profiles"


def find(kind: str, name_or_path: str, folder: Path | None, home: Path) -> Path:
    """The file of a profile: of a print, bench, paper, bath line or feet.

    A name that stands in a print whose file lies in `folder` is sought beside that folder and in it (`papers/` and so
    on), then in the folder itself, then in the user's home, then among the shipped ones. Where `folder` is None
    somebody has typed it, and a text with a slash or one that ends in .yaml or .yml is a file's path; a name in a file
    never is. LookupError says, in one line, what there is and where was looked.
    """
    if folder is None and ("/" in name_or_path or name_or_path.endswith(_FILE_ENDS)):
        return Path(name_or_path)
    if not _NAME.fullmatch(name_or_path):
        wanted = "a name is small letters, digits and hyphens" + ("" if folder else "; a file ends in .yaml")
        raise LookupError(f"{_shown(name_or_path)} is no name of a {kind}: {wanted}")
    places = [home / "profiles" / FOLDERS[kind], shipped() / FOLDERS[kind]]
    if folder is not None:
        places = [folder.parent / FOLDERS[kind], folder / FOLDERS[kind], folder, *places]
    for place in places:
        path = place / f"{name_or_path}.yaml"
        if os.path.isfile(path) and (place != folder or _is_a(kind, path)):
            return path
    if folder is None and os.path.isfile(f"{name_or_path}.yaml"):
        raise LookupError(
            f"{name_or_path}: a name is sought at home and among what comes along; the file here is {name_or_path}.yaml"
        )
    names = sorted({name for place in places for name in _names(place, kind if place == folder else None)})
    looked = [*(_from_here(place) for place in places[:-1] if place.is_dir()), "what comes along"]
    raise LookupError(
        f"there is no {kind} '{name_or_path}'{_instead(name_or_path, names)} (looked in {', '.join(looked)})"
    )


def names_of(kind: str, home: Path) -> list[str]:
    """The names of all profiles of a kind, in the user's home and among the shipped ones."""
    places = [home / "profiles" / FOLDERS[kind], shipped() / FOLDERS[kind]]
    return sorted({name for place in places for name in _names(place)})


def read_bytes(path: Path) -> bytes:
    """A file's bytes, at most one more than a profile may have, so that a larger one is known by its length.

    Raises OSError, with the path and one line of reason, for what is not there, not allowed or no plain file.
    """
    try:
        _must_be_plain(path, os.stat(path).st_mode)  # before it is opened: opening may move a device
        descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK | os.O_NOCTTY)
        with open(descriptor, "rb") as file:
            _must_be_plain(path, os.fstat(descriptor).st_mode)
            return file.read(MOST_BYTES + 1)
    except OSError as error:
        reason = _REASONS.get(error.errno or 0) or error.strerror or "cannot be read"
        raise OSError(error.errno or errno.EIO, reason, str(path)) from None
    except ValueError:  # a NUL in the path, or a half character
        raise OSError(errno.EINVAL, "is not a file's name", str(path)) from None


_REASONS = {
    errno.ENOTDIR: "No such file or directory",
    errno.EISDIR: "is a folder, not a file",
    errno.EACCES: "you are not allowed to read it",
    errno.EPERM: "you are not allowed to read it",
    errno.ENAMETOOLONG: "the name is too long for a file",
    errno.ELOOP: "leads round in a circle of links",
}


def _must_be_plain(path: Path, mode: int) -> None:
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, "", str(path))
    if not stat.S_ISREG(mode):
        raise OSError(errno.EINVAL, "is a pipe or a device, not a file", str(path))


def _names(folder: Path, kind: str | None = None) -> list[str]:
    """The names of a folder's files; of those of one kind where the folder may hold others too."""
    try:
        stems = [entry[: -len(".yaml")] for entry in os.listdir(folder) if entry.endswith(".yaml")]
    except OSError:
        return []
    return [
        stem for stem in stems
        if _NAME.fullmatch(stem) and (kind is None or _is_a(kind, folder / f"{stem}.yaml"))
    ]  # fmt: skip


def _is_a(kind: str, path: Path) -> bool:
    """Whether a file in a print's own folder is of this kind, by its keys: a print names its bench and paper too."""
    try:
        text = read_bytes(path)
    except OSError:
        return False
    keys = set(_TOP_KEY.findall(text))
    return kind.encode() in keys and (kind == "print" or b"print" not in keys)


def _instead(name: str, names: list[str]) -> str:
    """What there is, the near misses first."""
    if not names:
        return "; there is none at all"
    close = difflib.get_close_matches(name, names, n=3)
    rest = [other for other in names if other not in close][: 20 - len(close)]
    more = len(names) - len(close) - len(rest)
    there = ", ".join(close + rest) + (f" and {more} more" if more else "")
    return f": did you mean '{close[0]}'? There are {there}" if close else f"; there are {there}"


def _from_here(folder: Path) -> str:
    """A folder as short as can be: from the current one where it lies below it or beside it."""
    try:
        short = os.path.relpath(folder)
    except OSError:
        return str(folder)
    text = short if len(short) < len(str(folder)) and not short.startswith("../..") else str(folder)
    return text if text.isprintable() else ascii(text)


def _shown(text: str) -> str:
    return ascii(text if len(text) <= 60 else text[:59] + "…") if not text.isprintable() else f"'{text[:60]}'"
