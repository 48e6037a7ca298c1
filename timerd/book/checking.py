"""Whether a book is whole: the file by SQLite's own check, and the records by folding every sheet anew."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import threading
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

from timerd.book.reading import Reader
from timerd.book.store import NAME, BookError, open_to_read, record_of, why
from timerd.sheet.plan.value import LIGHTS, Plan
from timerd.sheet.record import Progress, Record

MOST_FAULTS = 100
_NEAR = 1e-6
"""Doses worked out anew agree to this, in seconds of full light: they come of the same numbers."""


_ROWS = (
    "SELECT kind, at_ns, sheet, step, burst, facts, boot, number FROM records WHERE kind <> 'so far' "
    "ORDER BY sheet, number"
)
_ON_THEIR_WAY = (
    "SELECT number FROM records WHERE kind = 'so far' "
    f"AND (NOT json_valid(facts) OR boot NOT IN (SELECT boot FROM boots)) LIMIT {MOST_FAULTS}"
)
"""Most of a book are the lights on their way. No fold of what was ended takes anything from them: SQLite looks whether
they can be read, all at once."""


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
            faults += [*_missing("record", records, last), *_numbers(reader)]
            boots = {boot for (boot,) in reader.each("SELECT boot FROM boots")}
            rows = reader.each(_ROWS)
            for sheet, of_sheet in groupby(rows, key=lambda row: row[2]):
                told = list(of_sheet)
                sheets += sheet > 0
                faults += [
                    f"sheet {sheet}: {fault}" if sheet else fault for fault in _sheet(reader, sheet, told, boots)
                ]
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
    """What SQLite itself finds wrong with the file, and with the lights on their way."""
    try:
        db = open_to_read(path)
        if db is None:
            return []
        with contextlib.closing(db):
            said = [row[0] for row in db.execute(f"PRAGMA integrity_check({MOST_FAULTS})")]
            unread = [f"record {number} cannot be read" for (number,) in db.execute(_ON_THEIR_WAY)]
    except BookError as error:
        return [str(error)]
    except sqlite3.Error as error:
        return [f"{path}: {why(error)}"]
    return unread + ([] if said == ["ok"] else [f"{path}: {line}" for text in said for line in text.splitlines()])


def _numbers(reader: Reader) -> Iterator[str]:
    """Sheets, like records, are numbered without a gap: a number that is missing was lost."""
    sheets = "SELECT count(DISTINCT sheet), coalesce(max(sheet), 0) FROM records WHERE sheet > 0"
    ((count, last),) = reader.each(sheets)
    yield from _missing("sheet", count, last)


def _missing(what: str, count: int, last: int) -> Iterator[str]:
    if count != last:
        yield f"{last - count} {what}{'s are' if last - count != 1 else ' is'} missing of {last}"


def _sheet(reader: Reader, sheet: int, rows: Sequence[Any], boots: set[int]) -> Iterator[str]:
    """What is wrong with one sheet's records; with those of no sheet where it is 0."""
    records = []
    for row in rows:
        if row[6] not in boots:
            yield f"record {row[7]} was written at an opening of the book that is not in it"
        try:
            records.append(record_of(row[:6]))
        except ValueError:
            yield f"record {row[7]} cannot be read"
            return
    if not sheet:
        return
    try:
        plans = list(reader.each("SELECT plan FROM plans WHERE sheet = ?", (sheet,)))
        if not plans:
            yield "has no plan"
            return
        plan = _plan(plans[0][0])
        yield from _fold(sheet, records, plan)
    except (KeyError, IndexError, TypeError, ValueError) as error:
        yield f"its records do not fit together: {type(error).__name__}: {str(error).partition(chr(10))[0]}"


@lru_cache(maxsize=16)
def _plan(text: str) -> Plan:
    """The sheets of an edition have one plan, mostly: it is read once."""
    return Plan.model_validate_json(text)


def _fold(sheet: int, records: Sequence[Record], plan: Plan) -> Iterator[str]:
    """The fold of a sheet, against its plan and against every burst worked out anew."""
    if [record.kind for record in records].count("armed") != 1 or records[0].kind != "armed":
        yield "was not armed once, and first"
        return
    steps = [[s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS] for s in plan.steps]
    if json.loads(json.dumps(records[0].facts["steps"])) != steps:
        yield "was armed with other steps than its plan has"
    progress = Progress(records).sheets[sheet]
    sums = dict.fromkeys(progress.steps, 0.0)
    lit: dict[int, Record] = {}
    for record in records:
        if record.kind == "lit":
            lit[record.burst] = record
        elif record.kind in ("dark", "recovered"):
            yield from _burst(record, lit.get(record.burst), plan)
            sums[record.step] += record.facts["given"]
        elif record.kind == "line low":
            sums[record.step] += record.facts["more"]
    for n, given in sums.items():
        if abs(progress.steps[n].given - given) > _NEAR:
            yield f"step {n} was given {progress.steps[n].given:.6f} s by the fold, {given:.6f} s by its bursts"


def _burst(record: Record, lit: Record | None, plan: Plan) -> Iterator[str]:
    """One burst's end: it was lit, and its dose is that of its length in the step's light."""
    facts = record.facts
    if record.kind == "dark" and (lit is None or lit.step != record.step):
        yield f"burst {record.burst} went dark at step {record.step} and was not lit there"
    least = facts.get("given_lo", facts["given"])
    if least > facts["given"] + _NEAR or least < -_NEAR:
        yield f"burst {record.burst} gave between {least:.6f} and {facts['given']:.6f} s: that cannot be"
    if facts["lit"] is not None:
        dose = plan.steps[record.step - 1].response.dose(max(0.0, facts["dark"] - facts["lit"]))
        if abs(dose - facts["given"]) > _NEAR:
            yield f"burst {record.burst} is written down with {facts['given']:.6f} s, its length gives {dose:.6f} s"
