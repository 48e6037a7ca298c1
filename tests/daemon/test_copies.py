"""When the book is copied by itself: in idle alone, when nothing is written; told when it fails, and tried again."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from served import LIMIT_S

from timerd.book.checking import check
from timerd.control import Link
from timerd.daemon import copies as copies_module
from timerd.daemon.copies import AGAIN_S, APART_S, QUIET_S, Copies
from timerd.daemon.serving import Daemon
from timerd.sheet.profile.reading import read
from timerd.sheet.reason import CopiedDamaged, CopyTrouble, NotCopied
from timerd.sheet.status import CopiesStand, CopyMade
from timerd.wire.control import Follow, StatusTold


class Process:
    """A copying that ends when it is told to."""

    made: list[Process] = []  # noqa: RUF012

    def __init__(self, argv: list[str], **_: object) -> None:
        self.argv, self.killed, self.said = argv, False, None
        self.stdout = self
        self.made.append(self)

    def poll(self) -> int | None:
        return -9 if self.killed else None if self.said is None else 0

    def kill(self) -> None:
        self.killed = True

    def close(self) -> None: ...

    def __enter__(self) -> Process:
        return self

    def __exit__(self, *_: object) -> None: ...

    def read(self) -> str:
        return self.said or ""

    said: str | None


class Bench:
    """Copies asked at times of the test's own."""

    def __init__(self, to: str | None = "/media/copies/book") -> None:
        self.copies = Copies(Path("/home/bench"), to, 0.0)
        self.standing, self.ink = SimpleNamespace(state="idle", burst=None), SimpleNamespace(waits=False, written=1)

    def at(self, now: float, **changes: Any) -> bool:
        for key, value in changes.items():
            setattr(self.ink if key in ("waits", "written") else self.standing, key, value)
        return self.copies.turn(now, self.standing, self.ink)  # type: ignore[arg-type]

    def told(self) -> CopiesStand | None:
        return self.copies.status()

    def wrong(self) -> CopyTrouble | str | None:
        told = self.copies.status()
        return None if told is None else told.wrong


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[Process]:
    monkeypatch.setattr(Process, "made", [])
    monkeypatch.setattr(copies_module.subprocess, "Popen", Process)
    return Process.made


def answer(process: Process, **told: object) -> None:
    process.said = json.dumps(told)


def copied(process: Process, damaged: str | None = None) -> None:
    answer(process, **{"is": "copied", "file": "book-2026-03-01.sqlite", "records": 40, "damaged": damaged})


def test_a_bench_that_rests_is_copied_once_and_again_when_more_is_written(made: list[Process]) -> None:
    bench = Bench()
    bench.at(0.0)
    assert bench.copies.wake_at == QUIET_S and not bench.at(QUIET_S - 0.1) and made == []
    bench.at(QUIET_S)
    assert made[0].argv[1:] == ["-P", "-m", "timerd.book.copying", "/home/bench", "/media/copies/book"]
    assert bench.copies.wake_at == QUIET_S + 0.5 and bench.at(QUIET_S + 0.5) is False
    copied(made[0])
    assert bench.at(22.0) is True
    assert bench.told() == CopiesStand("/media/copies/book", CopyMade("book-2026-03-01.sqlite", 40), None)
    assert bench.copies.wake_at is None and bench.at(1e6) is False and len(made) == 1, "nothing more was written"
    bench.at(30.0, written=2)
    assert bench.copies.wake_at == 22.0 + APART_S
    bench.at(22.0 + APART_S)
    assert len(made) == 2


@pytest.mark.parametrize("state", ["prompt", "ready", "lead-in", "exposing", "paused", "done", "abandoned", "fault"])
def test_it_is_ended_at_once_when_the_bench_rests_no_more(made: list[Process], state: str) -> None:
    bench = Bench()
    bench.at(0.0)
    bench.at(QUIET_S)
    bench.at(QUIET_S + 1, state=state)
    assert made[0].killed and bench.copies.wake_at is None
    bench.at(500.0)
    assert len(made) == 1, "not in another state"
    bench.at(501.0, state="idle")
    bench.at(501.0 + QUIET_S)
    assert len(made) == 2


