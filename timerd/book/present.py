"""What a start goes on from: the last sheet, those that are out, the fault if there is one, the last burst.

A sheet of which a record is not what was written is left out, and told: one bad sheet does not stop the bench. What the
book's indexes say is held against its newest records, which are read without any: a record that an index had lost would
have its dose given twice. How long all this takes does not grow with the book, but for a look along an index.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from timerd.book.rows import COLUMNS, MISSING, NOT_IN_ORDER, Damage, Unsound, Written, sheet_of
from timerd.book.store import BookError
from timerd.book.unfit import UNFIT, does_not_fit
from timerd.sheet.damaged import IN_THE_LIGHT
from timerd.sheet.facts import FaultCame
from timerd.sheet.record import Progress, Record

if TYPE_CHECKING:
    from timerd.book.reading import Reader

NEWEST = 1000
"""So many records are read without an index: those of an evening's last sheets."""
_SAFE = [fact.word for fact in IN_THE_LIGHT]
_OUT = (
    "SELECT sheet FROM records WHERE kind = 'armed' EXCEPT "
    f"SELECT sheet FROM records WHERE kind IN ({','.join(map(repr, _SAFE))}) EXCEPT "
    "SELECT sheet FROM (SELECT sheet FROM records WHERE kind = 'stop bath' EXCEPT "
    "SELECT sheet FROM records WHERE kind IN ('to trays', 'in the fixer'))"
)
"""The sheets that white light would spoil, and those in their box. A `stop bath` without named baths is an older
timerd's last word on a sheet."""
_AT_HAND = (
    "SELECT sheet FROM records WHERE number = "
    "(SELECT max(number) FROM records WHERE kind IN ('armed', 'taken up', 'owed again'))"
)
_SINCE = "SELECT coalesce(max(number), 0) FROM records WHERE kind = 'started' AND sheet = 0 AND number < ?"
_OF_NONE = (
    "number IN (SELECT max(number) FROM records WHERE kind IN ('fault', 'cleared') GROUP BY kind)"
    " OR number IN (SELECT number FROM records WHERE kind IN ('started', 'stopped') AND sheet = 0 AND number >= ?)"
)
_MOST_AHEAD = 1_000_000
"""A number that an index has, and that is so far beyond those that were read, was never given."""


def present(reader: Reader) -> Progress:
    """The fold over all that matters to go on. Its `damaged` has the sheets that were left out of it."""
    newest = _newest(reader)
    asked = (_OUT, "SELECT max(sheet) FROM records", _AT_HAND)
    needed = {row[0] for query in asked for row in reader.each(query) if type(row[0]) is int} - {0}
    found = _Found(reader)
    for sheet in sorted(needed | ({sheet_of(row) for row in newest} - {0})):
        found.of_sheet(sheet)
    found.of_none()
    for row in newest:
        found.without_an_index(row)
    return found.folded(needed)


def _newest(reader: Reader) -> list[tuple[Any, ...]]:
    """The newest records as they lie in the table."""
    where = f"number > (SELECT max(number) FROM records) - {NEWEST}"
    try:
        return list(reader.each(f"SELECT {COLUMNS} FROM records WHERE {where} ORDER BY number"))
    except BookError:  # SQLite cannot read one of them itself
        return reader.rows(where)


