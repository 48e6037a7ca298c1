"""One damaged record does not stop the bench: its sheet is told, not offered and never lit again; all else goes on."""

from __future__ import annotations

from pathlib import Path

import pytest
from records import wrote
from served import Served
from served.asking import ask
from served.killing import PAPER
from walks.engine_walk import BENCH, PLAN
from walks.old_book import changeable, without_checksums

from timerd.book.reading import Reader
from timerd.book.store import NAME, Book
from timerd.control import ControlError
from timerd.daemon.past import Found, found
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.engine.rows import FAULT, IDLE, UNFINISHED
from timerd.sheet.plan.value import LIGHTS
from timerd.sheet.record import Record
from timerd.sheet.refusal import NothingToTakeUp, NotSafe, SheetNotOffered, refusal_of

STEPS = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in PLAN.steps]
FLASHED = {"lit": 10.0, "dark": 10.6, "given": 0.5, "why": "pedal"}
TOLD = [
    wrote("started", 1.0, facts={"wall_s": 1000.0}),
    wrote("armed", 2.0, 1, facts={"print": "A walk", "steps": STEPS}),
    wrote("sheet out", 3.0, 1, 1), wrote("passed", 3.0, 1, 1), wrote("done", 4.0, 1), wrote("stop bath", 5.0, 1),
    wrote("armed", 6.0, 2, facts={"print": "A walk", "steps": STEPS}),
    wrote("sheet out", 7.0, 2, 1), wrote("passed", 7.0, 2, 1), wrote("ready", 8.0, 2, 2, facts={"owed": 0.9}),
    wrote("lit", 10.0, 2, 2, 1, {"light": "flash", "lit": 10.0, "seconds": 1.0, "most": 0.9}),
    wrote("so far", 10.5, 2, 2, 1, {"seconds": 0.5}), wrote("dark", 10.6, 2, 2, 1, FLASHED),
]  # fmt: skip
"""A sheet that is done, and one that is under way; records are numbered from 1."""
NUMBERS = {kind: number for number, kind in enumerate((record.kind for record in TOLD), 1) if number > 6}


def written(home: Path, records: list[Record] = TOLD) -> Path:
    book = Book(home, "2026-03-01T19:00:00+00:00", 1)
    book.append(records, {1: PLAN, 2: PLAN})
    book.close()
    return book.path


def start(home: Path) -> tuple[Found, Engine]:
    told = found(home, home / "run", "another", 100.0)
    for record in told.first:
        told.progress.apply(record)
    return told, Engine(BENCH, told.progress, told.plans, told.batch)


def damage(path: Path, number: int, was: str, now: str) -> None:
    with changeable(path) as db:
        changed = db.execute("UPDATE records SET facts = replace(facts, ?, ?) WHERE number = ?", (was, now, number))
        assert changed.rowcount == 1


@pytest.mark.parametrize("kind", NUMBERS)
def test_a_sheet_with_a_damaged_record_is_told_and_not_offered(tmp_path: Path, kind: str) -> None:
    """Whichever record it is, and though the sheet before it is whole: nothing is offered by guess."""
    path = written(tmp_path)
    assert start(tmp_path)[1].standing.row == UNFINISHED
    damage(path, NUMBERS[kind], '"sum": "', '"sum": "0')
    _, engine = start(tmp_path)
    standing = engine.standing
    words = f"sheet 2: record {NUMBERS[kind]} is damaged: it is not what was written"
    assert (standing.row, standing.offer, standing.progress.damaged.words) == (IDLE, None, {2: words})
    assert 2 not in standing.progress.sheets and 2 not in standing.plans
    assert standing.white_light_spoils == NotSafe(2, None)


def test_the_bench_goes_on_beside_it_and_the_printer_says_when_it_is_no_longer_out(tmp_path: Path) -> None:
    path = written(tmp_path)
    damage(path, NUMBERS["dark"], "0.5", "0.4")
    _, engine = start(tmp_path)
    standing = engine.standing

    def told(what: str, n: int | None = None) -> list[Record]:
        return [action for action in engine.handle(ev.Told(what, 101.0, n), 101.0) if isinstance(action, Record)]

    assert refusal_of(told("take up", 2)[0].facts) == NothingToTakeUp(2)
    assert refusal_of(told("give up", 1)[0].facts) == SheetNotOffered(1)
    assert (standing.white_light_spoils is None) is False
    given_up = told("give up", 2)
    assert given_up == [wrote("given up", 101.0, 2)] and standing.white_light_spoils is None
    engine.handle(ev.Load(PLAN, 1, 102.0), 102.0)
    armed = told("arm")
    assert [(record.kind, record.sheet) for record in armed] == [("armed", 3)], "its number is not given again"
    book = Book(tmp_path, "2026-03-02T19:00:00+00:00", 1)
    book.append([*given_up, *armed], {3: PLAN})
    book.close()
    again = start(tmp_path)[1].standing
    assert again.offer is not None and again.offer.sheet == 3
    assert set(again.progress.damaged.words) == {2} and not again.progress.damaged.out, "told, but not as out"
    assert again.white_light_spoils == NotSafe(3, "is armed")


