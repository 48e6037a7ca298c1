"""A disk that fails, fills or stalls, a book held by another program, a wall clock that jumps: the light is right or
off, the reason is said, and nothing that was on disk is lost."""

from __future__ import annotations

import contextlib
import os
import sqlite3
import subprocess
import time
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from served import Served, bursts, not_too_soon, stand_still
from served.killing import PAPER, _given, _rows

PRINT = """\
print: A short look at a wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: long, light: green, seconds: 2, lead_in: 0.2}
"""


@pytest.fixture
def ready(tmp_path: Path, disk: Path) -> Iterator[Served]:
    """A daemon on the forgetful disk, its sheet's only light ready."""
    served = Served(tmp_path, disk=disk)
    served.start()
    served.load(PRINT, PAPER)
    served.arm()
    yield served
    served.close()


def fault(served: Served, text: str) -> None:
    (served.as_synced / "fault").write_text(text)


def only_burst(served: Served) -> tuple[float, float]:
    ((_, lit, dark),) = bursts(served.truth())
    assert dark is not None
    return lit, dark


@pytest.mark.parametrize(("text", "said"), [("eio", "the disk failed"), ("full", "the disk is full: make room")])
def test_a_write_that_fails_ends_the_run_dark_and_is_never_tried_again(ready: Served, text: str, said: str) -> None:
    ready.light()
    before = _rows(ready)
    fault(ready, text)
    failed = ready.until(lambda s: s["state"] == "fault" and s["burst"] is None)
    assert said in failed["reason"]["wrong"] and failed["reason"]["why"] == "no ink"
    assert failed["ink"] == failed["reason"]
    lit, dark = only_burst(ready)
    assert dark - lit < 1.5, "the light went on without ink"
    assert failed["steps"][1]["given"] == pytest.approx(dark - lit, abs=ready.near_s), "shown, if not written"
    (ready.as_synced / "fault").unlink()
    ready.tap("go")
    ready.hold("go", "end", seconds=2.5)
    refused = ready.timerd("clear")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert said in refused.stderr and "start timerd anew" in refused.stderr
    assert ready.status()["state"] == "fault"
    assert ready.lit_lamps() == set() and len(bursts(ready.truth())) == 1
    assert _rows(ready)[: len(before)] == before
    ready.stop()
    assert (ready.home / "book.sqlite-wal").stat().st_size > 0, "a log whose sync failed is not tried again"
    ready.start()
    again = ready.status()
    assert again["unfinished"]["given"] == pytest.approx(dark - lit, abs=ready.near_s), "by the keeper's note"
    assert again["unfinished"]["given_lo"] == again["unfinished"]["given"]
    assert _rows(ready)[: len(before)] == before


def test_a_sync_that_failed_once_is_not_tried_again(ready: Served) -> None:
    ready.light()
    fault(ready, "once eio")
    ready.until(lambda s: s["state"] == "fault" and s["burst"] is None)
    ready.stop()
    assert (ready.home / "book.sqlite-wal").stat().st_size > 0, "the log was brought into the main file after all"


def test_a_disk_that_stalls_puts_the_light_out_and_the_rest_is_owed(ready: Served) -> None:
    fault(ready, "stall 3")
    ready.tap("go")
    paused = ready.state("paused")
    lit, dark = only_burst(ready)
    assert 0.5 < dark - lit < 1.0 + ready.near_s, "no longer than a reader of the book would assume: 0.5 s and 0.5 s"
    assert paused["reason"] == {"why": "went dark", "how": "disk"}
    assert paused["given"] == pytest.approx(dark - lit, abs=ready.near_s)
    ready.until(lambda s: s["ink"] is None)
    stand_still(dark + 3.2 - time.monotonic())
    ready.tap("go")
    ready.state("done")
    given = sum(off - on for _, on, off in bursts(ready.truth()) if off is not None)
    assert given == pytest.approx(2, abs=ready.near_s)


def test_a_stall_before_the_light_is_waited_for_and_the_press_refused_as_late(tmp_path: Path, disk: Path) -> None:
    served = Served(tmp_path, disk=disk)
    try:
        served.start()
        served.load(PRINT, PAPER)
        served.hold("go")
        not_too_soon(served.state("prompt"))
        fault(served, "stall 1.5")
        passed = served.tap("go")
        stand_still(passed + 0.75 - time.monotonic())  # else it is too soon after the prompt
        served.tap("go")
        refused = served.until(lambda s: s["refused"] is not None)
        assert (refused["state"], refused["refused"]["why"]) == ("ready", "late")
        assert bursts(served.truth()) == []
    finally:
        served.close()


def test_a_book_held_by_another_program_ends_the_run_dark(ready: Served) -> None:
    ready.light()
    other = sqlite3.connect(ready.home / "book.sqlite", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    ready.until(lambda s: s["burst"] is None)
    lit, dark = only_burst(ready)
    assert dark - lit < 2.5
    failed = ready.state("fault")
    assert "database is locked: another program" in failed["reason"]["wrong"]
    other.execute("ROLLBACK")
    other.close()
    ready.stop()
    ready.start()
    assert _given(ready) == (pytest.approx(dark - lit, abs=ready.near_s),) * 2


def test_a_home_that_cannot_be_written_is_refused_in_one_line(tmp_path: Path) -> None:
    home = tmp_path / "home"
    served = Served(tmp_path)
    with contextlib.ExitStack() as undo:
        if os.geteuid() == 0:
            mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "ro", "none", str(home)], capture_output=True)
            if mounted.returncode:
                pytest.skip("root may write everywhere, and nothing may be mounted here")
            undo.callback(subprocess.run, ["umount", str(home)], check=True)
        else:
            home.chmod(0o500)
            undo.callback(home.chmod, 0o700)
        with pytest.raises(RuntimeError, match=r"kept here: .*: mend that"):
            served.start()
        assert list(home.iterdir()) == []


def test_a_wall_clock_that_jumps_changes_no_light(ready: Served) -> None:
    ready.light()
    for hours in (1, -1, 0, -1, 1):
        (ready.as_synced / "wall").write_text(str(hours * 3600))
        ready.status()
    ready.state("done")
    lit, dark = only_burst(ready)
    assert dark - lit == pytest.approx(2, abs=ready.near_s)
    ready.stop()
    ready.start()
    db = sqlite3.connect(ready.home / "book.sqlite")
    (first,), (second,) = db.execute("SELECT wall FROM boots ORDER BY boot").fetchall()
    db.close()
    apart = datetime.fromisoformat(second) - datetime.fromisoformat(first)
    assert 3600 <= apart.total_seconds() < 3660, "the wall clock is a label, as wrong as it is"
    assert _given(ready) == (pytest.approx(2, abs=ready.near_s),) * 2
