"""`timerd enlarge`: the worked cases, there and back, comments kept, and one line for each mistake."""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
from golden import Golden

from timerd.cli import main
from timerd.places import shipped
from timerd.sheet.profile.reading import read

PLAIN = """\
print: Plain     # a comment
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
magnification: 2
# of the picture
steps:
  - {base: soft, light: green, seconds: 9}    # judged dry
"""
FULL = """\
print: All of it
paper: slow
bench: lenses
sheet: [250, 200]
image_mm: {left: 20, top: 10, width: 200, height: 170}
head_height_mm: 700     # on the column
# what is seen
areas: {sky: [[0, 0], [1, 0], [1, 0.3], [0, 0.35]]}
aperture: 8
steps:
  - {flash: sky, light: white, threshold: 50 %}        # at its own place
  - {carry: enlarger}
  - {flash: sky, light: red, threshold: 60 %}
  - {flash: all, light: red, seconds: 1.5}
  - base: soft
    light: green
    seconds: 12.5
    dodge:
      - {area: sky, stops: 1/3, start: 2.5}
      - {area: left, mm: 12, stops: 1/4, start: 6}
  - {burn: sky, light: green, stops: 1 1/4, leave: [{area: top, mm: 8, stops: 1/2, start: 1}]}
  - {burn: edges, mm: 10, light: green, percent: 30}
  - {burn: sky, light: green, seconds: 4}
  - {burn: all, light: green, pedal: free}
"""
BENCH = """\
bench: lenses
stations: {flashing: {}, enlarger: {}}
lamps:
  flasher: {pin: 23, station: flashing}
  head: {pin: 17, station: enlarger, rise_ms: 120, fall_ms: 60}
  spare: {pin: 27, station: enlarger, lag_s: 0.1}
lights:
  white: {lamp: flasher, colour: white}
  green: {lamp: head, colour: green}
  red: {lamp: spare, colour: deep blue}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""
PAPER = "paper: slow\nreciprocity: 0.95\nthreshold: {white: 1.6, red: 2}\n"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path / "home"))
    for kind, name, text in (
        ("prints", "plain", PLAIN), ("prints", "full", FULL), ("benches", "lenses", BENCH), ("papers", "slow", PAPER),
    ):  # fmt: skip
        (tmp_path / kind).mkdir(exist_ok=True)
        (tmp_path / kind / f"{name}.yaml").write_text(text)
    for path in (shipped() / "prints").glob("*.yaml"):
        (tmp_path / "prints" / path.name).write_text(path.read_text())
    return tmp_path


def run(capsys: pytest.CaptureFixture[str], *argv: str) -> tuple[int, str, str]:
    status = main(list(argv))
    told = capsys.readouterr()
    return status, told.out, told.err


def ok(capsys: pytest.CaptureFixture[str], *argv: str) -> Any:
    status, out, err = run(capsys, *argv, "--json")
    assert (status, err) == (0, ""), err
    return json.loads(out)


@pytest.mark.parametrize(
    ("argv", "factor", "stops", "seconds"),
    [
        # SOURCES: enlarging
        (["--from-magnification", "2", "--magnification", "4"], 2.7778, 1.474, 25.0),
        (["--from-magnification", "2", "--magnification", "2.8"], 1.6044, 0.682, 14.44),
        (["--from-magnification", "5", "--magnification", "8"], 2.25, 1.170, 20.25),
        (["--from-distance", "10", "--distance", "15"], 2.25, 1.170, 20.25),
        (["--from-distance", "24", "--distance", "30"], 1.5625, 0.644, 14.0625),
        (["--from-reading", "12", "--reading", "3"], 4.0, 2.0, 36.0),
        (["--from-aperture", "8", "--aperture", "11"], 2.0, 1.0, 18.0),
        (["--from-aperture", "8", "--aperture", "5.6"], 0.5, -1.0, 4.5),
        (["--magnification", "4", "--from-aperture", "8", "--aperture", "5.6"], 1.3889, 0.474, 12.5),
        (
            ["--from-distance", "24", "--distance", "30", "--from-aperture", "11", "--aperture", "22"],
            6.25,
            2.644,
            56.25,
        ),
        (["--from-reading", "12", "--reading", "6", "--from-aperture", "8", "--aperture", "11"], 2.0, 1.0, 18.0),
    ],
)
def test_worked_cases(
    here: Path, capsys: pytest.CaptureFixture[str], argv: list[str], factor: float, stops: float, seconds: float
) -> None:
    facts = ok(capsys, "enlarge", "prints/plain.yaml", *argv)
    assert facts["factor"] == pytest.approx(factor, abs=5e-5)
    assert facts["stops"] == pytest.approx(stops, abs=1e-3)
    assert facts["print"]["steps"][0]["seconds"] == pytest.approx(seconds, abs=5e-3)
    assert facts["print"]["origin"] == "plain" and facts["file"] is None
    assert any("test strip" in said for said in facts["mind"])


def test_the_print_whole(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Seconds change, stops and percents stay; outlines stay; strips and the image grow; another lens's flash stays."""
    facts = ok(capsys, "enlarge", "prints/full.yaml", "--from-magnification", "2", "--magnification", "4", "--aperture",
               "5.6", "--out", "prints/big.yaml")  # fmt: skip
    new = facts["print"]
    grown = (25 / 9 / 2) ** (1 / 0.95)
    old = ok(capsys, "plan", "prints/full.yaml")["steps"]
    made = ok(capsys, "plan", "prints/big.yaml")["steps"]
    for before, after in zip(old, made, strict=True):
        assert (before["stops"], before["name"]) == (pytest.approx(after["stops"]), after["name"])
        if before["dose"] is not None:
            ratio = 1 if after["light"] == "white" else grown
            assert after["dose"] == pytest.approx(before["dose"] * ratio, rel=1e-11)
            for cue, larger in zip(before["dodges"], after["dodges"], strict=True):
                assert larger["start"] == pytest.approx(cue["start"] * grown, rel=1e-11)
                assert larger["stop"] == pytest.approx(cue["stop"] * grown, rel=1e-11)
                assert larger["mm"] == (None if cue["mm"] is None else cue["mm"] * 2)
    assert new["areas"] == {"sky": [[0, 0], [1, 0], [1, 0.3], [0, 0.35]]}
    assert new["image_mm"] == {"left": 40, "top": 20, "width": 400, "height": 340} and new["sheet"] == [500, 400]
    assert (new["aperture"], new["magnification"]) == (5.6, 4) and "head_height_mm" not in new
    assert [step.get("threshold") for step in new["steps"][:4]] == [0.5, None, None, None]
    assert [step.get("mm") for step in new["steps"]] == [None] * 6 + [20, None, None]
    text = (here / "prints/big.yaml").read_text()
    for comment in ("# what is seen", "# at its own place"):
        assert comment in text
    minded = " | ".join(facts["mind"])
    for said in (
        "under another lens",
        "find it again",
        "reciprocity 0.95",
        "contrast drops a little",
        "head_height_mm is left out",
        "--sheet",
    ):
        assert said in minded
    assert run(capsys, "check", "prints/big.yaml")[0] == 0


