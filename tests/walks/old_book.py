"""A book as a timerd left it that did not know checksums yet: for all that must go on being read as it was."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

_MARK = re.compile(r'(?:, )?"sum": "[0-9a-f]{8} [0-9]+(?: [0-9a-f]{8})?"}$')


@contextmanager
def changeable(path: Path) -> Iterator[sqlite3.Connection]:
    """A closed book's file, without what refuses to change it; put back as it was when this ends."""
    with closing(sqlite3.connect(path, isolation_level=None)) as db:
        triggers = db.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in triggers:
            db.execute(f"DROP TRIGGER {name}")
        db.execute("BEGIN")
        yield db
        db.execute("COMMIT")
        for _, sql in triggers:
            db.execute(sql)


def without_checksums(path: Path) -> None:
    """Take every checksum out of a closed book."""
    with changeable(path) as db:
        rows = db.execute("SELECT number, facts FROM records").fetchall()
        without = [(_MARK.sub("}", facts), number) for number, facts in rows]
        assert all(before != after for (_, before), (after, _) in zip(rows, without, strict=True))
        db.executemany("UPDATE records SET facts = ? WHERE number = ?", without)
        db.execute("UPDATE boots SET boot_id = substr(boot_id, 1, length(boot_id) - 9)")
