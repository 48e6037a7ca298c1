"""The check of a book: nothing is wrong with any that timerd wrote, and whatever is wrong is found and named."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path

import pytest
from walks.book_walk import book_walk
from walks.old_book import changeable, without_checksums

from timerd.book.checking import MOST_FAULTS, check
from timerd.book.store import Book, BookError

FORMAT_1 = (Path(__file__).parent / "format-1.sql").read_text()


def written(home: Path, seed: int, evenings: int) -> Path:
    walk = book_walk(seed, evenings)
    book = Book(home, "2026-01-02T03:04:05+00:00", 7)
    book.append(walk.records, walk.plans)
    book.close()
    return book.path


@pytest.mark.parametrize("seed", range(8))
def test_nothing_is_wrong_with_any_evening(tmp_path: Path, seed: int) -> None:
    walk = book_walk(seed, 5)
    written(tmp_path, seed, 5)
    seen: list[int] = []
    checked = check(tmp_path, seen.append)
    assert checked == (len(walk.progress.sheets), len(walk.records), ())
    assert seen == [0, *sorted(walk.progress.sheets)]


def test_nothing_is_wrong_with_a_book_of_format_1_or_one_being_written(tmp_path: Path) -> None:
    db = sqlite3.connect(tmp_path / "book.sqlite")
    db.executescript(FORMAT_1)
    db.close()
    book = Book(tmp_path, "then", 1)
    assert check(tmp_path).faults == ()
    book.close()


def first(db: sqlite3.Connection, kind: str) -> tuple[int, dict[str, object]]:
    query = f"SELECT number, facts FROM records WHERE kind = '{kind}' AND sheet = 1"
    number, facts = db.execute(query).fetchone()
    return number, json.loads(facts)


def set_facts(kind: str, **changes: object) -> list[str]:
    return ["set facts", kind, json.dumps(changes)]


NAMES = "UPDATE records SET"
WRONG: dict[str, tuple[list[str], str]] = {
    "a record is gone": (["DELETE FROM records WHERE number = 30"], "1 record is missing of "),
    "records are gone": (["DELETE FROM records WHERE number IN (30, 31)"], "2 records are missing of "),
    "a sheet is gone": (["DELETE FROM records WHERE sheet = 2"], "1 sheet is missing of "),
    "a plan is gone": (["DELETE FROM plans WHERE sheet = 1"], "sheet 1: has no plan"),
    "a plan is another's": (["UPDATE plans SET plan = '{}' WHERE sheet = 1"],
        "is damaged: the plan of sheet 1 is not one that this version can read"),
    "facts that are no JSON": ([f"{NAMES} facts = 'x' WHERE kind = 'dark' AND sheet = 1"],
        "is damaged: it cannot be read"),
    "a light on its way, no JSON": ([f"{NAMES} facts = 'x' WHERE kind = 'so far' AND sheet = 1"],
        "is damaged: it cannot be read"),
    "an opening that never was": ([f"{NAMES} boot = 99 WHERE kind = 'armed' AND sheet = 1"],
        "was written at an opening of the book that is not in it"),
    "never armed": ([f"{NAMES} kind = 'armored' WHERE kind = 'armed' AND sheet = 1"],
        "sheet 1: was not armed once, and first"),
    "armed with other steps": (set_facts("armed", steps=[[1, "wait", 0.0, False]]),
        "sheet 1: was armed with other steps than its plan has"),
    "never lit": ([f"{NAMES} kind = 'lid' WHERE kind = 'lit' AND sheet = 1"], "and was not lit there"),
    "a dose that is not its burst's": (set_facts("dark", given=17.5), "is written down with 17.500000 s, its"),
    "less than the least": (set_facts("dark", given_lo=99.0), "gave between 99.000000 and"),
    "a step that is not there": ([f"{NAMES} step = 77 WHERE kind = 'dark' AND sheet = 1"],
        "is damaged: it does not fit those before it (77 is missing)"),
}  # fmt: skip


SAID_BY_THE_CHECKSUM = {
    "a record is gone": "sheet 1: record 30 is missing",
    "records are gone": "sheet 1: record 31 is missing",
    "a plan is another's": "^sheet 1: record [0-9]+ is damaged: its plan is not what was written$",
}


@pytest.mark.parametrize("old", [False, True])
@pytest.mark.parametrize("what", WRONG)
def test_what_is_wrong_is_found_and_named(tmp_path: Path, what: str, old: bool) -> None:
    """By what it says, in a book that was begun before there were checksums; in one that has them by the record."""
    statements, said = WRONG[what]
    path = written(tmp_path, 104, 3)
    if old:
        without_checksums(path)
    number = 0
    with changeable(path) as db:
        if statements[0] == "set facts":
            number, facts = first(db, statements[1])
            facts |= json.loads(statements[2])
            statements = [f"{NAMES} facts = '{json.dumps(facts)}' WHERE number = {number}"]
        for statement in statements:
            assert db.execute(statement).rowcount >= 1
    checked = check(tmp_path)
    assert any(said in fault for fault in checked.faults) or not old, checked.faults
    if not old and "gone" not in what:
        said = SAID_BY_THE_CHECKSUM.get(
            what, rf"^sheet 1: record {number or '[0-9]+'} is damaged: it is not what was written$"
        )
        assert any(re.search(said, fault) for fault in checked.faults), checked.faults
    elif not old:
        wanted = {said, SAID_BY_THE_CHECKSUM.get(what, said)}
        assert all(any(one in fault for fault in checked.faults) for one in wanted), checked.faults
    assert not any("\n" in fault for fault in checked.faults)


def test_damage_to_the_file_is_found_and_the_file_is_not_touched(tmp_path: Path) -> None:
    """Every page of it spoilt in turn: found each time, and no page is changed by looking."""
    path = written(tmp_path, 3, 1)
    raw = path.read_bytes()
    for page in range(1, len(raw) // 4096):
        spoilt = raw[: 4096 * page] + bytes(4096) + raw[4096 * (page + 1) :]
        path.write_bytes(spoilt)
        try:
            faults: tuple[str, ...] = check(tmp_path).faults
        except BookError as error:
            faults = (str(error),)
        assert 1 <= len(faults) <= MOST_FAULTS and not any("\n" in fault for fault in faults)
        assert path.read_bytes() == spoilt
    path.write_bytes(raw[: len(raw) // 2 // 4096 * 4096])
    with pytest.raises(BookError, match="image is malformed"):
        check(tmp_path)


def test_an_index_that_leads_elsewhere_is_found(tmp_path: Path) -> None:
    """The rows are as they were, but by the index a sheet has fewer: SQLite's own check holds the two together."""
    path = written(tmp_path, 104, 2)
    db = sqlite3.connect(path)
    db.execute("PRAGMA writable_schema = ON")
    db.execute(
        "UPDATE sqlite_master SET sql = 'CREATE INDEX records_by_sheet ON records (sheet, number) WHERE sheet <> 1' "
        "WHERE name = 'records_by_sheet'"
    )
    db.commit()
    db.close()
    assert check(tmp_path).faults != ()
