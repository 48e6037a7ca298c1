"""Every command that takes a print, crossed with everything that a print may have: for each field what would be wrong
if the command passed it over. What is wanted is worked out here by plain formulas, never by timerd's own code.

FEATURES are the columns, COMMANDS the rows; `with_an_argument` tells which commands the parser has.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import math
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from unittest.mock import patch

import yaml
from panel.telling import TOLD
from PIL import Image
from sheet.books import keep
from sheet.printed_sheets import records_of

from timerd.cli import main, parser
from timerd.cli.files import worked_file
from timerd.daemon.loading import to_load
from timerd.sheet.plan.value import Plan
from timerd.sheet.plan.view import plan_facts
from timerd.sheet.profile.reading import read
from timerd.wire.control import LoadAgain, LoadPrint, request_line, request_of

BENCH = """\
bench: cross
stations: {enlarger: {turn: 0}, side: {turn: 0}}
lamps:
  green-lamp: {pin: 17, station: enlarger}
  blue-lamp: {pin: 27, station: enlarger}
  flasher: {pin: 23, station: enlarger}
  far-lamp: {pin: 24, station: side}
lights:
  green: {lamp: green-lamp, colour: green}
  blue: {lamp: blue-lamp, colour: blue}
  flash: {lamp: flasher, colour: white}
  far: {lamp: far-lamp, colour: white}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""
DMIN, SLOPE, BLUE, PARTS = 0.05, 5.0, 0.08, ((1.2, 0.05), (0.8, 0.01))
PAPER = """\
paper: {name}
base: resin
threshold: {{flash: {threshold}, far: {threshold}}}
dry_down: 8 %
reciprocity: {p}
curve: {{unit: seconds, by: readings, readings: 40, dmin: 0.05, slope: 5, blue: {blue},
  parts: [{{density: 1.2, green: {one}}}, {{density: 0.8, green: {two}}}],
  mixes: [{{green: [0.001, 9000], blue: [0, 0]}}, {{green: [0, 0], blue: [0.001, 9000]}}]}}
"""
BATHS = """\
bath: tray-line
baths:
  - {name: developer, kind: developer, seconds: 90}
  - {name: stop, kind: stop bath, seconds: 15}
  - {name: fixer, kind: fixer, seconds: 60}
"""
HEAD = """\
print: Crossed
negative: 31-1
paper: card
bench: cross
sheet: [200, 250]
aperture: 8
judged: {judged}
areas: {{sky: [[0, 0], [1, 0], [1, 0.5], [0, 0.5]], wall: [[0, 0.5], [1, 0.5], [1, 1], [0, 1]]}}
steps:
"""
SOFT = "{base: soft, light: green, seconds: 8}"
HARD = "{base: hard, light: blue, seconds: 4}"
BURN = "{burn: sky, light: green, stops: 1}"
SKY = "burn/sky/green"
PLAIN = (SOFT, HARD, BURN)

Doses = Mapping[str, float]
"""The seconds of full light of each step that gives light, in their order."""
Work = Callable[[float, float, float], Doses]
"""Those doses, worked out from the seconds of the soft and the hard base as they are written, and how many times its
written seconds everything else that is written in seconds under the enlarger has."""


def burn(over: float, stops: float = 1.0, p: float = 1.0) -> float:
    """Seconds that add so many stops to a base: 2^(stops/p) - 1 of it (Schwarzschild: time^p does what light does)."""
    return over * (2.0 ** (stops / p) - 1.0)


def plain(soft: float, hard: float, _: float, p: float = 1.0) -> Doses:
    return {"base/soft/green": soft, "base/hard/blue": hard, SKY: burn(soft, 1.0, p)}


@dataclass(frozen=True)
class Feature:
    """What a print may have. `totals` are stops over the base, None for nothing at all, by negative, area and light;
    `fault` is a slip in the feature's own key, and what `check` says of it; `says` stands in the plan to read.

    `gets` is what the sky and the wall get of green and of blue, as at the print's own lens; where `reach` is below 1,
    only so much of the wall, and the bases the rest of it.
    """

    steps: Sequence[str]
    doses: Work
    totals: Mapping[tuple[str | None, str, str], float | None]
    says: str
    fault: tuple[str, str, str]
    gets: Callable[[Doses], Mapping[str, tuple[float, float]]]
    p: float = 1.0
    judged: str = "dry"
    prompts: Sequence[str] = ("wait",)
    map_has: Sequence[str] = ()
    reach: float = 1.0
    flashed: Mapping[str, float] = field(default_factory=dict)
    strip_as: str = "the plain print's"
    scale: Mapping[str, float] = field(default_factory=dict)
    ends_in: str | None = None
    in_report: Sequence[str] = ()


def all_over(doses: Doses) -> dict[str, tuple[float, float]]:
    """The bases everywhere, the burn on the sky."""
    green, blue = doses["base/soft/green"], doses["base/hard/blue"]
    return {"sky": (green + doses.get(SKY, 0.0), blue), "wall": (green, blue)}


