"""Lamps that stay on behind a shutter: who may have one on, what puts it off, and that it is no light."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from lines.remembered import Remembered
from walks.keeper_walk import SETUP

from timerd.bench.keeper import BAD_MESSAGE, LINE_NOT_LOW, SAFELIGHT
from timerd.bench.staying import STAY_S

HEAD, STAY, BLUE = "lamp head-green", "stay head-green", "lamp head-blue"
BENCH = replace(SETUP, stay={HEAD: STAY})


class Lines(Remembered):
    """A keeper of that bench."""

    def stay(self, *on: str) -> None:
        self.send({"do": "stay", "on": list(on)})

    @property
    def moves(self) -> list[tuple[float, str, bool]]:
        """What the lamps' lines did."""
        return [(round(at, 3), line, lit) for at, line, lit in self.edges if line != SAFELIGHT]

    def told(self, *what: str) -> list[tuple[Any, ...]]:
        return [(r["is"], r.get("why", r.get("on"))) for r in self.reports if r["is"] in what]


@pytest.fixture
def lines() -> Lines:
    return Lines(BENCH)


def test_no_shutter_opens_before_a_lamp_that_is_off(lines: Lines) -> None:
    lines.expose()
    lines.until(20.0)
    assert (lines.moves, lines.told("refused", "lit")) == ([], [("refused", "its lamp is not on")])
    lines.stay(STAY)
    lines.expose()
    lines.until(30.0)
    assert lines.moves == [(20.0, STAY, True), (21.0, HEAD, True), (25.0, HEAD, False)]


def test_a_lamp_that_stays_on_is_no_second_light(lines: Lines) -> None:
    lines.stay(STAY)
    lines.expose(light="blue", seconds=3.0)
    lines.until(20.0)
    assert lines.moves == [(10.0, STAY, True), (11.0, BLUE, True), (14.0, BLUE, False)]
    assert lines.told("fault", "dark") == [("dark", "deadline")]


@pytest.mark.parametrize("how", ["pipe closed", "keeper stopped", "bad message", "two lights", "shutter stuck"])
def test_what_puts_the_lamp_off_with_the_shutter(lines: Lines, how: str) -> None:
    """Nobody keeps it any more, or something is wrong: then dark behind a shutter that may be stuck is dark too."""
    lines.stay(STAY)
    lines.expose()
    lines.until(12.0)
    if how in ("pipe closed", "keeper stopped"):
        lines.keeper.closed(lines.now, how)
        lines.settle()
    elif how == "bad message":
        lines.send({"do": "stay", "on": [HEAD]})
        assert lines.told("fault") == [("fault", BAD_MESSAGE)]
    elif how == "two lights":
        lines.expose(light="blue")
    else:
        lines.stuck.add(HEAD)
    lines.until(20.0)
    off = [edge for edge in lines.moves if edge[1] == STAY]
    assert off == [(10.0, STAY, True), (15.005 if how == "shutter stuck" else 12.0, STAY, False)]
    assert lines.told("stay") == [("stay", True), ("stay", False)], "and it is told"
    lines.stay(STAY)
    assert not lines.lit[STAY], "none comes on in a fault, nor by a keeper whose pipe is closed"
    if how == "shutter stuck":
        assert lines.lit[HEAD] and lines.told("fault") == [("fault", LINE_NOT_LOW)]
        lines.stuck.clear()
        lines.lit[HEAD] = False
        lines.send({"do": "clear"})
        lines.until(21.0)
        lines.stay(STAY)
        assert lines.lit[STAY], "cleared, it may be on again"


@pytest.mark.parametrize("how", ["deadline", "pedal", "lease", "asked"])
def test_what_leaves_the_lamp_on(lines: Lines, how: str) -> None:
    """An end of the light that is not a fault closes the shutter alone."""
    lines.stay(STAY)
    lines.expose()
    lines.until(12.0)
    if how == "pedal":
        lines.pedal("end", True)
    elif how == "lease":
        lines.renewing = False
    elif how == "asked":
        lines.send({"do": "cut"})
    lines.until(30.0)
    assert lines.told("dark") == [("dark", how)]
    assert lines.lit[STAY] and not lines.lit[HEAD]


def test_it_goes_off_by_itself_when_nobody_is_at_the_bench(lines: Lines) -> None:
    """Half an hour from the last light, or from the last that a foot did; a burst is not cut by it."""
    lines.stay(STAY)
    lines.until(10.0 + STAY_S - 1.0)
    lines.expose()
    lines.until(10.0 + STAY_S + 10.0)
    assert lines.told("dark") == [("dark", "deadline")]
    dark = 10.0 + STAY_S + 4.0
    lines.until(dark + STAY_S - 100.0)
    lines.pedal("tray", True)
    last = lines.now
    lines.until(last + STAY_S - 0.001)
    assert lines.lit[STAY]
    lines.until(last + STAY_S)
    assert not lines.lit[STAY] and lines.told("stay") == [("stay", True), ("stay", False)]
    assert lines.keeper.fault is None


def test_a_lamp_s_line_that_does_not_go_low_is_a_fault(lines: Lines) -> None:
    lines.stay(STAY)
    lines.stuck.add(STAY)
    lines.stay()
    lines.until(20.0)
    assert lines.told("fault") == [("fault", LINE_NOT_LOW)]
    assert [report["high"] for report in lines.reports if report["is"] == "fault"] == [[STAY]]
