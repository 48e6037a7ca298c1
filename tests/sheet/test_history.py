"""A sheet's history: what was planned and given as values, held against its records, its plan's totals and by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from records import wrote
from walks.book_walk import book_walk

from timerd.places import shipped
from timerd.sheet.facts import DaemonStarted, PressRefused, StepEnded, TakenUp
from timerd.sheet.history import AreaHistory, BurstHistory, Dated, History, Pause, SheetNote, history
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import LIGHTS, Area, Cue, Plan, Sheet, Step
from timerd.sheet.profile.reading import read
from timerd.sheet.record import Record

WALL = 1_700_000_000.0


def shipped_plans() -> list[Plan]:
    plans = []
    for path in sorted((shipped() / "prints").glob("*.yaml")):
        print_ = read(path.read_bytes(), path.name, "print")
        bench = read((shipped() / "benches" / f"{print_.value.bench}.yaml").read_bytes(), "bench", "bench")
        paper = read((shipped() / "papers" / f"{print_.value.paper}.yaml").read_bytes(), "paper", "paper")
        plans.append(make_plan(print_, bench, paper))
    return plans


def dated(records: list[Record], sheet: int = 1) -> list[Dated]:
    return [Dated(record, WALL + record.at) for record in records if record.sheet == sheet]


def armed(plan: Plan, at: float = 0.0) -> Record:
    steps = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in plan.steps]
    return wrote("armed", at, 1, facts={"print": plan.print, "steps": steps, "scheduling": "real time"})


def burst(number: int, step: int, lit: float, dark: float, given: float, why: str, **more: float) -> list[Record]:
    told: dict[str, Any] = {"light": "green", "lit": lit, "seconds": 99.0, "most": 99.0}
    off: dict[str, Any] = {"lit": lit, "dark": dark, "why": why, "given": given, **more}
    return [wrote("lit", lit, 1, step, number, told), wrote("dark", dark, 1, step, number, off)]


def known(plan: Plan, records: list[Record]) -> History:
    first = DaemonStarted("0.1.0")
    found = history(plan, dated(records), [first, first, DaemonStarted("0.2.0", scheduling="plain")])
    assert found is not None
    return found


def in_full(plan: Plan) -> list[Record]:
    """Every planned dose given to the letter."""
    records, at = [armed(plan)], 10.0
    for step in plan.steps:
        if step.light is not None and step.dose is not None:
            records += burst(step.n, step.n, at, at + step.dose, step.dose, "deadline")
            records.append(wrote("ended", at + step.dose, 1, step.n, facts={"by": "dose"}))
            at += step.dose + 5
    return records


@pytest.mark.parametrize("plan", shipped_plans(), ids=lambda plan: plan.print)
def test_a_sheet_given_its_plan_has_the_plan_s_own_totals(plan: Plan) -> None:
    found = known(plan, in_full(plan))
    areas = [area for area in found.areas if area.planned is not None]  # a free burn's has no total in a plan
    assert [(area.area, area.light) for area in areas] == [(total.area, total.light) for total in plan.totals]
    for area, total in zip(areas, plan.totals, strict=True):
        assert area.planned_stops == pytest.approx(total.stops) and area.given_stops == pytest.approx(total.stops)
        assert area.planned == pytest.approx(total.base + total.added - total.held_back)
        assert area.given == pytest.approx(area.planned) and area.base == pytest.approx(total.base)
        assert area.stops_off == pytest.approx(0, abs=1e-12) and area.reach == pytest.approx(total.reach)
    for step in found.steps:
        assert step.given == pytest.approx(step.planned or 0.0)
        assert step.stops_off is None or step.stops_off == pytest.approx(0, abs=1e-12)
        assert step.dose_off is None or step.dose_off == pytest.approx(0, abs=1e-12)


def a_print(free: bool = False) -> Plan:
    """A base of 8 with the lamp held back from 2 to 4 of it, and a burn of 8 on the wall."""
    light: dict[str, Any] = {"light": "green", "pedal": "press", "lead_in": 3.0}
    held = Cue(area="lamp", start=2.0, stop=4.0, stops=0.415, stops_written="0.415")
    burn = {"dose": None, "pedal": "free"} if free else {"dose": 8.0, "parts": (8.0,)}
    areas = [
        Area(name=name, corners=((0.0, top), (1.0, top), (1.0, top + 0.4)))
        for name, top in (("lamp", 0.0), ("wall", 0.5))
    ]  # fmt: skip
    return Plan(
        print="By hand", negative=None, paper="p", bench="b", cautions=(), totals=(), lamp_seconds=0.0,
        sheet=Sheet(width=200, height=250, image=(0, 0, 200, 250), image_given=False, areas=tuple(areas)),
        steps=(
            Step(n=1, kind="wait", name="wait"),
            Step(n=2, kind="base", name="base", area="soft", dose=8.0, parts=(8.0,), **light, dodges=(held,)),
            Step(n=3, kind="burn", name="burn/wall/green", area="wall", **{**light, **burn}),
        ),
    )  # fmt: skip


def test_areas_by_hand() -> None:
    """The base cut short at 3 of 8, the burn given whole: the card held back 1 of the 3."""
    records = [armed(a_print()), *burst(1, 2, 10.0, 13.0, 3.0, "pedal"), *burst(2, 3, 20.0, 28.0, 8.0, "deadline")]
    assert known(a_print(), records).areas == (
        AreaHistory("lamp", "green", 6.0, math.log2(6 / 8), 2.0, 2.0, math.log2(2 / 3), 3.0, math.log2(2 / 6)),
        AreaHistory("wall", "green", 16.0, 1.0, 11.0, 11.0, math.log2(11 / 3), 3.0, math.log2(11 / 16)),
    )


def test_a_free_burn_counts_as_given_and_has_no_plan() -> None:
    records = [armed(a_print(True)), *burst(1, 2, 10.0, 18.0, 8.0, "deadline"), *burst(2, 3, 20.0, 44.0, 24.0, "pedal")]
    found = known(a_print(True), records)
    assert found.areas[1] == AreaHistory("wall", "green", None, None, 32.0, 32.0, 2.0, 8.0)
    assert found.areas[1].stops_off is None and found.steps[2].planned is None
    assert found.steps[2].stops_off is found.steps[2].dose_off is None
    assert found.steps[2].given == 24.0


def test_a_burn_through_a_smaller_aperture_counts_as_at_the_print_s_own() -> None:
    """16 s at f/16 do what 8 s do at f/11: planned, given, and what a card held back."""
    base, burn = a_print().steps[1:]
    held = Cue(area="lamp", start=0.0, stop=4.0, stops=0.4, stops_written="0.4", leave=True)
    base = base.model_copy(update={"dodges": ()})
    burn = burn.model_copy(update={"area": "all", "dose": 16.0, "parts": (16.0,), "scale": 2.0, "dodges": (held,)})
    plan = a_print().model_copy(update={"steps": (a_print().steps[0], base, burn)})
    records = [armed(plan), *burst(1, 2, 10.0, 18.0, 8.0, "deadline"), *burst(2, 3, 20.0, 28.0, 8.0, "pedal")]
    assert known(plan, records).areas == (
        AreaHistory(
            "all", "green", 16.0, 1.0, 12.0, 12.0, math.log2(12 / 8), 8.0, math.log2(12 / 16), pytest.approx(0.8)
        ),
        AreaHistory("lamp", "green", 14.0, math.log2(14 / 8), 10.0, 10.0, math.log2(10 / 8), 8.0, math.log2(10 / 14)),
    )


def test_a_sheet_that_was_given_nothing_has_no_stops() -> None:
    found = known(a_print(), [armed(a_print())])
    assert [area.given_stops for area in found.areas] == [None, None]
    assert [step.stops_off for step in found.steps] == [None, None, None]
    assert (found.bursts, found.pauses, found.rating, found.notes) == ((), (), None, ())
    assert history(a_print(), dated([wrote("ready", 1.0, 1)])) is None


def test_an_evening_in_full() -> None:
    """A pause, a press refused, a power cut in the burn, a note and two ratings: all of it, as values."""
    cut = {"lit": 30.0, "dark": 32.74, "given": 2.74, "given_lo": 2.0, "why": "power"}
    found = known(a_print(), [
        armed(a_print(), 5.0),
        *burst(1, 2, 10.0, 13.0, 3.0, "pedal"), *burst(2, 2, 20.0, 25.0, 5.0, "deadline"),
        wrote("ended", 25.0, 1, 2, facts={"by": "dose"}),
        wrote("refused", 25.5, 1, 3, facts={"pedal": "go", "why": "too soon after the light went out"}),
        wrote("lit", 30.0, 1, 3, 3, {"light": "green", "lit": 30.0, "seconds": 8.0, "most": 8.0}),
        wrote("so far", 32.0, 1, 3, 3, {"seconds": 2.0}),
        wrote("recovered", 900.0, 1, 3, 3, cut),
        wrote("taken up", 950.0, 1, 3),
        wrote("ended", 960.0, 1, 3, facts={"by": "printer"}),
        wrote("note", 2000.0, 1, facts={"text": "the wall wants more"}),
        wrote("rated", 2001.0, 1, facts={"rating": 2}), wrote("rated", 2002.0, 1, facts={"rating": 4}),
    ])  # fmt: skip
    first = BurstHistory(1, 2, 10.0, 13.0, WALL + 10, 3.0, 3.0, "pedal")
    assert found.bursts == (
        first, BurstHistory(2, 2, 20.0, 25.0, WALL + 20, 5.0, 5.0, "deadline"),
        BurstHistory(3, 3, 30.0, 32.74, WALL + 30, 2.74, 2.0, "power"),
    )  # fmt: skip
    assert found.pauses == (Pause(first, 7.0),)
    base, burn = found.steps[1:]
    assert (base.planned, base.given, base.exact, base.ended_by, base.stops_off) == (8.0, 8.0, True, "dose", 0.0)
    assert (burn.given, burn.given_lo, burn.exact, burn.ended_by) == (2.74, 2.0, False, "printer")
    assert burn.dose_off == pytest.approx(math.log2(2.74 / 8))
    assert burn.stops_off == pytest.approx(math.log2((8 + 2.74) / (8 + 8))), "what the wall's tone lost"
    assert found.notes == (SheetNote(WALL + 2000, "the wall wants more"),)
    assert [(one.wall, one.record.step, one.record.fact) for one in found.happened] == [
        (WALL + 25, 2, StepEnded("dose")),
        (WALL + 25.5, 3, PressRefused("go", "too soon after the light went out")),
        (WALL + 950, 3, TakenUp()),
        (WALL + 960, 3, StepEnded("printer")),
    ]
    plain = armed(a_print())._replace(fact=replace(armed(a_print()).fact, scheduling=None))
    assert known(a_print(), [plain]).scheduling == "plain", "as the daemon was started, where the sheet does not say"
    assert (found.rating, found.armed_wall, found.scheduling) == (4, WALL + 5, "real time")
    assert found.versions == ("0.1.0", "0.2.0")


def test_a_pause_over_a_restart_is_told_by_the_wall_clock() -> None:
    """The machine was started anew: its monotonic clock began again, the other one went on."""
    one, other = burst(1, 2, 10.0, 13.0, 3.0, "keeper gone"), burst(2, 2, 20.0, 25.0, 5.0, "deadline")
    told = [*dated([armed(a_print()), *one]), *(Dated(record, WALL + 3600 + record.at) for record in other)]
    found = history(a_print(), told)
    assert found is not None and found.pauses == (Pause(found.bursts[0], 3607.0),)
    unknown = history(a_print(), [one._replace(wall=None) for one in told])
    assert unknown is not None and [pause.seconds for pause in unknown.pauses] == [7.0]
    begun_anew = [
        one._replace(wall=None) for one in dated([armed(a_print()), *other, *burst(3, 2, 1.0, 2.0, 1.0, "pedal")])
    ]
    dark = begun_anew[2].record
    cut = begun_anew[2]._replace(record=dark._replace(fact=replace(dark.fact, why="power")))
    found = history(a_print(), [*begun_anew[:2], cut, *begun_anew[3:]])
    assert found is not None and [pause.seconds for pause in found.pauses] == [None]


def test_a_burst_that_nobody_saw_has_no_times() -> None:
    off = {"lit": None, "dark": None, "given": 0.5, "given_lo": 0.0, "why": "power"}
    found = known(a_print(), [armed(a_print()), wrote("recovered", 900.0, 1, 2, 1, off)])
    assert found.bursts == (BurstHistory(1, 2, None, None, None, 0.5, 0.0, "power"),)
    assert found.bursts[0].seconds is None


def test_a_burst_known_from_the_keeper_s_note_alone_has_a_clock_time() -> None:
    off = {"lit": 30.0, "dark": 31.0, "given": 1.0, "given_lo": 1.0, "why": "last off"}
    found = known(a_print(), [armed(a_print()), wrote("recovered", 40.0, 1, 2, 1, off)])
    assert found.bursts == (BurstHistory(1, 2, 30.0, 31.0, WALL + 30, 1.0, 1.0, "last off"),)


def test_a_light_that_went_low_late_is_one_longer_burst() -> None:
    late = wrote("line low", 24.0, 1, 2, 1, {"more": 1.0})
    found = known(a_print(), [armed(a_print()), *burst(1, 2, 20.0, 23.0, 3.0, "line not low"), late])
    assert found.bursts == (BurstHistory(1, 2, 20.0, 24.0, WALL + 20, 4.0, 3.0, "line not low"),)
    assert (found.steps[1].given, found.steps[1].given_lo) == (4.0, 3.0)


@pytest.mark.parametrize("seed", range(6))
def test_random_evenings_add_up(seed: int) -> None:
    """Bursts add up to what the fold has of each step; every record of a light is one burst, none is there twice."""
    walk = book_walk(seed, 4)
    for number, sheet in walk.progress.sheets.items():
        found = history(walk.plans[number], dated(walk.records, number))
        assert found is not None and found.progress.as_json() == sheet.as_json()
        for step in found.steps:
            of = sheet.steps[step.step.n]
            assert step.given == of.most and step.ended_by == of.ended_by
            assert sum(burst.given for burst in step.bursts) == pytest.approx(of.given)
            assert sum(burst.given_lo for burst in step.bursts) == pytest.approx(of.given_lo)
        ended = [r.burst for r in walk.records if r.sheet == number and r.kind in ("dark", "recovered")]
        assert [burst.number for burst in found.bursts] == sorted(ended)
        refused = sum(isinstance(one.record.fact, PressRefused) for one in found.happened)
        assert refused == sum(r.kind == "refused" and r.sheet == number for r in walk.records)
