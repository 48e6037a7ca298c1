"""A real daemon and keeper with a lamp that stays on behind a shutter, and with pedals that are unplugged."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from served import Served
from served.killing import PAPER
from served.plugs import plug

from timerd.bench.pretended import PretendedFoot
from timerd.cli import main
from timerd.places import shipped
from timerd.sheet.refusal import LampWarmsUp, refusal_of
from timerd.sheet.telling import refusal_words

SHUTTER, LAMP = "lamp head", "stay head"
PRINT = """\
print: A wall in the sun
paper: demo-resin-pearl
bench: bright-lamp
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 30, lead_in: 0.2}
"""


@pytest.fixture
def bright(tmp_path: Path) -> Iterator[Served]:
    """The bench that comes along, its lamp warm in 1.5 s, with a print loaded."""
    text = (shipped() / "benches" / "bright-lamp.yaml").read_text()
    file = tmp_path / "bright-lamp.yaml"
    file.write_text(text.replace("warm_up_s: 40", "warm_up_s: 1.5"))
    served = Served(tmp_path, str(file))
    served.start()
    served.load(PRINT, PAPER)
    yield served
    served.close()


def on_off(served: Served, *lines: str) -> list[tuple[str, bool]]:
    return [(edge["line"], edge["on"]) for edge in served.truth() if edge["line"] in lines]


def exposing(served: Served) -> None:
    served.until(lambda s: s["said"] is not None)
    served.arm()
    served.light()


def test_on_with_the_load_waited_for_told_when_warm_and_off_by_dark(
    bright: Served, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bright.hold("go")  # at once: it began before the lamp did
    status = bright.until(lambda s: s["refused"] is not None)
    assert status["warming"]["lamp"] == "head" and 0 < status["warming"]["until"] - status["now"] <= 1.5
    with monkeypatch.context() as patch:  # a process may take longer than the lamp
        patch.setattr("timerd.cli.status.ask_status", lambda *_: status)
        assert main(["status"]) == 0
    assert f" · {refusal_words(refusal_of(status['refused']))} · " in capsys.readouterr().out
    assert refusal_of(status["refused"]) in (LampWarmsUp(2), LampWarmsUp(1))
    status = bright.until(lambda s: s["said"] is not None)
    assert (status["said"]["what"], status["warming"], status["state"]) == ("lamp warm", None, "idle")
    exposing(bright)
    assert bright.timerd("dark").returncode == 0
    bright.state("paused")
    assert on_off(bright, SHUTTER, LAMP) == [(LAMP, True), (SHUTTER, True), (LAMP, False), (SHUTTER, False)]
    bright.tap("go")
    status = bright.until(lambda s: s["refused"]["number"] == 2)
    assert (refusal_of(status["refused"]), status["state"]) == (LampWarmsUp(2), "paused")
    assert on_off(bright, SHUTTER, LAMP)[4:] == [(LAMP, True)], "asked for again, and nothing opened before it"


@pytest.mark.parametrize("who", ["keeper", "daemon"])
def test_whoever_dies_the_shutter_closes_and_the_lamp_goes_off(bright: Served, who: str) -> None:
    exposing(bright)
    bright.kill(who)
    if who == "keeper":
        bright.state("fault")
    else:
        bright.gone()
        bright.timerd("dark")
    edges = on_off(bright, SHUTTER, LAMP)
    assert edges[:2] == [(LAMP, True), (SHUTTER, True)]
    assert sorted(edges[2:]) == [(SHUTTER, False), (LAMP, False)]


def test_a_pedal_that_is_unplugged_is_told_until_it_is_plugged_in_again(bright: Served) -> None:
    foot = PretendedFoot(bright.run)
    plug(foot, "end", False)
    status = bright.until(lambda s: bool(s["unplugged"]))
    assert (status["unplugged"], status["reason"]) == ({"end": "is unplugged"}, {"why": "pedals out"})
    assert bright.timerd("status").stdout.count("pedal end is unplugged") == 1
    plug(foot, "end", True)
    status = bright.until(lambda s: not s["unplugged"])
    assert status["reason"] is None
    foot.close()
