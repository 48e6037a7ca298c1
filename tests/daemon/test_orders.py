"""A real daemon that is told things: sheets set aside, a crash meanwhile, steps owed again, a light to look by."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from golden import Golden
from served import Served, bursts
from served.killing import PAPER

RED = Path(__file__).parents[1] / "rehearsals" / "benches" / "red-light.yaml"
PRINT = """\
print: A wall, twice
paper: demo-resin-pearl
bench: red-light
sheet: 8x10 in
areas: {sky: [[0, 0], [1, 0], [1, 0.3]]}
steps:
  - {flash: sky, light: flash, seconds: 0.3, lead_in: 0.2}
  - {carry: enlarger}
  - {base: plain, light: green, seconds: 0.4, lead_in: 0.2}
  - {burn: sky, light: green, stops: 1, lead_in: 0.2}
"""


@pytest.fixture
def red(served: Served) -> Served:
    """A bench with a paper-safe light and a third pedal; a print is loaded."""
    served.bench = str(RED)
    served.start()
    served.load(PRINT, PAPER, sheets=2)
    return served


def tell(served: Served, *argv: str) -> str:
    done = served.timerd(*argv)
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout.strip()


def refused(served: Served, *argv: str) -> str:
    done = served.timerd(*argv)
    assert (done.returncode, done.stdout) == (1, "")
    return done.stderr.strip()


def give(served: Served, step: int) -> None:
    """A press, and the light it starts, whole."""
    served.tap("go")
    served.until(lambda s: s["steps"] is not None and s["steps"][step - 1]["ended_by"] == "dose")


def sheet_json(served: Served, number: int) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(tell(served, "sheet", str(number), "--json"))
    return found


def test_a_sheet_set_aside_is_taken_up_again_after_a_crash_and_owed_again_what_was_skipped(
    golden: Golden, red: Served
) -> None:
    golden(refused(red, "skip"))
    armed = tell(red, "arm")
    assert armed.startswith("prompt · sheet 1, step 1 · asks: ") and armed.endswith("sheet 1 is armed")
    golden(refused(red, "set-aside"))
    red.tap("go")
    red.state("ready")
    golden(refused(red, "step", "99"))
    give(red, 2)
    golden(tell(red, "set-aside"))
    red.kill("daemon", "keeper")
    red.gone()
    red.start()
    red.until(lambda s: s["unfinished"] is not None and (s["unfinished"]["sheet"], s["aside"]) == (1, [1]))
    taken_up = tell(red, "take-up", "1")
    assert "out of its box" in taken_up and taken_up.endswith("sheet 1 is taken up")
    red.tap("go")  # out of its box and carried
    red.state("ready", step=4)
    assert tell(red, "skip").startswith("ready · sheet 1, step 5")
    assert tell(red, "owe", "4").startswith("ready · sheet 1, step 4 · 0.4 s owed")
    golden(refused(red, "owe", "2"))
    give(red, 4)
    red.state("ready", step=5)
    assert tell(red, "step", "5").startswith("ready · sheet 1, step 5")
    give(red, 5)
    red.state("done")
    golden(tell(red, "tray"))
    sheet = sheet_json(red, 1)
    assert sheet["outcome"] == "complete"
    told = [burst for step in sheet["steps"] for burst in step["bursts"]]
    lines = bursts(red.truth())
    assert [line for line, _, _ in lines] == ["lamp flasher", "lamp head-green", "lamp head-green"]
    for (on, off), (_, lit, dark) in zip(told, lines, strict=True):
        assert (on, off) == (pytest.approx(lit, abs=red.near_s), pytest.approx(dark, abs=red.near_s))


def test_a_light_to_look_by_gives_no_dose_whoever_dies_while_it_is_shown(golden: Golden, red: Served) -> None:
    tell(red, "arm")
    red.tap("go")
    red.state("ready")
    golden(refused(red, "view"))
    tell(red, "skip")
    red.tap("go")
    red.state("ready", step=4)
    assert "next go shows" in tell(red, "view")
    red.tap("go")
    red.until(lambda s: s["shown"] == "red")
    red.tap("end")
    red.until(lambda s: s["shown"] is None and s["state"] == "ready")
    red.tap("third")
    red.until(lambda s: s["shown"] == "red")
    assert red.lit_lamps() == {"lamp red-led"}
    golden(refused(red, "view"))
    red.kill("daemon", "keeper")
    red.gone()
    red.start()
    assert red.lit_lamps() == set()
    offer = red.until(lambda s: s["unfinished"] is not None)["unfinished"]
    assert (offer["sheet"], offer["step"], offer["given_lo"], offer["given"]) == (1, 4, 0.0, 0.0)
    assert [line for line, _, _ in bursts(red.truth())] == ["lamp red-led", "lamp red-led"]


def test_orders_that_are_none_are_refused_and_change_nothing(red: Served) -> None:
    from served.asking import ask

    from timerd.control import ControlError

    before = red.status()
    for request in (
        {"what": "expose"}, {"what": "step"}, {"what": "step", "n": 0}, {"what": "owe", "n": True}, {"what": []},
        {"what": "step", "n": "2"}, {},
    ):  # fmt: skip
        with pytest.raises(ControlError):
            ask(red.run, {"do": "tell", **request})
    after = red.status()
    assert {**before, "now": 0} == {**after, "now": 0}
    assert red.truth() == []


def test_by_step_the_batch_is_loaded_in_rounds(golden: Golden, red: Served, tmp_path: Path) -> None:
    print_ = tmp_path / "twice.yaml"
    print_.write_text(PRINT)
    benches = red.home / "profiles" / "benches"
    benches.mkdir(parents=True)
    (benches / "red-light.yaml").write_text(RED.read_text())
    loaded = tell(red, "load", str(print_), "--sheets", "3", "--by-step")
    golden(loaded)
