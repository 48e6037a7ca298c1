"""Whether a book is whole: the file by SQLite's own check, and the records by folding every sheet anew."""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

from timerd.book.reading import Reader
from timerd.book.rows import (
    ANOTHER_PLAN,
    COLUMNS,
    MISSING,
    Damage,
    Unsound,
    Written,
    not_intact,
    not_readable,
    read_again,
    sheet_of,
    sum_of,
)
from timerd.book.store import NAME, BookError, open_to_read, why
from timerd.book.unfit import UNFIT, does_not_fit
from timerd.sheet.facts import BurstDark, BurstLit, BurstRecovered, LineLow, SheetArmed
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Progress, Record

MOST_FAULTS = 100
_NEAR = 1e-6
"""Doses worked out anew agree to this, in seconds of full light: they come of the same numbers."""


_ON_THEIR_WAY = (
    "SELECT number FROM records WHERE kind = 'so far' AND (NOT json_valid(facts)"
    f" OR coalesce(json_type(facts, '$.seconds'), '') NOT IN ('real', 'integer')) LIMIT {MOST_FAULTS}"
)
"""Lights on their way of which not even how far they were can be read: most of a book are those, and no fold of what
was ended takes anything from them. Those from before there were checksums are looked at by SQLite, all at once."""


class Checked(NamedTuple):
    """How much was looked at, and what is wrong, a line each; `faults` end at MOST_FAULTS."""

    sheets: int
    records: int
    faults: tuple[str, ...]


def check(home: Path, seen: Callable[[int], None] = lambda sheet: None) -> Checked:
    """Check the book of a home; it may be written meanwhile. `seen` is told the number of each sheet that was folded.

    The file is checked in a thread beside the folds. Raises BookError where the book cannot be opened at all.
    """
    reader = Reader(home)
    found: list[str] = []
    thread = threading.Thread(target=lambda: found.extend(_file(home / NAME)))
    thread.start()
    faults: list[str] = []
    sheets = records = 0
    try:
        with reader.still():
            ((records, last),) = reader.each("SELECT count(*), coalesce(max(number), 0) FROM records")
            faults += [*_missing("record", records, last), *_numbers(reader), *_openings(reader)]
            bad = damaged(reader)
            faults += [damage.words for damage in bad.values()]
            for sheet, rows in groupby(_ended(reader), key=sheet_of):
                sheets += sheet > 0
                if sheet and sheet not in bad:
                    faults += [f"sheet {sheet}: {fault}" for fault in _sheet(reader, sheet, rows)]
                seen(sheet)
                if len(faults) > MOST_FAULTS:
                    break
    except BookError as error:
        faults.append(str(error))
    finally:
        thread.join()
        reader.close()
    return Checked(sheets, records, tuple((found + faults)[:MOST_FAULTS]))


def _file(path: Path) -> list[str]:
    """What SQLite itself finds wrong with the file."""
    try:
        db = open_to_read(path)
        if db is None:
            return []
        with contextlib.closing(db):
            said = [row[0] for row in db.execute(f"PRAGMA integrity_check({MOST_FAULTS})")]
    except BookError as error:
        return [str(error)]
    except sqlite3.Error as error:
        return [f"{path}: {why(error)}"]
    return [] if said == ["ok"] else [f"{path}: {line}" for text in said for line in text.splitlines()]


def damaged(reader: Reader) -> dict[int, Damage]:
    """Each sheet (0: none) of which a record is not what was written, or is missing, with the first such record. The
    rows are read as they lie: no index is asked."""
    found: dict[int, Damage] = {}
    openings = {boot for (boot,) in reader.each("SELECT boot FROM boots")}
    marked = {boot for boot in openings if reader.opening(boot).marked}
    try:
        rows = reader.each(f"SELECT {COLUMNS} FROM records ORDER BY number")
        for number, sheet, before in not_intact(rows, marked):
            if before is None:
                _look(reader, number, 0, found)
            else:
                found.setdefault(sheet, Damage(sheet, before, MISSING))
        for (number,) in reader.each(_ON_THEIR_WAY) if openings > marked else ():
            _look(reader, number, 0, found)
    except BookError:  # SQLite itself cannot read one of them: each by itself, then, with the sheet that an index has
        for number, sheet in list(reader.each("SELECT number, sheet FROM records")):
            _look(reader, number, sheet, found)
    return found


def _look(reader: Reader, number: int, by_an_index: int, found: dict[int, Damage]) -> None:
    """One record by itself; what is wrong with it is put to the rest."""
    row = reader.row(number)
    sheet = sheet_of(row) or by_an_index
    try:
        reader.sound(row, sheet)
    except Unsound as error:
        found.setdefault(sheet, Damage(sheet, number, str(error)))


