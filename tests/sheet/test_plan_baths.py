"""The baths that a print's last step names: sought and checked, and in the plan."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from golden import Golden
from sheet.plan_files import TWO_STATION, print_of

from timerd.cli import main
from timerd.daemon.loading import loading
from timerd.places import shipped
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.reading import read
from timerd.wire.control import LoadPrint, SentFile

LINE = """\
bath: two
base: resin
baths:
  - {name: a, kind: developer, seconds: 9}
  - {name: b, kind: fixer, seconds: 9}
"""
PAPER = "paper: plain\nbase: fibre\nsafelight_s: 240\n"


def planned(line: str | None, *steps: str) -> Plan:
    print_ = read(print_of(*steps).encode(), "print.yaml", "print")
    bench, paper = read(TWO_STATION.encode(), "bench.yaml", "bench"), read(PAPER.encode(), "paper.yaml", "paper")
    return make_plan(print_, bench, paper, baths=read(line.encode(), "two.yaml", "bath") if line else None)


def test_the_plan_has_the_baths_that_its_last_step_names(golden: Golden) -> None:
    base = "{base: soft, light: green, seconds: 12}"
    plan = planned(LINE, base, "{develop: two}")
    assert plan.baths is not None and [bath.name for bath in plan.baths.baths] == ["a", "b"]
    assert (plan.base, plan.safelight_s) == ("fibre", 240)
    golden(plan.cautions[-1])
    assert planned(LINE, base).baths is None and planned(None, base, "{develop: two}").baths is None
    assert "bath line" not in planned(LINE.replace("resin", "fibre"), base, "{develop: two}").cautions[-1]
    assert Plan.model_validate_json(plan.model_dump_json()) == plan


def test_a_line_that_is_not_there_is_told_at_its_line(
    golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    for folder in ("prints", "benches", "papers", "baths"):
        (tmp_path / folder).mkdir()
    file = tmp_path / "prints" / "p.yaml"
    file.write_text(print_of("{base: soft, light: green, seconds: 12}", "{develop: fibre-two-baths}"))
    (tmp_path / "benches" / "two-station.yaml").write_text(TWO_STATION)
    (tmp_path / "papers" / "plain.yaml").write_text(PAPER)
    assert main(["check", str(file)]) == 1
    golden(capsys.readouterr().out)
    (tmp_path / "baths" / "fibre-two-baths.yaml").write_text("bath: fibre-two-baths\nbaths: [{name: a}]\n")
    assert main(["check", str(file)]) == 1
    assert "yaml:2: baths[0]: 'kind' is missing" in capsys.readouterr().out
    (tmp_path / "baths" / "fibre-two-baths.yaml").write_text(LINE)
    assert main(["check", str(file)]) == 0


def test_a_load_takes_the_line_along_or_ends_at_the_stop_bath(golden: Golden) -> None:
    bench = read((shipped() / "benches" / "two-station.yaml").read_bytes(), "two-station.yaml", "bench")
    where = {"print": "prints/breakwater", "paper": "papers/demo-fibre-glossy", "bath": "baths/fibre-two-bath"}
    files = {what: SentFile(f"{name}.yaml", (shipped() / f"{name}.yaml").read_text()) for what, name in where.items()}
    asked = LoadPrint(1, False, **files)
    plan, _ = loading(asked, bench)
    assert plan.baths is not None and plan.baths.bath == "fibre-two-bath"
    assert loading(replace(asked, bath=None), bench)[0].baths is None
    other = SentFile("resin-single.yaml", (shipped() / "baths" / "resin-single.yaml").read_text())
    with golden.raises(ValueError):
        loading(replace(asked, bath=other), bench)