@pytest.mark.parametrize("how", ["kind", "sheet", "a plan", "gone", "an index"])
def test_damage_of_every_kind_leaves_its_sheet_out(tmp_path: Path, how: str) -> None:
    path = written(tmp_path)
    number, what = NUMBERS["dark"], "is damaged: it is not what was written"
    with changeable(path) as db:
        if how == "kind":
            db.execute("UPDATE records SET kind = 'darl' WHERE number = ?", (number,))
        elif how == "sheet":
            db.execute("UPDATE records SET sheet = 1 WHERE number = ?", (number,))
        elif how == "a plan":
            number, what = NUMBERS["armed"], "is damaged: its plan is not what was written"
            db.execute("""UPDATE plans SET plan = replace(plan, '"dose":0.9', '"dose":0.8') WHERE sheet = 2""")
        elif how == "gone":
            number, what = NUMBERS["lit"], "is missing"
            db.execute("DELETE FROM records WHERE number = ?", (number,))
    if how == "an index":
        what = "is damaged: the book's index does not have it in its place"
        lose_the_last_entry(path, number)
    standing = start(tmp_path)[1].standing
    words = standing.progress.damaged.words
    assert f"record {number} {what}" in " ".join(words.values())
    assert standing.offer is None and 2 not in standing.progress.sheets if how != "sheet" else True
    assert (standing.white_light_spoils is None) is False


def lose_the_last_entry(path: Path, number: int) -> None:
    """The index by sheets says of the last record that it is another sheet's, as a flipped bit makes it."""
    raw = bytearray(path.read_bytes())
    entry = bytes([4, 1, 1, 1, 2, number, number])  # three whole numbers of a byte: sheet 2, its record, the row
    assert raw.count(entry) == 1
    raw[raw.index(entry) + 4] ^= 0x40
    path.write_bytes(raw)


def test_a_damaged_fault_is_a_fault_until_it_is_cleared(tmp_path: Path) -> None:
    path = written(tmp_path, [*TOLD, wrote("fault", 11.0, 0, facts={"why": "line not low"})])
    damage(path, len(TOLD) + 1, "line not low", "line not lo7")
    standing = start(tmp_path)[1].standing
    assert standing.row == FAULT and standing.reason == (
        f"of no sheet: record {len(TOLD) + 1} is damaged: it is not what was written"
    )
    book = Book(tmp_path, "2026-03-02T19:00:00+00:00", 1)
    book.append([wrote("cleared", 12.0)], {})
    book.close()
    assert start(tmp_path)[1].standing.progress.fault is None


def test_records_of_an_old_book_that_do_not_fit_leave_their_sheet_out_too(tmp_path: Path) -> None:
    path = written(tmp_path)
    without_checksums(path)
    assert start(tmp_path)[1].standing.row == UNFINISHED
    damage(path, NUMBERS["dark"], '"given"', '"gjven"')
    standing = start(tmp_path)[1].standing
    words = f"sheet 2: record {NUMBERS['dark']} is damaged: 'given' is missing in it"
    assert (standing.row, standing.progress.damaged.words) == (IDLE, {2: words})


def test_a_real_bench_serves_beside_a_damaged_sheet_and_says_so_everywhere(served: Served) -> None:
    served.start()
    served.load(PAPER_PRINT, PAPER)
    served.arm()
    served.tap("go")
    served.until(lambda s: s["state"] == "ready" and s["step"] == 3)
    served.stop()
    path = served.home / NAME
    reader = Reader(served.home)
    number = next(one.number for one in reader.written(1) if one.record.kind == "dark")
    reader.close()
    damage(path, number, '"given": 0', '"given": 1')
    words = f"sheet 1: record {number} is damaged: it is not what was written"

    served.start()
    status = served.status()
    assert (status["state"], status["unfinished"], status["damaged"]) == ("idle", None, [words])
    assert status["mind"] == [{"why": "sheet damaged", "which": 1}]
    assert status["white_light"] == "not yet"
    for command, code in {("sheets",): 1, ("sheet", "1"): 1, ("book", "check"): 1, ("repeat", "1"): 1}.items():
        told = served.timerd(*command)
        assert told.returncode == code and words in told.stdout + told.stderr and "Traceback" not in told.stderr
    with pytest.raises(ControlError, match=f"{NAME}: {words}"):
        ask(served.run, {"do": "load", "repeat": 1})
    served.load(PAPER_PRINT, PAPER)
    served.arm()
    assert served.status()["sheet"] == 2
    assert "mind: sheet 1 is damaged" in served.timerd("status").stdout


PAPER_PRINT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 0.6, lead_in: 0.2}
  - {burn: edges, mm: 10, light: green, stops: 1 1/2, lead_in: 0.2}
"""