MIXED = """\
print: In two lights
paper: slow
bench: lenses
sheet: [250, 200]
judged: wet
areas: {sky: [[0, 0], [1, 0], [1, 0.3], [0, 0.35]], boat: [[0.2, 0.1], [0.4, 0.1], [0.4, 0.3]]}
aperture: 8
steps:
  - {base: soft, light: green, seconds: 12}
  - {base: hard, light: red, seconds: 7}
  - {burn: sky, light: [green, red], seconds: 6, leave: [{area: boat, stops: 1/6, start: 0.5}]}
  - {burn: sky, light: [red, green], stops: 3/4, leave: [{area: boat, stops: 1/4, start: 0.4}]}
  - {burn: boat, light: [green, red], percent: 25}
"""


@pytest.mark.parametrize("way", [("--magnification", "4", 25 / 9), ("--magnification", "1.1", (2.1 / 3) ** 2)])
def test_burns_in_several_lights_grow_as_their_bases_do(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str], way: tuple[str, str, float]
) -> None:
    """Doses of every burst, cards with their starts, dry-down, reciprocity, a filament and a lag: all by one factor."""
    (here / "prints/mixed.yaml").write_text(MIXED)
    (here / "papers/slow.yaml").write_text(PAPER + "dry_down: 8 %\n")
    argv = ["enlarge", "prints/mixed.yaml", "--from-magnification", "2", *way[:2], "--out", "prints/big.yaml"]
    facts = ok(capsys, *argv)
    grown = way[2] ** (1 / 0.95)
    old = ok(capsys, "plan", "prints/mixed.yaml")["steps"]
    made = ok(capsys, "plan", "prints/big.yaml")["steps"]
    assert [step["name"] for step in old] == [step["name"] for step in made] and len(old) == 9
    for before, after in zip(old[1:], made[1:], strict=True):
        assert after["dose"] == pytest.approx(before["dose"] * grown, rel=1e-9), before["name"]
        for cue, larger in zip(before["dodges"], after["dodges"], strict=True):
            assert (larger["start"], larger["stop"]) == pytest.approx((cue["start"] * grown, cue["stop"] * grown))
    golden([one["step"] for one in facts["seconds"]])


