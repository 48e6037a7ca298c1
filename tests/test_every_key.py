"""Every key of every kind of file, with an unusual value: it is read, it changes something, and it comes through.

A new key makes the first test fail until a file here has it; then the others say where it is dropped in silence.
"""

from __future__ import annotations

import ast
import copy
import itertools
import json
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from pydantic import BaseModel
from sheet.printed_sheets import sheet_of

from timerd.desk.adopt import adopted
from timerd.desk.enlarge import Asked, enlarged
from timerd.sheet.account import sheet_table
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import ASIDE, LIGHTS, PROMPTS, Kind, Plan
from timerd.sheet.plan.view import plan_table
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.printfile import STEPS
from timerd.sheet.profile.reading import MODELS, Profile, read
from timerd.sheet.words import step_speech, step_words

TIMERD = Path(__file__).parents[1] / "timerd"

BENCH = """\
bench: odd-corner
stations: {east: {turn: 90}, west: {turn: 270}}
lamps:
  old-head: {pin: 17, active: high, station: east, rise_ms: 120, fall_ms: 60, relay_on_ms: 7, relay_off_ms: 3,
    longest_s: 251, sense: {pin: 24, pull: down}}
  new-head: {pin: 27, station: east, lag_s: 0.13}
  arc: {pin: 23, station: west, kind: shutter, stay_pin: 12, warm_up_s: 31}
  dim: {pin: 16, station: west}
lights:
  moss: {lamp: old-head, colour: green, filter: by hand}
  sea: {lamp: new-head, colour: deep blue}
  glow: {lamp: arc, colour: white}
  ember: {lamp: dim, colour: red, paper_safe: true}
viewing: moss
view_s: 333
safelight: {pin: 22, active: high, dark_from: light, on_when_paused: false, switchable: true}
pedals:
  go: [{pin: 5, pull: up, station: east}, {usb: foot thing, key: f13, station: west}]
  end: [{pin: 6}]
  third: [{pin: 13}]
third: view
heartbeat: {pin: 26}
backup_to: /media/stick/copies
cue_line: {pin: 25}
sound:
  say: speak
  beat: 0.5
  count: up
  beat_in_ready: true
  level: 0.31
  levels: {beat: 0.11, accent: 0.12, half: 0.13, lead_in: 0.14, last: 0.15, ready: 0.16, notice: 0.17, card_in: 0.18,
    card_out: 0.19, light_on: 0.21, light_off: 0.22, paused: 0.23, refused: 0.24, prompt: 0.25, done: 0.26,
    warning: 0.27, agitate: 0.28, tray: 0.29, tray_soft: 0.32, fault: 0.33, voice: 0.34}
  voice: en-us
  words_a_minute: 141
screen: {brightness: 0.41, off_while_exposing: true, flash_edge: true, size: [1024, 601]}
"""
PAPER = """\
paper: odd-paper
surface: velvet
base: fibre
threshold: {glow: 1.7}
speed_ratio: {moss: 1.3, sea: 0.7}
dry_down: 7 %
reciprocity: 0.93
safelight_s: 217
box: third of four
batch: 77-b
curve:
  unit: seconds
  by: readings
  readings: 61
  scatter: 0.017
  dmin: 0.071
  parts:
    - {density: 0.8, green: 1.1, slope: 6.6, blue: 1.7,
       within: {density: 0.011, green: 0.012, slope: 0.013, blue: 0.014}}
    - {density: 1.2, green: 0.4, slope: 7.1, blue: 1.8}
  bend: [0.9, 0.95, 0.97, 1.04, 1.06, 1.1]
  mixes: [{green: [0.1, 90], blue: [0, 0], range: 93.7, within: 1.3}, {green: [0, 0], blue: [0.1, 80]}]
  deviations: [[0.002, 0.011, 0.012, 0.013, 0.014, 0.015, 0.016, 0.017, 0.018, 0.019, 0.02, 0.021, 0.022, 0.023, 0.024]]
"""
SHARED = """\
paper: plainer
curve:
  unit: lux seconds
  by: patches
  readings: 4
  dmin: 0.071
  slope: 7.3
  blue: 1.9
  parts: [{density: 1.9, green: 1.1}]
  within: {dmin: 0.003, slope: 0.21, blue: 0.05}
  mixes: [{green: [0.1, 90], blue: [0, 0]}, {green: [0, 0], blue: [0.1, 80]}]
"""
BATH = """\
bath: odd-line
base: fibre
carry_s: 23
develop: together
cues: softly
white_light: {bath: fix-a, after_s: 41}
baths:
  - {name: soup, kind: developer, seconds: 97, drain_s: 11, drain: inside, agitate: {every_s: 7, for_s: 2}, at_c: 21.5,
     per_degree: 0.08, factor: 6.5, capacity: {fibre: 41, resin: 83}, litres: 1.7, keeps_h: 9.5}
  - {name: sour, kind: stop bath, seconds: 13}
  - {name: fix-a, kind: fixer, seconds: 47, capacity: {fibre: 40}, followed_by: fix-b, cycles: 4}
  - {name: fix-b, kind: fixer, seconds: 53, capacity: {fibre: 40}, drain_s: 5, drain: outside}
"""
FEET = """\
sheets: 2
by_step: true
feet:
  - {at: 0, pedal: end, down: 0.4, found_down: true}
  - {at: 1.5, pedal: go, station: east, down: 1.3, bounce: 4}
  - {when: prompt, after: 2.5, pedal: go}
  - {at: 9, fault: line stuck, light: moss, until: 11}
  - {at: 20, do: step, n: 3}
"""
HEAD = """\
print: Odd corners
origin: an older one
negative: 31-007-19
paper: odd-paper
bench: odd-corner
sheet: [231, 177]
image_mm: {left: 9, top: 8, width: 207, height: 153}
lens_mm: 83
aperture: 9.5
magnification: 3.7
judged: wet
hands: 3
areas:
  hill: [[0, 0], [1, 0], [1, 0.4], [0, 0.4]]
  gate: [[0.2, 0.1], [0.4, 0.1], [0.4, 0.3]]
  pond: [[0.6, 0.6], [0.9, 0.6], [0.9, 0.9]]
"""
PRINTS = (
    HEAD + """\
steps:
  - {flash: left, mm: 21, light: glow, threshold: 37 %, pedal: hold, lead_in: 0.7, lead_in_again: true, card: A,
     note: B}
  - {flash: hill, light: glow, seconds: 1.9, density: 0.21, aperture: 11, then: next}
  - {flash: gate, light: glow, seconds: 1.1, density: 0.21, aperture: 11}
  - {carry: east, card: C, note: D}
  - {base: mild, light: moss, seconds: 21.7, lead_in: 4.3, card: E, note: F, dodge: [
      {area: gate, stops: 1/6, start: 2.2, card: G, note: H}, {area: right, mm: 13, stops: 1/5, apart: true, card: I}]}
  - {base: stern, light: sea, seconds: 13.1, aperture: 13.5, density: 0.3, pedal: hold, lead_in_again: true}
  - {base: last, light: moss, seconds: 3.3, then: next, dodge: [{area: hill, hold_back: all, card: U, note: V}]}
  - {burn: hill, light: sea, stops: 5/6, card: J, note: K, leave: [{area: gate, stops: 1/7, card: L}]}
  - {burn: top, mm: 17, light: moss, stops: 2/3, over: mild, then: next,
     leave: [{area: bottom, mm: 5, stops: 1/9, start: 1.1}], dodge: [{area: pond, stops: 1/8, start: 6.6}]}
  - {burn: gate, light: moss, seconds: 2.1}
  - {box: until tomorrow, card: M, note: N}
  - {burn: pond, light: sea, percent: 43, over: mild}
  - {burn: pond, light: [moss, sea], stops: 1/3, pedal: hold, lead_in: 0.9, lead_in_again: true, aperture: 11,
     density: 0.15}
  - {safelight: 31, card: O, note: P}
  - {develop: odd-line, card: Q, note: R}
""",
    HEAD.replace("magnification: 3.7", "head_height_mm: 391") + """\
steps:
  - {base: mild, light: moss, seconds: 21.7}
  - {negative: 31-007-20, card: S, note: T}
  - {burn: hill, light: moss, seconds: 5.1}
""",
    HEAD + """\
strip: {finds: base, print: odd-corners, ladders: [{light: moss, base: mild, seconds: [8, 11, 16]}]}
steps: [{base: mild, light: moss, seconds: 8}]
""",
    HEAD + "strip: {finds: dry-down, percent: [0, 4, 8]}\nsteps: [{base: mild, light: moss, seconds: 8}]\n",
    HEAD + "strip: {finds: safelight, minutes: [0, 1, 3]}\nsteps: [{base: mild, light: moss, seconds: 8}]\n",
)  # fmt: skip
FILES: dict[str, tuple[str, ...]] = {
    "print": PRINTS, "bench": (BENCH,), "paper": (PAPER, SHARED), "bath": (BATH,), "feet": (FEET,),
}  # fmt: skip