class _Found:
    """What was read: sound records by their numbers, and of each sheet that has one (0: of none) what is damaged."""

    def __init__(self, reader: Reader) -> None:
        self._reader = reader
        self._sound: dict[int, Record] = {}
        self._looked: set[int] = set()
        self._sheets: set[int] = set()
        self._first: int | None = None
        self._damaged: dict[int, Damage] = {}

    def of_sheet(self, sheet: int) -> None:
        """All of one sheet; of a damaged one what is sound, since that may say that it is in the stop bath."""
        rows = self._reader.rows("sheet = ?", (sheet,))
        if not any(row[4] in (sheet, None) for row in rows):
            return  # a number that only an index has
        self._sheets.add(sheet)
        self._first = min(rows[0][0], self._first or rows[0][0])
        before = 0
        for row in rows:
            written = self._take(row, sheet)
            if written is not None and written.before not in (None, before):
                self._is_damaged(Damage(sheet, written.before or 0, MISSING))
            before = row[0]
        if (last := self._reader.last_of(sheet)) != before:
            self._is_damaged(Damage(sheet, last or before, NOT_IN_ORDER))

    def of_none(self) -> None:
        """The starts and stops since the first of those sheets, and the last fault."""
        since = 0
        if self._first is not None:
            ((since,),) = self._reader.each(_SINCE, (self._first,))
        for row in self._reader.rows(_OF_NONE, (since,)):
            if row[0] in self._looked:
                continue
            sheet = sheet_of(row)
            if self._take(row, sheet) is None and row[2] == "fault":  # it was one, and is until it is cleared
                self._sound[row[0]] = Record(FaultCame(self._damaged[sheet].words), 0.0)

    def without_an_index(self, row: tuple[Any, ...]) -> None:
        """One of the newest records: it must have been found by the index too."""
        number, sheet = row[0], sheet_of(row)
        if number in self._looked:
            return
        try:
            marked = self._reader.sound(row, row[4]).before is not None
        except Unsound as error:
            self._is_damaged(Damage(sheet if sheet in self._sheets else 0, number, str(error)))
        else:
            if sheet:
                self._is_damaged(Damage(sheet if marked or sheet in self._sheets else 0, number, NOT_IN_ORDER))

    def _take(self, row: tuple[Any, ...], sheet: int) -> Written | None:
        self._looked.add(row[0])
        try:
            written = self._reader.sound(row, sheet)
        except Unsound as error:
            self._is_damaged(Damage(sheet, row[0], str(error)))
            return None
        self._sound[row[0]] = written.record
        return written

    def _is_damaged(self, damage: Damage) -> None:
        self._damaged.setdefault(damage.sheet, damage)

    def folded(self, needed: set[int]) -> Progress:
        """The fold over the sound ones."""
        progress = Progress()
        kinds: dict[int, set[str]] = {}
        for number, record in sorted(self._sound.items()):
            kinds.setdefault(record.sheet, set()).add(record.kind)
            if record.sheet in self._damaged and record.kind in ("fault", "cleared"):
                record = record._replace(sheet=0)  # that is the bench's, whatever the sheet's is
            if record.sheet in self._damaged and record.sheet:
                continue
            try:
                progress.apply(record)
            except UNFIT as error:
                self._is_damaged(Damage(record.sheet, number, does_not_fit(error)))
        over = {sheet for sheet, told in kinds.items() if told.intersection(_SAFE)}
        older = {
            n for n, told in kinds.items() if "stop bath" in told and told.isdisjoint(("to trays", "in the fixer"))
        }
        for sheet in set(progress.sheets).intersection(over | older) - needed:
            del progress.sheets[sheet]  # it was looked at for the index's sake: nothing is to be done to it any more
        for sheet, damage in self._damaged.items():
            progress.leave_out(sheet, damage.words, may_be_out=sheet not in over)
        return self._numbered(progress)

    def _numbered(self, progress: Progress) -> Progress:
        """With the highest numbers that were ever given to a sheet and to a burst."""
        bursts = max((record.burst for record in self._sound.values()), default=0)
        ((planned,),) = self._reader.each(
            "SELECT max(sheet) FROM plans WHERE sheet <= ?", (progress.last_sheet + NEWEST,)
        )
        ((burst,),) = self._reader.each("SELECT max(burst) FROM records")
        progress.last_sheet = max(progress.last_sheet, planned or 0)
        progress.last_burst = max(bursts, min(burst, bursts + _MOST_AHEAD) if type(burst) is int else 0)
        return progress