def flash_at(doses: Doses, name: str, dose: float) -> Doses:
    return {name: dose, **doses}


SKY_TOTAL: dict[tuple[str | None, str, str], float | None] = {(None, "sky", "green"): 1.0}

FEATURES: dict[str, Feature] = {
    "flash": Feature(
        ("{flash: wall, light: flash, threshold: 50 %}", *PLAIN),
        lambda s, h, k: flash_at(plain(s, h, k), "flash/wall/flash", k), SKY_TOTAL, "50 % of the threshold",
        ("threshold: 50 %", "threshold: 0 %", "must be above 0 %"), all_over, flashed={"wall": 0.5},
        in_report=("50 % of the threshold",),
    ),
    "carry": Feature(
        ("{flash: wall, light: far, seconds: 1}", "{carry: enlarger}", *PLAIN),
        lambda s, h, k: flash_at(plain(s, h, k), "flash/wall/far", 1.0), SKY_TOTAL, "carry to the enlarger",
        ("carry: enlarger", "carry: cellar", "has no station 'cellar'"), all_over, prompts=("wait", "carry"),
        flashed={"wall": 0.5},
        in_report=("carry to the enlarger",),
    ),
    "base": Feature(
        (SOFT, "{base: veil, light: green, seconds: 2, dodge: [{area: wall, stops: 1}]}", HARD, BURN),
        lambda s, h, k: {
            "base/soft/green": s, "base/veil/green": 2 * (s / 8), "base/hard/blue": h, SKY: burn(s + 2 * (s / 8)),
        },
        SKY_TOTAL | {(None, "wall", "green"): math.log2((8 + 2 - 1) / 10)}, "dodge wall 1 stop",
        ("area: wall, stops: 1", "area: wall, stops: 0", "must be above 0"),
        lambda d: {
            "sky": (d["base/soft/green"] + d["base/veil/green"] + d[SKY], d["base/hard/blue"]),
            "wall": (d["base/soft/green"] + d["base/veil/green"] / 2, d["base/hard/blue"]),
        },
        in_report=("dodge wall 1 stop",),
    ),
    "burn": Feature(
        (*PLAIN, "{burn: bottom, mm: 100, light: blue, stops: 1, leave: [{area: wall, stops: 1/2}]}"),
        lambda s, h, k: plain(s, h, k) | {"burn/bottom/blue": burn(h)},
        SKY_TOTAL | {(None, "bottom 100 mm", "blue"): 0.5, (None, "wall", "blue"): 0.5},
        "leave wall 1/2 stop of the burn", ("mm: 100, ", "", "needs 'mm'"),
        lambda d: all_over(d) | {"wall": (d["base/soft/green"], d["base/hard/blue"] + burn(d["base/hard/blue"], 0.5))},
        map_has=("bottom 100 mm",), reach=0.8,
        in_report=("leave wall 1/2 stop of the burn",),
    ),
    "list of lights": Feature(
        (*PLAIN, "{burn: wall, light: [green, blue], seconds: 6}"),
        lambda s, h, k: plain(s, h, k) | {
            "burn/wall/green": 6 * k * s / (s + h), "burn/wall/blue": 6 * k * h / (s + h),
        },
        SKY_TOTAL | {(None, "wall", "green"): math.log2(1.5), (None, "wall", "blue"): math.log2(1.5)},
        "burn wall, blue", ("[green, blue]", "[green, grey]", "has no light 'grey'"),
        lambda d: all_over(d) | {
            "wall": (d["base/soft/green"] + d["burn/wall/green"], d["base/hard/blue"] + d["burn/wall/blue"]),
        },
    ),
    "safelight": Feature(
        ("{safelight: 31}", *PLAIN), plain, SKY_TOTAL, "safelight alone, 31.0 s",
        ("safelight: 31", "safelight: 0", "safelight: must be"), all_over, prompts=("wait", "safelight"),
        in_report=("safelight alone, 31.0 s",),
    ),
    "box": Feature(
        (SOFT, HARD, "{box: until tomorrow}", BURN), plain, SKY_TOTAL, "box the sheet: until tomorrow",
        ("box: until tomorrow", "box: ''", "box: must"), all_over, prompts=("wait", "box"),
        in_report=("until tomorrow",),
    ),
    "two negatives": Feature(
        (SOFT, HARD, "{burn: sky, light: green, stops: 1, over: soft}", "{negative: 31-2}",
         "{base: second, light: green, seconds: 5}", "{burn: wall, light: green, stops: 1, over: second}"),
        lambda s, h, k: plain(s, h, k) | {"base/second/green": 5 * (s / 8), "burn/wall/green": burn(5 * (s / 8))},
        {("negative 31-1", "sky", "green"): 1.0, ("negative 31-2", "wall", "green"): 1.0},
        "negative 31-2:", ("over: second", "over: third", "there is no base 'third'"),
        lambda d: {
            "sky": (d["base/soft/green"] + d[SKY] + d["base/second/green"], d["base/hard/blue"]),
            "wall": (d["base/soft/green"] + d["base/second/green"] + d["burn/wall/green"], d["base/hard/blue"]),
        },
        prompts=("wait", "negative"),
        in_report=("31-2",),
    ),
    "develop": Feature(
        (*PLAIN, "{develop: tray-line}"), plain, SKY_TOTAL, "develop, tray-line",
        ("develop: tray-line", "develop: tray-lime", "did you mean 'tray-line'"), all_over,
        prompts=("wait", "develop"), strip_as="the plain print's, and ends in its baths", ends_in="tray-line",
        in_report=("develop, tray-line",),
    ),
    "reciprocity": Feature(
        PLAIN, lambda s, h, k: plain(s, h, k, 0.8), SKY_TOTAL, "reciprocity 0.8 of the paper counted",
        ("stops: 1}", "stops: 1, percent: 3}", "one of them says how much light"), all_over, p=0.8,
        strip_as="with the paper's reciprocity",
    ),
    "aperture on a step": Feature(
        (SOFT, HARD, "{burn: sky, light: green, stops: 1, aperture: 16}"),
        lambda s, h, k: plain(s, h, k) | {SKY: 4.0 * burn(s)}, SKY_TOTAL, "at f/16: 8.0 s become 32.0 s",
        ("aperture: 16}", "aperture: 0.5}", "aperture: must be"),
        lambda d: all_over(d | {SKY: d[SKY] / 4.0}), prompts=("wait", "aperture", "aperture"), scale={SKY: 4.0},
    ),
    "dry-down": Feature(
        PLAIN, lambda s, h, k: plain(0.92 * s, 0.92 * h, k), SKY_TOTAL, "dry-down 8 %: 0.6 s taken off 8.0 s",
        ("judged: wet", "judged: damp", "judged: must be wet or dry"), all_over, judged="wet",
        strip_as="the plain print's, with nothing taken off",
        in_report=("dry-down 8 % taken off",),
    ),
    "a file beside the print": Feature(
        PLAIN, lambda s, h, k: plain(s, h, k, 0.5), SKY_TOTAL, "reciprocity 0.5 of the paper counted",
        ("paper: card", "paper: carb", "did you mean 'card'"), all_over, p=0.5,
        strip_as="with the reciprocity of the paper beside the print",
    ),
    "covered throughout": Feature(
        (SOFT, "{base: hard, light: blue, seconds: 4, dodge: [{area: wall, hold_back: all}]}", BURN), plain,
        SKY_TOTAL | {(None, "wall", "blue"): None}, "cover wall throughout",
        ("hold_back: all", "hold_back: half", "hold_back: must be all"),
        lambda d: all_over(d) | {"wall": (d["base/soft/green"], 0.0)},
        in_report=("cover wall throughout",),
    ),
}  # fmt: skip


