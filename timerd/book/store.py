"""The book on disk: SQLite, one writer, every record synced before it counts, nothing ever changed.

Format 1. A book that was begun in this format stays readable by all later versions.
"""

from __future__ import annotations

import contextlib
import ctypes
import fcntl
import os
import sqlite3
import uuid
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.book.rows import COLUMNS, opening_row, row_of
from timerd.inplace import made, sync_folder
from timerd.sheet.record import Record

if TYPE_CHECKING:
    from timerd.sheet.plan.value import Plan

FORMAT = 1
NAME = "book.sqlite"
BUSY_S = 2.0
"""So long is waited for another program that holds the file; then it counts as a write that failed."""
_TEXT = partial(str, encoding="utf-8", errors="surrogateescape")
"""How texts are read: one that is damaged is for who reads it to find out, and stops no reading of others."""
_SCHEMA = (
    "CREATE TABLE book (format INTEGER NOT NULL, id TEXT NOT NULL, begun TEXT NOT NULL)",
    "CREATE TABLE boots (boot INTEGER PRIMARY KEY, boot_id TEXT NOT NULL, wall TEXT NOT NULL, at_ns INTEGER NOT NULL)",
    "CREATE TABLE plans (sheet INTEGER PRIMARY KEY, plan TEXT NOT NULL)",
    "CREATE TABLE records (number INTEGER PRIMARY KEY, boot INTEGER NOT NULL, kind TEXT NOT NULL,"
    " at_ns INTEGER NOT NULL, sheet INTEGER NOT NULL, step INTEGER NOT NULL, burst INTEGER NOT NULL,"
    " facts TEXT NOT NULL)",
    "CREATE INDEX records_by_sheet ON records (sheet, number)",
    "CREATE INDEX records_by_kind ON records (kind, sheet)",
    "CREATE INDEX records_by_burst ON records (burst)",
)
_NO_BOOK = "this is no book of timerd's: move it away, or give --home DIR"


def _triggers() -> Iterator[str]:
    """What refuses every change; REPLACE too, which would put a row in the place of another without a DELETE."""
    refuse = "BEGIN SELECT RAISE(ABORT, 'the book is never changed'); END"
    for table in ("book", "boots", "plans", "records"):
        for verb in ("UPDATE", "DELETE"):
            yield f"CREATE TRIGGER no_{verb.lower()}_{table} BEFORE {verb} ON {table} {refuse}"
        same = "" if table == "book" else " WHERE rowid = NEW.rowid"
        yield (
            f"CREATE TRIGGER no_second_{table} BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table}{same}) {refuse}"
        )


def begin(db: sqlite3.Connection, book_id: str, begun: str) -> None:
    """Make an empty database a book."""
    for statement in (*_SCHEMA, *_triggers()):
        db.execute(statement)
    db.execute("INSERT INTO book VALUES (?, ?, ?)", (FORMAT, book_id, begun))


class BookError(OSError):
    """The book cannot be opened, read or written; the words say why and what to do."""


