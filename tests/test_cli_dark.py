"""`timerd dark`, and whatever else decides by why a daemon says no: it goes by the code, whatever the words are."""

from __future__ import annotations

import json
import socket
import time
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from test_control import Daemon as Answering

from timerd.bench.lastoff import LastOff
from timerd.cli import dark, main
from timerd.control import Link
from timerd.daemon.serving import Daemon
from timerd.places import find, home, read_bytes
from timerd.sheet.profile.reading import read
from timerd.wire.control import MakeDark, No, StatusTold
from timerd.wire.keeper import Rest

CAUTION = "Cover the paper and look at the lamps all the same: a welded relay stays on."


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The run folder that commands use; nobody serves there, and no last off is run for real."""
    monkeypatch.setattr(dark, "run_folder", lambda home: tmp_path)
    monkeypatch.setattr(dark, "hurry", lambda: None)
    return tmp_path


@pytest.fixture
def last_offs(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """The run folders that were darkened by a last off; each of them is dark."""
    asked: list[Path] = []

    def done(folder: Path) -> LastOff:
        asked.append(folder)
        return LastOff(1.0, ())

    monkeypatch.setattr(dark, "last_off", done)
    return asked


def answering(run: Path, answer: dict[str, Any] | None) -> Answering:
    """A daemon that says this, or hangs up."""

    def act(connection: socket.socket) -> None:
        if answer is not None:
            connection.send(json.dumps(answer).encode() + b"\n")

    return Answering(run, act)


@pytest.mark.parametrize(
    "words", ["a line does not go low: light may still be on", "GPIO17 blieb oben", "", "dark. all is well"]
)
def test_a_line_that_stays_high_is_not_dark_whatever_the_words(
    words: str, run: Path, last_offs: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    daemon = answering(run, {"ok": False, "code": "line high", "why": words})
    assert main(["dark"]) == 1
    daemon.end()
    said = capsys.readouterr()
    assert (said.out, said.err.strip()) == ("", words) and last_offs == []


@pytest.mark.parametrize(
    "answer",
    [
        None,
        {"ok": False, "code": "keeper gone", "why": "the keeper is dead: a line does not go low"},
        {"ok": False, "code": "of a later version", "why": "not go low"},
        {"ok": False, "why": "a line does not go low"},
    ],
    ids=["hangs up", "no keeper", "a code that is not known", "a daemon before there were codes"],
)
def test_whatever_else_a_daemon_says_the_last_off_sees_to_it(
    golden: Golden, answer: dict[str, Any] | None, run: Path, last_offs: list[Path], capsys: pytest.CaptureFixture[str]
) -> None:
    daemon = answering(run, answer)
    assert main(["dark"]) == 0
    daemon.end()
    golden(capsys.readouterr().out)
    assert last_offs == [run]


def test_a_line_that_the_last_off_finds_high_is_not_dark(
    golden: Golden, run: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(dark, "last_off", lambda folder: LastOff(1.0, ("lamp head-green",)))
    assert main(["dark"]) == 1
    said = capsys.readouterr()
    assert said.out == ""
    golden(said.err)


def test_the_daemon_says_so_by_its_code(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its keeper reports that a line is not low."""
    path = find("bench", "two-station", None, home(None))
    daemon = Daemon(read(read_bytes(path), path.name, "bench"), tmp_path, tmp_path / "run", simulated=True)
    link = Link(tmp_path / "run", 10)
    try:
        assert daemon._keeping is not None
        monkeypatch.setattr(daemon, "_send", lambda message: None)  # its keeper says what this test says
        for low, code in ((False, No.LINE_HIGH), (True, None)):
            link.send(MakeDark())
            daemon._turn()  # takes the client in, or hears it
            if not daemon._waiting_for_dark:
                daemon._turn()
            report = Rest(time.monotonic(), low)
            monkeypatch.setattr(daemon._keeping, "reports", lambda report=report: ([report], True))
            daemon._hear_keeper()
            (answer,) = link.receive(10)
            assert (isinstance(answer, StatusTold), getattr(answer, "code", None)) == (low, code)
    finally:
        link.close()
        daemon.close()


def test_every_code_is_one_word_or_two_and_its_own() -> None:
    assert len({no.value for no in No}) == len(No)
    assert No("line high") is No.LINE_HIGH and No("what nobody has said yet") is No.REFUSED and No(None) is No.REFUSED
    assert json.dumps({"code": No.LINE_HIGH}) == '{"code": "line high"}'