NOT_IN_A_PLAN = {
    "origin": "where the print comes from: told by whoever reads its file",
    "lens_mm": "for `enlarge`", "magnification": "for `enlarge`", "head_height_mm": "for `enlarge`",
    "strip": "what `strip read` puts into a file",
}  # fmt: skip
"""Keys of a print that change nothing in a plan, and whom they are for."""

NOT_ADOPTED = {
    "origin": "it is the sheet now", "lens_mm": "not in the book: `adopt` says so", "strip": "a sheet of it is a sheet",
    "magnification": "not in the book: `adopt` says so", "head_height_mm": "not in the book: `adopt` says so",
    "judged": "what was taken off for dry-down is off already", "hands": "as many as the cards need, if over two",
    "percent": "in stops over the same base", "over": "in seconds of its own light where the base is in another",
}  # fmt: skip
"""Keys of a print that a sheet of it does not bring back, and why."""


def _read(kind: str, text: str) -> Profile[Any]:
    return read(text.encode(), f"{kind}.yaml", kind)


def _parts(value: Any) -> Iterator[BaseModel]:
    """Every mapping of a file that was read."""
    if isinstance(value, BaseModel):
        yield value
        for name in type(value).model_fields:
            yield from _parts(getattr(value, name))
    elif isinstance(value, dict):
        for item in value.values():
            yield from _parts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _parts(item)


