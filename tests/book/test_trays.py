"""The wet side read back from a book: exactly in the same boot, by the wall clock after another."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path

import pytest
from records import wrote
from sheet.trays.evening import SIX, Evening, plan_on

import timerd.book.store as store_module
import timerd.book.trays as book_trays
from timerd.book.reading import Reader
from timerd.book.store import Book
from timerd.book.trays import Past, TraysReader
from timerd.sheet.record import Progress, Record
from timerd.sheet.safelight import UnderSafelight
from timerd.sheet.trays import events as ev
from timerd.sheet.trays.machine import Trays
from timerd.sheet.trays.stays import Stays
from timerd.sheet.trays.stock import Stock

WALL_S = 1767225600.0
"""2026-01-01T00:00:00Z: the wall clock when the monotonic one was 0."""


def written(home: Path, evening: Evening, boot: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """An evening's records in a book, as one boot writes them."""
    monkeypatch.setattr(store_module, "boot_id", lambda: boot)
    book = Book(home, "2026-01-01T00:00:00+00:00", 0)
    book.append(evening.records, evening.plans)
    book.close()


def past(home: Path, now: float, wall_s: float, boot: str, monkeypatch: pytest.MonkeyPatch) -> Past:
    monkeypatch.setattr(book_trays, "boot_id", lambda: boot)
    reader = Reader(home)
    found = TraysReader(reader, now, wall_s).past(())
    reader.close()
    return found


def three(at: float) -> Evening:
    """Three sheets overlapping, as they stand at a time."""
    evening = Evening(SIX)
    for sheet, sent in ((1, 0.0), (2, 60.0), (3, 135.0)):
        evening.send(sheet, sent)
    evening.temperature(140.0, "developer", 22.0)
    evening.until(at)
    return evening


@pytest.mark.parametrize("at", [141.0, 165.0, 203.0, 400.0, 1200.0, 2000.0])
def test_in_the_same_boot_all_is_exact(tmp_path: Path, at: float, monkeypatch: pytest.MonkeyPatch) -> None:
    evening = three(at)
    written(tmp_path, evening, "this", monkeypatch)
    found = past(tmp_path, at, WALL_S + at, "this", monkeypatch)
    stays, stock = Stays(found.plans, False, found.at_trays), Stock(found.stock)
    assert stays.of.keys() == evening.trays.stays.of.keys()
    for number, stay in evening.trays.stays.of.items():
        for key, value in asdict(stay).items():
            found_value = asdict(stays.of[number])[key]
            near = isinstance(value, float)  # the book keeps whole nanoseconds
            assert found_value == (pytest.approx(value, abs=2e-9) if near else value), key
    assert stock.temperatures == evening.trays.stock.temperatures
    for name, batch in evening.trays.stock.batches.items():
        assert stock.batches[name].used == pytest.approx(batch.used)


