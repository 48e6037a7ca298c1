"""A record's checksum: every flipped bit of a row shows, and a row without one is read as ever where it may be."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import wrote

from timerd.book.rows import (
    NOT_READABLE,
    NOT_WRITTEN,
    Damage,
    Unsound,
    not_intact,
    opening_of,
    opening_row,
    read,
    row_of,
    sheet_of,
)

LIT = wrote("lit", 2.5, 3, 4, 5, {"light": "green", "lit": 2.5, "seconds": 1.0, "most": 1.0})
ROW = row_of(17, 14, 2, LIT, None)


def test_a_row_comes_back_as_its_record_and_knows_the_one_before() -> None:
    assert read(ROW, True) == (LIT, 17, 2, 14, None)
    assert json.loads(ROW[7])["sum"].split(" ")[1] == "3", "three numbers before it"
    first = row_of(1, 0, 1, wrote("started", 1.0), None)
    assert read(first, True) == (wrote("started", 1.0), 1, 1, 0, None)
    armed = row_of(2, 0, 1, wrote("armed", 1.0, 1, facts={"print": "x"}), "123456789")
    assert read(armed, True).plan == "cbf43926", "the check value of CRC-32, as its definitions give it"
    assert list(not_intact([first, armed, (*row_of(14, 0, 1, LIT, None),), ROW], {1, 2})) == []
    assert list(not_intact([first, armed, ROW], {1, 2})) == [(17, 3, 14)], "the one before it is not there"
    assert sheet_of(ROW) == 3 and sheet_of((1, 1, "x", 1, None, 0, 0, "{}")) == 0


def test_every_bit_of_a_row_shows() -> None:
    for column, value in enumerate(ROW):
        values: list[object]
        if isinstance(value, int):
            values = [value ^ 1 << bit for bit in range(40)]
        else:
            raw = value.encode()
            bits = [(at, bit) for at in range(len(raw)) for bit in range(8)]
            changed = [bytes([*raw[:at], raw[at] ^ 1 << bit, *raw[at + 1 :]]) for at, bit in bits]
            values = [text.decode("utf-8", "surrogateescape") for text in changed]
        for other in [*values, None, 1.5, b"x"]:
            row = (*ROW[:column], other, *ROW[column + 1 :])
            with pytest.raises(Unsound) as caught:
                read(row, True)
            assert str(caught.value) == NOT_WRITTEN
            assert [found[2] for found in not_intact([row], {1, 2})] == [None]


@given(st.text(max_size=40), st.integers(0, 1000))
def test_text_in_a_fact_is_never_taken_for_the_mark(text: str, gap: int) -> None:
    record = wrote("note", 1.0, 7, facts={"text": text + '"sum": "', "sum": text})
    row = row_of(2000, 2000 - gap if gap else 0, 1, record, None)
    assert read(row, True).record == record and read(row, True).before == (2000 - gap if gap else 0)


def test_a_row_without_a_checksum_is_read_where_none_was_written_yet() -> None:
    old = (17, 1, "lit", 2_500_000_000, 3, 4, 5, json.dumps(dict(LIT.facts)))
    assert read(old, False) == (LIT, 17, 1, None, None)
    assert list(not_intact([old], {2})) == [] and list(not_intact([old], {1})) == [(17, 3, None)]
    with pytest.raises(Unsound, match=f"^{NOT_WRITTEN}$"):
        read(old, True)


@pytest.mark.parametrize(
    ("kind", "facts", "said"),
    [
        ("dark", "x", NOT_READABLE), ("dark", "[1]", NOT_READABLE), ("dark", "[" * 100_000, NOT_READABLE),
        ("dark", '{"lit": 1, "dark": 2, "why": "x", "gjven": 1}', "is damaged: 'given' is missing in it"),
        ("so far", '{"seconds": 1e999}', "is damaged: seconds: no number"),
    ],
)  # fmt: skip
def test_what_no_record_says_is_refused_in_words_without_a_checksum_too(kind: str, facts: str, said: str) -> None:
    with pytest.raises(Unsound) as caught:
        read((1, 1, kind, 0, 1, 1, 1, facts), False)
    assert str(caught.value) == said


def test_an_opening_has_its_own_checksum() -> None:
    row = opening_row(3, "a-boot", "2026-03-01T19:00:00+00:00", 77)
    assert opening_of(row) == ("a-boot", "2026-03-01T19:00:00+00:00", 77, True, True)
    for at, other in ((1, row[1].replace("a-boot", "b-boot")), (2, "2027-03-01T19:00:00+00:00"), (3, 78), (3, None)):
        changed = (*row[:at], other, *row[at + 1 :])
        assert (opening_of(changed).marked, opening_of(changed).sound) == (True, False)
    assert opening_of((1, "a-boot", "then", 1)) == ("a-boot", "then", 1, False, True), "as a version before wrote it"


def test_what_is_damaged_is_told_in_the_same_words_everywhere() -> None:
    assert Damage(12, 345, NOT_WRITTEN).words == "sheet 12: record 345 is damaged: it is not what was written"
    assert Damage(0, 9, "is missing").words == "of no sheet: record 9 is missing"


def test_no_kind_of_record_is_asked_for_what_it_never_has(tmp_path: Path) -> None:
    """Every record of many evenings and of the trays, as a version before this wrote it."""
    from walks.flips import write
    from walks.old_book import without_checksums

    from timerd.book.reading import Reader
    from timerd.book.store import NAME

    write(tmp_path, old=False)
    without_checksums(tmp_path / NAME)
    reader = Reader(tmp_path)
    rows = reader.rows("number > 0")
    assert len(rows) > 500 and {"batch", "temperature", "in bath", "lit", "dark"} <= {row[2] for row in rows}
    for row in rows:
        read(row, False)
    reader.close()
