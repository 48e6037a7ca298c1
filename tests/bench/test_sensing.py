"""Sense inputs: what is told of a lamp that gives no light, or light that nobody asked for, and how soon."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lines.remembered import Remembered

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.limits import Setup
from timerd.bench.sensing import DIFFERS_S, LIGHT_NOT_SEEN, LIGHT_SEEN, STRETCH_S, Sensing

GREEN, BLUE, RED = "lamp green", "lamp blue", "lamp red"
HEAD, RED_EYE = "sense 24", "sense 12"
SETUP = Setup(
    lights={"green": GREEN, "blue": BLUE, "red": RED}, longest_s={GREEN: 300.0, BLUE: 300.0, RED: 300.0},
    pedals=("go",), darkens=frozenset({"go"}), senses={GREEN: HEAD, BLUE: HEAD, RED: RED_EYE},
)  # fmt: skip
"""Green and blue are in one head, which one input sees."""
TOLD_WITHIN_S = 0.25


class Stage(Remembered):
    """A keeper, its lamps and what its inputs see. Lamps do as their lines say, unless they fail."""

    def __init__(self, lit: tuple[str, ...] = ()) -> None:
        self.dead: set[str] = set()
        self.welded: set[str] = set(lit)
        super().__init__(SETUP, 0.0)
        self.look()

    def look(self) -> None:
        for sense, lamps in ((HEAD, (GREEN, BLUE)), (RED_EYE, (RED,))):
            seen = any((self.lit[lamp] and lamp not in self.dead) or lamp in self.welded for lamp in lamps)
            self.keeper.edge(sense, seen, self.now, self.now)
        self.settle()

    def write(self, line: str, lit: bool) -> None:
        super().write(line, lit)
        if line != SAFELIGHT:
            self.look()

    def light(self, light: str = "green", seconds: float = 30.0) -> float:
        """Ask for a light; when it is lit."""
        at = self.now + 0.2
        self.expose(light=light, at=at, seconds=seconds, cut_on=["go"], seen=0)
        self.until(at)
        assert self.lit[SETUP.lights[light]]
        return at

    @property
    def dark(self) -> bool:
        return not any(self.lit[line] for line in (GREEN, BLUE, RED))


def test_a_lamp_that_does_what_it_is_asked_is_no_fault() -> None:
    stage = Stage()
    for light in ("green", "blue", "red", "green"):
        stage.light(light, 2.0)
        stage.until(stage.now + 3.0)
    assert stage.said("fault") == [] and [report["why"] for report in stage.said("dark")] == ["deadline"] * 4


def test_an_edge_that_was_never_heard_is_no_fault_where_the_input_reads_otherwise() -> None:
    """The kernel drops edges that it cannot keep: so an input is read once more before it is believed to differ."""
    for reads in (True, False):
        stage = Stage()
        stage.dead = {GREEN}  # as far as any edge tells
        lit = stage.light()
        assert stage.keeper.to_read(lit + DIFFERS_S - 1e-6) == []
        stage.now = lit + DIFFERS_S
        assert HEAD in stage.keeper.to_read(stage.now)
        stage.keeper.level(HEAD, reads, stage.now)
        stage.keeper.wake(stage.now)
        stage.settle()
        assert [report["why"] for report in stage.said("fault")] == ([] if reads else [LIGHT_NOT_SEEN])


@pytest.mark.parametrize("light", ["green", "blue", "red"])
def test_a_dead_lamp_is_told_within_a_quarter_second_and_nothing_is_counted_for_sure(light: str) -> None:
    stage = Stage()
    stage.dead = {SETUP.lights[light]}
    lit = stage.light(light)
    stage.until(lit + TOLD_WITHIN_S)
    (fault,) = stage.said("fault")
    assert (fault["why"], fault["at"]) == (LIGHT_NOT_SEEN, pytest.approx(lit + DIFFERS_S))
    (dark,) = stage.said("dark")
    assert dark == {"is": "dark", "burst": 1, "at": fault["at"], "why": LIGHT_NOT_SEEN, "lo": lit}
    assert stage.dark


def test_a_lamp_that_dies_gave_light_as_long_as_it_was_seen() -> None:
    stage = Stage()
    lit = stage.light()
    stage.until(lit + 5.0)
    stage.dead = {GREEN}
    stage.look()
    stage.until(lit + 5.0 + TOLD_WITHIN_S)
    (dark,) = stage.said("dark")
    assert (dark["why"], dark["lo"]) == (LIGHT_NOT_SEEN, lit + 5.0)
    assert dark["at"] <= lit + 5.0 + TOLD_WITHIN_S + 1e-9 and stage.dark


def test_a_welded_relay_is_told_and_nothing_is_cleared_before_it_is_seen_dark() -> None:
    stage = Stage()
    lit = stage.light(seconds=2.0)
    stage.welded = {GREEN}
    stage.until(lit + 2.0 + TOLD_WITHIN_S)
    (fault,) = stage.said("fault")
    assert (fault["why"], fault["at"]) == (LIGHT_SEEN, pytest.approx(lit + 2.0 + DIFFERS_S))
    assert [report["why"] for report in stage.said("dark")] == ["deadline"], "its line went low, and that was told"
    stage.send({"do": "clear"})
    assert stage.said("rest")[-1]["low"] is False
    stage.expose(light="blue", at=stage.now + 0.2, cut_on=["go"], seen=0)
    assert stage.said("refused")[-1]["why"] == f"not cleared: {LIGHT_SEEN}"
    stage.until(stage.now + 5.0)
    stage.welded = set()
    stage.look()
    stage.until(stage.now + 0.1)
    stage.send({"do": "clear"})
    assert stage.said("rest")[-1]["low"] is True
    stage.light("blue", 1.0)
    stage.until(stage.now + 2.0)
    assert stage.said("dark")[-1]["why"] == "deadline" and len(stage.said("fault")) == 1


def test_light_that_is_there_when_the_keeper_starts_is_a_fault() -> None:
    stage = Stage(lit=(RED,))
    stage.until(TOLD_WITHIN_S)
    assert [report["why"] for report in stage.said("fault")] == [LIGHT_SEEN]


def test_light_beside_the_one_asked_for_darkens_both() -> None:
    stage = Stage()
    lit = stage.light("green")
    stage.until(lit + 1.0)
    stage.welded = {RED}
    stage.look()
    stage.until(lit + 1.0 + TOLD_WITHIN_S)
    assert stage.said("dark")[0]["why"] == LIGHT_SEEN and stage.dark


def test_a_lamp_may_fade_for_a_moment() -> None:
    stage = Stage()
    lit = stage.light(seconds=2.0)
    stage.welded = {GREEN}
    stage.until(lit + 2.0 + 0.149)
    stage.welded = set()
    stage.look()
    stage.until(lit + 10.0)
    assert stage.said("fault") == []


def test_an_input_that_pulses_with_the_mains_sees_light_all_the_while() -> None:
    """A relay's contact welds: pulses of 2 ms every 10 ms."""
    sensing = Sensing({GREEN: HEAD}, 0.0)
    told = None
    for k in range(100):
        sensing.sensed(HEAD, True, 1.0 + k * 0.01)
        sensing.sensed(HEAD, False, 1.002 + k * 0.01)
        if told is None and sensing.wrong(1.002 + k * 0.01):
            told = 1.002 + k * 0.01
    assert told == pytest.approx(1.2, abs=0.011)
    sensing = Sensing({GREEN: HEAD}, 0.0)
    sensing.asked(GREEN, 1.0)
    for k in range(500):
        sensing.sensed(HEAD, True, 1.0 + k * 0.01)
        sensing.sensed(HEAD, False, 1.002 + k * 0.01)
        assert sensing.wrong(1.002 + k * 0.01) is None
    assert sensing.wrong(5.992 + STRETCH_S + DIFFERS_S - 0.001) is None
    assert sensing.wrong(5.992 + STRETCH_S + DIFFERS_S + 0.001) == LIGHT_NOT_SEEN