# -- one print with one of them --------------------------------------------------------------------------------------


class Case:
    """A print with one feature in a folder with its files, and a home with a book in which sheet 1 got the plan."""

    def __init__(self, name: str, folder: Path) -> None:
        self.name, self.feature = name, FEATURES[name]
        self.folder, self.home = folder, folder / "home"
        feature = self.feature
        self.path = folder / "prints" / "crossed.yaml"
        self.put("prints/crossed.yaml", self.text())
        self.put("benches/cross.yaml", BENCH)
        self.put("papers/card.yaml", paper("card", 1.0, feature.p))
        self.put("papers/fast.yaml", paper("fast", 2.0, feature.p))
        self.put("baths/tray-line.yaml", BATHS)
        for kind, one, text in (
            ("papers", "card", paper("card", 1.0, 1.0)), ("papers", "fast", paper("fast", 2.0, 1.0)),
            ("baths", "tray-line", BATHS.replace("seconds: 90", "seconds: 30")),
        ):  # fmt: skip
            self.put(f"home/profiles/{kind}/{one}.yaml", text)  # by the same names: those beside the print are meant
        self.plan = worked_file(self.path, argparse.Namespace(home=str(self.home))).plan
        self.doses = feature.doses(8.0, 4.0, 1.0)
        self.as_paper = {step: dose / feature.scale.get(step, 1.0) for step, dose in self.doses.items()}

    def put(self, where: str, text: str) -> None:
        path = self.folder / where
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text)

    def text(self, steps: Sequence[str] | None = None) -> str:
        lines = "".join(f"  - {step}\n" for step in (self.feature.steps if steps is None else steps))
        return HEAD.format(judged=self.feature.judged) + lines

    def book(self) -> None:
        if not (self.home / "book.sqlite").exists():
            keep(self.home, (self.plan, records_of(self.plan, wall="2026-03-04T20:00:00+00:00")))

    def run(self, *argv: str) -> tuple[int, str, str]:
        """The command in this process; of a browser nothing is known to it."""
        out, err = io.StringIO(), io.StringIO()
        quiet = redirect_stdout(out), redirect_stderr(err), patch("timerd.desk.report.browser.NAMES", ())
        with chdir(self.path.parent), quiet[0], quiet[1], quiet[2]:
            code = main(["--home", str(self.home), *argv])
        return code, out.getvalue(), err.getvalue()

    def ok(self, *argv: str) -> str:
        code, out, err = self.run(*argv)
        assert code == 0, err
        return out

    def facts(self, *argv: str) -> Any:
        return json.loads(self.ok(*argv, "--json"))

    def planned(self, path: Path | str) -> Plan:
        return worked_file(Path(path), argparse.Namespace(home=str(self.home))).plan

    def where(self, name: str) -> str:
        return str(self.folder / "prints" / name)


