"""A real daemon gives a sheet once more: printed by foot with a pause and a burn ended early, then dose for dose."""

from __future__ import annotations

import json

import pytest
from served import Served, not_too_soon, stand_still
from served.asking import ask
from served.killing import PAPER

from timerd.control import ControlError

SHORT = """\
print: A wall
paper: demo-resin-pearl
bench: two-station
sheet: 8x10 in
steps:
  - {base: plain, light: green, seconds: 1.2, lead_in: 0.2}
  - {burn: edges, mm: 10, light: green, stops: 1 1/2, lead_in: 0.2}
"""


def burn(served: Served, seconds: float) -> None:
    """Light for about so long, ended by a pedal: paused."""
    not_too_soon(served.status())
    served.light()
    stand_still(seconds)
    served.tap("end")
    served.state("paused")


def test_what_a_sheet_was_given_is_loaded_and_printed_again(served: Served) -> None:
    served.start()
    served.load(SHORT, PAPER)
    served.arm()
    served.tap("go")
    served.until(lambda s: s["state"] == "ready" and s["step"] == 3)
    burn(served, 0.3)
    burn(served, 0.2)
    not_too_soon(served.status())
    stand_still(1.1)  # a hold of so long that begins when it is not too soon
    served.hold("end", seconds=1.05)
    served.state("done")
    with pytest.raises(ControlError, match="no sheet 2 in"):
        ask(served.run, {"do": "load", "repeat": 2})
    first = json.loads(served.timerd("sheet", "1", "--json").stdout)
    given = first["steps"][2]
    assert given["ended_by"] == "printer" and len(given["bursts"]) == 2 and 0.4 < given["given"] < given["planned"]

    done = served.timerd("repeat", "1")
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [
        "loaded: what sheet 1 was given, A wall, 1 sheet. Hold go for 1 s to arm.",
        f"  burn edges 10 mm, green, 1 1/2 stops: {given['given']:.2f} s as given (2.19 s planned)",
    ]
    assert served.status()["state"] == "done" and not served.lit_lamps(), "a load lights nothing"
    served.arm()
    plan = ask(served.run, {"do": "plan"})["plan"]
    assert [step["dose"] for step in plan["steps"] if step["dose"] is not None] == [
        1.2, pytest.approx(given["given"], abs=1e-8),
    ]  # fmt: skip
    served.tap("go")
    served.until(lambda s: s["state"] == "ready" and s["step"] == 3)
    not_too_soon(served.status())
    served.tap("go")
    served.state("done")
    second = json.loads(served.timerd("sheet", "2", "--json").stdout)
    assert [step["ended_by"] for step in second["steps"]] == ["printer", "dose", "dose"]
    assert second["steps"][2]["given"] == pytest.approx(given["given"], abs=served.near_s)


def test_nothing_is_repeated_while_a_sheet_is_under_way(served: Served) -> None:
    served.start()
    served.load(SHORT, PAPER)
    served.arm()
    with pytest.raises(ControlError, match="a sheet is under way"):
        ask(served.run, {"do": "load", "repeat": 1})
