"""Strips, lag and drift as a user types them: files written with their comments, and one line for each mistake."""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from golden import Golden

from timerd.bench.simulated import SimulatedBench
from timerd.cli import main, parser
from timerd.cli.files import worked
from timerd.places import shipped
from timerd.sheet.engine import events as ev
from timerd.sheet.profile.reading import read
from timerd.sheet.session import Session

PRINT = """\
# worked on in March
print: Low tide
paper: my-paper
bench: my-bench
sheet: 8x10 in
aperture: 8
judged: wet     # under the safelight
steps:
  - {base: soft, light: green, seconds: 14}    # by the second strip
  # the hard one comes later
  - base: hard
    light: blue
    seconds: 9.5
  - {base: veil, light: green, pedal: free}
"""
PAPER = """\
paper: my-paper     # box 3
dry_down: 8 %       # first guess
threshold:
  flash: 1.6        # old lamp
"""
BENCH = """\
bench: my-bench
stations: {enlarger: {turn: 0}, flashing: {}}
lamps:
  green-lamp: {pin: 17, station: enlarger, rise_ms: 100, fall_ms: 50}   # old bulb
  blue-lamp: {pin: 27, station: enlarger}
  flasher: {pin: 23, station: flashing, lag_s: 0.1}
lights:
  green: {lamp: green-lamp, colour: green}
  blue: {lamp: blue-lamp, colour: blue}
  flash: {lamp: flasher, colour: white}
safelight: {pin: 22}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    for kind, name, text in (
        ("prints", "low-tide", PRINT),
        ("papers", "my-paper", PAPER),
        ("benches", "my-bench", BENCH),
    ):
        (tmp_path / kind).mkdir()
        (tmp_path / kind / f"{name}.yaml").write_text(text)
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    assert "Traceback" not in told.err
    return status, told.out, told.err


def ok(capsys: pytest.CaptureFixture[str], *argv: str) -> Any:
    status, out, err = run(capsys, *argv, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def files(here: Path) -> dict[str, bytes]:
    return {str(path.relative_to(here)): path.read_bytes() for path in sorted(here.rglob("*")) if path.is_file()}


def test_a_strip_is_made_planned_and_read(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = ok(
        capsys, "strip", "base", "prints/low-tide.yaml", "--base", "soft", "--first", "8", "--out", "prints/g.yaml"
    )
    assert [patch["seconds"] for patch in facts["ladders"][0]["patches"]] == [8, 10.1, 12.7, 16, 20.1, 25.3]
    assert facts["file"] == "prints/g.yaml" and facts["by"] == "patch"
    golden(run(capsys, "check", "prints/g.yaml")[:2])
    plan = ok(capsys, "plan", "prints/g.yaml")
    assert [step["seconds"] for step in plan["steps"][1:]] == pytest.approx([8, 10.1, 12.7, 16, 20.1, 25.3])
    assert all(step["dry_down"] is None for step in plan["steps"])
    told = ok(capsys, "strip", "read", "prints/g.yaml", "3")
    assert told["changes"] == [{"key": "steps[0].seconds", "was": 14.0, "is": 12.7}]
    text = (here / "prints/low-tide.yaml").read_text()
    assert text == PRINT.replace("seconds: 14}    #", "seconds: 12.7}  #")


@pytest.mark.parametrize(
    "made",
    [
        ("base", "prints/low-tide.yaml", "--base", "soft"),
        ("base", "prints/low-tide.yaml", "--base", "soft", "--by", "uncover"),
        ("dry-down", "prints/low-tide.yaml"),
        ("flash", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "flash",
         "--first", "1"),
        ("safelight", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "green",
         "--grey", "2"),
    ],
    ids=lambda made: " ".join(made[:1] + made[4:5]),
)  # fmt: skip
@pytest.mark.parametrize(
    ("asked", "end"),
    [
        (("--sheet", "2x8in"), "top"), (("--sheet", "2x8in", "--from", "left"), "left"),
        (("--sheet", "2x8in", "--from", "bottom"), "bottom"), (("--sheet", "8x2in"), "left"),
        (("--sheet", "8x10in"), "left"), (("--sheet", "5x7in"), "left"),
    ],
)  # fmt: skip
def test_the_patches_lie_along_a_long_narrow_sheet(
    here: Path, capsys: pytest.CaptureFixture[str], made: tuple[str, ...], asked: tuple[str, ...], end: str
) -> None:
    facts = ok(capsys, "strip", *made, *asked, "--out", "prints/s.yaml")
    lies = "the white part lies" if made[0] == "flash" else "patch 1 lies"
    assert facts["exposures"][0]["note"].startswith(f"{lies} at the {end}: cut off the ")
    print_ = read((here / "prints/s.yaml").read_bytes(), "s.yaml", "print").value
    whole = [[0, 0], [1, 0], [1, 1], [0, 1]]
    across = {b[0] - a[0] == 1 for a, b, *_ in (area for area in print_.areas.values() if area != whole)}
    assert across == (set() if made[0] == "safelight" else {end in ("top", "bottom")})
    if made[0] == "safelight":
        assert ("right two thirds" in facts["exposures"][0]["card"]) == (end in ("top", "bottom"))


def test_the_base_s_own_seconds_come_in_the_middle_with_a_reciprocity_too(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """p = 0.8: a third of a stop is 2^(1/2.4) of the seconds, and three of them below 9.5 s are 3.99 s."""
    (here / "papers/my-paper.yaml").write_text(PAPER + "reciprocity: 0.8\n")
    facts = ok(capsys, "strip", "base", "prints/low-tide.yaml", "--base", "hard")
    seconds = [patch["seconds"] for patch in facts["ladders"][0]["patches"]]
    assert seconds == pytest.approx([3.99, 5.33, 7.12, 9.5, 12.68, 16.93], abs=0.02)


def test_a_strip_judged_otherwise_than_the_print(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Judged dry at 8.00 s, in a print whose seconds are judged wet: the plan gives 8.00 s after its dry-down."""
    ok(capsys, "strip", "base", "prints/low-tide.yaml", "--base", "hard", "--first", "8", "--out", "prints/b.yaml")
    told = ok(capsys, "strip", "read", "prints/b.yaml", "1", "--judged", "dry")
    assert told["changes"][0]["is"] == pytest.approx(8 / 0.92, abs=5e-4)
    assert "was judged dry" in told["mind"][0]
    assert ok(capsys, "plan", "prints/low-tide.yaml")["steps"][2]["dose"] == pytest.approx(8, abs=1e-3)
    told = ok(capsys, "strip", "read", "prints/b.yaml", "2.5")
    assert told["changes"][0]["is"] == pytest.approx(10.1 * (12.7 / 10.1) ** 0.5, abs=5e-4)
    (here / "prints/low-tide.yaml").write_text(PRINT.replace("judged: wet ", "judged: dry "))
    told = ok(capsys, "strip", "read", "prints/b.yaml", "1", "--judged", "wet")
    assert told["changes"][0]["is"] == pytest.approx(8 * 0.92, abs=5e-4)


