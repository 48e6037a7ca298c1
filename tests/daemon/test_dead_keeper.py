"""What the engine hears in a dead keeper's place, and whose note is believed."""

from __future__ import annotations

import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from walks.engine_walk import BENCH, PLAN

from timerd.bench.gone import instead_of_the_keeper
from timerd.bench.note import Note, Noted
from timerd.book.store import boot_id
from timerd.daemon import serving
from timerd.daemon.recovery import note_of
from timerd.daemon.serving import RENEW_S, Daemon
from timerd.places import find, home, read_bytes
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.engine.standing import Standing
from timerd.sheet.profile.reading import read
from timerd.wire.keeper import Here

GO = "go 1, enlarger"


@pytest.mark.parametrize(
    ("book", "boot", "believed"),
    [("mine", boot_id(), True), ("another's", boot_id(), False), ("mine", "an earlier boot", False)],
)
def test_a_note_is_believed_if_it_is_of_this_book_and_of_this_boot(
    tmp_path: Path, book: str, boot: str, believed: bool
) -> None:
    assert note_of(tmp_path, "mine") is None
    noted = Noted(book, boot, 3, 10.0, 10.1, 12.0, "pedal")
    Note(tmp_path).write(noted)
    assert note_of(tmp_path, "mine") == (noted if believed else None)


def standing(burst: int | None, lit_at: float | None) -> Standing:
    engine = Engine(BENCH)
    engine.handle(ev.Load(PLAN, 1, 0.0), 0.0)
    engine.standing.burst, engine.standing.lit_at = burst, lit_at
    engine.standing.feet.contacts[GO].down = True
    return engine.standing


def noted(burst: int, lit: float | None, dark: float, dark_lo: float | None = None) -> Noted:
    return Noted("mine", "now", burst, 10.0, lit, dark, "last off", dark_lo)


LIT = ev.Lit(4, 10.0)
GONE = [ev.Fault("keeper gone", 20.0), ev.SafelightEdge(True, 20.0)]
UP = [ev.Edge(GO, False, 20.0, 0)]


@pytest.mark.parametrize(
    ("stands", "note", "high", "heard"),
    [
        # nothing was under way
        (standing(None, None), noted(3, 10.0, 12.0), False, [*GONE, *UP]),
        # lit, and the note knows when it went dark
        (standing(4, 10.0), noted(4, 10.0, 19.9), False, [*GONE, ev.Dark(4, 19.9, "keeper gone"), *UP]),
        # lit, but nobody lived to say so: the engine hears of the light first
        (
            standing(4, None),
            noted(4, 10.0, 19.9),
            False,
            [LIT, *GONE, ev.Dark(4, 19.9, "keeper gone"), *UP],
        ),
        # nobody saw it go dark
        (standing(4, 10.0), noted(4, 10.0, 19.9, 15.0), False, [*GONE, ev.Dark(4, 19.9, "keeper gone", 15.0), *UP]),
        # called off before the light
        (standing(4, None), noted(4, None, 19.9), False, [*GONE, ev.Dark(4, 19.9, "keeper gone"), *UP]),
        # no note of this burst: dark by the last off at the latest
        (standing(4, 10.0), noted(3, 5.0, 6.0), False, [*GONE, ev.Dark(4, 20.0, "keeper gone", 10.0), *UP]),
        (standing(4, 10.0), None, False, [*GONE, ev.Dark(4, 20.0, "keeper gone", 10.0), *UP]),
        # a line that does not go low
        (standing(4, 10.0), noted(4, 10.0, 19.9), True, [*GONE, ev.Dark(4, 19.9, "line not low"), *UP]),
    ],
)
def test_what_the_engine_hears_in_its_place(
    stands: Standing, note: Noted | None, high: bool, heard: list[ev.Event]
) -> None:
    assert instead_of_the_keeper(stands, note, 20.0, high) == heard


def test_silence_counts_from_when_the_keeper_was_last_heard(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It may have died as soon as it had been: half a second after that it hangs, whenever it is told to go on. One
    that had nothing to answer before is given 0.4 s from when it is told."""
    path = find("bench", "two-station", None, home(None))
    daemon = Daemon(read(read_bytes(path), path.name, "bench"), tmp_path, tmp_path / "run", simulated=True)
    try:
        now = 0.0
        with monkeypatch.context() as patch:
            patch.setattr(serving, "time", SimpleNamespace(monotonic=lambda: now, time=time.time))
            patch.setattr(daemon, "_send", lambda message: None)
            for heard, renewed, hangs in ((100.0, 100.1, 100.5), (100.0, 100.04, 100.5), (90.0, 100.0, 100.4)):
                daemon._unanswered_since, daemon._heard_at = None, heard
                for _ in range(3):
                    now = renewed
                    daemon._renew()
                    assert daemon._hangs_at == pytest.approx(hangs, abs=1e-9)
                    renewed += RENEW_S
            patch.setattr(daemon._keeping, "reports", lambda: ([Here()], True))
            now = 100.45
            daemon._hear_keeper()
            assert daemon._hangs_at is None and daemon._heard_at == 100.45
    finally:
        daemon.close()
