"""A record as a row of the book, with the checksum that shows whether it still says what was written. Pure.

The mark is the last of a row's facts, `"sum": "1a2b3c4d 3"`: the checksum over all of the row, and how many numbers
before it the record before it of the same sheet lies (0 where there is none), so that one that is missing shows too.
The record that arms a sheet has its plan's checksum as well. An opening of the book has its own after the boot's name.
Books that were begun before there were marks are read as ever: a record must have one if its opening has.
"""

from __future__ import annotations

import json
from collections.abc import Container, Iterable, Iterator
from typing import Any, NamedTuple
from zlib import crc32

from timerd.sheet.record import Record
from timerd.wire.codec import Malformed

COLUMNS = "number, boot, kind, at_ns, sheet, step, burst, facts"
"""What `read` takes, in this order."""
_MARK = '"sum": "'
_KINDS = (int, int, str, int, int, int, int, str)
_KEY = 9
"""So long is a checksum, with the space after it."""


NOT_WRITTEN = "is damaged: it is not what was written"
"""What is wrong with a record whose checksum is another, or gone."""
NOT_READABLE = "is damaged: it cannot be read"
MISSING = "is missing"
NOT_IN_ORDER = "is damaged: the book's index does not have it in its place"
ANOTHER_PLAN = "is damaged: its plan is not what was written"


def not_readable(sheet: int) -> str:
    """What is said of a plan that is none, or a later version's."""
    return f"the plan of sheet {sheet} is not one that this version can read"


class Unsound(ValueError):
    """A row that does not say what was written; the words say why."""


class Damage(NamedTuple):
    """One record of a book that is not what was written: of which sheet (0: of none), which, and what is wrong."""

    sheet: int
    record: int
    what: str

    @property
    def words(self) -> str:
        """It, in the same words everywhere.

        >>> print(Damage(12, 345, "is missing").words)
        sheet 12: record 345 is missing
        """
        of = f"sheet {self.sheet}: " if self.sheet else "of no sheet: "
        return f"{of}record {self.record} {self.what}"


class Written(NamedTuple):
    """A row read. `before` is the number of the record before it of its sheet, 0 where there is none, None where no
    mark says it; `plan` the checksum of the plan of the sheet that it arms."""

    record: Record
    number: int
    boot: int
    before: int | None
    plan: str | None


def sheet_of(row: tuple[Any, ...]) -> int:
    """The sheet that a row is of; 0 where that cannot be read."""
    return row[4] if type(row[4]) is int and row[4] > 0 else 0


def row_of(number: int, before: int, boot: int, record: Record, plan: str | None) -> tuple[Any, ...]:
    """A record as the values of COLUMNS; `plan` is the text of the plan of the sheet that it arms."""
    kind, sheet, step, burst = record.kind, record.sheet, record.step, record.burst
    at_ns, body = round(record.at * 1e9), json.dumps(record.facts)
    after = str(number - before if before else 0) + ("" if plan is None else f" {sum_of(plan)}")
    found = sum_of(f"{number} {boot} {kind} {at_ns} {sheet} {step} {burst} {after} {body}")
    comma = ", " if len(body) > 2 else ""
    return number, boot, kind, at_ns, sheet, step, burst, f'{body[:-1]}{comma}{_MARK}{found} {after}"}}'


def read(row: tuple[Any, ...], must: bool) -> Written:
    """The record in a row; Unsound where it is not what was written. `must` is set where it has to have a mark."""
    number, boot, kind, at_ns, sheet, step, burst, facts = row
    if tuple(map(type, row)) != _KINDS:
        raise Unsound(NOT_WRITTEN if must else NOT_READABLE)
    head, mark, tail = facts.rpartition(_MARK)
    if not mark:
        if must:
            raise Unsound(NOT_WRITTEN)
        return Written(_record(row, facts), number, boot, None, None)
    body, after = f"{head.removesuffix(', ')}}}", tail[_KEY:-2]
    found = sum_of(f"{number} {boot} {kind} {at_ns} {sheet} {step} {burst} {after} {body}")
    if tail != f'{found} {after}"}}':
        raise Unsound(NOT_WRITTEN)
    _, _, plan = after.partition(" ")
    return Written(_record(row, body), number, boot, _before(number, after), plan or None)


