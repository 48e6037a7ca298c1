"""A real keeper's process with foot switches: unplugged, plugged in again, held all the while; dark and doses."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any

import pytest
from lines.foot_switch import A, B, FootSwitch
from lines.keeper import RealKeeper
from lines.unplugging import CUTS, Pulled, hold, keeper_with_switch, pull_often, wait

DARK_WITHIN_S = 0.25
EXACT_S = 0.05
"""A busy machine's leave; what it is alone tests/measure/unplugged.py prints and judges."""


def said(keeper: RealKeeper, *what: str) -> list[dict[str, Any]]:
    return [{k: v for k, v in report.items() if k != "at"} for report in keeper.reports if report["is"] in what]


def test_unplugged_at_random_instants_of_held_bursts(tmp_path: Path) -> None:
    """A seeded part of the thousand in tests/measure/unplugged.py."""
    told: list[Pulled] = []
    pull_often(tmp_path, seed=5, times=8, tell=told.append)
    assert [one.why for one in told] == ["unplugged"] * 8
    for one in told:
        assert 0 <= one.after_s < DARK_WITHIN_S
        assert abs(one.report_off_s) < EXACT_S and abs(one.note_off_s) < EXACT_S


def test_a_switch_that_is_not_there_is_told_and_works_once_it_is(tmp_path: Path) -> None:
    """At the pace at which the keeper looks round by itself."""
    with keeper_with_switch(tmp_path) as keeper:
        keeper.until("unplugged")
        assert [keeper.until("unplugged")["pedal"] for _ in CUTS[1:]] == ["end", "third"]
        assert said(keeper, "unplugged") == [
            {"is": "unplugged", "pedal": pedal, "why": "is unplugged"} for pedal in CUTS
        ]
        keeper.expose(cut_on=CUTS)
        assert keeper.until("refused")["why"] == "no pedal left"
        switch = FootSwitch(tmp_path / "input")
        before = time.monotonic()
        keeper.until("plugged in")
        assert time.monotonic() - before < 2.5
        hold(keeper, switch)
        at = switch.key(A, 0)
        dark = keeper.until("dark")
        assert dark["why"] == "pedal" and 0 <= dark["at"] - at < DARK_WITHIN_S
        switch.close()


def test_a_foot_that_is_down_when_the_plug_goes_in_holds_no_light(tmp_path: Path) -> None:
    (tmp_path / "input").mkdir()
    switch = FootSwitch(tmp_path / "input", down={A})
    with keeper_with_switch(tmp_path, 0.02) as keeper:
        assert keeper.until("found down")["pedal"] == "go"
        switch.key(A, 0)
        assert keeper.until("pedal")["down"] is False
        switch.unplug()
        for _ in CUTS:
            keeper.until("unplugged")
        switch.down = {A}
        switch.plug_in()
        assert keeper.until("found down")["pedal"] == "go"
        assert not [report for report in said(keeper, "pedal") if report["down"]], "that is no press"
        switch.close()


def test_a_pressed_light_goes_on_while_another_pedal_could_put_it_out(tmp_path: Path) -> None:
    """Two switches: the one that started it is pulled out, then the other; only then is it dark."""
    folder = tmp_path / "input"
    folder.mkdir()
    ours, other = FootSwitch(folder, keys=(A,)), FootSwitch(folder, "event4", keys=(B, 46))
    with keeper_with_switch(tmp_path, 0.02) as keeper:
        ours.key(A, 1)
        keeper.until("pedal")
        ours.key(A, 0)
        keeper.until("pedal")
        keeper.expose(at=time.monotonic() + 0.01, seconds=5.0, cut_on=CUTS)
        lit = keeper.until("lit")["at"]
        ours.unplug()
        assert keeper.until("unplugged")["pedal"] == "go"
        wait(lit + 0.2)
        keeper.send({"do": "renew"})
        assert not said(keeper, "dark")
        at = other.unplug()
        dark = keeper.until("dark")
        assert dark["why"] == "unplugged" and 0 <= dark["at"] - at < DARK_WITHIN_S
        assert [edge.lit for edge in keeper.truth() if edge.line == "lamp head-green"] == [True, False]


@pytest.mark.parametrize("held", [False, True], ids=["pressed", "held"])
def test_a_press_on_another_key_of_the_switch_darkens_at_its_own_time(tmp_path: Path, held: bool) -> None:
    (tmp_path / "input").mkdir()
    switch = FootSwitch(tmp_path / "input")
    with keeper_with_switch(tmp_path) as keeper:
        if held:
            hold(keeper, switch, 5.0)
        else:
            keeper.expose(at=time.monotonic() + 0.01, seconds=5.0, cut_on=CUTS)
            keeper.until("lit")
        at = switch.key(B, 1)
        dark = keeper.until("dark")
        assert dark["why"] == "pedal" and 0 <= dark["at"] - at < DARK_WITHIN_S
        assert keeper.reports[-1]["is"] == "dark"
        [press] = [report for report in keeper.reports if report["is"] == "pedal" and report["pedal"] == "end"]
        assert press["at"] == pytest.approx(at, abs=2e-6)
        switch.close()