def paper(name: str, speed: float, p: float) -> str:
    """A paper; with twice the speed it needs half of all light for the same tones."""
    return PAPER.format(
        name=name, threshold=2.0 / speed, p=p, blue=BLUE * speed, one=PARTS[0][1] * speed, two=PARTS[1][1] * speed
    )


def lit(plan: Plan) -> dict[str, float]:
    return {step.name: step.dose or 0.0 for step in plan.steps if step.kind in ("flash", "base", "burn")}


def alike(found: Mapping[Any, float | None], wanted: Mapping[Any, float | None], within: float = 1e-6) -> None:
    """The same keys in the same order, and the same numbers."""
    assert list(found) == list(wanted), (found, wanted)
    for key, number in wanted.items():
        if number is None:
            assert found[key] is None, (key, found[key])
        else:
            there = found[key]
            assert there is not None and math.isclose(there, number, rel_tol=within, abs_tol=within), (
                key,
                there,
                number,
            )


def in_order(found: Mapping[Any, float | None], wanted: Mapping[Any, float | None], within: float = 1e-6) -> None:
    """The same keys, in any order."""
    assert found.keys() == wanted.keys(), (found, wanted)
    alike({key: found[key] for key in wanted}, wanted, within)


def whole(case: Case, plan: Plan, totals: bool = True) -> str:
    """A print that was made of this one has its prompts, its baths and its totals still; says so."""
    assert [step.kind for step in plan.steps if step.dose is None] == list(case.feature.prompts)
    assert (plan.baths.baths[0].seconds if plan.baths else None) == (90 if case.feature.ends_in else None)
    if totals:
        found = {(one.negative, one.area, one.light): one.stops for one in plan.totals}
        in_order(found, case.feature.totals, 0.005)
    asked = [kind for kind in case.feature.prompts if kind != "wait"]
    return (f"; {', '.join(asked)} kept" if asked else "") + ("; totals kept" if totals else "")


def told(doses: Mapping[Any, float | None]) -> str:
    return " ".join("nothing" if dose is None else f"{dose:.2f}" for dose in doses.values())


# -- the commands ----------------------------------------------------------------------------------------------------


def check(case: Case) -> str:
    assert case.ok("check", str(case.path)).splitlines()[0].endswith("print, nothing wrong")
    good, bad, said = case.feature.fault
    text = case.text()
    assert text.count(good) >= 1
    case.put("prints/slip.yaml", bad.join(text.rsplit(good, 1)))
    code, out, err = case.run("check", case.where("slip.yaml"))
    assert code == 1 and said in out + err, out + err
    return f"nothing wrong; a slip in it: “{said}”"


def plan_text(case: Case) -> str:
    out = case.ok("plan", str(case.path))
    seconds = re.findall(r"^ *\d+  \S.*?  +([0-9.]+)  (?:press|hold)$", out, re.M)
    assert seconds == [f"{dose:.1f}" for dose in case.doses.values()], out
    assert case.feature.says in out
    return f"“{case.feature.says}”; {' '.join(seconds)}"


def plan_json(case: Case) -> str:
    plan = case.facts("plan", str(case.path))
    alike({step["name"]: step["dose"] for step in plan["steps"] if step["light"] and step["dose"]}, case.doses)
    prompts = [step["kind"] for step in plan["steps"] if step["dose"] is None]
    assert prompts == list(case.feature.prompts)
    totals = {(row.get("negative"), row["area"], row["light"]): row["stops"] for row in plan["totals"]}
    in_order(totals, case.feature.totals)
    return f"{told(case.doses)}; in all {told(case.feature.totals)}"


def rehearse(case: Case) -> str:
    feet = [{"when": "idle", "pedal": "go", "down": 1.2}]
    for step in case.plan.steps:
        if step.kind != "develop":
            feet.append({"when": "ready" if step.dose else "prompt", "after": 1, "pedal": "go"})
        if step.kind in ("box", "negative"):  # into its box, taken up, out again
            feet += [
                {"when": "idle", "after": 1, "pedal": "go", "down": 1.2},
                {"when": "prompt", "after": 1, "pedal": "go"},
            ]
    case.put("feet.yaml", yaml.safe_dump({"feet": feet}))
    played = case.facts("rehearse", str(case.path), "--feet", str(case.folder / "feet.yaml"))
    (sheet,) = played["sheets"]
    assert sheet["outcome"] == "complete"
    by_line: dict[str, float] = {}
    for edge in played["edges"]:
        by_line[edge["line"]] = by_line.get(edge["line"], 0.0) + (-edge["t"] if edge["on"] else edge["t"])
    wanted: dict[str, float] = {}
    for name, dose in case.doses.items():
        wanted[name.split("/")[2]] = wanted.get(name.split("/")[2], 0.0) + dose
    alike({line: seconds for line, seconds in by_line.items() if line != "safelight"}, wanted, 1e-5)
    return f"the lamps burned {', '.join(f'{line} {seconds:.2f}' for line, seconds in wanted.items())} s"


