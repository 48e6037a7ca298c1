"""One bit of a book flipped, anywhere: what is then served is what was written, the rest is refused in one line.

Every outcome is judged: no traceback, no line that does not name the book, and for a record's bit none that does not
name its sheet and its number; no sheet that is told, or gone on with, otherwise than it was written; and no sheet that
is out of which white light is called safe.
"""

from __future__ import annotations

import contextlib
import io
import json
import random
import shutil
import sqlite3
import traceback
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from records import wrote
from sheet.trays.evening import SIX, Evening

from timerd.book.store import NAME, Book
from timerd.cli import main
from timerd.daemon.past import found
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.engine.rows import IDLE
from timerd.sheet.facts import Filling, InBath, OutOfTheBox
from timerd.sheet.plan.value import LIGHTS
from timerd.sheet.record import Record
from timerd.sheet.session import Session
from timerd.sheet.status import status_json
from walks.book_walk import book_walk
from walks.engine_walk import BENCH, PLAN
from walks.old_book import without_checksums

NOW = 5000.0
PAGE, LEAF = 4096, 0x0D


class Cell(NamedTuple):
    """A row of `records` in the file: its number, and where its bytes lie."""

    number: int
    start: int
    end: int


class Truth(NamedTuple):
    """A whole book: its bytes, its records' cells and sheets, and what is made of it while it is whole."""

    raw: bytes
    cells: tuple[Cell, ...]
    sheet_of: dict[int, int]
    sheets: dict[int, Any]
    out: frozenset[int]
    lines: dict[int, str]


def write(home: Path, old: bool) -> Truth:
    """A book of several evenings, one of them at the trays, with notes and ratings, on the way with a sheet."""
    walk = book_walk(104, 4)
    plans = walk.plans
    half = len(walk.records) // 2
    for part in (walk.records[:half], walk.records[half:], _at_the_trays(max(plans), plans)):
        book = Book(home, "2026-03-01T19:00:00+00:00", 7)
        armed = {record.sheet: plans[record.sheet] for record in part if record.kind == "armed"}
        book.append([wrote("started", part[0].at, facts={"version": "0.1.0", "wall_s": 1.7e9}), *part], armed)
        book.close()
    if old:
        without_checksums(home / NAME)
    return _truth(home)


def _at_the_trays(before: int, plans: dict[int, Any]) -> list[Record]:
    """Two sheets in their baths and one in the developer; remarks; then a sheet that is being printed."""
    evening = Evening(SIX)
    for sheet, sent in ((1, 2000.0), (2, 2060.0), (3, 2135.0)):
        evening.send(sheet, sent)
    evening.temperature(2140.0, "developer", 22.0)
    evening.event(ev_new_batch(2141.0))
    evening.until(2150.0)
    told: list[Record] = []
    for sheet, plan in evening.plans.items():
        here = sheet + before
        plans[here] = PLAN.model_copy(update={"baths": plan.baths, "sheet": plan.sheet, "base": plan.base})
        steps = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in PLAN.steps]
        wall = "2026-03-01T19:30:00+00:00"
        told += [
            wrote("armed", 1990.0 + sheet, here, facts={"print": "A walk", "steps": steps, "wall": wall}),
            wrote("sheet out", 1993.0 + sheet, here, 1), wrote("passed", 1993.0 + sheet, here, 1),
            *(wrote("ended", 1994.0 + sheet, here, n, facts={"by": "skipped"}) for n in (2, 4, 5, 7, 8)),
            wrote("done", 1995.0 + sheet, here),
            wrote("note", 1996.0 + sheet, here, facts={"text": "the wall wants more", "wall": wall}),
            wrote("rated", 1997.0 + sheet, here, facts={"rating": 4, "wall": wall}),
        ]  # fmt: skip
    for record in evening.records:
        fact, sheet = record.fact, record.sheet + before if record.sheet else 0
        if isinstance(fact, InBath | OutOfTheBox):
            fact = replace(fact, stack=tuple(one + before for one in fact.stack))
        told.append(record._replace(fact=fact, sheet=sheet))
    last = before + 4
    plans[last] = PLAN
    burst = 100_000
    return [
        *told,
        wrote("loaded", 2200.0, facts={"print": "A walk", "sheets": 2}),
        wrote("armed", 2201.0, last, facts={"print": "A walk", "steps": steps, "wall": wall}),
        wrote("sheet out", 2202.0, last, 1), wrote("passed", 2202.0, last, 1),
        wrote("ready", 2203.0, last, 2, facts={"owed": 0.9}),
        wrote("lit", 2210.0, last, 2, burst, {"light": "flash", "lit": 2210.0, "seconds": 1.0, "most": 0.9}),
        wrote("so far", 2210.5, last, 2, burst, {"seconds": 0.5}),
        wrote("dark", 2210.7, last, 2, burst, {"lit": 2210.0, "dark": 2210.7, "given": 0.6, "why": "pedal"}),
    ]  # fmt: skip


