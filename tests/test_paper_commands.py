"""The paper's commands as a user types them: their keys, what they refuse and leave alone, what they need."""

from __future__ import annotations

import json
import math
import os
import random
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml
from golden import Golden
from papers_off import spread, with_few_deviations, without_deviations
from printing.other_papers import other_paper, wedge_of

from timerd.cli import main
from timerd.places import shipped
from timerd.printing.paper import iso_range
from timerd.sheet.profile.reading import read

PAPERS = shipped() / "papers"
READINGS = PAPERS / "demo-fibre-glossy.readings.csv"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    return status, told.out, told.err


def facts(capsys: pytest.CaptureFixture[str], *argv: str) -> dict[str, Any]:
    status, out, err = run(capsys, *argv, "--json")
    assert (status, err) == (0, "")
    found: dict[str, Any] = json.loads(out)
    return found


@pytest.mark.parametrize("name", ["demo-fibre-glossy", "demo-fibre-matt"])
def test_the_shipped_curves_are_those_of_their_readings(
    here: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:  # fmt: skip
    found = facts(capsys, "paper", "fit", str(PAPERS / f"{name}.readings.csv"))
    kept = yaml.safe_load((PAPERS / f"{name}.yaml").read_text())["curve"]
    assert found["curve"].keys() == kept.keys() and len(found["curve"]["mixes"]) == 5
    for key in ("dmin", "slope", "blue", "scatter"):
        assert found["curve"][key] == pytest.approx(kept[key], rel=1e-3)
    for part, there in zip(found["curve"]["parts"], kept["parts"], strict=True):
        assert (part["density"], part["green"]) == pytest.approx((there["density"], there["green"]), rel=1e-3)
    assert found["curve"]["mixes"] == kept["mixes"]


def test_fit_writes_a_paper_that_range_and_show_read(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = facts(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml")
    assert {
        "unit",
        "readings",
        "form",
        "parts",
        "criterion",
        "scatter",
        "mixes",
        "residuals",
        "stand_out",
    } <= found.keys()
    assert found["parts"] == 3 and len(found["residuals"]) == 105 and found["stand_out"] == []
    golden(run(capsys, "check", "mine.yaml")[1])
    at = facts(capsys, "paper", "range", "mine.yaml", "--green", "1", "--blue", "0")
    assert at["R"] == pytest.approx(found["mixes"][0]["R"], abs=0.01) and at["R_iso"] == 150
    assert at["R"] == pytest.approx(100 * (at["log_hs"] - at["log_ht"]))
    assert at["speed_relative"] == pytest.approx(1000 / 10 ** at["log_hm"]) and "speed_iso" not in at
    ten = facts(capsys, "paper", "range", "mine.yaml", "--green", "10", "--blue", "0")
    assert {**ten, "green": 1.0} == pytest.approx(at), "only the ratio counts"
    shown = facts(capsys, "paper", "show", "mine.yaml")
    assert [mix["R_iso"] for mix in shown["mixes"]] == [mix["R_iso"] for mix in found["mixes"]]


def test_a_speed_is_an_iso_speed_in_lux_seconds_alone(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts(capsys, "paper", "fit", str(READINGS), "--unit", "lux s", "--out", "lux.yaml")
    found = facts(capsys, "paper", "range", "lux.yaml", "--green", "0", "--blue", "1")
    assert found["speed_iso"] == 160 and "speed_relative" not in found


def test_with_force_only_the_curve_of_a_paper_changes(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = "# My paper,\n# box 3\npaper: mine\ndry_down: 9 %   # judged twice\ncurve: {unit: seconds, readings: 1, dmin: 0.1, slope: 9, blue: 1, parts: [{density: 1, green: 1}], mixes: [{green: [0, 1], blue: [0, 0]}]}\n# bought in May\nbatch: x\n"  # noqa: E501
    (here / "mine.yaml").write_text(before)
    status, _, err = run(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml")
    assert status == 1
    golden(err)
    assert (here / "mine.yaml").read_text() == before
    status, out, _ = run(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml", "--force")
    after = (here / "mine.yaml").read_text()
    assert status == 0 and out.endswith("written: mine.yaml\n")
    head, _, curve = after.partition("curve:")
    golden(head)
    assert yaml.safe_load("curve:" + curve)["curve"]["readings"] == 105
    assert run(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml", "--force")[0] == 0
    assert (here / "mine.yaml").read_text() == after, "the same readings again: what a fit has written it takes out"
    (here / "mine.yaml").write_text("paper: mine\nbatsch: x\n")
    status, _, err = run(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml", "--force")
    assert (
        status == 1
        and "did you mean 'batch'?" in err
        and (here / "mine.yaml").read_text() == "paper: mine\nbatsch: x\n"
    )


def test_pictures(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    paper = "demo-fibre-glossy"
    tones = ["--highlight", "0.12", "--highlight-light", "0.08", "--shadow", "1.9", "--shadow-light", "1"]
    for file, argv in {
        "fit.png": ["paper", "fit", str(READINGS)],
        "count.svg": ["paper", "count", "--first-tone", "2", "--first-black", "32"],
        "range.png": ["paper", "range", paper, "--green", "2", "--blue", "1"],
        "show.svg": ["paper", "show", paper],
        "contrast.png": ["contrast", paper, *tones],
        "anchor.svg": ["contrast", paper, *tones[4:], "--range", "90"],
        "area.PNG": ["area", paper, "--green", "14", "--blue", "9", "--light", "0.1", "--density", "0.5"],
        "flash.svg": ["flash", paper, "--fraction", "60 %", "--range", "100"],
    }.items():
        status, out, err = run(capsys, *argv, "--picture", file)
        assert (status, err) == (0, "") and out.splitlines()[-1] == f"drawn: {file}"
        raw = (here / file).read_bytes()
        assert raw.startswith(b"<?xml" if file.endswith("svg") else b"\x89PNG") and len(raw) > 5000
        status, _, err = run(capsys, *argv, "--picture", file)
        assert status == 1
        golden(err)
    assert run(capsys, *argv, "--picture", "flash.svg", "--json", "--force")[0] == 0
    assert (here / "flash.svg").read_bytes() == raw, "the same picture again, to the byte"
    assert len(os.listdir(here)) == 8, "nothing else is left behind"


def test_contrast(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tones = ["--highlight", "0.12", "--highlight-light", "0.08", "--shadow", "1.9", "--shadow-light"]
    found = facts(capsys, "contrast", "demo-fibre-glossy", *tones, "1")
    assert found["reached"] and found["gives_way"] is None and found["otherwise"] is None
    assert (found["highlight"], found["shadow"]) == pytest.approx((0.12, 1.9), abs=0.005)
    at = facts(
        capsys, "paper", "range", "demo-fibre-glossy", "--green", str(found["green_s"]), "--blue", str(found["blue_s"])
    )
    assert at["R"] == pytest.approx(found["R"])
    found = facts(capsys, "contrast", "demo-fibre-glossy", *tones, "9")
    assert not found["reached"] and found["gives_way"] == "shadow" and found["otherwise"]["gives_way"] == "highlight"
    half = ["--highlight-light-blue", "0.04", "--shadow-light-blue", "0.5"]
    own = facts(capsys, "contrast", "demo-fibre-glossy", *tones, "1", *half)
    even = facts(capsys, "contrast", "demo-fibre-glossy", *tones, "1")
    assert own["blue_s"] == pytest.approx(2 * even["blue_s"]) and own["R"] == pytest.approx(even["R"])
    found = facts(
        capsys, "contrast", "demo-fibre-glossy", "--range", "110", "--highlight", "0.1", "--highlight-light", "0.1"
    )
    assert found["reached"] and found["R"] == pytest.approx(110, abs=0.05) and found["shadow"] is None


def test_area(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(
        capsys, "area", "demo-fibre-glossy", "--green", "14", "--blue", "9.5", "--light", "0.1", "--density", "0.4"
    )
    assert [way["by"] for way in found["ways"]] == ["green", "blue", "both", "flash"]
    for way in found["ways"]:
        assert {"by", "green_s", "blue_s", "flash_s", "stops", "contrast", "reached"} <= way.keys() and way["reached"]
    both = found["ways"][2]
    assert both["green_s"] / both["blue_s"] == pytest.approx(14 / 9.5)
    assert 2 ** both["stops"] == pytest.approx(1 + both["green_s"] / 14)
    assert found["ways"][3]["contrast"] < found["ways"][0]["contrast"] < found["ways"][1]["contrast"]
    status, out, _ = run(capsys, "area", "demo-fibre-glossy", "--green", "14", "--blue", "9.5", "--density", "2.5")
    assert status == 0 and out.count("does not get there") == 4


def test_flash(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    keys = {"dose", "seconds", "R_before", "R_after", "R_model"}
    found = facts(capsys, "flash", "demo-resin-pearl", "--fraction", "50 %", "--range", "110")
    assert keys <= found.keys() and found["R_model"] is None
    assert (found["dose"], found["seconds"], found["R_before"]) == (0.6, 0.6, 110)
    assert found["R_after"] == pytest.approx(138.3, abs=0.05), "SOURCES: flash"
    found = facts(capsys, "flash", "demo-fibre-matt", "--fraction", "0.6", "--range", "100")
    assert found["dose"] == pytest.approx(1.26) and found["safelight_s"] == pytest.approx(144)
    assert 0.3 < found["fraction_of_ht"] < 0.6 and found["R_model"] == pytest.approx(found["R_after"], abs=4)
    facts(capsys, "paper", "count", "--first-tone", "2", "--first-black", "32", "--out", "one.yaml")
    with (here / "one.yaml").open("a") as file:
        file.write("threshold: {flash: 1.5, green: 1.2}\n")
    found = facts(capsys, "flash", "one.yaml", "--fraction", "0.6", "--green", "1", "--light", "flash")
    assert found["R_model"] == pytest.approx(found["R_after"]), "on a one-part paper the two agree"
    status, _, err = run(capsys, "flash", "one.yaml", "--fraction", "0.6")
    assert status == 1 and "--light, one of flash, green" in err
    lagging = "bench: b\nstations: {e: {}}\nlamps: {l: {pin: 17, station: e, lag_s: 0.2}}\n"
    (here / "b.yaml").write_text(
        lagging + "lights: {flash: {lamp: l, colour: white}}\npedals: {go: [{pin: 5}], end: [{pin: 6}]}\n"
    )
    found = facts(capsys, "flash", "demo-resin-pearl", "--fraction", "50 %", "--bench", "b.yaml")
    assert found["dose"] == 0.6 and found["seconds"] == pytest.approx(0.8) and found["R_before"] is None


def test_move(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = (shipped() / "prints" / "breakwater.yaml").read_bytes()
    found = facts(capsys, "move", "breakwater", "--paper", "demo-fibre-glossy", "--out", "same.yaml")
    assert found["changes"] == [] and (here / "same.yaml").read_bytes() == before
    found = facts(capsys, "move", "breakwater", "--paper", "demo-fibre-matt", "--out", "moved.yaml")
    assert found["R_after"] == pytest.approx(found["R_before"], abs=0.01) and found["unmatched"]
    text = (here / "moved.yaml").read_text()
    assert [line.partition("#")[2] for line in text.splitlines()] == [
        line.partition("#")[2] for line in before.decode().splitlines()
    ], "every comment is where it was"
    assert yaml.safe_load(text)["steps"][2]["seconds"] == float(found["changes"][1]["now"].split()[0])
    status, out, _ = run(capsys, "plan", "moved.yaml")
    assert status == 0 and "paper demo-fibre-matt" in out
    again = run(capsys, "move", "breakwater", "--paper", "demo-fibre-glossy", "--out", "moved.yaml")
    assert again[0] == 1 and (here / "moved.yaml").read_text() == text


GLOSSY = PAPERS / "demo-fibre-glossy.yaml"


@pytest.fixture
def mine(here: Path) -> Path:
    """A paper of one's own that a print of one's own names."""
    folder = here / "home" / "profiles"
    for kind in ("papers", "prints"):
        (folder / kind).mkdir(parents=True)
    few = with_few_deviations(GLOSSY.read_text())
    (folder / "papers" / "mine.yaml").write_text(few.replace("demo-fibre-glossy", "mine", 1))
    breakwater = (shipped() / "prints" / "breakwater.yaml").read_text()
    (folder / "prints" / "jetty.yaml").write_text(breakwater.replace("demo-fibre-glossy", "mine", 1))
    return folder / "papers" / "mine.yaml"


def test_a_fit_says_how_sure_it_is_and_at_which_level(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = facts(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml")
    assert found["level"] == "one deviation" and 0.0 <= found["bent"] <= 1.0 and found["light_within"] < 0.01
    assert found["misfit"]["widened"] == 1.0 and found["mind"] == []
    for mix in found["mixes"]:
        assert 0.5 < mix["R_within"] < 5.0 and 0.001 < mix["log_hm_within"] < 0.02
        assert abs(mix["R_interpolated"] - mix["R"]) < 3.0 * mix["R_interpolated_within"]
        told = facts(capsys, "paper", "range", "mine.yaml", "--green", str(mix["green"]), "--blue", str(mix["blue"]))
        assert told["R_within"] == pytest.approx(mix["R_within"], rel=0.02) and told["level"] == "one deviation"
        assert told["log_hm_within"] == pytest.approx(mix["log_hm_within"], rel=0.02)
    shown = facts(capsys, "paper", "show", "mine.yaml")
    assert [mix["R_within"] for mix in shown["mixes"]] == pytest.approx(
        [mix["R_within"] for mix in found["mixes"]], rel=0.02
    )
    out = run(capsys, "paper", "fit", str(READINGS))[1]
    assert "plus or minus: one deviation" in out
    for mix in found["mixes"]:
        assert f"  {mix['R_interpolated']:.0f} +- {mix['R_interpolated_within']:.0f}  " in out
    kept = yaml.safe_load((here / "mine.yaml").read_text())["curve"]
    for there, mix in zip(kept["mixes"], found["mixes"], strict=True):
        assert there["range"] == pytest.approx(mix["R"], abs=0.06)
        assert there["within"] == pytest.approx(mix["R_within"], rel=0.06)
    assert (here / "mine.yaml").stat().st_size < 4096


@pytest.mark.parametrize("light", ["green", "blue"])
def test_a_counted_paper_is_as_sure_as_its_two_patches(
    here: Path, capsys: pytest.CaptureFixture[str], light: str
) -> None:  # fmt: skip
    """Each end lies anywhere within one patch of half a stop: of 15.05 in R a root of 12th, and that of both ends."""
    facts(capsys, "paper", "count", "--first-tone", "4", "--first-black", "64", "--light", light, "--out", "c.yaml")
    green, blue = ("1", "0") if light == "green" else ("0", "1")
    told = facts(capsys, "paper", "range", "c.yaml", "--green", green, "--blue", blue)
    assert told["R_within"] == pytest.approx(100 * 0.5 * math.log10(2) / math.sqrt(12) * math.sqrt(2), rel=0.02)
    for end in ("log_ht_within", "log_hs_within"):
        assert told[end] == pytest.approx(0.5 * math.log10(2) / math.sqrt(12), rel=0.02)
    assert run(capsys, "check", "c.yaml")[0] == 0


def test_a_paper_of_another_kind_and_light_that_differed_are_said(golden: Golden,
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    """Readings of a Gompertz paper, and of a normal one under light that differed by 0.04 log from mix to mix."""
    paper = other_paper("Gompertz", random.Random(1))
    write_readings(here / "bent.csv", wedge_of(paper, random.Random(2)))
    found = facts(capsys, "paper", "fit", "bent.csv", "--out", "bent.yaml")
    assert found["bent"] > 0.99 and found["form"].endswith(", bent") and len(found["curve"]["bend"]) == 6
    golden(found["mind"])
    golden(run(capsys, "check", "bent.yaml")[1])
    told = facts(capsys, "paper", "range", "bent.yaml", "--green", "1", "--blue", "1")
    assert abs(told["R"] - paper.r(1.0, 1.0)) < 3.0 * told["R_within"]
    write_readings(here / "light.csv", wedge_of(other_paper("normal", random.Random(3)), random.Random(4), light=0.05))
    status, out, _ = run(capsys, "paper", "fit", "light.csv")
    assert status == 0 and "\nmind:\n  - " in out and "  - the light differs from mix to mix, by about 0.0" in out


def test_readings_that_follow_no_such_curve_are_said(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Waves of 0.03 in density along the exposure: runs of residuals of one sign, and every plus or minus is wider by
    what is told. (Of the demo's readings nothing is said, some tests above.)"""
    waves = [
        (green, blue, density + 0.03 * math.sin(2.0 * math.pi * math.log10(green + blue) / 0.9))
        for green, blue, density in wedge_of(other_paper("normal", random.Random(3)), random.Random(5), noise=0.005)
    ]  # fmt: skip
    write_readings(here / "waves.csv", waves)
    found = facts(capsys, "paper", "fit", "waves.csv")
    misfit, mind = found["misfit"], found["mind"]
    assert misfit["runs"] < misfit["runs_expected"] - 15 and misfit["widened"] > 1.2
    assert mind[0] == (
        f"residuals lie in {misfit['runs']} runs of one sign, {misfit['runs_expected']:.0f} would be usual: "
        "the curve is of another kind"
    )
    assert f"every plus or minus is made {misfit['widened']:.1f} times as wide for that" in mind


def write_readings(path: Path, rows: list[tuple[float, float, float]]) -> None:
    lines = [f"{green:.6g},{blue:.6g},{density}" for green, blue, density in rows]
    path.write_text("\n".join(["green,blue,density", *lines]) + "\n")


def test_a_range_is_as_sure_as_the_papers_deviations_make_it(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its file changed by hand, a deviation at a time, and the command run again: what comes out, added as squares."""
    keys = ["R", "log_ht", "log_hm", "log_hs"]

    def told() -> dict[str, Any]:
        return facts(capsys, "paper", "range", "mine", "--green", "2", "--blue", "1")

    found = told()
    wanted = spread(mine, lambda: [told()[key] for key in keys])
    assert [found[f"{key}_within"] for key in keys] == pytest.approx(wanted, rel=1e-6)


def test_contrast_is_as_sure_as_the_papers_deviations_make_it(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The seconds that would be right on each changed file; the tones and the R that the seconds told give there."""
    for tones in (
        ["--highlight", "0.12", "--highlight-light", "0.08", "--shadow", "1.95", "--shadow-light", "9"],
        ["--highlight", "0.12", "--highlight-light", "0.08", "--range", "100"],
    ):
        found = facts(capsys, "contrast", "mine", *tones)

        def seconds(argv: list[str] = tones) -> list[float]:
            told = facts(capsys, "contrast", "mine", *argv)
            return [told["green_s"], told["blue_s"]]

        def gets(mixed: dict[str, Any] = found) -> list[float]:
            curve = read(mine.read_bytes(), "mine", "paper").value.curve.curve
            pair = mixed["green_s"] * 0.08, mixed["blue_s"] * 0.08
            return [iso_range(curve, *pair).r, curve.density(*pair)]

        assert [found["within"][key] for key in ("green_s", "blue_s")] == pytest.approx(spread(mine, seconds), rel=1e-5)
        assert [found["within"][key] for key in ("R", "highlight")] == pytest.approx(spread(mine, gets), rel=1e-6)


def test_an_area_is_as_sure_as_the_papers_deviations_make_it(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On a paper with a reciprocity, which counts in the seconds: of the exposure x over a base of 14 s they are
    14 * ((1 + x / 14)^(1 / 0.9) - 1)."""
    argv = ["area", "mine", "--green", "14", "--blue", "9.5", "--light", "0.1", "--density", "0.4"]
    keys = ("green_s", "blue_s", "flash_s", "stops", "contrast")
    plain = facts(capsys, *argv)["ways"][0]
    mine.write_text(mine.read_text().replace("reciprocity: 1", "reciprocity: 0.9"))
    found = facts(capsys, *argv)
    assert found["ways"][0]["green_s"] == pytest.approx(14 * ((1 + plain["green_s"] / 14) ** (1 / 0.9) - 1))
    assert found["ways"][0]["within"]["green_s"] > 1.05 * plain["within"]["green_s"]

    def told() -> list[float]:
        now = facts(capsys, *argv)
        return [now["base"]["density"], *(way[key] for way in now["ways"] for key in keys)]

    mine_told = [found["base"]["within"], *(way["within"][key] for way in found["ways"] for key in keys)]
    assert mine_told == pytest.approx(spread(mine, told), rel=1e-5, abs=1e-9)
    assert all(way["within"]["stops"] > 0.0005 for way in found["ways"])


def test_a_move_is_as_sure_as_both_papers_make_it(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    matt = mine.with_name("matt.yaml")
    text = with_few_deviations((PAPERS / "demo-fibre-matt.yaml").read_text(), 1)
    matt.write_text(text.replace("demo-fibre-matt", "matt"))

    def told() -> list[float]:
        now = facts(capsys, "move", "jetty", "--paper", "matt")
        return [now["R_before"], now["R_after"], now["green_s"][1], now["blue_s"][1]]

    found = facts(capsys, "move", "jetty", "--paper", "matt")
    both = [math.hypot(*ends) for ends in zip(spread(mine, told), spread(matt, told), strict=True)]
    names = ("R_before_within", "R_after_within", "green_s_within", "blue_s_within")
    assert [found[name] for name in names] == pytest.approx(both, rel=1e-5)
    out = run(capsys, "move", "jetty", "--paper", "matt")[1]
    assert "in all bases, by what the papers' curves leave open: 19." in out and " s of blue\n" in out
    same = facts(capsys, "move", "jetty", "--paper", "mine")
    assert (same["green_s_within"], same["blue_s_within"]) == (0.0, 0.0) and same["R_before_within"] > 0.1
    matt.write_text(without_deviations(matt.read_text()))
    assert facts(capsys, "move", "jetty", "--paper", "matt")["green_s_within"] is None


def test_an_old_papers_file_is_read_and_has_no_plus_or_minus(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    mine.write_text(without_deviations(mine.read_text()))
    assert run(capsys, "check", str(mine))[1].endswith("paper, nothing wrong\n")
    said = "plus or minus: not in the paper's file: fit its readings again, timerd paper fit"
    for argv, key in (
        (["paper", "range", "mine", "--green", "2", "--blue", "1"], "R_within"),
        (["contrast", "mine", *TONES[2:]], "within"),
        (["area", "mine", "--green", "14", "--blue", "9", "--light", "0.1", "--density", "0.5"], "base"),
        (["paper", "show", "mine"], "mixes"),
    ):
        assert said in run(capsys, *argv)[1]
        told = facts(capsys, *argv)[key]
        assert told in (None, {"green_s": None, "blue_s": None, "highlight": None, "shadow": None, "R": None}) or (
            told["within"] is None if isinstance(told, dict) else all(mix["R_within"] is None for mix in told)
        )


BAD_READINGS = {
    "text": "green,blue,density\n1,0,dark\n",
    "negative": "green,blue,density\n-1,0,0.5\n",
    "nan": "green,blue,density\nnan,0,0.5\n",
    "one": "green,blue,density\n1,0,0.5\n",
    "unit": "green,blue,density,unit\n1,0,0.5,candles\n",
    "empty": "",
    "10 MB": "green,blue,density\n" + "1,0,0.5\n" * 1_310_720,
}


@pytest.mark.parametrize("name", BAD_READINGS)
def test_bad_readings_get_one_line_and_nothing_is_written(
    here: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    (here / "bad.csv").write_text(BAD_READINGS[name])
    status, out, err = run(capsys, "paper", "fit", "bad.csv", "--out", "mine.yaml", "--picture", "p.png")
    assert (status, out) == (1, "") and len(err.splitlines()) == 1 and err.startswith("bad.csv:")
    assert os.listdir(here) == ["bad.csv"]


G = "demo-fibre-glossy"
TONES = ["contrast", G, "--highlight", "0.1", "--highlight-light", "0.1", "--shadow", "1.9", "--shadow-light", "1"]
REFUSED = {
    "no file": (["paper", "fit", "none.csv"], "none.csv: No such file or directory"),
    "unit": (["paper", "fit", str(READINGS), "--unit", "candles"], "found 'candles'"),
    "name": (["paper", "fit", str(READINGS), "--out", "My Paper.yaml"], "--out: a paper's file is its name"),
    "picture": (["paper", "show", G, "--picture", "a.gif"], "--picture: a picture is a .png or an .svg file"),
    "folder": (["paper", "show", G, "--picture", "no/a.png"], "no/a.png: No such file or directory"),
    "no curve": (["paper", "range", "demo-resin-pearl", "--green", "1", "--blue", "1"], "has no curve"),
    "no paper": (["paper", "show", "demo-fiber-glossy"], "did you mean 'demo-fibre-glossy'?"),
    "negative": (["paper", "range", G, "--green=-1", "--blue", "1"], "--green: must be at least 0, at most 1e+09, is "),
    "text": (["paper", "range", G, "--green", "1,5", "--blue", "1"], "--green: must be a number, is '1,5': write 1.5"),
    "nan": (["paper", "range", G, "--green", "nan", "--blue", "1"], "--green: must be a number, is 'nan'"),
    "dark": (["paper", "range", G, "--green", "0", "--blue", "0"], "not both 0"),
    "count": (["paper", "count", "--first-tone", "32", "--first-black", "2"], "there must be patches"),
    "one tone": (["contrast", G, "--highlight", "0.1", "--highlight-light", "1"], "contrast needs two things"),
    "three": ([*TONES, "--range", "90"], "contrast needs two things"),
    "no light": (["contrast", G, "--highlight", "0.1", "--range", "90"], "--highlight needs --highlight-light"),
    "no tone": (["contrast", G, "--highlight-light", "1", "--range", "90"], "--highlight-light goes with --highlight"),
    "swapped": ([*TONES, "--highlight-light", "2"], "are they swapped"),
    "density": (["area", G, "--green", "1", "--blue", "1", "--density", "0"], "--density: must be above 0"),
    "fog": (["flash", G, "--fraction", "250 %"], "it leaves a tone; flash less"),
    "no threshold": (["flash", "bare.yaml", "--fraction", "0.5"], "has no threshold: make a flash strip"),
    "both": (["flash", G, "--fraction", "0.5", "--range", "90", "--green", "1"], "either the range is told or the mix"),
    "nothing drawn": (["flash", "demo-resin-pearl", "--fraction", "0.5", "--picture", "a.png"], "nothing to draw"),
    "move": (["move", "quiet-yard", "--paper", G], "paper 'demo-resin-pearl' has no curve"),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_done_is_said_in_one_line(here: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    argv, said = REFUSED[name]
    (here / "bare.yaml").write_text("paper: bare\n")
    status, out, err = run(capsys, *argv)
    assert status == 1 and said in err and len(err.splitlines()) == 1
    assert "drawn" not in out and os.listdir(here) == ["bare.yaml"]


WITHOUT = """\
import json, sys
for name in ("numpy", "scipy", "matplotlib", "PIL"):
    sys.modules[name] = None
from timerd.cli import main
for argv in json.loads(sys.argv[1]):
    print(main(argv), file=sys.stderr)
"""


def test_only_a_fit_and_a_picture_need_the_desk(here: Path) -> None:
    def bare(*commands: list[str]) -> list[str]:
        argv = [sys.executable, "-c", WITHOUT, json.dumps(commands)]
        return subprocess.run(argv, capture_output=True, text=True, check=True).stderr.splitlines()

    assert (
        bare(
            ["paper", "range", G, "--green", "1", "--blue", "1"],
            ["paper", "show", G],
            ["paper", "count", "--first-tone", "2", "--first-black", "32", "--out", "counted.yaml"],
            ["contrast", G, "--highlight", "0.12", "--highlight-light", "0.08", "--range", "100"],
            ["area", G, "--green", "14", "--blue", "9", "--light", "0.1", "--density", "0.5"],
            ["flash", G, "--fraction", "0.5"],
            ["move", "breakwater", "--paper", "demo-fibre-matt", "--out", "moved.yaml"],
        )
        == ["0"] * 7
    )
    said = bare(["paper", "fit", str(READINGS), "--out", "mine.yaml"], ["paper", "show", G, "--picture", "a.png"])
    assert said[1::2] == ["1", "1"]
    assert all(line.endswith("is not installed. To get it: pip install 'timerd[desk]'") for line in said[0::2])
    assert sorted(os.listdir(here)) == ["counted.yaml", "moved.yaml"]


def test_nothing_is_written_where_the_picture_cannot_be(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "there.png").write_text("mine")
    for picture in ("no/a.png", "there.png", "a.gif"):
        status, out, err = run(capsys, "paper", "fit", str(READINGS), "--out", "mine.yaml", "--picture", picture)
        assert (status, out) == (1, "") and len(err.splitlines()) == 1
    assert os.listdir(here) == ["there.png"] and (here / "there.png").read_text() == "mine"