def mapped(case: Case) -> str:
    out = case.folder / "map.svg"
    case.ok("map", str(case.path), "--out", str(out), "--force")
    svg = out.read_text()
    marked = set(re.findall(r">([a-z]+(?: [0-9]+ mm)?)</text>", svg)) & {"sky", "wall", *case.feature.map_has}
    assert marked == {"sky", "wall", *case.feature.map_has}, svg
    ticks = re.findall(r">([0-9]+) wall</text>", svg)  # where a flash needs them: mm from the sheet's top left corner
    assert set(ticks) == ({"0", "125", "200", "250"} if case.feature.flashed else set())
    case.put("prints/plain.yaml", case.text(PLAIN))
    bare = case.folder / "plain.svg"
    case.ok("map", case.where("plain.yaml"), "--out", str(bare), "--force")
    other = bool(case.feature.map_has or ticks)
    assert (svg != bare.read_text()) == other
    said = f"marks {', '.join(sorted(marked))}" + (
        f"; ticks at {', '.join(sorted(set(ticks), key=int))} mm" if ticks else ""
    )
    return said if other else f"{said}; the plain print's, to the byte"


def sent(case: Case, *argv: str) -> Plan:
    """What a daemon on this bench would make of what the command sends it."""
    asked: list[Any] = []
    with (
        patch("timerd.cli.repeat.ask", lambda _, request: asked.append(request)),
        patch("timerd.cli.standing.ask_status", lambda _, request: asked.append(request) or TOLD),
        patch("timerd.cli.trial.ask", lambda _, request: asked.append(request)),
        patch("timerd.cli.trial.subprocess.Popen"), patch("timerd.cli.trial._by_hand"),
        patch("timerd.cli.trial._given", lambda *_: ""),
    ):  # fmt: skip
        case.ok(*argv)
    (request,) = [one for one in asked if isinstance(one, LoadPrint | LoadAgain)]
    assert request_of(request_line(request)) == request
    plan, sheets = to_load(request, read(BENCH.encode(), "cross.yaml", "bench"), case.home)
    assert sheets == 2
    return plan


def try_(case: Case) -> str:
    return load(case, "try")


def load(case: Case, command: str = "load") -> str:
    plan = sent(case, command, str(case.path), "--sheets", "2")
    assert plan_facts(plan) == plan_facts(case.plan)
    alike(lit(plan), case.doses)
    line = plan.baths.baths[0].seconds if plan.baths is not None else None
    assert line == (90 if case.feature.ends_in else None)
    return f"the daemon makes {told(case.doses)} of it" + ("; its developer has 90 s" if line else "")


def repeat(case: Case) -> str:
    case.book()
    plan = sent(case, "repeat", "1", "--sheets", "2")
    alike(lit(plan), case.doses)
    assert [step.kind for step in plan.steps if step.dose is None] == list(case.feature.prompts)
    return f"the daemon makes {told(case.doses)} of it, nothing more taken off"


def sheet(case: Case) -> str:
    case.book()
    facts = case.facts("sheet", "1")
    found = {step["name"]: step for step in facts["steps"] if step["planned"]}
    for key in ("planned", "given"):
        alike({name: step[key] for name, step in found.items()}, case.doses)
    for key in ("planned_stops", "given_stops"):
        totals = {(row["negative"], row["area"], row["light"]): row[key] for row in facts["areas"]}
        alike({key: totals[key] for key in case.feature.totals}, case.feature.totals)
    return f"given {told(case.doses)}; in all {told(case.feature.totals)}"


def sheets(case: Case) -> str:
    case.book()
    (row,) = case.facts("sheets", "--print", str(case.path))
    assert (row["sheet"], row["outcome"], row["print"]) == (1, "complete", "Crossed")
    assert case.facts("sheets", "--print", "quiet-yard") == []
    return "sheet 1 belongs to it, complete; none to another print"


def export(case: Case) -> str:
    case.book()
    out = case.folder / f"evening-{len(list(case.folder.iterdir()))}.csv"
    case.ok("book", "export", str(out), "--print", str(case.path))
    rows = list(csv.DictReader(io.StringIO(out.read_text())))
    alike({row["name"]: float(row["given_s"]) for row in rows if row["light"] and row["planned_s"]}, case.doses, 1e-5)
    assert [row["kind"] for row in rows if row["kind"] not in ("flash", "base", "burn")] == list(case.feature.prompts)
    return f"given_s {told(case.doses)}"


