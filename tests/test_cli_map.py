"""`timerd map` as a user types it."""

from __future__ import annotations

from pathlib import Path

import pytest
from golden import Golden

from timerd.cli import main


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    return status, told.out, told.err


def test_a_map_of_the_front_and_of_the_back(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    golden(run(capsys, "map", "breakwater", "--out", "front.svg"))
    golden(run(capsys, "map", "breakwater", "--out", "back.svg", "--back"))
    front, back = (here / "front.svg").read_text(), (here / "back.svg").read_text()
    assert "BACK" in back and "BACK" not in front
    assert sorted(path.name for path in here.iterdir()) == ["back.svg", "front.svg"]


def test_nothing_is_written_over_unless_told(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "a.svg").write_text("mine")
    status, out, err = run(capsys, "map", "breakwater", "--out", "a.svg")
    golden((status, out, err))
    assert (here / "a.svg").read_text() == "mine"
    status, _, _ = run(capsys, "map", "breakwater", "--out", "a.svg", "--force")
    assert status == 0 and (here / "a.svg").read_text().startswith("<svg")
    assert [path.name for path in here.iterdir()] == ["a.svg"]


def test_no_map_is_written_through_a_link(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "book.sqlite").write_text("a book")
    (here / "a.svg").symlink_to("book.sqlite")
    status, out, err = run(capsys, "map", "breakwater", "--out", "a.svg", "--force")
    golden((status, out, err))
    assert (here / "book.sqlite").read_text() == "a book"


def test_a_map_that_cannot_be_written_leaves_nothing(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    golden(run(capsys, "map", "breakwater", "--out", "no/a.svg"))
    (here / "folder.svg").mkdir()
    for force in ([], ["--force"]):
        status, out, err = run(capsys, "map", "breakwater", "--out", "folder.svg", *force)
        assert (status, out) == (1, "") and err.startswith("folder") and len(err.splitlines()) == 1
    status, _, err = run(capsys, "map", "nowhere", "--out", "a.svg")
    assert status == 1
    golden(err)
    golden(run(capsys, "map", "breakwater", "--out", "a.png")[2])
    assert [path.name for path in here.iterdir()] == ["folder.svg"] and not list((here / "folder.svg").iterdir())
