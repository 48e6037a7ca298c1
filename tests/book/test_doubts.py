"""Which sheets of a book are to be looked at: as many as the records of each say, and no more is read for it."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from records import wrote
from walks.book_walk import book_walk
from walks.engine_walk import PLAN

from timerd.book.doubts import doubts
from timerd.book.reading import Reader
from timerd.book.store import NAME, Book
from timerd.cli import main
from timerd.sheet.record import Record
from timerd.sheet.unsure import unsure

GREEN = next(step.n for step in PLAN.steps if step.light is not None)


def lost(sheet: int, given_lo: float) -> list[Record]:
    facts = {"lit": 1.0, "dark": 7.0, "given": 6.0, "given_lo": given_lo, "why": "last off"}
    steps = [[s.n, s.kind, s.dose or 0.0, s.light is not None] for s in PLAN.steps]
    begun = wrote("armed", 0.5, sheet, facts={"print": f"Tides {sheet}", "steps": steps})
    return [begun, wrote("recovered", 9.0, sheet, GREEN, sheet, facts)]


def filled(home: Path, *records: Record) -> None:
    book = Book(home, "2026-03-01T20:00:00+00:00", 1)
    book.append(list(records), {record.sheet: PLAN for record in records if record.kind == "armed"})
    book.close()


def test_they_are_those_whose_records_say_so(tmp_path: Path) -> None:
    """Over random evenings with faults and lost keepers; some of the sheets were looked at."""
    walk = book_walk(7, 40)
    records = [
        *walk.records,
        *(wrote("rated", 1e6, n, facts={"rating": 3}) for n in walk.progress.sheets if n % 5 == 0),
    ]
    filled(tmp_path, *records)
    sheets = sorted(walk.progress.sheets)
    expected = {n: steps for n in sheets if (steps := unsure(record for record in records if record.sheet == n))}
    before = {n for n in sheets if unsure(record for record in walk.records if record.sheet == n)}
    assert len(expected) > 3 and len(before) > len(expected), "too few to show anything"
    reader = Reader(tmp_path)
    assert doubts(reader, sheets) == expected
    some = sheets[3:-5:2]
    assert doubts(reader, some) == {n: steps for n, steps in expected.items() if n in some}
    assert doubts(reader, []) == {}
    reader.close()


def test_a_record_that_cannot_be_read_keeps_no_other_sheet_from_being_told(tmp_path: Path) -> None:
    filled(tmp_path, *lost(1, 5.0), *lost(2, 5.0))
    db = sqlite3.connect(tmp_path / NAME)
    for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        db.execute(f"DROP TRIGGER {trigger}")
    db.execute("UPDATE records SET facts = substr(facts, 1, 20) WHERE sheet = 1 AND kind = 'recovered'")
    db.commit()
    db.close()
    reader = Reader(tmp_path)
    assert doubts(reader, [1, 2]) == {2: (GREEN,)}
    reader.close()


def test_the_commands_mark_it_until_somebody_says_that_they_looked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    filled(tmp_path / "home", *lost(1, 2.36), *lost(2, 6.0))
    look = f"  (look at it: what step {GREEN} had is not sure)"

    def said(*argv: str) -> str:
        assert main(list(argv)) == 0
        return capsys.readouterr().out

    def marked() -> list[bool]:
        return [line.endswith(look) for line in said("sheets").splitlines()]

    assert marked() == [True, False]
    words = (
        f"look at it: step {GREEN} was given 2.4 to 6.0 s (plus or minus 0.67 stop), and nobody saw when its light "
        "went out. Then say so: timerd note 1 TEXT, or timerd rate 1 1..5"
    )
    assert said("sheet", "1").splitlines()[-1] == words
    assert "look at it" not in said("sheet", "2")
    assert f'"unsure": [\n    {GREEN}\n  ]' in said("sheet", "1", "--json")
    said("note", "1", "a little light, may stay")
    assert marked() == [False, False]
    assert "look at it" not in said("sheet", "1")
