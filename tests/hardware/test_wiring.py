"""The wiring's one source: against the board's own data, against the benches, and against all that is made from it."""

from __future__ import annotations

import importlib
import re
import runpy
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import yaml
from gpiozero.pins.mock import MockFactory

from timerd.places import shipped
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import read

ROOT = Path(__file__).parents[2]
TOLD = yaml.safe_load((ROOT / "hardware" / "wiring.yaml").read_text())
LINES = TOLD["lines"]
OUT = {name for name, line in LINES.items() if line["direction"] == "out"}

SERIAL = {14, 15}
ON_THE_BOARD = {0, 1}
PULLED_UP_AT_BOOT = set(range(9))
"""GPIO 0-8 are pulled up when the board starts, 9-27 down (BCM2835 ARM Peripherals, table 6-31: default pulls)."""


@pytest.fixture(scope="module")
def generator() -> Iterator[ModuleType]:
    """hardware/generate.py, which finds drawing.py beside itself."""
    sys.path.insert(0, str(ROOT / "hardware"))
    try:
        yield importlib.import_module("generate")
    finally:
        sys.path.remove(str(ROOT / "hardware"))


# -- what is made from it ----------------------------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The files that the generator reads and writes, elsewhere."""
    for folder in ("hardware", "firmware/guard", "firmware/raspberrypi", "profiles/benches"):
        shutil.copytree(ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__"))
    return tmp_path


def test_what_is_kept_is_what_the_generator_makes() -> None:
    command = [sys.executable, str(ROOT / "hardware" / "generate.py"), "--check"]
    done = subprocess.run(command, capture_output=True, text=True)
    assert (done.returncode, done.stdout, done.stderr) == (0, "", "")


def test_another_pin_makes_everything_stale_and_then_goes_everywhere(
    copy: Path, generator: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    source = copy / "hardware" / "wiring.yaml"
    moved = source.read_text().replace("{gpio: 17, header: 11,", "{gpio: 24, header: 18,")
    source.write_text(moved.replace("ask-1:     {gp: 2,", "ask-1:     {gp: 12,"))
    made = {
        "hardware/WIRING.md", "hardware/drawings/lines.svg", "hardware/drawings/guard.svg", "firmware/guard/pins.py",
        "profiles/benches/two-station.yaml", "profiles/benches/one-lamp.yaml", "profiles/benches/warm-lamp.yaml",
        "firmware/raspberrypi/config.txt",
        "profiles/benches/by-feel.yaml", "profiles/benches/bright-lamp.yaml", "profiles/benches/seen-lamps.yaml",
    }  # fmt: skip
    assert generator.main(["--check"], copy) == 1
    assert {line.split(":")[0] for line in capsys.readouterr().out.splitlines()} == made
    bench = copy / "profiles" / "benches" / "warm-lamp.yaml"
    before = bench.read_text()
    assert generator.main([], copy) == 0
    assert bench.read_text() == before.replace("pin: 17", "pin: 24") != before, "and nothing else in it"
    assert runpy.run_path(str(copy / "firmware" / "guard" / "pins.py"))["ASK"] == (12, 3, 4)
    config = (ROOT / "firmware" / "raspberrypi" / "config.txt").read_text()
    assert (copy / "firmware" / "raspberrypi" / "config.txt").read_text() == config.replace("gpio=17,", "gpio=24,")
    capsys.readouterr()
    assert generator.main(["--check"], copy) == 0 == generator.main([], copy)
    assert capsys.readouterr().out == ""


def test_another_value_goes_into_the_netlist_and_the_drawing(copy: Path, generator: ModuleType) -> None:
    source = copy / "hardware" / "wiring.yaml"
    source.write_text(source.read_text().replace("C3: {value: 6.8,", "C3: {value: 8.2,"))
    assert generator.main([], copy) == 0
    netlist = (copy / "hardware" / "interlock.cir").read_text()
    kept = (ROOT / "hardware" / "interlock.cir").read_text()
    assert netlist == kept.replace(".param C3=6.8u\n", ".param C3=8.2u\n") != kept
    assert "8.2 µF" in (copy / "hardware" / "drawings" / "interlock.svg").read_text()


@pytest.mark.parametrize(
    ("file", "was", "now", "says"),
    [
        ("wiring.yaml", "lamps.flasher: lamp-3", "lamps.flash: lamp-3", "has no lamps.flash: found no 'flash' there"),
        ("wiring.yaml", "pedals.go.1: go-2", "pedals.go.7: go-2", "the bench has no pedals.go.7: found no '7' there"),
        ("interlock.cir", "* </values>\n", "", "the marks * <values> and * </values> are gone: put them back"),
    ],
)
def test_what_leads_nowhere_is_told_in_one_line(
    copy: Path, generator: ModuleType, file: str, was: str, now: str, says: str
) -> None:
    path = copy / "hardware" / file
    path.write_text(path.read_text().replace(was, now))
    before = {path: path.read_bytes() for path in copy.rglob("*.*")}
    with pytest.raises(SystemExit) as told:
        generator.main([], copy)
    assert says in str(told.value) and len(str(told.value).splitlines()) == 1
    assert {path: path.read_bytes() for path in copy.rglob("*.*")} == before


@pytest.mark.parametrize("name", ["lines", "interlock", "guard", "mains"])
def test_no_word_of_a_drawing_is_cut_off(name: str) -> None:
    """By half its size for a letter, about a sans serif's mean."""
    svg = (ROOT / "hardware" / "drawings" / f"{name}.svg").read_text()
    left, _, width, _ = (float(number) for number in re.findall(r'viewBox="([^"]+)"', svg)[0].split())
    texts = re.findall(r'<text x="([^"]+)"[^>]*font-size="([^"]+)"[^>]*text-anchor="([a-z]+)">(.*?)</text>', svg, re.S)
    assert len(texts) > 10
    for x, size, anchor, spans in texts:
        for words in re.findall(r">([^<>]+)</tspan>", spans):
            long = 0.5 * float(size) * len(words)
            begin = float(x) - {"start": 0.0, "middle": long / 2, "end": long}[anchor]
            assert left <= begin and begin + long <= left + width, words


def test_every_line_and_wire_is_in_the_drawing() -> None:
    text = re.findall(r">([^<>]+)</tspan>|>([^<>]+)</text>", (ROOT / "hardware/drawings/lines.svg").read_text())
    shown = {" ".join(part).strip() for part in text}
    for name, line in LINES.items():
        assert {name, f"GPIO{line['gpio']}", f"pin {line['header']}", str(line["wire"])} <= shown


def test_the_parts_list_counts_what_is_drawn() -> None:
    parts = (ROOT / "hardware" / "PARTS.md").read_text()
    resistors = [name for name in TOLD["interlock"] if name.startswith("R")]
    capacitors = [name for name in TOLD["interlock"] if name.startswith("C")]
    assert f"| resistors of the interlock | {len(resistors)} |" in parts
    assert f"| {', '.join(capacitors)} | {len(capacitors)} |" in parts
    relays = {line["drives"][:2] for line in LINES.values() if line["drives"].startswith("K")} | {"K1"}
    assert relays == {f"K{i}" for i in range(1, 7)} and all(relay in parts for relay in relays)


# -- against the boards ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("board", TOLD["boards"])
def test_the_header_is_the_board_s(board: str) -> None:
    """gpiozero's own data of each supported board: where a GPIO comes out, and whether a resistor is fixed to it."""
    info = MockFactory(revision=TOLD["boards"][board]).board_info
    named = board.removeprefix("Raspberry Pi").replace(" ", "")
    assert named in (info.model, info.model.removesuffix("B"))
    header = dict(info.headers["J8"].pins.items())
    assert len(header) == 40
    for name, line in LINES.items():
        pin = header[line["header"]]
        assert (pin.name, pin.number) == (f"GPIO{line['gpio']}", line["header"]), name
        assert "gpio" in pin.interfaces and pin.pull == "", f"{name}: no resistor is fixed to it"
    assert {header[row["header"]].name for row in TOLD["grounds"].values()} == {"GND"}
    assert {header[row["header"]].name for row in TOLD["supplies"].values()} == {"3V3"}


def test_nothing_is_used_twice() -> None:
    joined = [*LINES.values(), *TOLD["grounds"].values(), *TOLD["supplies"].values()]
    for key, rows in (("gpio", LINES.values()), ("header", joined), ("wire", joined)):
        used = [row[key] for row in rows]
        assert len(set(used)) == len(used), key
    used = [line["gp"] for line in TOLD["guard"]["lines"].values()]
    assert len(set(used)) == len(used)


def test_every_line_is_at_rest_while_the_board_starts() -> None:
    for name, line in LINES.items():
        assert line["gpio"] not in SERIAL | ON_THE_BOARD and 0 <= line["gpio"] <= 27
        assert (line["idle"], line["pull"]) == (("low", "down") if name in OUT else ("high", "up")), name
        if name in OUT:
            assert line["gpio"] not in PULLED_UP_AT_BOOT, name


# -- against the benches -----------------------------------------------------------------------------------------------


def pins_of(bench: Bench) -> Iterator[tuple[str, int, str, str]]:
    """Every pin of a bench: its place, its number, whether it goes in or out, and what it rests at."""
    for name, lamp in bench.lamps.items():
        rest = "low" if lamp.active == "high" else "high"
        yield f"lamps.{name}", lamp.pin, "out", rest
        if lamp.stay_pin is not None:
            yield f"lamps.{name}.stay_pin", lamp.stay_pin, "out", rest
        if lamp.sense is not None:
            yield f"lamps.{name}.sense", lamp.sense.pin, "in", "high" if lamp.sense.pull == "up" else "low"
    if bench.safelight.pin is not None:
        yield "safelight", bench.safelight.pin, "out", "low" if bench.safelight.active == "high" else "high"
    for name, contacts in bench.pedals.named():
        for i, contact in enumerate(contacts):
            if contact.pin is not None:
                yield f"pedals.{name}.{i}", contact.pin, "in", "high" if contact.pull == "up" else "low"
    for name in ("heartbeat", "cue_line"):
        line = getattr(bench, name)
        if line is not None:
            yield name, line.pin, "out", "low"


def benches() -> dict[str, Bench]:
    found: dict[str, Any] = {}
    for path in sorted((shipped() / "benches").glob("*.yaml")):
        found[path.stem] = read(path.read_bytes(), path.name, "bench").value
    return found


def test_every_bench_that_comes_along_is_wired_and_as_it_says() -> None:
    there = {name: set(pins_of(bench)) for name, bench in benches().items()}
    wired = {
        name: {
            (place, LINES[line]["gpio"], LINES[line]["direction"], LINES[line]["idle"]) for place, line in of.items()
        }
        for name, of in TOLD["benches"].items()
    }
    assert there == wired


def test_the_guard_takes_what_the_computer_gives_and_lets_every_allowed_light_through() -> None:
    lines, limits = TOLD["guard"]["lines"], TOLD["guard"]["longest_s"]
    asked = [name for name in lines if name.startswith("ask-")]
    assert asked == list(limits)
    for i, name in enumerate(asked, 1):
        assert name == f"ask-{i}" and lines[name]["joins"] == f"lamp-{i} of the computer" and f"lamp-{i}" in LINES
        assert lines[f"pass-{i}"]["joins"] == f"the driver of {LINES[f'lamp-{i}']['drives'][:2]}"
    assert all(line["pull"] == ("up" if name == "button" else "down") for name, line in lines.items())
    for name, bench in benches().items():
        for place, line in TOLD["benches"][name].items():
            if place.startswith("lamps.") and not place.endswith(("stay_pin", "sense")):
                lamp = place.removeprefix("lamps.")
                views = [light for key, light in bench.lights.items() if key == bench.viewing or light.paper_safe]
                viewed = any(light.lamp == lamp for light in views)
                longest = max(bench.lamps[lamp].longest_s, bench.view_s if viewed else 0)
                assert longest * 1.05 <= limits[line.replace("lamp", "ask")], f"{name}: {lamp}"