def _models(model: type[BaseModel], found: dict[type[BaseModel], None]) -> dict[type[BaseModel], None]:
    if model not in found:
        found[model] = None
        for field in model.model_fields.values():
            for inner in _classes(field.annotation):
                _models(inner, found)
    return found


def _classes(annotation: Any) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in typing.get_args(annotation):
        yield from _classes(part)


@pytest.mark.parametrize("kind", MODELS)
def test_every_key_is_written_here(kind: str) -> None:
    """Each with a value of its own that is not the one it has when it is left out."""
    written: set[str] = set()
    for text in FILES[kind]:
        for part in _parts(_read(kind, text).value):
            for name in part.model_fields_set:
                field = type(part).model_fields[name]
                if field.is_required() or getattr(part, name) != field.get_default(call_default_factory=True):
                    written.add(f"{type(part).__name__}.{name}")
    there = {f"{model.__name__}.{name}" for model in _models(MODELS[kind], {}) for name in model.model_fields}
    usual = {"Lamp.active", "Safelight.active", "Safelight.switchable", "Bath.drain", "PaperCurve.by", "Pedal.pull"}
    assert there - written - usual == set(), f"write an example of it into {kind.upper()} here"


def test_every_key_is_read_by_some_code() -> None:
    """A key that only its model knows goes nowhere: some code outside of the models takes it by its name."""
    names: set[str] = set()
    for path in TIMERD.rglob("*.py"):
        if path.parent.name == "profile" and not path.stem.endswith("checks"):
            continue
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.Attribute):
                names.add(node.attr)
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                names.add(node.value)
    unread = {
        f"{model.__name__}.{name}" for kind in MODELS for model in _models(MODELS[kind], {})
        for name in model.model_fields if name not in names
    }  # fmt: skip
    assert unread == set()


# -- a print's keys, through the plan and back ------------------------------------------------------------------------


def _plan(print_: str) -> Plan:
    return make_plan(
        _read("print", print_), _read("bench", BENCH), _read("paper", PAPER), baths=_read("bath", BATH)
    )  # fmt: skip