@pytest.mark.parametrize("change", [{"burst": 3}, {"waits": True}])
def test_it_waits_for_a_light_to_look_by_and_for_the_ink(made: list[Process], change: dict[str, Any]) -> None:
    bench = Bench()
    bench.at(0.0, **change)
    bench.at(100.0)
    assert made == [] and bench.copies.wake_at is None
    bench.at(101.0, burst=None, waits=False)
    bench.at(101.0 + QUIET_S)
    bench.at(102.0 + QUIET_S, **change)
    assert made[0].killed


def test_what_fails_is_told_and_tried_again_later_or_when_it_comes_to_rest_anew(made: list[Process]) -> None:
    bench = Bench()
    bench.at(0.0)
    bench.at(QUIET_S)
    answer(made[0], **{"is": "not copied", "why": "the folder is not there"})
    assert bench.at(21.0) is True
    assert bench.wrong() == NotCopied("the folder is not there")
    assert bench.copies.wake_at == 21.0 + AGAIN_S
    bench.at(30.0, state="prompt")
    bench.at(60.0, state="idle")
    bench.at(60.0 + QUIET_S)
    assert len(made) == 2
    copied(made[1])
    assert bench.at(90.0) is True and bench.wrong() is None


def test_one_that_ends_without_a_word_and_one_with_damage_are_told(made: list[Process]) -> None:
    bench = Bench()
    bench.at(0.0)
    bench.at(QUIET_S)
    made[0].said = ""
    bench.at(21.0)
    assert bench.wrong() == NotCopied("the copying ended before it was done")
    bench.at(21.0 + AGAIN_S)
    copied(made[1], "sheet 1: record 25 is damaged: it is not what was written")
    bench.at(22.0 + AGAIN_S)
    assert bench.wrong() == CopiedDamaged("sheet 1: record 25 is damaged: it is not what was written")


def test_a_bench_without_a_folder_is_left_alone(made: list[Process]) -> None:
    bench = Bench(None)
    assert not bench.at(0.0) and not bench.at(1e6) and bench.copies.wake_at is None and made == []
    assert bench.told() is None


def heard(link: Link, what: str) -> dict[str, Any]:
    """The first status that has it to tell of the copies."""
    while True:
        for told in link.receive(LIMIT_S):
            if isinstance(told, StatusTold) and told.status["copies"][what] is not None:
                return dict(told.status)


def test_a_real_bench_copies_its_book_and_says_when_it_cannot(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stick that is not there is told; put in, it has the book, while the daemon has it open."""
    monkeypatch.setattr(copies_module, "QUIET_S", 0.05)
    monkeypatch.setattr(copies_module, "AGAIN_S", 0.05)
    stick, run = tmp_path / "stick", tmp_path / "run"
    text = (Path(__file__).parents[2] / "profiles" / "benches" / "two-station.yaml").read_text()
    bench = read(f"{text}\nbackup_to: {stick}\n".encode(), "bench.yaml", "bench")
    daemon = Daemon(bench, tmp_path / "home", run, simulated=True)
    serving = threading.Thread(target=daemon.run)
    serving.start()
    link = Link(run, LIMIT_S)
    try:
        link.send(Follow())
        wrong = {"why": "not copied", "wrong": "the folder is not there"}
        told = heard(link, "wrong")
        assert told["mind"] == [wrong] and told["copies"] == {"to": str(stick), "last": None, "wrong": wrong}
        stick.mkdir()
        told = heard(link, "last")
        assert told["mind"] == [] and told["copies"]["wrong"] is None
        assert [file.name for file in stick.iterdir()] == [told["copies"]["last"]["file"]]
    finally:
        link.close()
        daemon.stop()
        serving.join(LIMIT_S)
        daemon.close()
    (copy,) = stick.iterdir()
    copy.rename(stick / "book.sqlite")
    assert check(stick).faults == ()