def ev_new_batch(at: float) -> Any:
    from timerd.sheet.trays import events as tr

    return tr.NewBatch("fixer-2", Filling({"fibre": 50.0}, 1.0, 8.0, None, 5), at)


def _truth(home: Path) -> Truth:
    path = home / NAME
    raw = path.read_bytes()
    with closing(sqlite3.connect(path)) as db:
        sheet_of = dict(db.execute("SELECT number, sheet FROM records"))
    cells = tuple(cell for cell in _cells(raw) if cell.number in sheet_of)
    assert len(cells) == len(sheet_of), "a row that does not lie on one page is not looked for"
    start = _found(home)
    for record in start.first:
        start.progress.apply(record)
    sheets = {n: sheet.as_json() for n, sheet in start.progress.sheets.items()}
    assert not start.progress.damaged.words and len(start.progress.sheets_out) >= 2 and start.batch is not None
    status, _, err = run(home, "book", "export", str(home / "whole.jsonl"))
    assert (status, err) == (0, ""), err
    lines = {json.loads(line)["sheet"]: line for line in (home / "whole.jsonl").read_text().splitlines()}
    (home / "whole.jsonl").unlink()
    assert len(lines) == max(sheet_of.values())
    return Truth(raw, cells, sheet_of, sheets, frozenset(start.progress.sheets_out), lines)


def _cells(raw: bytes) -> Iterator[Cell]:
    """The cells of the leaves that rows of eight values lie on."""
    for page in range(0, len(raw), PAGE):
        start = page + (100 if page == 0 else 0)
        if raw[start] != LEAF:
            continue
        for i in range(int.from_bytes(raw[start + 3 : start + 5], "big")):
            at = start + 8 + 2 * i
            cell = page + int.from_bytes(raw[at : at + 2], "big")
            size, after = _varint(raw, cell)
            number, body = _varint(raw, after)
            header, kinds = _varint(raw, body)
            if size < PAGE - 35 and _count(raw, kinds, body + header) == 8:
                yield Cell(number, cell, body + size)


def _count(raw: bytes, at: int, end: int) -> int:
    found = 0
    while at < end:
        _, at = _varint(raw, at)
        found += 1
    return found


def _varint(raw: bytes, at: int) -> tuple[int, int]:
    value = 0
    for byte in raw[at : at + 8]:
        value, at = value << 7 | byte & 0x7F, at + 1
        if byte < 0x80:
            break
    return value, at


# -- one flip ----------------------------------------------------------------------------------------------------


class Flip(NamedTuple):
    """One bit, in the record of that number (None: anywhere in the file)."""

    at: int
    bit: int
    record: int | None


def flips(truth: Truth, seed: int, count: int) -> list[Flip]:
    """Seeded flips, half of them in a record, half anywhere in the file."""
    pick = random.Random(seed)
    found = []
    for i in range(count):
        if i % 2:
            found.append(Flip(pick.randrange(len(truth.raw)), pick.randrange(8), None))
        else:
            cell = pick.choice(truth.cells)
            found.append(Flip(pick.randrange(cell.start, cell.end), pick.randrange(8), cell.number))
    return found


class Judged(NamedTuple):
    """What came of a flip: how the start went (`served`, `served, a sheet left out`, `refused`), and all that is
    wrong with how it was told."""

    start: str
    wrong: tuple[str, ...]


def judged(home: Path, truth: Truth, flip: Flip, old: bool) -> Judged:
    """Flip one bit of the book and do all that reads it. Of an old book, which has no checksums, the words alone."""
    raw = bytearray(truth.raw)
    raw[flip.at] ^= 1 << flip.bit
    shutil.rmtree(home, ignore_errors=True)
    home.mkdir()
    path = home / NAME
    path.write_bytes(raw)
    named = flip.record is not None and _same_shape(bytes(raw), truth, flip.record)
    wrong: list[str] = []
    for argv in _commands(truth, flip, home):
        status, out, err = run(home, *argv)
        wrong += [f"{' '.join(argv)}: {words}" for words in _words_wrong(status, err, path)]
        if named and status and argv[0] != "rescue" and not old:
            wrong += _not_named(" ".join(argv), out + err, truth, flip.record or 0)
    otherwise = [] if old else _exported_otherwise(home, truth)
    if otherwise and (flip.record is not None or run(home, "book", "check")[0] == 0):
        wrong += otherwise  # of an index that leads elsewhere the check says so
    if path.read_bytes() != raw:
        wrong.append("reading changed the file")
    start, more = _start(home, truth, flip, named, old)
    return Judged(start, tuple(wrong + more))


def _same_shape(raw: bytes, truth: Truth, number: int) -> bool:
    """Whether the flip left the row where it was, under its number: else it is the file's tree that is damaged."""
    (before,) = [cell for cell in truth.cells if cell.number == number]
    try:
        return before in set(_cells(raw))
    except IndexError:
        return False