class Book:
    """The one writer of a book. `append` returns when its records are on disk; after an error nothing more is written.

    `wall` is the wall clock's time in words, `at_ns` the monotonic one's in ns: the two are set side by side once.
    """

    def __init__(self, home: Path, wall: str, at_ns: int) -> None:
        self.path = home / NAME
        self._db: sqlite3.Connection | None = None
        try:
            made(home)
            self._lock = os.open(home / "book.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
        except OSError as error:
            raise BookError(
                f"{home}: the book cannot be kept here: {error.strerror}: mend that, or give --home DIR"
            ) from None
        try:
            fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            os.close(self._lock)
            raise BookError(f"{self.path}: another timerd is writing this book: stop that one first") from None
        try:
            self._begin(wall, at_ns)
        except (sqlite3.Error, OSError) as error:
            self.close()
            if isinstance(error, BookError):
                raise
            raise BookError(f"{self.path}: cannot be written: {why(error)}") from None

    def _begin(self, wall: str, at_ns: int) -> None:
        found = open_to_read(self.path)  # what is not ours to write is found out before anything of it is changed
        if found is not None:
            found.close()
        db = self._db = sqlite3.connect(self.path, timeout=BUSY_S, isolation_level=None, check_same_thread=False)
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("PRAGMA synchronous=FULL")
        db.execute("PRAGMA wal_autocheckpoint=0")
        if found is None:
            db.execute("BEGIN IMMEDIATE")
            begin(db, uuid.uuid4().hex, wall)
            db.execute("COMMIT")
            sync_folder(self.path.parent)
        self.id: str = db.execute("SELECT id FROM book").fetchone()[0]
        db.execute("BEGIN IMMEDIATE")
        self._boot = 1 + db.execute("SELECT coalesce(max(boot), 0) FROM boots").fetchone()[0]
        db.execute("INSERT INTO boots VALUES (?, ?, ?, ?)", opening_row(self._boot, boot_id(), wall, at_ns))
        db.execute("COMMIT")
        self._number = db.execute("SELECT coalesce(max(number), 0) FROM records").fetchone()[0]
        self._lasts: dict[int, int] = {}

    def append(self, records: Iterable[Record], plans: Mapping[int, Plan]) -> None:
        """Write records, and the plans of sheets that they arm, in one transaction, synced.

        Raises BookError; then the book is closed for good, since a failed sync must never be tried again: what the
        system believes to be on disk after that may not be.
        """
        db = self._db
        if db is None:
            raise BookError(f"{self.path}: closed after an earlier error")
        try:
            texts = {sheet: plan.model_dump_json() for sheet, plan in plans.items()}
            db.execute("BEGIN IMMEDIATE")
            db.executemany("INSERT INTO plans VALUES (?, ?)", texts.items())
            rows = [self._row(db, record, texts) for record in records]
            db.executemany(f"INSERT INTO records ({COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?, ?)", rows)
            db.execute("COMMIT")
        except (sqlite3.Error, TypeError, ValueError, OverflowError) as error:  # the last three: what no row can hold
            with contextlib.suppress(sqlite3.Error):
                db.execute("ROLLBACK")
            if isinstance(error, sqlite3.OperationalError):
                self._db = None
                _never_close(db)
            self.close()
            raise BookError(f"{self.path}: a record could not be written: {why(error)}") from None

    def _row(self, db: sqlite3.Connection, record: Record, plans: Mapping[int, str]) -> tuple[Any, ...]:
        """The next row. Rows are numbered here: their numbers are in their checksums."""
        before = self._lasts.get(record.sheet)
        if before is None:
            found = db.execute("SELECT max(number) FROM records WHERE sheet = ?", (record.sheet,)).fetchone()[0]
            before = found or 0
        self._number += 1
        self._lasts[record.sheet] = self._number
        plan = plans.get(record.sheet) if record.kind == "armed" else None
        return row_of(self._number, before, self._boot, record, plan)

    def checkpoint(self) -> None:
        """Bring the log into the main file; for when nothing is at stake. A failure is told by the next write."""
        if self._db is not None:
            try:
                self._db.execute("PRAGMA wal_checkpoint(PASSIVE)")
            except sqlite3.Error:
                return

    def close(self) -> None:
        """Close the book; what was appended is on disk already."""
        db, self._db = self._db, None
        if db is not None:
            db.close()
        if self._lock >= 0:
            os.close(self._lock)
            self._lock = -1


def _never_close(db: sqlite3.Connection) -> None:
    """Let a connection whose write has failed live until the process ends: to close it would have SQLite sync the log
    once more, and bring it into the main file."""
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(db))


