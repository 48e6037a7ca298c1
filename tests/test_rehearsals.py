"""Every rehearsal: the edges worked out by hand, and edges and records compared whole with what was kept."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from rehearsals.record import HERE, NAMES, play

BY_HAND = re.compile(r"^#   ([0-9.]+) (\S.*) (on|off)$", re.M)


NO_LIGHT = ("safelight", "cue line", "stay ")
READ_LATER = {"plain.stuck-line": ("20.005", "20.0"), "bright.shutter-stuck": ("70.005", "70.0")}


@pytest.fixture(scope="module", params=NAMES)
def played(request: pytest.FixtureRequest) -> tuple[str, dict[str, Any]]:
    return request.param, play(request.param).as_json()


def test_edges_as_worked_out_by_hand(played: tuple[str, dict[str, Any]]) -> None:
    name, facts = played
    head = (HERE / f"{name}.feet.yaml").read_text().split("feet:")[0]
    by_hand = [{"t": float(t), "line": line, "on": level == "on"} for t, line, level in BY_HAND.findall(head)]
    assert by_hand
    assert facts["edges"] == by_hand


def test_edges_and_records_as_kept(played: tuple[str, dict[str, Any]]) -> None:
    name, facts = played
    kept = json.loads((HERE / f"{name}.expected.json").read_text())
    assert json.loads(json.dumps(facts)) == kept


def test_records_agree_with_the_edges(played: tuple[str, dict[str, Any]]) -> None:
    """Each burst of each sheet is an on and an off of its light, and there is no other light than the viewing light."""
    name, facts = played
    if name in READ_LATER:  # read low 5 ms after it came loose
        facts = json.loads(json.dumps(facts).replace(*READ_LATER[name]))
    lights = [(e["line"], e["t"], e["on"]) for e in facts["edges"] if not e["line"].startswith(NO_LIGHT)]
    told = [
        (t, on)
        for sheet in facts["sheets"]
        for step in sheet["steps"]
        for burst in step["bursts"]
        for t, on in zip(burst, (True, False), strict=True)
    ]
    told += [(r["at"], r["lit"]) for r in facts["records"] if r["kind"] == "viewing"]
    assert sorted((t, on) for _, t, on in lights) == sorted(told)