def _commands(truth: Truth, flip: Flip, home: Path) -> list[list[str]]:
    sheet = truth.sheet_of[flip.record] if flip.record is not None else 1
    one = [["sheet", str(sheet)]] if sheet else []
    return [
        ["sheets"], ["sheets", "--all"], *one, ["book", "check"],
        ["book", "export", str(home / "some.jsonl")], ["book", "rescue", "--out", str(home / "rescued")],
    ]  # fmt: skip


def run(home: Path, *argv: str) -> tuple[int, str, str]:
    """A command as a user types it: its status, and what it said; a traceback where there was one."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            status = main(["--home", str(home), *argv])
        except Exception:  # noqa: BLE001, that there is none is what is tried
            return 70, out.getvalue(), traceback.format_exc()
    return status, out.getvalue(), err.getvalue()


def _words_wrong(status: int, err: str, path: Path) -> Iterator[str]:
    if "Traceback" in err:
        yield err
    elif status not in (0, 1):
        yield f"status {status}"
    else:
        for line in err.splitlines():
            if str(path.parent) not in line or len(line.split()) < 5:
                yield f"said {line!r}"


def _not_named(what: str, said: str, truth: Truth, record: int) -> list[str]:
    sheet = truth.sheet_of[record]
    names = f"sheet {sheet}: record {record} " if sheet else f"of no sheet: record {record} "
    return [] if names in said else [f"{what}: did not name {names!r}: {said[-300:]!r}"]


def _exported_otherwise(home: Path, truth: Truth) -> list[str]:
    path = home / "some.jsonl"
    lines = path.read_text().splitlines() if path.exists() else []
    told = {one["sheet"]: _of_its_own(one) for one in map(json.loads, lines)}
    whole = {n: _of_its_own(json.loads(line)) for n, line in truth.lines.items()}
    return [f"sheet {n} was exported as it never was" for n, one in told.items() if whole.get(n) != one]


def _of_its_own(told: dict[str, Any]) -> dict[str, Any]:
    """Without what comes of records that are of no sheet: who wrote it."""
    return {key: value for key, value in told.items() if key not in ("versions", "scheduling")}


def _found(home: Path) -> Any:
    return found(home, home / "run", "another book", NOW)


def _start(home: Path, truth: Truth, flip: Flip, named: bool, old: bool) -> tuple[str, list[str]]:
    """What the daemon does when it starts, up to a new sheet being armed and written down."""
    path = home / NAME
    try:
        book = Book(home, "2026-03-02T19:00:00+00:00", 7)
    except OSError as error:
        return "refused", [f"start: {words}" for words in _words_wrong(1, str(error), path)]
    try:
        start = _found(home)
        first = [*start.first, wrote("started", NOW, facts={"wall_s": 1.8e9})]
        for record in first:
            start.progress.apply(record)
        trays = start.trays
        session = Session(
            BENCH, start.progress, start.plans, start.batch,
            at_trays=trays.at_trays, stock=trays.stock, out=trays.out, now=NOW,
        )  # fmt: skip
        json.dumps(status_json(session.status(NOW)))
        wrong = _served_otherwise(start.progress, truth, flip, named) if not old else []
        book.append(first, {})
        wrong += _goes_on(session.engine, book)
    except OSError as error:
        return "refused", [f"start: {words}" for words in _words_wrong(1, str(error), path)]
    except Exception:  # noqa: BLE001
        return "traceback", [f"start: {traceback.format_exc()}"]
    finally:
        book.close()
    return "served, something left out" if start.progress.damaged.words else "served", wrong


def _served_otherwise(progress: Any, truth: Truth, flip: Flip, named: bool) -> list[str]:
    wrong = []
    for n, sheet in progress.sheets.items():
        if n in truth.sheets and sheet.as_json() != truth.sheets[n]:
            wrong.append(f"start: sheet {n} is gone on with as it never was")
    seen = {*progress.sheets_out, *progress.damaged.out}
    if not truth.out <= seen:
        wrong.append(f"start: sheets {sorted(truth.out - seen)} are out and not counted as such")
    for words in progress.damaged.words.values():
        if named and f"record {flip.record} " not in words:
            wrong.append(f"start: {words!r} does not name record {flip.record}")
    return wrong


def _goes_on(engine: Engine, book: Book) -> list[str]:
    """The bench arms a sheet, if it stands so; the book takes it."""
    standing = engine.standing
    if standing.row != IDLE:
        return []
    actions = engine.handle(ev.Load(PLAN, 1, NOW + 1), NOW + 1) + engine.handle(ev.Told("arm", NOW + 2), NOW + 2)
    records = [action for action in actions if isinstance(action, Record)]
    book.append(records, {r.sheet: standing.plans[r.sheet] for r in records if r.kind == "armed"})
    return [] if any(record.kind == "armed" for record in records) else ["start: no sheet could be armed"]