MOVES = st.lists(st.tuples(st.integers(1, 300), st.sampled_from(["ask", "rest", "light", "dark"])), max_size=25)


@settings(max_examples=150, deadline=None)
@given(MOVES)
def test_it_tells_what_a_look_every_millisecond_tells(moves: list[tuple[int, str]]) -> None:
    """Brute force: at every millisecond, has what is seen differed for 200 of them? The first time, if ever."""
    asked, level, fell, differs = False, False, -1000, 0
    first: int | None = None
    events: dict[int, list[str]] = {}
    when = 0
    for wait, what in moves:
        when += wait
        events.setdefault(when, []).append(what)
    changed = 0
    was: tuple[bool, bool] | None = None
    for now in range(when + 600):
        for what in events.get(now, []):
            if what in ("light", "dark"):
                fell = now if level and what == "dark" else fell
                level = what == "light"
            else:
                asked = what == "ask"
        seen = level or now < fell + 50
        if was != (asked, seen):
            was, changed = (asked, seen), now
        differs = now - changed if asked != seen else 0
        if asked != seen and differs >= 200:
            first = now
            break

    sensing = Sensing({GREEN: HEAD}, 0.0)
    told: int | None = None
    for now in range(when + 600):
        due = sensing.due
        if due is not None and due <= now / 1000 - 1e-9 and told is None and sensing.wrong(now / 1000):
            told = now
            break
        for what in events.get(now, []):
            if what in ("light", "dark"):
                sensing.sensed(HEAD, what == "light", now / 1000)
            else:
                sensing.asked(GREEN if what == "ask" else None, now / 1000)
    assert (told is None) == (first is None)
    assert told is None or first is None or abs(told - first) <= 1