def open_to_read(path: Path) -> sqlite3.Connection | None:
    """A book's file, opened so that nothing done with it can change it; None where none has been begun yet.

    Raises BookError for what cannot be read, is no book, or was begun by a later version.
    """
    try:
        if not _has_been_begun(path):
            return None
    except BookError:
        raise
    except OSError as error:
        raise BookError(f"{path}: cannot be read: {error.strerror}") from None
    # In a folder that may not be written the log's shared index cannot be made; with no log there is none to read.
    still = not os.access(path.parent, os.W_OK) and not os.path.exists(f"{path}-wal")
    try:
        db = sqlite3.connect(
            f"{path.absolute().as_uri()}?{'immutable=1' if still else 'mode=ro'}", uri=True, timeout=BUSY_S
        )
        try:
            begun = db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] > 0
            if begun:
                _check_format(db, path)
        except BaseException:
            db.close()
            raise
    except sqlite3.Error as error:
        raise BookError(f"{path}: cannot be read: {why(error)}") from None
    if not begun:
        db.close()
        return None
    db.text_factory = _TEXT
    return db


def _has_been_begun(path: Path) -> bool:
    """Whether there is anything here. Raises BookError for what SQLite would take for new, or for whole, and is
    neither: it throws the log of an empty file away, and does not miss the end of a last page."""
    log = Path(f"{path}-wal")
    size = path.stat().st_size if path.is_file() else 0
    logged = log.stat().st_size if log.is_file() else 0
    if not size:
        if logged:
            raise BookError(f"{path}: empty, but its log ({log.name}) is not: keep the log; mend or move both away")
        return False
    file = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        head = os.pread(file, 18, 0)
    finally:
        os.close(file)
    if head[:16] != b"SQLite format 3\0":
        raise BookError(f"{path}: {_NO_BOOK}")
    page = int.from_bytes(head[16:18], "big")
    if page > 1 and ((size % page and not logged) or (logged and not _all_there(path, log, page))):
        raise BookError(f"{path}: cannot be read: {why(ValueError('database disk image is malformed'))}")
    return True


def _all_there(path: Path, log: Path, page: int) -> bool:
    """Whether every page that the main file's head counts is in it, or in the log.

    What was cut off a file with a log SQLite misses only when it is read. A file that is short because a power cut
    came into a tidying has all of the rest in its log.
    """
    for _ in range(2):  # again, since between looking at the one and the other the log may have been tidied
        with path.open("rb") as file:
            head = file.read(32)
            there = os.fstat(file.fileno()).st_size // page
        counted = int.from_bytes(head[28:32], "big")
        if there >= counted:
            return True
        logged = set()
        with log.open("rb") as file:
            for at in range(32, os.fstat(file.fileno()).st_size, 24 + page):
                file.seek(at)
                logged.add(int.from_bytes(file.read(4), "big"))
        if logged.issuperset(range(there + 1, counted + 1)):
            return True
    return False


def _check_format(db: sqlite3.Connection, path: Path) -> None:
    try:
        found = db.execute("SELECT format, id FROM book").fetchone()
    except sqlite3.OperationalError as error:
        if "no such" not in str(error):
            raise
        found = None
    if found is None or not isinstance(found[0], int):
        raise BookError(f"{path}: {_NO_BOOK}")
    if found[0] > FORMAT:
        raise BookError(f"{path}: format {found[0]}, this version reads up to {FORMAT}: use a newer timerd")


def wall_now() -> str:
    """The wall clock's time in words, as the book has it: UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def boot_id() -> str:
    """The machine's own name for its present boot: monotonic times of one boot cannot be held against another's."""
    return Path("/proc/sys/kernel/random/boot_id").read_text().strip()


def why(error: BaseException) -> str:
    """What a failure of SQLite means, and what to do about it."""
    said = str(error)
    if getattr(error, "sqlite_errorname", "") == "SQLITE_IOERR_SHMSIZE":  # no room for the log's index beside the book
        said = "database or disk is full"
    hints = {
        "database is locked": "another program holds the file: close that one",
        "database or disk is full": "the disk is full: make room",
        "attempt to write a readonly database": "it may not be written: who owns it? is the disk read-only?",
        "unable to open database file": "who owns the folder? is the disk read-only?",
        "disk I/O error": "the disk failed: do not trust it any more; copy the book, and use another disk",
        "file is not a database": _NO_BOOK,
        "database disk image is malformed":
            "it is damaged: keep it, and read what is left with  timerd book rescue --out DIR",
    }  # fmt: skip
    return f"{said}: {hints[said]}" if said in hints else said