def test_the_seconds_of_a_burn_in_several_lights_are_those_of_its_bursts(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """6 s are what the lines are on for, all its lights together, as 6 s of one light are: not 6 s of full light."""
    (here / "prints/mixed.yaml").write_text(MIXED.replace("judged: wet\n", ""))
    steps = ok(capsys, "plan", "prints/mixed.yaml")["steps"]
    assert sum(step["seconds"] for step in steps[3:5]) == pytest.approx(6, rel=1e-9)
    assert steps[3]["dose"] / steps[1]["dose"] == pytest.approx(steps[4]["dose"] / steps[2]["dose"], rel=1e-9)
    assert sum(step["dose"] for step in steps[3:5]) < 5.95, "a filament and a lag lose some of it"
    (here / "prints/mixed.yaml").write_text(MIXED.replace("seconds: 6,", "seconds: 0.1,"))
    status, _, told = run(capsys, "plan", "prints/mixed.yaml")
    assert status == 1
    assert "prints/mixed.yaml:11: steps[2].seconds: 0.1 s give no light: of a burst are lost green 0.0" in told


QUICK = """\
print: Quick
paper: slow
bench: lenses
sheet: [250, 200]
judged: wet
areas: {sky: [[0, 0], [1, 0], [1, 0.3], [0, 0.35]], boat: [[0.2, 0.1], [0.4, 0.1], [0.4, 0.3]]}
aperture: 8
steps:
  - {base: soft, light: green, seconds: 6, dodge: [{area: boat, stops: 1/4}]}
  - {base: hard, light: red, seconds: 7}
"""
HELD = {
    "burns": "  - {burn: sky, light: red, seconds: 0.4}\n  - {burn: boat, light: green, stops: 1/6, pedal: hold}\n",
    "a burn in two lights": "  - {burn: sky, light: [green, red], seconds: 1.1}\n",
    "flashes": "  - {flash: sky, light: red, threshold: 30 %, pedal: hold}\n"
    "  - {flash: boat, light: red, seconds: 1.8, pedal: hold}\n",
    "a base held by the foot": "  - {base: more, light: red, seconds: 1.02, pedal: hold}\n",
    "a card in a burn": "  - {burn: sky, light: green, stops: 1, leave: [{area: boat, stops: 0.9}]}\n",
    "a card in a base, and nothing else": "  - {burn: all, light: green, percent: 30}\n",
}


@pytest.mark.parametrize("aperture", ["8", "6.3", None])
@pytest.mark.parametrize("held", list(HELD))
def test_the_aperture_that_is_offered_first_cures_what_was_too_short_for_hands(
    here: Path, capsys: pytest.CaptureFixture[str], held: str, aperture: str | None
) -> None:
    """The command as the plan gives it, run; one mark wider is not enough."""

    def short(path: str) -> list[str]:
        return [said for said in ok(capsys, "plan", path)["cautions"] if "too short for hands" in said]

    head = QUICK.replace("aperture: 8\n", f"aperture: {aperture}\n" if aperture else "")
    (here / "prints/quick.yaml").write_text(head + HELD[held])
    (here / "papers/slow.yaml").write_text(PAPER + "dry_down: 8 %\n")
    found = short("prints/quick.yaml")
    assert len(found) >= 2 - (held == "a card in a base, and nothing else")
    assert all(said.split("too short for hands: ")[1].startswith("make the whole print ") for said in found)
    (offered,) = {re.findall(r"\(timerd (enlarge PRINT [^:]*):", said)[0] for said in found}
    argv = offered.replace("PRINT", "prints/quick.yaml").replace("OLD", "8").split()
    if aperture is None:
        (stops,) = {int(re.findall(r"whole print (\d) stops? down", said)[0]) for said in found}
        argv[-1] = str([8, 11, 16, 22, 32][stops])
    ok(capsys, *argv, "--out", "prints/cured.yaml")
    assert short("prints/cured.yaml") == []
    for said, name in ((said, said.split(":")[0]) for said in found if "held back" not in said):
        step = next(step for step in ok(capsys, "plan", "prints/cured.yaml")["steps"] if step["name"] == name)
        assert f": {step['seconds']:.1f} s here)" in said
    marks = ["4", "5.6", "8", "11", "16", "22", "32"]
    wider = marks[marks.index(argv[-1]) - 1]
    if float(wider) > float(aperture or 8):
        ok(capsys, *argv[:-1], wider, "--out", "prints/wider.yaml")
        assert short("prints/wider.yaml") != []


def test_the_lens_and_its_height_tell_the_size(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """80 mm in focus 400 mm from the paper magnifies 4 times (v = f(1 + m)); at 560 mm, 6 times: (7/5)^2 the light."""
    lens = PLAIN.replace("magnification: 2", "lens_mm: 80\nhead_height_mm: 400")
    (here / "prints/lens.yaml").write_text(lens)
    for options in (["--distance", "560"], ["--magnification", "6"]):
        facts = ok(capsys, "enlarge", "prints/lens.yaml", *options)
        assert (facts["factor"], facts["size"]) == (pytest.approx(1.96), pytest.approx(1.5))
        assert "the lens goes from 400 to 560 mm from the paper; focus, and look at the size" in facts["mind"]
        new = facts["print"]
        by_height = options[0] == "--distance"
        assert new.get("head_height_mm") == (pytest.approx(560) if by_height else None)
        assert new.get("magnification") == (None if by_height else 6)
    (here / "prints/lens.yaml").write_text(lens.replace("head_height_mm: 400", "magnification: 4"))
    facts = ok(capsys, "enlarge", "prints/lens.yaml", "--distance", "560")
    assert (facts["factor"], facts["print"]["magnification"]) == (pytest.approx(1.96), pytest.approx(6))
    (here / "prints/lens.yaml").write_text(lens.replace("head_height_mm: 400", "head_height_mm: 80"))
    assert (
        "a lens of 80 mm projects nothing onto paper 80 mm away"
        in run(capsys, "enlarge", "prints/lens.yaml", "--magnification", "6")[2]
    )


OWN = {
    # magnification, aperture and sheet, as the prints have them or, in brackets, as they are said
    "breakwater": (4.1, "8", "8x10 in"), "ferry-steps": ((4.1,), "5.6", "24x30 cm"),
    "lantern-room": ((4.1,), "11", "20x25 cm"), "quiet-yard": ((4.1,), None, "127x178 mm"),
    "plain": (2, None, "8x10 in"), "full": ((4.1,), "8", "250x200 mm"),
}  # fmt: skip
WAYS = ["size", "smaller", "size and aperture", "distance", "reading", "sheet"]


def there_and_back(name: str, way: str) -> tuple[list[str], list[str]]:
    """The options that enlarge a print, and those that bring it back."""
    own, stop, sheet = OWN[name]
    old = f"{own[0] if isinstance(own, tuple) else own}"
    new = {"smaller": f"{float(old) * 0.83:.3f}", "sheet": "6.6"}.get(way, "7.3")
    if way == "distance":
        return ["--from-distance", "408", "--distance", "777"], ["--from-distance", "777", "--distance", "408"]
    if way == "reading":
        return ["--from-reading", "12.7", "--reading", "3.9"], ["--from-reading", "3.9", "--reading", "12.7"]
    there = [*(["--from-magnification", old] if isinstance(own, tuple) else []), "--magnification", new]
    back = ["--magnification", old]
    if way == "size and aperture" and stop is not None:
        there, back = [*there, "--aperture", "9.5"], [*back, "--aperture", stop]
    if way == "sheet":
        there, back = [*there, "--sheet", "90x90 cm"], [*back, "--sheet", sheet]
    return there, back


def numbers(value: Any) -> Any:
    """Every number of a plain value within 1e-9, all else as it is."""
    if isinstance(value, dict):
        return {key: numbers(item) for key, item in value.items()}
    if isinstance(value, list):
        return [numbers(item) for item in value]
    return pytest.approx(value, rel=1e-9, abs=1e-9) if isinstance(value, float) else value


@pytest.mark.parametrize(
    ("name", "way"),
    [*((name, "size") for name in OWN), *((name, way) for name in ("full", "lantern-room") for way in WAYS[1:])],
)
def test_there_and_back(here: Path, capsys: pytest.CaptureFixture[str], name: str, way: str) -> None:
    """The same print to 1e-9: what the plan gives, and where the image lies."""
    there, back = there_and_back(name, way)
    old = f"prints/{name}.yaml"
    one, two = (
        ok(capsys, "enlarge", old, *there, "--out", "prints/there.yaml"),
        ok(capsys, "enlarge", "prints/there.yaml", *back, "--out", "prints/back.yaml"),
    )
    assert one["factor"] * two["factor"] == pytest.approx(1, rel=1e-12)
    was, now = (ok(capsys, "plan", path) for path in (old, "prints/back.yaml"))
    for plan in (was, now) if name == "full" else ():
        plan["steps"][3]["threshold"] = pytest.approx(plan["steps"][3]["threshold"])  # in seconds on the way back
    assert now == numbers(was)
    before = read(Path(old).read_bytes(), old, "print").value
    after = read(Path("prints/back.yaml").read_bytes(), "back", "print").value
    for key in ("image_mm", "areas", "aperture", "sheet", "lens_mm", "judged", "negative"):
        dumped = [json.loads(json.dumps(print_.model_dump()[key], default=str)) for print_ in (before, after)]
        assert dumped[1] == numbers(dumped[0]), key
    assert after.origin == "there" and two["print"]["origin"] == "there" and one["print"]["origin"] == name


def test_a_smaller_print_whose_hands_have_no_time_left_is_refused(
    golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Two dodges with a second between do not fit in a base of 1.5 s: the printer must say how it is to be done."""
    status, out, err = run(capsys, "enlarge", "prints/breakwater.yaml", "--magnification", "1.7", "--aperture", "5.6")
    assert (status, out) == (1, "")
    golden(err)


def test_comments_and_order_stay(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ok(capsys, "enlarge", "prints/plain.yaml", "--magnification", "4", "--out", "prints/big.yaml")
    golden((here / "prints/big.yaml").read_text())
    assert (here / "prints/plain.yaml").read_text() == PLAIN


def test_an_image_keeps_its_place_on_another_sheet(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Margins of 20 and 30 mm, 10 and 20 mm: on a sheet with 100 and 60 mm to spare they are 40:60 and 20:40."""
    facts = ok(capsys, "enlarge", "prints/full.yaml", "--from-magnification", "2", "--magnification", "4", "--sheet",
               "500x400 mm")  # fmt: skip
    assert facts["print"]["image_mm"] == {"left": 40, "top": 20, "width": 400, "height": 340}
    facts = ok(capsys, "enlarge", "prints/full.yaml", "--aperture", "11", "--sheet", "30x25 cm")
    assert facts["print"]["sheet"] == [300, 250] and facts["size"] == 1


@pytest.mark.parametrize(
    ("name", "argv", "said"),
    [
        ("plain", [], "what changes?"),
        ("plain", ["--magnification", "four"], "--magnification: write a number"),
        ("plain", ["--magnification", "-4"], "--magnification: write a number"),
        ("plain", ["--magnification", "nan"], "--magnification: write a number"),
        ("plain", ["--magnification", "4x"], "found '4x'"),
        ("plain", ["--from-magnification", "2"], "--magnification: say what the new one is"),
        ("full", ["--magnification", "4"], "--from-magnification: the print does not say"),
        ("plain", ["--aperture", "8"], "--from-aperture: the print does not say"),
        ("plain", ["--from-aperture", "8"], "--aperture: say what the new one is"),
        ("plain", ["--from-aperture", "8", "--aperture", "13"], "write 13.5 for the half stop (7 1/2) or 12.7"),
        ("plain", ["--from-aperture", "8", "--aperture", "8.3"], "no mark of full, half or third stops"),
        ("plain", ["--from-distance", "40"], "--from-distance and --distance go together"),
        ("plain", ["--distance", "40"], "--from-distance: the print does not say how far the lens was (head_height_mm"),
        ("plain", ["--from-distance", "400", "--distance", "40"], "a lens that near projects nothing"),
        ("plain", ["--from-reading", "0", "--reading", "2"], "--from-reading: write a number"),
        ("plain", ["--magnification", "4", "--sheet", "large"], "--sheet: write a size"),
        (
            "full",
            ["--from-magnification", "2", "--magnification", "4", "--sheet", "8x10 in"],
            "the image would be 400 x",
        ),
        ("plain", ["--magnification", "22"], "may burn 300 s at once"),
        ("nobody", ["--magnification", "4"], "No such file"),
        ("plain", ["--magnification", "4", "--out", "prints/full.yaml"], "is there already"),
    ],
)
def test_one_line_for_each_mistake_and_nothing_written(
    here: Path, capsys: pytest.CaptureFixture[str], name: str, argv: list[str], said: str
) -> None:
    before = {path: path.read_bytes() for path in here.rglob("*") if path.is_file()}
    out_file = [] if "--out" in argv else ["--out", "x.yaml"]
    status, out, err = run(capsys, "enlarge", f"prints/{name}.yaml", *argv, *out_file)
    assert (status, out) == (1, "")
    assert said in err and len(err.splitlines()) == 1
    assert {path: path.read_bytes() for path in here.rglob("*") if path.is_file()} == before


def test_a_test_strip_is_neither_enlarged_nor_moved(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Its file has what its patches got a second time: read after that, it would tell the old seconds."""
    assert (
        run(capsys, "strip", "base", "breakwater", "--base", "green", "--first", "8", "--out", "prints/s.yaml")[0] == 0
    )
    for argv in (
        ("enlarge", "prints/s.yaml", "--aperture", "11"),
        ("move", "prints/s.yaml", "--paper", "demo-fibre-matt"),
    ):
        status, out, err = run(capsys, *argv, "--out", "prints/new.yaml")
        assert (status, out, len(err.splitlines())) == (1, "", 1) and "this is a test strip" in err
    assert not (here / "prints/new.yaml").exists()


def test_the_table_says_what_changes(golden: Golden, here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "enlarge", "prints/plain.yaml", "--magnification", "4")
    lines = out.splitlines()
    assert status == 0 and lines[0] == "factor 2.7778, +1.47 stop"
    assert lines[2].split() == ["base", "soft,", "green", "9.00", "s", "becomes", "25.00", "s"]
    golden(lines[-1])
    assert math.isclose(25 / 9, ok(capsys, "enlarge", "prints/plain.yaml", "--magnification", "4")["factor"])


def test_over_another_file_only_when_told(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    argv = ["enlarge", "prints/plain.yaml", "--magnification", "4", "--out", "prints/full.yaml"]
    assert run(capsys, *argv)[0] == 1 and (here / "prints/full.yaml").read_text() == FULL
    assert run(capsys, *argv, "--force")[0] == 0 and "origin: plain" in (here / "prints/full.yaml").read_text()
