"""Notes and ratings: what is taken, what is refused, and that nothing else of a sheet changes by them."""

from __future__ import annotations

from pathlib import Path

import pytest
from records import wrote
from walks.book_walk import book_walk

from timerd.book.reading import Reader
from timerd.book.remarks import LONGEST_NOTE, remark
from timerd.book.store import Book
from timerd.wire.control import AddNote, AddRating

WALL = "2026-03-01T20:00:00+00:00"


def test_what_is_written_down() -> None:
    assert remark(AddNote(2, "  a wall, too light\n"), 3, 1.5, WALL) == wrote(
        "note", 1.5, 2, facts={"text": "a wall, too light", "wall": WALL}
    )
    for rating in range(1, 6):
        facts = {"rating": rating, "wall": WALL}
        assert remark(AddRating(3, rating), 3, 1.5, WALL) == wrote("rated", 1.5, 3, facts=facts)
    assert len(remark(AddNote(1, "é" * LONGEST_NOTE), 3, 1.5, WALL).facts["text"]) == LONGEST_NOTE


REFUSED = [
    *(AddNote(sheet, "x") for sheet in (0, -1, 4, 10**30)), *(AddRating(sheet, 3) for sheet in (0, -1, 4, 10**30)),
    *(AddRating(1, rating) for rating in (0, 6, -1)),
    *(AddNote(1, text) for text in ("", " \n", "x" * (LONGEST_NOTE + 1), "\udcff")),
]  # fmt: skip


@pytest.mark.parametrize("request_", REFUSED, ids=lambda request: str(request)[:60])
def test_what_is_refused(request_: AddNote | AddRating) -> None:
    with pytest.raises(ValueError) as caught:
        remark(request_, 3, 1.5, WALL)
    assert "\n" not in str(caught.value) and len(str(caught.value)) < 100


def test_there_is_no_sheet_in_an_empty_book() -> None:
    with pytest.raises(ValueError, match="no sheet"):
        remark(AddNote(1, "x"), 0, 1.5, WALL)


def test_nothing_of_a_sheet_but_its_notes_and_rating_changes(tmp_path: Path) -> None:
    walk = book_walk(104, 3)
    book = Book(tmp_path, "then", 1)
    book.append(walk.records, walk.plans)
    reader = Reader(tmp_path)
    before = {n: reader.history(n) for n in reader.sheets()}
    present = reader.present()
    last = reader.sheets()[-1]
    for n in before:
        book.append([remark(AddNote(n, f"of {n}"), last, 9e5, WALL)], {})
        book.append([remark(AddRating(n, n % 5 + 1), last, 9e5, WALL)], {})
    for n, old in before.items():
        new = reader.history(n)
        assert old is not None and new is not None
        assert (old.progress.as_json(), old.bursts, old.areas) == (new.progress.as_json(), new.bursts, new.areas)
        assert new.happened == old.happened
        assert ([note.text for note in new.notes], new.rating) == ([f"of {n}"], n % 5 + 1)
    again = reader.present()
    assert again.sheets == present.sheets and again.last_burst == present.last_burst and again.fault == present.fault
    reader.close()
    book.close()