def _places(value: Any, place: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """Every key in a file's plain values; not the names that a printer gives to areas."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield (*place, key)
            if place != ("areas",) and key != "areas":
                yield from _places(item, (*place, key))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from _places(item, (*place, i))


def _written(value: Any) -> str:
    return yaml.safe_dump(value, sort_keys=False)


def _without(value: Any, place: tuple[str | int, ...]) -> Any:
    left = copy.deepcopy(value)
    inner = left
    for part in place[:-1]:
        inner = inner[part]
    del inner[place[-1]]
    return left


@pytest.mark.parametrize("number", range(len(PRINTS)))
def test_every_key_of_a_print_changes_its_plan(number: int) -> None:
    """Taken out it is missed, or the plan is another one; what is for no plan is listed with whom it is for."""
    plain = yaml.safe_load(PRINTS[number])
    plan = _plan(PRINTS[number]).model_dump(mode="json")
    assert _plan(_written(plain)).model_dump(mode="json") == plan
    idle = []
    for place in _places(plain):
        if place[0] in NOT_IN_A_PLAN:
            continue
        try:
            without = _plan(_written(_without(plain, place))).model_dump(mode="json")
        except ProfileError:
            continue
        if without == plan:
            idle.append(place)
    assert [place for place in idle if place != ("hands",)] == []


def test_what_is_for_no_plan_changes_an_enlargement() -> None:
    bench, paper = _read("bench", BENCH).value, _read("paper", PAPER).value
    asked = Asked(magnification=(None, 5.0))
    for number, keys in ((0, ("lens_mm", "magnification")), (1, ("lens_mm", "head_height_mm"))):
        plain = yaml.safe_load(PRINTS[number])

        def told(value: dict[str, Any], of: str) -> Any:
            try:
                print_ = _read("print", _written(value)).value
                return enlarged(print_, "odd", bench, paper, asked)
            except ValueError as error:
                return f"{of}: {error}"

        whole = told(plain, "whole")
        for key in keys:
            assert told(_without(plain, (key,)), "without") != whole, key


def test_every_key_of_a_print_comes_back_from_the_book() -> None:
    """A sheet run by its plan, adopted: the same keys with the same values, but for those listed with why not."""
    for text in PRINTS[:2]:
        plan = _plan(text)
        # The book has a plan as JSON: what does not come through it is lost.
        plan = Plan.model_validate_json(plan.model_dump_json())
        made = adopted(plan, sheet_of(plan), _read("bench", BENCH).value)
        before = json.loads(_read("print", text).value.model_dump_json(exclude_unset=True))
        after = json.loads(_read("print", made.text).value.model_dump_json(exclude_unset=True))
        before_steps, after_steps = _single(before.pop("steps")), after.pop("steps")
        assert {key: value for key, value in before.items() if key not in NOT_ADOPTED} == {
            key: value for key, value in after.items() if key not in NOT_ADOPTED
        }
        assert [set(LIGHTS) & step.keys() for step in before_steps] == [
            set(LIGHTS) & step.keys() for step in after_steps
        ]
        for was, now in zip(before_steps, after_steps, strict=True):
            assert _comparable(was) == _comparable(now)


def test_every_kind_of_step_is_planned_worded_and_told() -> None:
    """The kinds are parted once, each is in a plan of the prints here, and each has words, speech and a row of its own.

    That code which parts them has a branch for each is the type checker's (`assert_never`).
    """
    kinds: tuple[str, ...] = typing.get_args(Kind)
    assert sorted((*PROMPTS, *LIGHTS, "develop")) == sorted(kinds)
    assert set(ASIDE) < set(PROMPTS) and set(STEPS) <= set(kinds)
    steps = [step for text in PRINTS[:2] for step in _plan(text).steps]
    assert {step.kind for step in steps} >= set(kinds) - {"filter"}
    filtered = "{base: a, light: moss, seconds: 3}", "{base: b, light: clear, seconds: 3}"
    bench = BENCH.replace("viewing:", "  clear: {lamp: old-head, colour: white}\nviewing:")
    text = HEAD + "steps:\n" + "".join(f"  - {step}\n" for step in filtered)
    steps += make_plan(_read("print", text), _read("bench", bench), _read("paper", PAPER)).steps
    told: dict[str, set[str]] = {}
    for step in steps:
        said = (step_words(step), step_speech(step))
        assert all(said) and not any("None" in words for words in said), step
        told.setdefault(step.kind, set()).add(said[0])
    assert set(told) == set(kinds)
    assert all(not told[a] & told[b] for a, b in itertools.combinations(kinds, 2)), "no two kinds are told alike"
    plan = _plan(PRINTS[0])
    table = plan_table(plan)
    sheet = sheet_table(plan, sheet_of(plan))
    for step in plan.steps:
        assert step_words(step) in " ".join(table.split()) and step_words(step) in " ".join(sheet.split()), step.kind


def _single(steps: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """A burn in several lights is one of each."""
    return [
        {**step, "light": light} for step in steps
        for light in (step["light"] if isinstance(step.get("light"), list) else [step.get("light")])
    ]  # fmt: skip


_AMOUNTS = ("seconds", "stops", "percent", "threshold", "over", "start")


def _comparable(step: dict[str, Any]) -> dict[str, Any]:
    """A step without its amounts, which tests/desk/test_adopt.py holds to 1/400 stop, and without what is left out."""
    kept = {key: value for key, value in step.items() if key not in _AMOUNTS and value is not None}
    for key in ("dodge", "leave"):
        if key in kept:
            kept[key] = [{k: v for k, v in item.items() if k not in _AMOUNTS} for item in kept[key]]
    return kept
