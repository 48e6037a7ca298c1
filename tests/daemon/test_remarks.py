"""Notes and ratings by the daemon: the one writer while it serves; nothing but the light is written while one burns."""

from __future__ import annotations

from pathlib import Path

import pytest
from served import Served
from served.asking import ask
from served.killing import PAPER

from timerd.book.reading import Reader
from timerd.control import ControlError

PRINT = """\
print: A long look at a wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: long, light: green, seconds: 30, lead_in: 0.2}
"""


def written(served: Served) -> list[tuple[str, object]]:
    reader = Reader(served.home)
    try:
        return [
            (r.kind, r.facts.get("text", r.facts.get("rating")))
            for r in reader.records(1)
            if r.kind in ("note", "rated")
        ]
    finally:
        reader.close()


def refused(served: Served, **request: object) -> str:
    with pytest.raises(ControlError) as caught:
        ask(served.run, request, 10)
    return str(caught.value)


def test_notes_and_ratings_beside_a_sheet(served: Served) -> None:
    served.start()
    assert refused(served, do="note", sheet=1, text="x") == "there is no sheet in the book yet"
    served.load(PRINT, PAPER)
    served.arm()
    before = served.status()
    told = served.timerd("note", "1", "=the wall\x1b[31m")
    assert (told.returncode, told.stdout, told.stderr) == (0, "sheet 1: noted\n", "")
    assert written(served) == [("note", "=the wall\x1b[31m")], "on disk when it is said"
    assert served.timerd("rate", "1", "3").stdout == "sheet 1: rated 3 of 5\n"
    assert "a rating is from 1 to 5" in refused(served, do="rate", sheet=1, rating=6)
    assert "of that number" in refused(served, do="rate", sheet=2, rating=3)
    assert "keeps another book" in refused(served, do="rate", sheet=1, rating=3, book="0" * 32)
    runs_on = {"now", "trays"}  # the time, and with it what the sheet has seen of the safelight
    assert {key: value for key, value in served.status().items() if key not in runs_on} == {
        key: value for key, value in before.items() if key not in runs_on
    }, "nothing of how the bench stands is touched"
    served.light()
    told = served.timerd("note", "1", "while it burns")
    assert (told.returncode, told.stdout) == (1, "") and told.stderr.startswith(
        "a light is on: nothing else is written"
    )
    served.tap("end")
    served.state("paused")
    assert served.timerd("note", "1", "paused").returncode == 0
    served.stop()
    assert served.timerd("rate", "1", "5").stdout == "sheet 1: rated 5 of 5\n", "with no daemon, by the command itself"
    assert written(served) == [("note", "=the wall\x1b[31m"), ("rated", 3), ("note", "paused"), ("rated", 5)]
    served.start()
    assert served.status()["unfinished"]["sheet"] == 1


def test_a_note_that_the_disk_does_not_take_is_said_and_nothing_is_lost(tmp_path: Path, disk: Path) -> None:
    served = Served(tmp_path, disk=disk)
    try:
        served.start()
        served.load(PRINT, PAPER)
        served.arm()
        assert served.timerd("note", "1", "first").returncode == 0
        (served.as_synced / "fault").write_text("full")
        told = served.timerd("note", "1", "second")
        assert (told.returncode, told.stdout) == (1, "") and "the disk is full" in told.stderr
        assert told.stderr.count("\n") == 1
        assert served.state("fault")["reason"]["why"] == "no ink"
        assert written(served) == [("note", "first")]
        (served.as_synced / "fault").unlink()
        served.stop()
        served.start()
        assert served.status()["unfinished"]["sheet"] == 1
        assert served.timerd("note", "1", "second").returncode == 0
        assert written(served) == [("note", "first"), ("note", "second")]
    finally:
        served.close()