def not_intact(rows: Iterable[tuple[Any, ...]], marked: Container[object]) -> Iterator[tuple[int, int, int | None]]:
    """Of rows, in the order of their numbers, those that need a look: number, sheet, and None where the checksum is not
    right; else the number of the record before it of its sheet, which is not among them. `marked` are the openings
    whose records have checksums; a row without one of another is passed over. Nothing is understood: it is for many."""
    lasts: dict[int, int] = {}
    for number, boot, kind, at_ns, sheet, step, burst, facts in rows:
        before: int | None = None
        try:
            head, mark, tail = facts.rpartition(_MARK)
            after = tail[_KEY:-2]
            if head[-2:] == ", ":
                head = head[:-2]
            text = f"{number} {boot} {kind} {at_ns} {sheet} {step} {burst} {after} {head}}}"
            found = crc32(text.encode("utf-8", "surrogateescape"))
            if mark and type(kind) is str and tail == f'{found:08x} {after}"}}':
                before = _before(number, after)
        except (AttributeError, TypeError, ValueError):
            mark = "?"
        if before is None:
            if mark or boot in marked:
                yield number, sheet, None
        elif before != lasts.get(sheet, 0):
            yield number, sheet, before
        lasts[sheet] = number


def read_again(row: tuple[Any, ...]) -> Written:
    """The same as `read`, of a row that was found intact before: its checksum is not worked out again."""
    number, boot, *_, facts = row
    head, mark, tail = facts.rpartition(_MARK)
    if not mark:
        return read(row, False)
    _, _, plan = tail[_KEY:-2].partition(" ")
    return Written(
        _record(row, f"{head.removesuffix(', ')}}}"), number, boot, _before(number, tail[_KEY:-2]), plan or None
    )


def _record(row: tuple[Any, ...], text: str) -> Record:
    """The record of a row that says this."""
    try:
        facts = json.loads(text)
    except (ValueError, RecursionError):
        facts = None
    if not isinstance(facts, dict):
        raise Unsound(NOT_READABLE)
    _, _, kind, at_ns, sheet, step, burst, _ = row
    try:
        return Record.read(kind, at_ns / 1e9, sheet, step, burst, facts)
    except Malformed as error:
        raise Unsound(f"is damaged: {error}") from None


def _before(number: int, after: str) -> int:
    gap = int(after.partition(" ")[0])
    return number - gap if gap else 0


def sum_of(text: str) -> str:
    """The checksum of a text (CRC-32: every change of up to 32 bits in a row is seen)."""
    return f"{crc32(text.encode('utf-8', 'surrogateescape')):08x}"


# -- openings ----------------------------------------------------------------------------------------------------


class Opening(NamedTuple):
    """An opening of the book: in which boot, and the two clocks side by side. `marked` where what was written then has
    checksums; `sound` is not set where it says something else than was written: then its clocks are not to be used."""

    boot_id: str
    wall: str
    at_ns: int
    marked: bool
    sound: bool


def opening_row(boot: int, boot_id: str, wall: str, at_ns: int) -> tuple[Any, ...]:
    """An opening as the values of its row."""
    return boot, f"{boot_id} {sum_of(f'{boot} {boot_id} {wall} {at_ns}')}", wall, at_ns


def opening_of(row: tuple[Any, ...]) -> Opening:
    """An opening from its row: number, boot, wall clock, monotonic one."""
    boot, named, wall, at_ns = row
    if (type(named), type(wall), type(at_ns)) != (str, str, int):
        return Opening("", "", 0, True, False)
    boot_id, mark, found = named.rpartition(" ")
    if not mark:
        return Opening(named, wall, at_ns, False, True)
    return Opening(boot_id, wall, at_ns, True, found == sum_of(f"{boot} {boot_id} {wall} {at_ns}"))