def test_after_another_boot_times_are_placed_by_the_wall_clock_and_marked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The machine is gone at 165, in the middle of sheet 1's first fixer (in at 150, to move on at 210). Its new
    clock reads 7 s when the wall clock says that 20 s have gone by: the sheet has 25 s to go."""
    evening = three(165.0)
    written(tmp_path, evening, "that", monkeypatch)
    found = past(tmp_path, 7.0, WALL_S + 185.0, "this", monkeypatch)
    trays = Trays(Stays(found.plans, False, found.at_trays), Stock(found.stock), now=7.0)
    stay = trays.stays.of[1]
    assert (stay.bath.name if stay.bath else None, stay.since, stay.due) == ("fixer-1", 7.0 - 35.0, 7.0 + 25.0)
    assert all(stay.approximate for stay in trays.stays.of.values())
    evening.trays, evening.now, evening.records = trays, 7.0, []
    evening.event(ev.TrayWake(7.0))
    evening.until(60.0)
    out = [line for line in evening.told() if " out of bath" in line]
    # sheet 2 was to be lifted at 172.6: that is told at once, 12.4 s late, and it drains its 10 s
    assert out[0] == "2 17.0 out of bath: developer, 112.6 planned, 125.0 actual, +12.4, clock, approximate"
    assert out[1] == "1 32.0 out of bath: fixer-1, 60.0 planned, 60.0 actual, +0.0, clock, approximate"
    assert not any("approximate" in line for line in out if line.startswith("1 ") and "fixer-2" in line)


def test_a_boxed_batch_s_time_under_the_safelight_goes_on_where_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two sheets go out at 100 and 200, into their box at 150 and 260; a new daemon of the same boot has them as the
    old one had, one of another boot to a second or so. The box is opened at 400."""
    told = [
        wrote("armed", 90.0, 1, facts={"print": "x", "steps": [[1, "develop", 0.0, False]]}),
        wrote("sheet out", 100.0, 1), wrote("to trays", 150.0, 1, facts={"boxed": True}),
        wrote("armed", 190.0, 2, facts={"print": "x", "steps": [[1, "develop", 0.0, False]]}),
        wrote("safelight", 220.0, facts={"lit": False}), wrote("sheet out", 200.0, 2),
        wrote("safelight", 250.0, facts={"lit": True}), wrote("to trays", 260.0, 2, facts={"boxed": True}),
    ]  # fmt: skip
    told.sort(key=lambda record: record.at)
    evening = Evening(SIX)
    evening.plans = {1: plan_on(SIX), 2: plan_on(SIX)}
    evening.records = told
    written(tmp_path, evening, "that", monkeypatch)
    for boot, now in (("that", 300.0), ("this", 5.0)):
        monkeypatch.setattr(book_trays, "boot_id", lambda boot=boot: boot)
        reader = Reader(tmp_path)
        progress = Progress()
        found = TraysReader(reader, now, WALL_S + 300.0).past((1, 2))
        reader.close()
        light = UnderSafelight(found.plans, progress.sheets, frozenset())
        opened = wrote("out of the box", now + 100.0, 1, facts={"stack": [1, 2]})
        for record in [*found.out, opened, opened._replace(sheet=2)]:
            progress.apply(record)
            light.take(record, progress.sheets_out)
        for sheet, before in ((1, 50.0), (2, 30.0)):
            sum_ = light.sum(sheet, now + 130.0)
            assert sum_.seconds == pytest.approx(before + 30.0, abs=0.1)
            assert sum_.approximate == (boot == "this")
        stays = Stays(found.plans, False, found.at_trays)
        assert [stay.approximate for stay in stays.of.values()] == [boot == "this"] * 2


def test_a_wall_clock_that_went_back_puts_nothing_into_the_future(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    written(tmp_path, three(165.0), "that", monkeypatch)
    found = past(tmp_path, 7.0, WALL_S - 3600.0, "this", monkeypatch)
    assert all(record.at == 7.0 for record in found.at_trays)


def test_what_was_counted_before_a_batch_is_renewed_is_not_counted_after(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def went_in(number: int, sheets: float) -> Record:
        facts = {"bath": "fixer-1", "batch": number, "celsius": 20.0, "planned_s": 60.0, "stack": [1], "base": "fibre",
                 "eights": sheets, "untold": None}  # fmt: skip
        return wrote("in bath", 1.0, 1, facts=facts)

    def mixed(number: int) -> Record:
        facts = {"bath": "fixer-1", "batch": number, "moves": 0, "per_litre": {"fibre": 50.0}, "litres": 1.0,
                 "keeps_h": None, "followed_by": None, "cycles": 5}  # fmt: skip
        return wrote("batch", 1.0, facts=facts)

    evening = Evening(SIX)
    evening.plans[1] = plan_on(SIX)
    evening.records = [mixed(1), went_in(1, 1.0), went_in(1, 4.0), mixed(2), went_in(2, 1.925)]
    written(tmp_path, evening, "this", monkeypatch)
    stock = Stock(past(tmp_path, 2.0, WALL_S, "this", monkeypatch).stock)
    assert stock.batches["fixer-1"].used == {"fibre": 1.925} and stock.last_number == 2