def adopted(case: Case, *argv: str) -> str:
    case.book()
    out = case.where("adopted.yaml")
    case.ok("adopt", "1", *argv, "--out", out, "--force")
    again = case.planned(out)
    alike(lit(again), case.doses, 2e-4)
    assert [step.kind for step in again.steps if step.dose is None] == list(case.feature.prompts)
    in_order({(one.negative, one.area, one.light): one.stops for one in again.totals}, case.feature.totals, 2e-4)
    return f"planned again {told(case.doses)}; in all {told(case.feature.totals)}"


def adopt(case: Case) -> str:
    return adopted(case)


def adopt_from(case: Case) -> str:
    said = adopted(case, "--from", str(case.path))
    assert Path(case.where("adopted.yaml")).read_text().replace("origin: sheet 1\n", "") == case.text()
    return f"{said}; the file as it was"


def compare(case: Case) -> str:
    case.book()
    facts = case.facts("compare", str(case.path), "1")
    steps = [step for step in facts["steps"] if not step["card"]]
    for key in "ab":
        alike({step["name"]: step[key]["dose"] for step in steps}, case.as_paper)
    assert all(step["stops"] == 0 for step in steps) and all(row["stops"] == 0 for row in facts["areas"] if row["a"])
    got = case.feature.gets(case.doses)
    several = any(negative for negative, _, _ in case.feature.totals)
    if several:
        assert "more than one" in facts["no_range"]["a"] or "negatives" in facts["no_range"]["a"]
        return f"{told(case.as_paper)} in both; no R: its negatives' light adds up"
    ranges = {row["area"]: row["a"] for row in facts["ranges"]}
    for area in ("sky", "wall"):
        if ranges.get(area) is not None and area in got:
            bases = got_bases(case)
            wanted = iso_range(
                *(exposed(dose, base, case.feature.p) for dose, base in zip(got[area], bases, strict=True))
            )
            assert abs(ranges[area] - wanted) < 0.6, (area, ranges[area], wanted)
    return f"{told(case.as_paper)} in both, none apart; R of the sky {ranges['sky']:.0f}"


def revise(case: Case) -> str:
    out = case.where("revised.yaml")
    case.ok("revise", str(case.path), "--base", "green=+1/3", "--out", out, "--force")
    more = 2.0 ** (1 / 3 / case.feature.p)
    wanted = case.feature.doses(8.0 * more, 4.0, 1.0)
    plan = case.planned(out)
    alike(lit(plan), wanted, 1.5e-3)
    kept = whole(case, plan, totals=case.name != "list of lights")  # its seconds stay, over more of a base
    return f"green base +1/3: {told(wanted)}{kept}"


def edition(case: Case) -> str:
    case.book()
    facts = case.facts("edition", str(case.path))
    planned = [row["planned"] for row in facts["steps"] if not row["card"]]
    alike(dict(zip(case.as_paper, planned, strict=True)), case.as_paper)
    assert all(abs(off) < 1e-9 for row in facts["steps"] + facts["areas"] for off in row["off"] if off is not None)
    return f"planned {told(case.as_paper)}, sheet 1 none off"


def strip_base(case: Case) -> str:
    facts = case.facts("strip", "base", str(case.path), "--base", "soft", "--out", case.where("s.yaml"), "--force")
    ladder = [8.0 * 2.0 ** ((k - 3) / 3 / case.feature.p) for k in range(6)]
    (found,) = facts["ladders"]
    alike(dict(enumerate(patch["seconds"] for patch in found["patches"])), dict(enumerate(ladder)), 2e-3)
    _strip_is(case, case.planned(case.where("s.yaml")))
    return f"{case.feature.strip_as}: {' '.join(f'{seconds:.1f}' for seconds in ladder)}"


def _strip_is(case: Case, plan: Plan) -> None:
    assert not any(step.dry_down for step in plan.steps) and plan.negative == "31-1"
    assert (plan.baths.baths[0].seconds if plan.baths else None) == (90 if case.feature.ends_in else None)
    assert plan.reciprocity == case.feature.p
    assert {step.light for step in plan.steps if step.dose} <= {"green", "blue"}


def strip_grid(case: Case) -> str:
    facts = case.facts("strip", "grid", str(case.path), "--out", case.where("g.yaml"), "--force")
    for ladder, middle in zip(facts["ladders"], (8.0, 4.0), strict=True):
        wanted = [middle * 2.0 ** ((k - 3) / 3 / case.feature.p) for k in range(6)]
        found = [patch["seconds"] for patch in ladder["patches"]]
        alike(dict(enumerate(found)), dict(enumerate(wanted)), 4e-3)
    _strip_is(case, case.planned(case.where("g.yaml")))
    return f"{case.feature.strip_as}: 8 s and 4 s in the middle"


