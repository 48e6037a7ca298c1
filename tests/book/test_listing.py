"""The list of sheets: what it says of each equals the fold over all of its records, whatever is selected."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import wrote
from walks.book_walk import EVENINGS, BookWalk, book_walk
from walks.engine_walk import PLAN

from timerd.book.listing import Listed, Selection, listing
from timerd.book.reading import Reader
from timerd.book.store import Book
from timerd.sheet.record import Progress, Record

NAMES = ("Breakwater, low tide", "Quiet yard", "QUIET harbour", "Straße, Regen")
DAY = 86400.0


def armed(sheet: int, at: float, name: str, wall: str | None) -> Record:
    facts = {"print": name, "steps": [[1, "wait", 0.0, False]]}
    return wrote("armed", at, sheet, facts=facts if wall is None else {**facts, "wall": wall})


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """120 sheets, one a day from 2026-01-01 on, of four prints in turn; the clock was not known for sheet 7."""
    where = tmp_path_factory.mktemp("listing")
    book = Book(where, "when the book was opened", 1)
    records = []
    for n in range(1, 121):
        day = f"2026-{(n - 1) // 28 + 1:02}-{(n - 1) % 28 + 1:02}T20:00:00+00:00"
        records += [armed(n, 100.0 * n, NAMES[n % 4], None if n == 7 else day), wrote("sheet out", 100.0 * n + 1, n)]
        if n % 5:
            records += [wrote("done", 100.0 * n + 2, n), wrote("stop bath", 100.0 * n + 3, n)]
        if n % 3 == 0:
            records += [
                wrote("note", 20000.0 + n, n, facts={"text": "x"}),
                wrote("rated", 20000.0, n, facts={"rating": 2}),
            ]
    records += [wrote("rated", 30000.0, 3, facts={"rating": 5}), wrote("note", 30000.0, 3, facts={"text": "y"})]
    book.append(records, dict.fromkeys(range(1, 121), PLAN))
    book.close()
    return where


@pytest.fixture
def reader(home: Path) -> Iterator[Reader]:
    found = Reader(home)
    yield found
    found.close()


def numbers(found: list[Listed]) -> list[int]:
    return [one.sheet for one in found]


def test_one_row_in_full(reader: Reader) -> None:
    rows = {one.sheet: one for one in listing(reader)}
    assert sorted(rows) == list(range(1, 121))
    wall = 1767470400.0  # 2026-01-03 20:00 UTC: `date -u -d 2026-01-03T20:00 +%s`
    assert rows[3] == Listed(3, wall, "Straße, Regen", "complete", False, False, 5, 2)
    assert rows[5] == Listed(5, wall + 2 * DAY, "Quiet yard", "unfinished", True, False, None, 0)
    assert rows[7].armed_wall is None


@pytest.mark.parametrize("last", [1, 50, 119, 120, 500])
def test_the_last_are_the_end_of_all(reader: Reader, last: int) -> None:
    assert listing(reader, last=last) == listing(reader)[-last:]


def test_selections(reader: Reader) -> None:
    every = listing(reader)

    def chosen(*what: Selection) -> list[list[int]]:
        return [numbers(listing(reader, one)) for one in what]

    quiet = [n for n in range(1, 121) if n % 4 in (1, 2)]
    assert chosen(Selection("quiet"), Selection("STRASSE"), Selection("no such"), Selection("%"), Selection("_")) == [
        quiet, list(range(3, 121, 4)), [], [], [],
    ]  # fmt: skip
    assert chosen(Selection("no such", names=("Quiet yard",))) == [list(range(1, 121, 4))]
    wall = every[59].armed_wall
    assert wall is not None
    assert chosen(Selection(since=wall), Selection(since=wall + 1), Selection(since=0.0)) == [
        list(range(60, 121)), list(range(61, 121)), [n for n in range(1, 121) if n != 7],
    ]  # fmt: skip
    both = Selection("quiet", since=wall)
    assert chosen(both) == [[n for n in quiet if n >= 60]]
    assert numbers(listing(reader, both, last=3)) == [n for n in quiet if n >= 60][-3:]


def test_a_sheet_without_a_time_of_its_own_has_that_of_the_opening(tmp_path: Path) -> None:
    book = Book(tmp_path, "2026-01-01T20:00:00+00:00", 1_000_000_000)
    book.append([armed(1, 61.0, "A", None)], {1: PLAN})
    book.close()
    reader = Reader(tmp_path)
    assert listing(reader)[0].armed_wall == 1767297600.0 + 60
    reader.close()


def check(reader: Reader, full: Progress) -> None:
    found = listing(reader)
    assert numbers(found) == sorted(full.sheets)
    for row in found:
        sheet = full.sheets[row.sheet]
        assert (row.outcome, row.out, row.given_up) == (sheet.outcome, sheet.sensitive, sheet.given_up)
        assert listing(reader, last=len(found) - row.sheet + 1)[0] == row


@settings(max_examples=12, deadline=None)
@given(
    st.integers(0, 2**32),
    st.lists(st.tuples(st.integers(0, EVENINGS - 1), st.floats(0, 1) | st.just(1.0)), min_size=1, max_size=6),
)
def test_how_a_sheet_ended_is_what_the_whole_fold_says(seed: int, evenings: list[tuple[int, float]]) -> None:
    import tempfile

    walk = BookWalk(seed)
    with tempfile.TemporaryDirectory() as folder:
        book = Book(Path(folder), "then", 1)
        reader = Reader(Path(folder))
        for which, cut in evenings:
            told = walk.evening(which, cut)
            book.append(told, {record.sheet: PLAN for record in told if record.kind == "armed"})
            check(reader, walk.progress)
        reader.close()
        book.close()


def test_every_way_to_end_is_met_on_these_walks(tmp_path: Path) -> None:
    walk = book_walk(5, 10)
    book = Book(tmp_path, "then", 1)
    book.append(walk.records, walk.plans)
    reader = Reader(tmp_path)
    check(reader, walk.progress)
    met = {(row.outcome, row.out, row.given_up) for row in listing(reader)}
    assert {outcome for outcome, _, _ in met} == {"complete", "abandoned", "fault", "unfinished", "set aside"} and len(
        met
    ) >= 6
    reader.close()
    book.close()


def test_where_sheets_are_that_wait_in_their_box_or_were_taken_out_of_the_baths(tmp_path: Path) -> None:
    """White light spoils neither one in its box nor one that is fixed; one that is in the stop bath, it does."""
    told = {
        1: ["to trays, boxed"], 2: ["to trays, boxed", "out of the box"], 3: ["to trays"],
        4: ["to trays", "out of the baths"], 5: ["to trays, boxed", "out of the box", "stop bath"],
        6: ["to trays", "stop bath", "safe in white light"], 7: ["in the fixer"],
        8: ["in the fixer", "safe in white light"], 9: ["stop bath"],  # of an older timerd, without baths
    }  # fmt: skip
    book = Book(tmp_path, "then", 1)
    for sheet, kinds in told.items():
        records = [armed(sheet, sheet * 10.0, "A", None), wrote("sheet out", sheet * 10.0 + 1, sheet)]
        records.append(wrote("done", sheet * 10.0 + 2, sheet))
        records += [
            wrote(kind.removesuffix(", boxed"), sheet * 10.0 + 3, sheet, facts={"boxed": "boxed" in kind})
            for kind in kinds
        ]
        book.append(records, {sheet: PLAN})
    reader = Reader(tmp_path)
    assert {row.sheet for row in listing(reader) if row.out} == {2, 3, 5, 7}
    assert reader.present().sensitive == [2, 3, 5, 7]
    reader.close()
    book.close()


def test_a_list_folds_no_sheet(reader: Reader, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is listed, no record but the few that the list needs is made: not one of a light."""
    made: list[object] = []
    monkeypatch.setattr("timerd.book.reading.read", lambda *row: made.append(row))
    assert len(listing(reader)) == 120 and made == []