def _ended(reader: Reader) -> Iterator[tuple[Any, ...]]:
    """All rows but those of lights on their way, sheet by sheet. Where SQLite itself cannot read one, its sheet is
    damaged, and it is as good as not there."""
    numbers = "SELECT number FROM records WHERE kind <> 'so far' ORDER BY sheet, number"
    last = None
    try:
        for row in reader.each(f"SELECT {COLUMNS} FROM records WHERE kind <> 'so far' ORDER BY sheet, number"):
            last = row[0]
            yield row
    except BookError:
        rest = [number for (number,) in list(reader.each(numbers))]
        for number in rest[rest.index(last) + 1 if last in rest else 0 :]:
            yield reader.row(number)


def _openings(reader: Reader) -> Iterator[str]:
    """Openings of the book that were written otherwise, or are not there though something was written in them."""
    for (boot,) in reader.each("SELECT boot FROM boots"):
        if not reader.opening(boot).sound:
            yield f"opening {boot} of the book is damaged: its checksum is another; no time is taken from it"
    for number, boot in reader.each(
        "SELECT min(number), boot FROM records WHERE boot NOT IN (SELECT boot FROM boots) GROUP BY boot"
    ):
        yield f"record {number} was written at an opening of the book that is not in it ({boot})"


def _numbers(reader: Reader) -> Iterator[str]:
    """Sheets, like records, are numbered without a gap: a number that is missing was lost."""
    numbered = "FROM records WHERE typeof(sheet) = 'integer' AND sheet > 0"
    ((count, last),) = reader.each(f"SELECT count(DISTINCT sheet), coalesce(max(sheet), 0) {numbered}")
    yield from _missing("sheet", count, last)


def _missing(what: str, count: int, last: int) -> Iterator[str]:
    if count != last:
        yield f"{last - count} {what}{'s are' if last - count != 1 else ' is'} missing of {last}"


def _sheet(reader: Reader, sheet: int, rows: Iterable[tuple[Any, ...]]) -> Iterator[str]:
    """What is wrong with one sheet, every record of which is what was written, or has no checksum."""
    written = []
    for row in rows:
        try:
            written.append(read_again(row))
        except Unsound as error:
            yield f"record {row[0]} {error}"
            return
    plans = list(reader.each("SELECT plan FROM plans WHERE sheet = ?", (sheet,)))
    if not plans:
        yield "has no plan"
        return
    if written[0].plan not in (None, sum_of(str(plans[0][0]))):
        yield f"record {written[0].number} {ANOTHER_PLAN}"
        return
    try:
        plan = _plan(plans[0][0])
    except ValueError:
        yield f"record {written[0].number} is damaged: {not_readable(sheet)}"
        return
    try:
        yield from _fold(sheet, written, plan)
    except UNFIT as error:
        yield f"its records do not fit together: {type(error).__name__}: {str(error).partition(chr(10))[0]}"


@lru_cache(maxsize=16)
def _plan(text: str) -> Plan:
    """The sheets of an edition have one plan, mostly: it is read once."""
    return Plan.model_validate_json(text)


def _fold(sheet: int, written: Sequence[Written], plan: Plan) -> Iterator[str]:
    """The fold of a sheet, against its plan and against every burst worked out anew."""
    records = [one.record for one in written]
    armed = records[0].fact
    if [record.kind for record in records].count("armed") != 1 or not isinstance(armed, SheetArmed):
        yield "was not armed once, and first"
        return
    if armed.steps != plan.as_armed:
        yield "was armed with other steps than its plan has"
    whole = Progress()
    for record, number, *_ in written:
        try:
            whole.apply(record)
        except UNFIT as error:
            yield f"record {number} {does_not_fit(error)}"
            return
    progress = whole.sheets[sheet]
    sums = dict.fromkeys(progress.steps, 0.0)
    lit: dict[int, Record] = {}
    for record in records:
        match record.fact:
            case BurstLit():
                lit[record.burst] = record
            case BurstDark() | BurstRecovered() as burst:
                yield from _burst(record, burst, lit.get(record.burst), plan)
                sums[record.step] += burst.given
            case LineLow(more):
                sums[record.step] += more
    for n, given in sums.items():
        if abs(progress.steps[n].given - given) > _NEAR:
            yield f"step {n} was given {progress.steps[n].given:.6f} s by the fold, {given:.6f} s by its bursts"


def _burst(record: Record, burst: BurstDark | BurstRecovered, lit: Record | None, plan: Plan) -> Iterator[str]:
    """One burst's end: it was lit, and its dose is that of its length in the step's light."""
    if isinstance(burst, BurstDark) and (lit is None or lit.step != record.step):
        yield f"burst {record.burst} went dark at step {record.step} and was not lit there"
    least, given = burst.least, burst.given
    if least > given + _NEAR or least < -_NEAR:
        yield f"burst {record.burst} gave between {least:.6f} and {given:.6f} s: that cannot be"
    if burst.lit is not None and burst.dark is not None:
        dose = plan.steps[record.step - 1].response.dose(max(0.0, burst.dark - burst.lit))
        if abs(dose - given) > _NEAR:
            yield f"burst {record.burst} is written down with {given:.6f} s, its length gives {dose:.6f} s"