def strip_dry(case: Case) -> str:
    facts = case.facts("strip", "dry-down", str(case.path), "--out", case.where("d.yaml"), "--force")
    bases = [(dose / (0.92 if case.feature.judged == "wet" else 1.0), name.split("/")[2])
             for name, dose in case.doses.items() if name.startswith("base/")]  # fmt: skip
    wanted = [[(base * (1 - percent / 100), light) for base, light in bases] for percent in (12, 8, 4, 0)]
    found = [[(one["dose"], one["light"]) for one in patch["exposures"]] for patch in facts["patches"]]
    for one, other in zip(found, wanted, strict=True):
        assert [light for _, light in one] == [light for _, light in other]
        alike(dict(enumerate(d for d, _ in one)), dict(enumerate(d for d, _ in other)), 2e-3)
    _strip_is(case, case.planned(case.where("d.yaml")))
    return f"{case.feature.strip_as}: its {len(bases)} bases less 12, 8, 4 and 0 %"


def strip_read(case: Case) -> str:
    case.put("prints/crossed-s.yaml", case.text())
    source = case.where("crossed-s.yaml")
    case.ok("strip", "base", source, "--base", "soft", "--out", case.where("rs.yaml"), "--force")
    case.ok("strip", "read", case.where("rs.yaml"), "5", "--into", source)
    chosen = 8.0 * 2.0 ** (1 / 3 / case.feature.p)
    after = Path(source).read_text()
    found = re.search(r"base: soft, light: green, seconds: ([0-9.]+)", after)
    assert found is not None and math.isclose(float(found[1]), chosen, rel_tol=2e-3), (after, chosen)
    assert after == case.text().replace("light: green, seconds: 8}", f"light: green, seconds: {found[1]}}}")
    return f"base soft becomes {float(found[1]):.2f} s, the rest of the file as it was"


def enlarge(case: Case) -> str:
    """Half of the light on the easel: twice the exposure, or 2^(1/p) of the seconds."""
    out = case.where("large.yaml")
    case.ok("enlarge", str(case.path), "--from-reading", "2", "--reading", "1", "--out", out, "--force")
    times = 2.0 ** (1 / case.feature.p)
    wanted = case.feature.doses(8.0 * times, 4.0 * times, times)
    plan = case.planned(out)
    alike(lit(plan), wanted, 1e-3)
    return f"for twice the light {told(wanted)}{whole(case, plan)}"


def move(case: Case) -> str:
    """To a paper of twice the speed: half of all light does the same."""
    out = case.where("moved.yaml")
    code, _, err = case.run("move", str(case.path), "--paper", str(case.folder / "papers/fast.yaml"), "--out", out,
                            "--force")  # fmt: skip
    if code:
        return refused(err)
    wanted = dict(case.feature.doses(4.0, 2.0, 0.5))
    if "flash/wall/far" in wanted:
        wanted["flash/wall/far"] = 0.5
    plan = case.planned(out)
    alike(lit(plan), wanted, 0.03)
    return f"to a paper of twice the speed {told(wanted)}{whole(case, plan)}"


def refused(err: str) -> str:
    """A command may say no, in one line that says why."""
    (line,) = err.splitlines()
    assert len(line) > 20 and "Traceback" not in line
    return f"refused: “{line.rpartition(': ')[2] if len(line) > 90 else line}”"


def exposed(dose: float, base: float, p: float) -> float:
    return base * (dose / base) ** p if base else dose


def got_bases(case: Case) -> tuple[float, float]:
    return tuple(
        sum(dose for name, dose in case.doses.items() if name.startswith("base/") and name.endswith(f"/{light}"))
        for light in ("green", "blue")
    )  # type: ignore[return-value]


def density(green: float, blue: float) -> float:
    """The curve of `card`, as its file writes it: a sum of logistic parts over log10 of the exposure."""
    found = DMIN
    for height, speed in PARTS:
        light = speed * green + BLUE * blue
        found += height / (1.0 + light ** -(SLOPE / math.log(10.0))) if light > 0 else 0.0
    return found


def solved(wanted: float, rising: Callable[[float], float]) -> float:
    low, high = 1e-6, 1e6
    for _ in range(200):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if rising(middle) < wanted else (low, middle)
    return low


def iso_range(green: float, blue: float) -> float:
    """ISO 6846: a hundred times the log exposures between 0.04 over white and 90 % of the net black."""
    net = sum(height for height, _ in PARTS)
    low = solved(DMIN + 0.04, lambda k: density(k * green, k * blue))
    high = solved(DMIN + 0.9 * net, lambda k: density(k * green, k * blue))
    return 100.0 * math.log10(high / low)


