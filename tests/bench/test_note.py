"""The keeper's note: whatever moment its writer died in, a reader finds the last one whole, or the one before it."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from timerd.bench.keeper import FAULTS
from timerd.bench.note import Note, Noted, read_note

BOOK, BOOT = "5b0d6c0f1f2e4c7a9d3e8b7a6c5d4e3f", "0b7e4a52-6f0d-4c1b-9f63-2d1c5a8e7f90"
SLOT = 512
TIME = st.floats(0, 1e9, allow_nan=False)
WHY = st.sampled_from([None, "deadline", "pedal", "lease", "asked", "pipe closed", "last off", *sorted(FAULTS)])
NOTED = st.builds(
    Noted,
    st.just(BOOK),
    st.just(BOOT),
    st.integers(1, 2**53),
    TIME,
    st.none() | TIME,
    st.none() | TIME,
    WHY,
    st.none() | TIME,
)


def noted(burst: int, dark: float | None = None) -> Noted:
    return Noted(BOOK, BOOT, burst, 100.0 + burst, 100.1 + burst, dark, None if dark is None else "deadline")


def raw(folder: Path) -> bytes:
    return (folder / "note").read_bytes()


def test_nothing_was_noted_yet(tmp_path: Path) -> None:
    assert read_note(tmp_path) is None
    note = Note(tmp_path)
    assert read_note(tmp_path) is None
    assert len(raw(tmp_path)) == 2 * SLOT + 24
    note.write(noted(1))
    assert read_note(tmp_path) == noted(1)
    assert Note(tmp_path) is not None and read_note(tmp_path) == noted(1), "opening it changes nothing"


@settings(max_examples=30, deadline=None)
@given(st.lists(NOTED, min_size=1, max_size=6))
def test_the_last_one_is_read_to_the_last_bit(tmp_path_factory: pytest.TempPathFactory, put: list[Noted]) -> None:
    folder = tmp_path_factory.mktemp("note")
    for one in put:
        Note(folder).write(one)  # each by a process of its own, as the last off does
        assert read_note(folder) == one
        assert repr(read_note(folder)) == repr(one)
    note = Note(folder)
    for one in put:
        note.write(one)
        assert read_note(folder) == one


def torn(before: bytes, after: bytes) -> list[bytes]:
    """Every state in which the file can be found while `after` is being written over `before`."""
    changed = [i for i in (0, 1) if before[i * SLOT : (i + 1) * SLOT] != after[i * SLOT : (i + 1) * SLOT]]
    (slot,) = changed
    begin = slot * SLOT
    return [before[:begin] + after[begin : begin + k] + before[begin + k :] for k in range(SLOT + 1)]


@pytest.mark.parametrize("turn", [1, 4])
def test_a_write_torn_at_any_byte_leaves_the_note_before_it(tmp_path: Path, turn: int) -> None:
    """From the front, as a copy goes; and from the back, which no copy promises not to do."""
    note = Note(tmp_path)
    for n in range(1, turn):
        note.write(noted(n))
    before, last = raw(tmp_path), read_note(tmp_path)
    new = noted(turn, dark=250.25)
    note.write(new)
    after = raw(tmp_path)
    found = set()
    for state in torn(before, after) + torn(after, before):
        (tmp_path / "note").write_bytes(state)
        got = read_note(tmp_path)
        assert got == (new if state == after else last)
        found.add(got)
    assert found == {last, new}


@settings(max_examples=25, deadline=None)
@given(NOTED, NOTED, NOTED, st.data())
def test_any_two_notes_mixed_anyhow_are_never_a_third(
    tmp_path_factory: pytest.TempPathFactory, first: Noted, second: Noted, third: Noted, data: st.DataObject
) -> None:
    folder = tmp_path_factory.mktemp("note")
    note = Note(folder)
    note.write(first)
    note.write(second)
    before = raw(folder)
    note.write(third)
    after = raw(folder)
    for _ in range(10):
        bits = data.draw(st.integers(0, 2 ** (2 * SLOT // 8) - 1))
        mixed = b"".join((before, after)[bits >> i & 1][8 * i : 8 * i + 8] for i in range(2 * SLOT // 8))
        (folder / "note").write_bytes(mixed)
        assert read_note(folder) in (second, third)


def test_after_a_torn_write_the_next_one_goes_on(tmp_path: Path) -> None:
    """A new keeper on a note that the last one died in: its own are found, and the torn slot is written over."""
    note = Note(tmp_path)
    for n in (1, 2, 3):
        note.write(noted(n))
    state = bytearray(raw(tmp_path))
    state[SLOT + 20 : SLOT + 60] = bytes(40)  # turn 3 stands in the second slot
    (tmp_path / "note").write_bytes(state)
    assert read_note(tmp_path) == noted(2)
    again = Note(tmp_path)
    again.write(noted(4))
    assert read_note(tmp_path) == noted(4)
    again.write(noted(5))
    assert read_note(tmp_path) == noted(5)


@pytest.mark.parametrize("size", [0, 1, 511, 512, 1023, 1025, 5000])
def test_a_file_of_another_size_is_made_one(tmp_path: Path, size: int) -> None:
    (tmp_path / "note").write_bytes(b"\xff" * size)
    assert read_note(tmp_path) is None
    note = Note(tmp_path)
    assert read_note(tmp_path) is None and len(raw(tmp_path)) == 2 * SLOT + 24
    note.write(noted(7))
    assert read_note(tmp_path) == noted(7)


def test_a_folder_in_its_place_or_no_folder_is_nothing_noted(tmp_path: Path) -> None:
    (tmp_path / "note").mkdir()
    assert read_note(tmp_path) is None
    assert read_note(tmp_path / "nowhere") is None


def test_the_longest_note_there_is_fits(tmp_path: Path) -> None:
    longest = Noted(BOOK, BOOT, 2**53, -1 / 3 * 1e9, -1 / 3 * 1e9, -1 / 3 * 1e9, max(FAULTS, key=len))
    note = Note(tmp_path)
    for _ in range(3):
        note.write(longest)
    assert read_note(tmp_path) == longest
    assert raw(tmp_path).rstrip(b"\0") != raw(tmp_path), "with room to spare"
