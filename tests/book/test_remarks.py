"""Notes and ratings: what is taken, what is refused, and that nothing else of a sheet changes by them."""

from __future__ import annotations

from pathlib import Path

import pytest
from records import wrote
from walks.book_walk import book_walk

from timerd.book.reading import Reader
from timerd.book.remarks import LONGEST_NOTE, remark
from timerd.book.store import Book

WALL = "2026-03-01T20:00:00+00:00"


def test_what_is_written_down() -> None:
    assert remark({"do": "note", "sheet": 2, "text": "  a wall, too light\n"}, 3, 1.5, WALL) == wrote(
        "note", 1.5, 2, facts={"text": "a wall, too light", "wall": WALL}
    )
    for rating in range(1, 6):
        facts = {"rating": rating, "wall": WALL}
        assert remark({"do": "rate", "sheet": 3, "rating": rating}, 3, 1.5, WALL) == wrote("rated", 1.5, 3, facts=facts)
    assert (
        len(remark({"do": "note", "sheet": 1, "text": "é" * LONGEST_NOTE}, 3, 1.5, WALL).facts["text"]) == LONGEST_NOTE
    )


REFUSED = [
    *({"do": do, "sheet": sheet, "text": "x", "rating": 3} for do in ("note", "rate")
      for sheet in (0, -1, 4, 10**30, 1.0, True, None, "1", [1])),
    *({"do": "rate", "sheet": 1, "rating": rating} for rating in (0, 6, -1, 3.0, True, None, "3")),
    *({"do": "note", "sheet": 1, "text": text}
      for text in ("", " \n", None, 7, ["x"], "x" * (LONGEST_NOTE + 1), "\udcff")),
    {"do": "note"}, {"do": "rate"}, {"do": "note", "sheet": 1}, {"do": "rate", "sheet": 1},
]  # fmt: skip


@pytest.mark.parametrize("request_", REFUSED, ids=lambda request: str(request)[:60])
def test_what_is_refused(request_: dict[str, object]) -> None:
    with pytest.raises(ValueError) as caught:
        remark(request_, 3, 1.5, WALL)
    assert "\n" not in str(caught.value) and len(str(caught.value)) < 100


def test_there_is_no_sheet_in_an_empty_book() -> None:
    with pytest.raises(ValueError, match="no sheet"):
        remark({"do": "note", "sheet": 1, "text": "x"}, 0, 1.5, WALL)


def test_nothing_of_a_sheet_but_its_notes_and_rating_changes(tmp_path: Path) -> None:
    walk = book_walk(104, 3)
    book = Book(tmp_path, "then", 1)
    book.append(walk.records, walk.plans)
    reader = Reader(tmp_path)
    before = {n: reader.history(n) for n in reader.sheets()}
    present = reader.present()
    last = reader.sheets()[-1]
    for n in before:
        book.append([remark({"do": "note", "sheet": n, "text": f"of {n}"}, last, 9e5, WALL)], {})
        book.append([remark({"do": "rate", "sheet": n, "rating": n % 5 + 1}, last, 9e5, WALL)], {})
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
