"""`timerd say`: the bench's standing in words, spoken where there is a voice; what to install where there is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from panel.telling import TOLD, exposing, plan, status, step
from panel.test_words_to_say import shipped_plan

from timerd.cli import main, speaking, standing
from timerd.places import read_bytes, shipped
from timerd.sheet.profile.reading import read
from timerd.sheet.status import status_json
from timerd.wire.control import AskBench, AskPlan, BenchTold, PlanTold


@pytest.fixture
def daemon(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> dict[str, Any]:
    """What a daemon answers, by what it is asked; and no voice."""
    bench = read(read_bytes(shipped() / "benches" / "two-station.yaml"), "bench", "bench").value
    answers: dict[str, Any] = {
        "status": TOLD, "plan": None, "bench": bench.model_dump(mode="json"),
    }  # fmt: skip

    def ask(folder: Path, request: AskPlan | AskBench) -> PlanTold | BenchTold:
        assert folder == tmp_path / "run"
        return PlanTold("a1", answers["plan"]) if isinstance(request, AskPlan) else BenchTold(answers["bench"])

    monkeypatch.setattr(speaking, "ask", ask)
    monkeypatch.setattr(standing, "ask_status", lambda folder, request: answers["status"])
    for module in (speaking, standing):
        monkeypatch.setattr(module, "run_folder", lambda home: tmp_path / "run")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("PATH", str(tmp_path))
    return answers


def test_without_a_voice_the_words_are_printed_and_what_to_install(
    golden: Golden, daemon: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    daemon["status"] = status_json(exposing(1.0, 9.0, now=4.0, step=2, sheet=1, print="Quiet yard", plan="a1"))
    daemon["plan"] = plan(step(9.0, area="soft")).model_dump(mode="json")
    assert main(["say"]) == 0
    told = capsys.readouterr()
    golden(told.out)
    golden(told.err)


def test_the_plan_comes_back_as_it_was_made(
    golden: Golden, daemon: dict[str, Any], capsys: pytest.CaptureFixture[str]
) -> None:
    of = shipped_plan("breakwater")
    daemon["status"] = status_json(status(state="ready", step=6, sheet=1, given=0.0))
    daemon["plan"] = json.loads(of.model_dump_json())
    assert main(["say"]) == 0
    golden(capsys.readouterr().out)


def test_with_a_voice_they_are_spoken_too(
    daemon: dict[str, Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    spoken: list[tuple[Any, ...]] = []
    monkeypatch.setattr(speaking, "say_once", lambda *what: spoken.append(what))
    assert main(["say"]) == 0
    assert [(words, settings.voice, cache) for words, settings, cache in spoken] == [
        ("no print is loaded", "en-gb", tmp_path / "cache" / "timerd"),
    ]  # fmt: skip
    told = capsys.readouterr()
    assert (told.out, told.err) == ("no print is loaded\n", "")


def test_a_daemon_that_says_no_is_one_line(
    golden: Golden, daemon: dict[str, Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def none(*asked: Any) -> None:
        raise OSError("no timerd is serving here")

    monkeypatch.setattr(standing, "ask_status", none)
    assert main(["say"]) == 1
    golden(capsys.readouterr().err)