def test_a_grid_finds_both_bases(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    facts = ok(capsys, "strip", "grid", "prints/low-tide.yaml", "--count", "3", "--step", "1/2", "--against-first", "4",
               "--against-count", "4", "--out", "prints/grid.yaml", "--speed", "0.5")  # fmt: skip
    assert [ladder["what"] for ladder in facts["ladders"]] == ["column", "row"]
    columns = [patch["seconds"] for patch in facts["ladders"][0]["patches"]]
    assert columns[1] == pytest.approx(14, abs=0.05), "the base's own seconds come in the middle"
    assert len(facts["highlight_shift_stops"]) == 3 and len(facts["highlight_shift_stops"][0]) == 4
    told = ok(capsys, "strip", "read", "prints/grid.yaml", "3", "2", "--out", "prints/next.yaml")
    assert [change["key"] for change in told["changes"]] == ["steps[0].seconds", "steps[1].seconds"]
    assert [change["is"] for change in told["changes"]] == [columns[2], 5.04]
    assert (here / "prints/low-tide.yaml").read_text() == PRINT
    assert "# the hard one comes later" in (here / "prints/next.yaml").read_text()
    assert "column" in run(capsys, "strip", "grid", "prints/low-tide.yaml", "--speed", "0.5")[1]


def test_a_threshold_a_dry_down_and_a_safe_time_go_into_the_paper(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    paper, bench = "papers/my-paper.yaml", "benches/my-bench.yaml"
    ok(capsys, "strip", "flash", paper, "--bench", bench, "--light", "flash", "--first", "0.5", "--by", "uncover",
       "--from", "top", "--out", "prints/f.yaml")  # fmt: skip
    told = ok(capsys, "strip", "read", "prints/f.yaml", "4")
    assert told["changes"][0]["key"] == "threshold.flash" and told["changes"][0]["was"] == 1.6
    assert told["changes"][0]["is"] == pytest.approx(0.4 * 2, abs=0.01), "a dose: 0.5 s less the lag, and a stop more"
    ok(capsys, "strip", "dry-down", "prints/low-tide.yaml", "--percent", "10,6,3,0", "--out", "prints/d.yaml")
    assert ok(capsys, "strip", "read", "prints/d.yaml", "2")["changes"] == [
        {"key": "dry_down", "was": "8 %", "is": "6 %"}
    ]
    ok(
        capsys,
        "strip",
        "safelight",
        paper,
        "--bench",
        bench,
        "--light",
        "green",
        "--grey",
        "2",
        "--out",
        "prints/s.yaml",
    )
    assert ok(capsys, "strip", "read", "prints/s.yaml", "3")["changes"] == [
        {"key": "safelight_s", "was": None, "is": 180.0}
    ]
    text = (here / paper).read_text()
    for line in ("paper: my-paper     # box 3", "# first guess", "# old lamp", "safelight_s: 180"):
        assert line in text
    assert run(capsys, "check", paper)[0] == 0


def test_a_safe_time_is_at_most_half_of_what_shows(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """K-4: safe is half of the shortest time that gives a detectable change. Where nothing changed that time is longer
    than the longest tested, and half of that is safe; a flash takes its share of the whole time, once."""
    argv = ("strip", "safelight", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "green",
            "--grey", "2", "--out", "prints/s.yaml", "--minutes")  # fmt: skip
    ok(capsys, *argv, "0,4,5")
    assert ok(capsys, "strip", "read", "prints/s.yaml", "2")["changes"][0]["is"] == 150
    told = ok(capsys, "strip", "read", "prints/s.yaml", "3")
    assert told["changes"][0]["is"] == 150
    golden(told["mind"])
    ok(capsys, *argv, "0,1,3,7", "--force")
    assert ok(capsys, "strip", "read", "prints/s.yaml", "4")["changes"] == [
        {"key": "safelight_s", "was": 150.0, "is": 210.0}
    ]
    for percent in (1, 30, 40, 60, 80, 90):
        told = ok(capsys, "flash", "papers/my-paper.yaml", "--fraction", f"{percent} %")
        assert told["safelight_s"] == pytest.approx(min(210.0, (0.9 - percent / 100) * 420.0), abs=1e-9)


def test_a_safelight_strip_is_not_to_be_flashed(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = ok(capsys, "strip", "safelight", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light",
              "green", "--grey", "2")  # fmt: skip
    said = "do not flash it: what a flash takes of the safe time is counted by itself, and would count twice"
    assert said in told["mind"]


LINE = """\
bath: my-line
baths:
  - {name: developer, kind: developer, seconds: 120, drain_s: 20}
  - {name: stop, kind: stop bath, seconds: 30}
  - {name: fixer, kind: fixer, seconds: 60, litres: 1, capacity: {fibre: 40, resin: 80}}
"""


@pytest.fixture
def line(here: Path) -> Path:
    """A bath line of one's own, in which the print ends."""
    (here / "baths").mkdir()
    (here / "baths" / "my-line.yaml").write_text(LINE)
    (here / "prints" / "low-tide.yaml").write_text(PRINT + "  - {develop: my-line}\n")
    return here / "baths" / "my-line.yaml"


STRIPS = {
    "base": ("base", "prints/low-tide.yaml", "--base", "soft", "--first", "8"),
    "grid": ("grid", "prints/low-tide.yaml"),
    "dry-down": ("dry-down", "prints/low-tide.yaml"),
    "flash": ("flash", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "flash", "--first", "1"),
    "safelight": ("safelight", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "green",
                  "--grey", "2"),
}  # fmt: skip


@pytest.mark.parametrize("kind", STRIPS)
def test_a_strip_ends_in_the_prints_baths(
    line: Path, here: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:  # fmt: skip
    """A strip of a print goes through the print's own line, one of a paper through the one that is named."""
    named = () if STRIPS[kind][1].startswith("prints") else ("--baths", str(line))
    told = ok(capsys, "strip", *STRIPS[kind], *named, "--out", "prints/s.yaml")
    assert not any("bath" in one for one in told["mind"])
    assert (here / "prints/s.yaml").read_text().endswith("\n  - {develop: my-line}\n")
    plan = ok(capsys, "plan", "prints/s.yaml")
    assert plan["steps"][-1]["kind"] == "develop"
    assert worked("prints/s.yaml", parser().parse_args(["plan", "prints/s.yaml"])).plan.baths is not None
    assert [step["kind"] for step in plan["steps"]].count("develop") == 1


@pytest.mark.parametrize("kind", STRIPS)
def test_a_strip_without_baths_says_so(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str], kind: str
) -> None:
    told = ok(capsys, "strip", *STRIPS[kind], "--out", "prints/s.yaml")
    golden(told["mind"])
    assert "develop" not in (here / "prints/s.yaml").read_text()


def test_another_line_may_be_named_and_one_that_is_not_found_is_told(golden: Golden,
    line: Path, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    (here / "baths" / "other.yaml").write_text(LINE.replace("my-line", "other"))
    argv = ("strip", *STRIPS["base"], "--baths")
    ok(capsys, *argv, "baths/other.yaml", "--out", "prints/s.yaml")
    assert (here / "prints/s.yaml").read_text().endswith("  - {develop: other}\n")
    (here / "else" / "where").mkdir(parents=True)
    told = ok(capsys, *argv, "baths/other.yaml", "--out", "else/where/s.yaml")
    golden(told["mind"])
    status, out, err = run(capsys, *argv, "baths/none.yaml", "--out", "prints/t.yaml")
    assert (status, out) == (1, "")
    golden(err)
    assert not (here / "prints/t.yaml").exists()


def test_a_strips_time_in_the_trays_is_clocked_and_its_paper_counted(
    line: Path, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:  # fmt: skip
    """Played by feet on the simulated bench: a press after the last patch begins the developer's clock, the next ones
    those of the other baths, and each bath has taken a strip of 4x5 in."""
    ok(capsys, "strip", *STRIPS["base"], "--count", "2", "--sheet", "4x5 in", "--out", "prints/s.yaml")
    made = worked("prints/s.yaml", parser().parse_args(["plan", "prints/s.yaml"]))
    plan, bench = made.plan, made.bench.value
    assert (plan.sheet.width, plan.sheet.height) == pytest.approx((101.6, 127.0))
    played = SimulatedBench(Session(bench))
    played.event(ev.Load(plan, 1, 0.0))
    at = 1.0

    def press(down: float, wait: float) -> None:
        nonlocal at
        for is_down, until in ((True, at + down), (False, at + down + wait)):
            played.raw_edge("go", is_down)
            played.advance(until)
        at += down + wait

    played.advance(at)
    press(1.2, 2.0)
    while played.session.standing.state != "done":
        press(0.1, 20.0)
        assert at < 300.0
    for wait in (120.0, 35.0, 60.0):
        press(0.1, wait)
    into = [record.facts for record in played.records if record.kind == "in bath"]
    assert [facts["bath"] for facts in into] == ["developer", "stop", "fixer"]


def test_what_is_at_an_end_is_told(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ok(capsys, "strip", "base", "prints/low-tide.yaml", "--base", "hard", "--first", "8", "--out", "prints/b.yaml")
    assert "with less light" in ok(capsys, "strip", "read", "prints/b.yaml", "1")["mind"][0]
    assert "with more light" in ok(capsys, "strip", "read", "prints/b.yaml", "6")["mind"][0]
    status, out, _ = run(capsys, "strip", "read", "prints/b.yaml", "2")
    assert status == 0
    golden(out.splitlines()[0])


def test_lag_goes_into_the_bench(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """SOURCES: lag. T 10, n 10, t 1.12 is a lag of 0.1333 s."""
    argv = ("lag", "--long", "10", "--short", "1.12", "--bursts", "10", "--bench", "benches/my-bench.yaml", "--lamp")
    facts = ok(capsys, *argv, "green-lamp")
    assert facts["lag_s"] == pytest.approx(0.1333, abs=5e-5) and facts["precise_enough"] is True
    text = (here / "benches/my-bench.yaml").read_text()
    assert "green-lamp: {pin: 17, station: enlarger, lag_s: 0.1333}" in text and "# old bulb" in text
    ok(capsys, *argv, "blue-lamp", "--out", "benches/new.yaml")
    assert (here / "benches/my-bench.yaml").read_text() == text
    assert "blue-lamp: {pin: 27, station: enlarger, lag_s: 0.1333}" in (here / "benches/new.yaml").read_text()


def test_a_lag_has_the_relay_in_it(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The delays go with rise and fall: the file would else say the same twice, and be refused for its lag_s."""
    bench = here / "benches/my-bench.yaml"
    text = bench.read_text()
    bench.write_text(text.replace("rise_ms: 100, fall_ms: 50", "rise_ms: 100, fall_ms: 50, relay_on_ms: 12"))
    ok(
        capsys,
        "lag",
        "--long",
        "10",
        "--short",
        "1.12",
        "--bursts",
        "10",
        "--bench",
        str(bench),
        "--lamp",
        "green-lamp",
    )
    assert "green-lamp: {pin: 17, station: enlarger, lag_s: 0.1333}" in bench.read_text()
    assert run(capsys, "check", str(bench))[0] == 0


@pytest.mark.parametrize(
    ("long_s", "short_s", "bursts", "lag", "enough"),
    [("16", "2.10", "8", 0.1143, False), ("12", "2.15", "6", 0.18, False), ("10", "1.12", "10", 0.1333, True)],
)
def test_whether_a_lag_is_precise_enough(
    here: Path, capsys: pytest.CaptureFixture[str], long_s: str, short_s: str, bursts: str, lag: float, enough: bool
) -> None:
    """Told apart to a twelfth of a stop, 16 s over 7 gaps leave 0.136 s: nearly a tenth of a stop on a 2 s burst.

    The short bursts may give q = 2^(1/12) times the light of the long one: n * (t - lag) = q * (T - lag).
    """
    argv = ("lag", "--long", long_s, "--short", short_s, "--bursts", bursts)
    facts = ok(capsys, *argv)
    assert facts["lag_s"] == pytest.approx(lag, abs=5e-5) and facts["file"] is None
    assert facts["precise_enough"] is enough
    q = 2 ** (1 / 12)
    error = facts["lag_s"] - (int(bursts) * float(short_s) - q * float(long_s)) / (int(bursts) - q)
    assert facts["error_s"] == pytest.approx(error)
    assert facts["error_stops"] == pytest.approx(math.log2(1 + error / 2))
    assert ok(capsys, *argv, "--match", "1/100")["precise_enough"] is True, "with a densitometer"
    assert ("too much" in run(capsys, *argv)[1]) is not enough


def test_as_many_bursts_as_are_advised_are_enough(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def measured(bursts: int) -> Any:
        short = (16 - 0.1143) / bursts + 0.1143  # of a lamp that has this lag
        return ok(capsys, "lag", "--long", "16", "--short", f"{short:.6f}", "--bursts", str(bursts))

    said = next(s for s in measured(8)["mind"] if "match the" in s)
    advised = int(said.split("with ")[1].split()[0])
    assert measured(advised)["precise_enough"] is True
    assert measured(advised - 1)["precise_enough"] is False


def test_drift(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Voltage down by 10 % is -0.517 stop by the 3.4th power (SOURCES: lamp voltage)."""
    facts = ok(capsys, "drift", "--before", "100", "--now", str(round(100 * 0.9**3.4, 4)), "--seconds", "10")
    assert facts["stops"] == pytest.approx(-0.517, abs=5e-4)
    assert facts["seconds"] == pytest.approx(10 * 0.9**-3.4, rel=1e-5)
    lamp = ("--bench", "benches/my-bench.yaml", "--lamp", "flasher")
    lagging = ok(capsys, "drift", "--before", "8", "--now", "4", "--seconds", "10.1", *lamp)
    assert lagging == {"stops": -1.0, "factor": 2.0, "seconds": pytest.approx(20.1)}
    # Schwarzschild: half the light takes 2^(1/p) times as long
    slow = (here / "papers" / "my-paper.yaml").read_text() + "reciprocity: 0.9\n"
    (here / "papers" / "slow.yaml").write_text(slow.replace("paper: my-paper", "paper: slow"))
    facts = ok(capsys, "drift", "--before", "8", "--now", "4", "--seconds", "10", "--paper", "papers/slow.yaml")
    assert facts == {
        "stops": -1.0, "factor": pytest.approx(2 ** (1 / 0.9)), "seconds": pytest.approx(10 * 2 ** (1 / 0.9)),
    }  # fmt: skip
    golden(run(capsys, "drift", "--before", "8", "--now", "8.5")[1])


BASE = ("strip", "base", "prints/low-tide.yaml", "--base", "soft", "--out", "x.yaml")
FLASH = ("strip", "flash", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--out", "x.yaml", "--light")
SAFE = ("strip", "safelight", "papers/my-paper.yaml", "--bench", "benches/my-bench.yaml", "--light", "green",
        "--out", "x.yaml", "--grey")  # fmt: skip
LAG = ("lag", "--bench", "benches/my-bench.yaml", "--lamp", "green-lamp", "--long")
READ = ("strip", "read", "prints/g.yaml")
_MADE: dict[str, str] = {}
"""Strips that many tests read: made once."""


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        ((*BASE, "--first", "eight"), "--first: write seconds, as in 8 or 8.5"),
        ((*BASE, "--first", "-8"), "--first: write seconds"),
        ((*BASE, "--first", "nan"), "--first: write seconds"),
        ((*BASE, "--first", "1e999"), "--first: write seconds"),
        ((*BASE, "--first", "8 min"), "found '8 min'"),
        ((*BASE, "--first", "9" * 5000), "--first: write seconds"),
        ((*BASE, "--step", "a third"), "--step: write stops as 1/3"),
        ((*BASE, "--step", "0"), "a strip climbs"),
        ((*BASE, "--count", "1"), "--count: write a whole number from 2 to 24"),
        ((*BASE, "--count", "²"), "--count: write a whole number"),
        ((*BASE, "--first", "100"), "may burn 300 s at once"),
        ((*BASE, "--sheet", "big"), "--sheet: write a size"),
        ((*BASE, "--over", "red"), "--over: there is no base 'red'"),
        ((*BASE, "--over", "soft"), "the base that the strip is to find"),
        ((*BASE, "--speed", "fast"), "--speed: write a number"),
        ((*BASE[:3], "--out", "x.yaml"), "--base: say which base: soft/green, hard/blue"),
        ((*BASE, "--out", "none/x.yaml"), "none/x.yaml: No such file"),
        ((*BASE, "--out", "prints/low-tide.yaml"), "is there already: choose another name, or add --force"),
        (("strip", "base", "nobody"), "there is no print 'nobody'"),
        (("strip", "base", "papers/my-paper.yaml"), "is a paper file"),
        (("strip", "base", "empty.yaml"), "empty.yaml:1: is empty"),
        (("strip", "base", "huge.yaml"), "is larger than 256 KiB"),
        (("strip", "grid", "prints/low-tide.yaml", "--against", "green"), "is in the light of the columns"),
        (("strip", "grid", "prints/low-tide.yaml", "--against", "softt"), "--against: there is no base 'softt'"),
        ((*FLASH, "flash", "--first", "0.05"), "give no light: the lamp loses 0.10 s"),
        ((*FLASH, "flsh", "--first", "1"), "has no light 'flsh': did you mean 'flash'?"),
        (("strip", "dry-down", "prints/low-tide.yaml", "--percent", "0,4"), "fall, and end with 0"),
        (("strip", "dry-down", "prints/low-tide.yaml", "--percent", "four"), "--percent: write percents"),
        ((*SAFE, "0"), "--grey: write seconds"),
        ((*SAFE, "1", "--minutes", "1,3"), "begin with 0"),
        ((*SAFE, "1", "--minutes", "0,3,2"), "must rise"),
        ((*LAG, "10", "--short", "0.9", "--bursts", "10"), "below 0 the after-glow outweighs the rise"),
        ((*LAG, "10", "--short", "11", "--bursts", "10"), "must be shorter than the long burst"),
        ((*LAG, "10", "--short", "1.1", "--bursts", "1"), "--bursts: write a whole number from 2"),
        ((*LAG, "10", "--short", "1.1", "--bursts", "10", "--match", "0"), "--match: must be over 0"),
        ((*LAG, "10", "--short", "1.1", "--bursts", "10", "--lamp", "red"), "has no lamp 'red'"),
        (("lag", "--long", "10", "--short", "1.1", "--bursts", "10", "--lamp", "x"), "--bench and --lamp go together"),
        (("lag", "--long", "10", "--short", "1.1", "--bursts", "10", "--out", "x.yaml"), "--out: goes with --bench"),
        (("lag", "--long", "10", "--short", "1.12", "--bursts", "10", "--bench", "warm-lamp", "--lamp", "head"),
         "lies among the profiles that come with timerd"),
        (("drift", "--before", "0", "--now", "1"), "--before: write a reading"),
        (("drift", "--before", "1", "--now", "1", "--seconds", "inf"), "--seconds: write seconds"),
        ((*READ, "7"), "the strip has patches 1 to 6; found 7"),
        ((*READ, "0"), "the strip has patches 1 to 6; found 0"),
        ((*READ, "third"), "PATCH: write a patch's number"),
        ((*READ, "1", "2"), "say the number of one patch; found 2 numbers"),
        ((*READ, "1", "--into", "none.yaml"), "none.yaml: No such file"),
        ((*READ, "1", "--into", "papers/my-paper.yaml"), "a print file is wanted here"),
        ((*READ, "1", "--into", "other.yaml"), "'Other' has no base 'soft' in green"),
        (("strip", "read", "prints/f.yaml", "0"), "even patch 1 has a tone"),
        (("strip", "read", "prints/f.yaml", "1.5"), "as a whole number; found 1.5"),
        (("strip", "read", "prints/f.yaml", "1", "--judged", "dry"), "--judged is for the seconds of a base"),
        (("strip", "read", "prints/s.yaml", "1"), "this safelight is not safe"),
        (("strip", "read", "prints/low-tide.yaml", "1"), "is no test strip"),
    ],
)  # fmt: skip
def test_one_line_for_each_mistake_and_nothing_written(
    here: Path, capsys: pytest.CaptureFixture[str], argv: tuple[str, ...], said: str
) -> None:
    if not _MADE:
        ok(capsys, *BASE[:-1], "prints/g.yaml")
        ok(capsys, *FLASH[:-2], "prints/f.yaml", "--light", "flash", "--first", "0.5")
        ok(capsys, *SAFE[:-2], "prints/s.yaml", "--grey", "1")
        _MADE.update({name: (here / name).read_text() for name in ("prints/g.yaml", "prints/f.yaml", "prints/s.yaml")})
    for name, text in _MADE.items():
        (here / name).write_text(text)
    (here / "empty.yaml").write_text("")
    (here / "huge.yaml").write_bytes(b"#" * 10_000_000)
    (here / "other.yaml").write_text(PRINT.replace("Low tide", "Other").replace("base: soft", "base: plain"))
    before = files(here)
    status, out, err = run(capsys, *argv)
    assert (status, out) == (1, "")
    assert said in err and len(err.splitlines()) == 1 and err.rstrip().isprintable()
    assert files(here) == before


def test_a_strip_put_elsewhere_says_what_it_will_not_find(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "else" / "where").mkdir(parents=True)
    facts = ok(capsys, *BASE[:-1], "else/where/g.yaml")
    assert sum("strip beside its print" in said for said in facts["mind"]) == 2
    assert not any("put the strip" in said for said in ok(capsys, *BASE[:-1], "prints/g.yaml")["mind"])


def test_these_commands_need_no_desk_extra(here: Path) -> None:
    """Each kind of strip, reading, lag, drift and enlarging, with the libraries of `desk` taken away."""
    commands = [
        [*BASE[:-1], "prints/g.yaml"], ["strip", "grid", "prints/low-tide.yaml"],
        [*FLASH, "flash", "--first", "0.5"], ["strip", "dry-down", "prints/low-tide.yaml"],
        [*SAFE, "1", "--force"], ["strip", "read", "prints/g.yaml", "2"],
        [*LAG, "10", "--short", "1.12", "--bursts", "10"], ["drift", "--before", "2", "--now", "1"],
        ["enlarge", "prints/low-tide.yaml", "--from-magnification", "2", "--magnification", "4", "--out", "y.yaml"],
    ]  # fmt: skip
    code = "import sys\nfor name in ('numpy', 'scipy', 'matplotlib', 'PIL'): sys.modules[name] = None\n"
    code += f"from timerd.cli import main\nsys.exit(sum(main(list(argv)) for argv in {commands!r}))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, cwd=here, env=os.environ)
    assert (done.returncode, done.stderr) == (0, "")


def test_a_shipped_paper_is_left_as_it_is(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ok(capsys, "strip", "flash", "demo-resin-pearl", "--bench", "two-station", "--light", "flash", "--first", "0.5",
       "--out", "prints/f.yaml")  # fmt: skip
    shipped_paper = shipped() / "papers" / "demo-resin-pearl.yaml"
    before = shipped_paper.read_bytes()
    status, _, err = run(capsys, "strip", "read", "prints/f.yaml", "2")
    assert status == 1 and "come with timerd" in err and shipped_paper.read_bytes() == before
    shutil.copy(shipped_paper, here / "papers")
    assert ok(capsys, "strip", "read", "prints/f.yaml", "2")["file"] == "papers/demo-resin-pearl.yaml"
