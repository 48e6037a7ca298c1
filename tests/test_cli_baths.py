"""The commands about the baths without a daemon: they write the book themselves, and read it."""

from __future__ import annotations

import json
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from records import wrote
from sheet.trays.evening import SIX, Evening

from timerd.book.reading import Reader
from timerd.book.store import Book
from timerd.cli import main


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    return tmp_path / "home"


def told(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """What a command prints, or says is wrong."""
    status = main(list(argv))
    out, err = capsys.readouterr()
    assert bool(status) == bool(err)
    return out or err


def facts(capsys: pytest.CaptureFixture[str]) -> dict[str, dict[str, Any]]:
    return {batch["bath"]: batch for batch in json.loads(told(capsys, "baths", "--json"))}


def develop(home: Path, sheets: int) -> None:
    """So many sheets of 8x10 in go through the baths now; the book has no more of them than that."""
    evening = Evening(SIX)
    for sheet in range(1, sheets + 1):
        evening.send(sheet, sheet * 2000.0)
    evening.until(1e6)
    book = Book(home, "2026-01-01T00:00:00+00:00", time.monotonic_ns())
    numbers = {"fixer-1": 1, "fixer-2": 2}
    for record in evening.records:
        if record.kind == "in bath" and (number := numbers.get(record.facts["bath"])) is not None:
            book.append([record._replace(fact=replace(record.fact, batch=number))], {})
    book.close()


def test_a_batch_is_counted_moved_and_renewed(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """100 sheets in 2 litres are the 50 a litre after which bath two takes the place of bath one (Buffaloe)."""
    assert "no batch was told" in told(capsys, "baths")
    first = told(capsys, "bath", "new", "fixer-1").splitlines()[0]
    golden(first)
    told(capsys, "bath", "new", "fixer-2")
    develop(home, 79)
    assert (facts(capsys)["fixer-1"]["share"], facts(capsys)["fixer-1"]["due"]) == (pytest.approx(0.79), "")
    develop(home, 1)
    golden(facts(capsys)["fixer-1"]["due"])
    develop(home, 20)
    used = facts(capsys)["fixer-1"]
    assert used["used"] == {"fibre": pytest.approx(100)} and used["left"] == {"fibre": 0}
    golden(used["due"])
    assert "fixer-2 took its place" in told(capsys, "bath", "new", "fixer-1", "--from", "fixer-2")
    after = facts(capsys)
    assert (after["fixer-1"]["batch"], after["fixer-1"]["round"], after["fixer-1"]["used"]) == (3, 2, {})
    assert (after["fixer-2"]["batch"], after["fixer-2"]["used"]) == (4, {})
    rows = told(capsys, "baths").splitlines()
    assert rows[1].split()[:3] == ["fixer-1", "3", "2"] and rows[-1].startswith("mind: gloves or tongs")


def test_the_records_are_those_that_the_trays_would_write(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "bath", "new", "developer", "--litres", "1.5")
    told(capsys, "bath", "temperature", "developer", "21.5")
    reader = Reader(home)
    batch, temperature = reader.records(0)
    reader.close()
    assert (batch.kind, batch.facts["batch"], batch.facts["litres"]) == ("batch", 1, 1.5)
    assert batch.facts["per_litre"] == {"fibre": 50, "resin": 100}
    assert temperature == wrote("temperature", temperature.at, facts={"bath": "developer", "celsius": 21.5})


@pytest.mark.parametrize(("argv", "wrong"), [
    (("bath", "new", "toner"), "no bath 'toner' is in fibre-two-bath, resin-single"),
    (("bath", "new", "fixer", "--line", "fibre-two-bath"), "no bath 'fixer' is in fibre-two-bath"),
    (("bath", "new", "fixer-1", "--from", "fixer-2"), "no batch of fixer-1 was told yet: say  timerd bath new fixer-1"),
    (("bath", "new", "fixer-1", "--from", "fixer-2", "--litres", "1"),
     "bath new: --from takes the other bath as it is: leave --line and --litres out"),
    (("bath", "new", "fixer-1", "--litres", "-1"), "litres: must be from 0.01 to 1000"),
    (("bath", "temperature", "developer", "90"), "celsius: must be from 5 to 50"),
    (("bath", "temperature", "fixr-1", "20"), "no bath line here has a bath 'fixr-1': did you mean 'fixer-1'?"),
    (("bath", "leave", "3"), "no timerd is serving here: start it with  timerd serve --bench BENCH  "
                              "(the service: sudo systemctl start timerd)"),
    (("baths", "--at", "20"), "baths: --at needs a bath line, to tell its times"),
])  # fmt: skip
def test_what_is_wrong_is_said_and_nothing_is_written(
    home: Path, capsys: pytest.CaptureFixture[str], argv: tuple[str, ...], wrong: str
) -> None:
    assert told(capsys, *argv) == f"{wrong}\n"
    if (home / "book.sqlite").exists():
        reader = Reader(home)
        assert not reader.records(0)
        reader.close()


def test_lines_that_have_a_bath_each_their_own_way_must_be_named(
    golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = home / "profiles" / "baths"
    folder.mkdir(parents=True)
    (folder / "small.yaml").write_text(
        "bath: small\nbaths:\n  - {name: fixer, kind: developer, seconds: 9}\n  - {name: b, kind: fixer, seconds: 9}\n"
    )
    golden(told(capsys, "bath", "new", "fixer"))
    assert told(capsys, "bath", "new", "fixer", "--line", "resin-single").startswith("fixer: a new batch of 2 l")


def test_a_line_is_shown_with_its_times(golden: Golden, home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    shown = told(capsys, "baths", "resin-single", "--at", "24").splitlines()
    assert shown[2].split()[:2] == ["developer", "44"]  # 60 * exp(-0.32) = 43.57
    golden(shown)
    told_json = json.loads(told(capsys, "baths", "fibre-two-bath", "--json"))
    assert told_json["white_light"] == {"bath": "fixer-1", "after_s": 30}
    folder = home / "profiles" / "baths"
    folder.mkdir(parents=True)
    (folder / "no-fixer.yaml").write_text(
        "bath: no-fixer\nbaths:\n  - {name: a, kind: developer, seconds: 9}\n  - {name: b, kind: wash, seconds: 9}\n"
    )
    golden(told(capsys, "baths", "no-fixer"))
    assert json.loads(told(capsys, "baths", "no-fixer", "--json"))["white_light"] is None
    assert [bath["move_after"] for bath in told_json["baths"]] == [120, 20, 60, 60, 300, 600, 300]
