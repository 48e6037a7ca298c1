"""What the printer adds to a sheet in the book afterwards: notes, and ratings of which the last one holds."""

from __future__ import annotations

from timerd.sheet.facts import NoteWritten, SheetRated
from timerd.sheet.record import Record
from timerd.wire.control import AddNote, AddRating

LONGEST_NOTE = 2000
RATINGS = range(1, 6)


def remark(request: AddNote | AddRating, last_sheet: int, at: float, wall: str) -> Record:
    """The record of a request. `at` is monotonic seconds, `wall` the wall clock's time in words. ValueError where there
    is no such sheet, or where it says nothing that can be written down.

    >>> remark(AddRating(3, 4), 12, 0.0, "2026-03-01T20:00:00+00:00").fact
    SheetRated(rating=4, wall='2026-03-01T20:00:00+00:00')
    """
    sheet = request.sheet
    if not 1 <= sheet <= last_sheet:
        there = f": there are 1 to {last_sheet}" if last_sheet else " yet"
        raise ValueError(f"there is no sheet{' of that number' if last_sheet else ''} in the book{there}")
    if isinstance(request, AddRating):
        if request.rating not in RATINGS:
            raise ValueError(f"a rating is from {RATINGS[0]} to {RATINGS[-1]}")
        return Record(SheetRated(request.rating, wall), at, sheet)
    text = request.text
    if not text.strip():
        raise ValueError("a note needs a text")
    if len(text) > LONGEST_NOTE:
        raise ValueError(f"a note has {LONGEST_NOTE} characters at most, this one {len(text)}")
    try:
        text.encode()
    except UnicodeEncodeError:
        raise ValueError("a note must be text, in UTF-8") from None
    return Record(NoteWritten(text.strip(), wall), at, sheet)
