"""Every rehearsal: the edges worked out by hand, and edges and records compared whole with what was kept."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from rehearsals.record import HERE, NAMES, planned, play

from timerd.sheet.history import Dated, history
from timerd.sheet.trays.stock import Stock

TOTAL = re.compile(r"^#   (.+), (.+), (\S+): ([+-][0-9.]+) ([+-][0-9.]+) ([+-][0-9.]+) of ([0-9.]+)$", re.M)
OFF = re.compile(r"^#   step ([0-9]+): dose off ([+-][0-9.]+), stops off ([+-][0-9.]+)$", re.M)
PATCH = re.compile(r"^#   patch ([0-9]+): (?:.* = )?([0-9.]+) s$", re.M)
AT = re.compile(r"^#   (drain, .+|in .+|out of .+|safe .+): ([0-9.]+)$", re.M)
UNDER = re.compile(r"^#   under the safelight: ([0-9.]+)$", re.M)
TAKEN = re.compile(r"^#   (\w+) has taken: ([0-9.]+)(?:, ([0-9.]+) %)?$", re.M)
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


@pytest.mark.parametrize("name", [name for name in NAMES if TOTAL.search((HERE / f"{name}.feet.yaml").read_text())])
def test_totals_as_worked_out_by_hand(name: str) -> None:
    """What each area was to get and got, of each negative; and what a step that was ended took from it."""
    text, (plan, _, _) = (HERE / f"{name}.feet.yaml").read_text(), planned(name)
    told = history(plan, [Dated(record, None) for record in play(name).records if record.sheet])
    assert told is not None
    rows = [
        (str(one.negative), one.area, one.light, one.planned_stops, one.given_stops, one.stops_off, one.reach)
        for one in told.areas
    ]
    by_hand = [(*found[:3], *map(float, found[3:])) for found in TOTAL.findall(text)]
    assert [row[:3] for row in rows] == [row[:3] for row in by_hand]
    for row, hand in zip(rows, by_hand, strict=True):
        assert row[3:] == pytest.approx(hand[3:], abs=0.0006), hand
    totals = {(str(one.negative), one.area, one.light): (one.stops, one.reach) for one in plan.totals}
    assert totals == {row[:3]: (pytest.approx(row[3]), pytest.approx(row[6])) for row in rows}
    off = {one.step.n: (one.dose_off, one.stops_off) for one in told.steps}
    for number, dose, stops in OFF.findall(text):
        assert off[int(number)] == pytest.approx((float(dose), float(stops)), abs=0.0006)


@pytest.mark.parametrize("name", [name for name in NAMES if PATCH.search((HERE / f"{name}.feet.yaml").read_text())])
def test_a_strip_and_its_baths_as_worked_out_by_hand(name: str) -> None:
    """What each patch was given, when the strip went into each bath and out, and what each bath has taken of it."""
    text, (plan, _, _), played = (HERE / f"{name}.feet.yaml").read_text(), planned(name), play(name)
    (sheet,), areas = played.progress.sheets.values(), {area.name: area.corners for area in plan.sheet.areas}
    by_hand = [float(seconds) for _, seconds in PATCH.findall(text)]
    for k, seconds in enumerate(by_hand):
        middle = (k + 0.5) / len(by_hand)
        over = [s.n for s in plan.steps if s.area in areas and areas[s.area][0][0] < middle < areas[s.area][1][0]]
        assert sum(sheet.steps[n].given for n in over) == pytest.approx(seconds, abs=1e-6), k + 1
    when = {
        "in bath": lambda r: f"in {r.facts['bath']}", "out of the baths": lambda _: "out of fixer",
        "safe in white light": lambda _: "safe in white light", "draining": lambda _: "drain, then into stop",
    }  # fmt: skip
    times = [(when[r.kind](r), pytest.approx(r.at)) for r in played.records if r.kind in when]
    assert sorted(times, key=str) == sorted(((what, float(at)) for what, at in AT.findall(text)), key=str)
    (under,) = [record.facts["seconds"] for record in played.records if record.kind == "under safelight"]
    assert under == pytest.approx(float(UNDER.findall(text)[0]))
    taken = {bath: (eights, share) for bath, eights, share in TAKEN.findall(text)}
    stock = Stock(played.records)
    assert stock.batches.keys() == taken.keys()
    for bath, batch in stock.batches.items():
        eights, share = taken[bath]
        assert batch.used == {"fibre": pytest.approx(float(eights))}
        assert (batch.share is None) == (not share) and (not share or batch.share == pytest.approx(float(share) / 100))


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