def proof(case: Case, what: str | None = None) -> str:
    """A scan that is clear all over but for one pixel: each area has one tone."""
    scan = case.folder / "clear.png"
    if not scan.exists():
        image = Image.new("L", (100, 125), 255)
        image.putpixel((50, 62), 0)
        image.save(scan)
    argv = ["proof", what or str(case.path), "--negative", str(scan), "--densities", "0", "1", "--width", "100",
            "--penumbra", "1", "--json"]  # fmt: skip
    code, out, err = case.run(*argv)
    if code:
        return refused(err)
    rows = {row["area"]: row["worked"]["density"] for row in json.loads(out)["areas"]}
    first_tone = solved(DMIN + 0.02, lambda green: density(green, 0.0))
    bases, said = got_bases(case), []
    for area, (green, blue) in case.feature.gets(case.doses).items():
        light = [exposed(dose, base, case.feature.p) for dose, base in zip((green, blue), bases, strict=True)]
        wanted = density(light[0] + case.feature.flashed.get(area, 0.0) * first_tone, light[1])
        if area == "wall":
            wanted = case.feature.reach * wanted + (1 - case.feature.reach) * density(*bases)
        assert abs(rows[area] - wanted) < 0.02, (area, rows[area], wanted)
        said.append(f"{area} {wanted:.2f}")
    return f"density {', '.join(said)}"


def proof_sheet(case: Case) -> str:
    case.book()
    return proof(case, "1")


def report(case: Case, what: str | None = None) -> str:
    code, _, err = case.run("report", what or str(case.path), "--out", str(case.folder / "reports"), "--force")
    assert code == 0, err
    page = (case.folder / "reports" / ("sheet-1.html" if what else "print-crossed.html")).read_text()
    steps, totals = (re.search(rf'<section id="{part}">.*?</section>', page, re.S) for part in ("steps", "totals"))
    assert steps is not None and totals is not None
    said = re.sub(r"<[^>]*>", "", steps[0])
    for words in case.feature.in_report:
        assert words in said, (words, said)
    cells = re.findall(r'<td class="number">([0-9.]+)</td>', steps[0])
    times = 2 if what else 1
    wanted = [f"{dose:.1f}" for dose in case.doses.values() for _ in range(times)]
    assert [cell for cell in cells if "." in cell] == wanted, (cells, wanted)
    for (_, area, light), stops in case.feature.totals.items():
        row = re.search(rf"<tr><td>[^/]*{area}.*?</td><td>{light}</td>(.*?)</tr>", totals[0])
        assert row is not None, (area, totals[0])
        shown = re.findall(r'class="number">([^<]+)<', row[1])[:times]
        assert shown == [shown_stops(stops)] * times, (area, shown, stops)
    also = "".join(f"; “{words}”" for words in case.feature.in_report)
    return f"{' '.join(wanted[::times])}; in all {told(case.feature.totals)}{also}"


def shown_stops(stops: float | None) -> str:
    known = {1.0: "+1", 0.0: "0", None: "nothing", math.log2(0.9): "-0.15", math.log2(1.5): "+7/12", 0.5: "+1/2"}
    return known[stops]


def report_sheet(case: Case) -> str:
    case.book()
    return report(case, "1")


COMMANDS: dict[str, Callable[[Case], str]] = {
    "check": check, "plan": plan_text, "plan --json": plan_json, "rehearse": rehearse, "map": mapped, "load": load,
    "try": try_,
    "sheet N": sheet, "sheets --print": sheets, "book export --print": export, "adopt N": adopt,
    "adopt N --from": adopt_from, "repeat N": repeat, "compare": compare, "revise": revise, "edition": edition,
    "strip base": strip_base, "strip grid": strip_grid, "strip dry-down": strip_dry, "strip read": strip_read,
    "enlarge": enlarge, "move": move, "proof PRINT": proof, "proof N": proof_sheet, "report PRINT": report,
    "report N": report_sheet,
}  # fmt: skip
"""Each command that takes a print, or a sheet of one, and what is checked of it with each feature."""

NO_PRINT = {
    "schema": "a kind", "press": "a pedal", "step": "a step at hand", "owe": "a step at hand",
    "take-up": "a sheet's state", "give-up": "a sheet's state", "note": "words", "rate": "a number",
    "book backup": "a file", "book rescue": "a file", "baths": "a bath line", "bath new": "a bath",
    "bath temperature": "a bath", "bath leave": "a bath", "strip flash": "a paper", "strip safelight": "a paper",
    "paper fit": "readings", "paper range": "a paper", "paper show": "a paper", "contrast": "a paper",
    "area": "a paper", "flash": "a paper", "help": "a topic", "list": "a kind",
}  # fmt: skip
"""Commands with an argument that is no print and no sheet's light, and what it is."""


def with_an_argument() -> dict[str, list[str]]:
    """Every command of the parser that takes something, by its words, with what it takes."""
    found: dict[str, list[str]] = {}

    def walk(one: argparse.ArgumentParser, path: tuple[str, ...]) -> None:
        for action in one._actions:
            if isinstance(action, argparse._SubParsersAction):
                for name, sub in action.choices.items():
                    walk(sub.filled(), (*path, name))
            elif (not action.option_strings or action.dest == "print") and path:
                found.setdefault(" ".join(path), []).append(action.dest)

    walk(parser(), ())
    return found
