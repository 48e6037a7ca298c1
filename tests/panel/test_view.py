"""What is shown for a status: the figure that matters, what is done, what comes next, and what must never be missed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from golden import Golden
from panel.screens import all_scenes, all_shown, plans
from panel.telling import but
from sheet.plan_files import SLOW_LAMPS, TWO_STATION, plan_of, print_of

from timerd.panel.notice import REFUSED_S
from timerd.panel.scenes import NOW, status
from timerd.panel.shown import CueBar, Shown, StepRow
from timerd.panel.view import lost, view
from timerd.panel.words_to_say import present_words
from timerd.sheet.engine.rows import STATES
from timerd.sheet.map import ticks
from timerd.sheet.profile.reading import read
from timerd.sheet.status import LightOn, Offered, StepStands
from timerd.sheet.words import spoken_seconds


def at(name: str, later: float = 0.0, **facts: Any) -> Shown:
    """A scene some seconds later, or with other facts."""
    scene = all_scenes()[name]
    return view(but(scene.status, **facts), scene.plan, scene.bench, NOW + later, scene.map_called)


def test_every_state_has_a_screen_with_its_own_word() -> None:
    shown = {scene.status.state for scene in all_scenes().values()}
    assert shown == set(STATES)
    for name, scene in all_scenes().items():
        state = scene.status.state
        shows = {"idle-viewing-light": "viewing light", "ready-paper-safe-light": "paper-safe light"}
        at_trays = scene.status.trays is not None and state in ("idle", "done")
        words = "FAULT" if state == "fault" else "trays" if at_trays else shows.get(name, state)
        assert scene.shown.state == words
    unlike = {
        (s.kind, s.state, s.lit, s.heading, s.notice, s.told, s.figure, s.lines, s.trays) for s in all_shown().values()
    }
    assert len(unlike) == len(all_shown()), "no two scenes look the same"


def test_white_light_is_told_on_every_screen_and_the_sheet_wherever_one_is_at_hand() -> None:
    for name, shown in all_shown().items():
        assert shown.white.startswith("white light: "), name
        assert shown.white_safe == (shown.white == "white light: safe"), name
        scene = all_scenes().get(name)
        if scene is not None and scene.status.sheet is not None:
            left = scene.status.sheets_left
            if shown.trays:  # what is due there stands in its place
                assert shown.sheet == ""
                continue
            assert shown.sheet == ("sheet 3, the last" if not left else f"sheet 3, then {left} more"), name


def test_a_filter_that_is_swung_in_by_hand_is_asked_for_before_it_is_shown(golden: Golden) -> None:
    scene = all_scenes()["ready-to-show"]
    assert scene.bench is not None
    red = next(iter(scene.bench.lights.values())).model_copy(update={"paper_safe": True, "filter": "by hand"})
    bench = scene.bench.model_copy(update={"lights": {**scene.bench.lights, "amber": red}})
    assert scene.shown.lines == ("end: leave it dark",)
    golden(view(scene.status, scene.plan, bench, NOW).lines)


def test_ready_whole(golden: Golden) -> None:
    golden(at("ready-burn"))


def test_exposing_whole(golden: Golden) -> None:
    # By hand: base 14 s less 8 % = 12.88; burn 12.88 * (2^1.25 - 1) = 17.75, of which the boat is held back from
    # 12.88 * (2^1.25 - 2^0.5) = 12.42. After 2.3 s: 2.3/17.75 and 2.3/12.42.
    golden(at("exposing-burn"))


def test_a_burst_with_nothing_in_the_hands_says_what_comes_next(golden: Golden) -> None:
    assert at("exposing-base", 9.0).lines == ("next: base hard, blue",) and at("exposing-base", 9.0).cues == ()
    golden(at("exposing-card").lines)


def test_paused_tells_what_was_given_and_is_owed_and_a_crash_with_its_reach(golden: Golden) -> None:
    golden((at("paused").figure, at("paused").lines[0]))
    golden(at("paused-after-a-crash").lines)
    assert (at("paused-free").figure, at("paused-free").bar) == ("7.1", None)
    golden(at("paused-no-answer").lines[1])
    deadline = {"burst": 11, "at": NOW - 3, "why": "deadline"}
    golden(at("paused-free", dark=deadline).lines)
    assert all("dark" not in line for line in at("paused").lines), "a pedal is no reason to be told"


@pytest.mark.parametrize(("bench", "light"), [(SLOW_LAMPS, "warm"), (SLOW_LAMPS, "cold"), (TWO_STATION, "flash")])
def test_what_a_paused_flash_is_owed_is_one_number_on_the_screen_and_as_it_is_spoken(bench: str, light: str) -> None:
    text = print_of(f"{{flash: all, light: {light}, seconds: 1.0}}", f"{{flash: sky, light: {light}, seconds: 1.0}}")
    plan, settings = plan_of(text, bench), read(bench.encode(), "bench.yaml", "bench").value
    n = next(step.n for step in plan.steps if step.kind == "flash")
    step, other = plan.steps[n - 1], plan.steps[n]
    ready = view(status(plan, "ready", step=n), plan, settings, NOW)
    assert (ready.figure, ready.lines[0], other.kind) == ("1.0", "1.0 s", "flash")
    assert step.dose is not None
    for hundredths in range(1, 99):
        given = step.dose * hundredths / 100
        told = status(plan, "paused", step=n, given={n: given})
        owed, had = (f"{round(s * 10) / 10:.1f}" for s in (step.response.seconds(step.dose - given), given))
        shown = view(told, plan, settings, NOW)
        assert (shown.figure, shown.lines[0]) == (owed, f"given {had} s, {owed} s owed of 1.0 s")
        assert {row.n: row.amount for row in shown.rows if row.n in (n, n + 1)} in (
            {n: f"owed {owed}", n + 1: "1.0"}, {},  # with ticks there is a map in the list's place
        )  # fmt: skip
        assert present_words(told, plan) == f"paused, {spoken_seconds(float(owed))} owed"
        offer = Offered(3, n, given, given, step.dose - given)
        offered = view(status(plan, "idle", sheet=None, unfinished=offer), plan, settings, NOW)
        assert (offered.figure, offered.side[2]) == (owed, f"owed {owed} s")


def test_what_is_owed_in_several_bursts_counts_each_of_them_from_cold() -> None:
    text = print_of("{base: soft, light: cold, seconds: 8, dodge: [{area: sky, stops: 1/3, apart: true}]}")
    plan = plan_of(text, SLOW_LAMPS)
    n = next(step.n for step in plan.steps if step.kind == "base")
    step = plan.steps[n - 1]
    first, whole = step.parts
    given = first / 2
    told = status(plan, "paused", step=n, given={n: given})
    shown = view(told, plan, read(SLOW_LAMPS.encode(), "bench.yaml", "bench").value, NOW)
    owed = (first - given) + 0.1333 + (whole - first) + 0.1333  # a lag of 133.3 ms, each time
    assert shown.figure == f"{first - given + 0.1333:.1f}"
    assert shown.lines[0] == f"given {given:.1f} s, {owed:.1f} s owed of 8.0 s, burst 1 of 2"
    assert present_words(told, plan) == f"paused, {spoken_seconds(owed)} owed"


def test_time_left_counts_down_and_is_rounded_up() -> None:
    burst = {"burst": 12, "light": "green", "lit": NOW - 3.1, "deadline": NOW + 5.7}
    shown = [at("exposing-card", later, burst=burst).figure for later in (-3.1, 0.0, 4.0, 5.6, 5.69, 5.8)]
    assert shown == ["8.8", "5.7", "1.7", "0.1", "0.1", "0.0"]
    assert [at("exposing-burn", later).figure for later in (-2.3, -1.3, 5.5, 5.6)] == ["18", "17", "10", "9.9"]


def test_a_free_burn_counts_up_and_warns_of_its_lamp_s_limit() -> None:
    step = plans()["ferry-steps"][0].steps[9]
    assert step.pedal == "free"
    shown = at("exposing-free", 20.0)
    assert (shown.caption, shown.bar) == ("seconds given", None)
    assert float(shown.figure) == int(step.response.dose(27.2))
    near = at("exposing-free", step.longest_s - 7.2 - 9.5)
    assert near.caption == "longest in 9.5"


def test_a_lead_in_counts_to_the_light_and_a_short_one_shows_the_burst() -> None:
    assert [at("lead-in", later).figure for later in (-1.2, 0.0, 0.69, 0.71, 1.6)] == ["3", "2", "2", "1", "1"]
    assert at("lead-in").caption == "seconds to light"
    short = {"burst": 12, "light": "green", "from": NOW - 0.1, "at": NOW + 0.1, "seconds": 10.84}
    assert (at("lead-in", lead_in=short).figure, at("lead-in", lead_in=short).caption) == ("11", "seconds")


def test_a_refused_press_is_told_for_five_seconds() -> None:
    told = "nothing done: too soon after the light went out"
    assert at("ready-refused").notice == told
    assert at("ready-refused", REFUSED_S - 1.3).notice == told
    assert at("ready-refused", REFUSED_S - 1.2).notice == ""


def test_a_worn_contact_is_told_for_five_seconds(golden: Golden) -> None:
    worn = {"worn": "go", "said": {"number": 3, "what": "worn", "at": NOW - 1.0}}
    told = [at("ready-burn", later, **worn).notice for later in (0.0, REFUSED_S - 1.1, REFUSED_S - 0.9)]
    golden(told)


def test_a_light_not_told_dark_in_time_is_something_to_look_at(golden: Golden) -> None:
    assert at("exposing-card", 5.7 + 0.4).notice == ""
    golden(at("exposing-card", 5.7 + 0.6).notice)
    off = all_scenes()["exposing-card"].bench
    off = off.model_copy(update={"screen": off.screen.model_copy(update={"off_while_exposing": True})})
    scene = all_scenes()["exposing-card"]
    assert view(scene.status, scene.plan, off, NOW) == Shown("nothing")
    golden(view(scene.status, scene.plan, off, NOW + 7).notice)
    for other in ("ready-burn", "lead-in", "paused", "fault-line-not-low", "idle-viewing-light"):
        assert view(all_scenes()[other].status, scene.plan, off, NOW).kind != "nothing", other


def test_a_fault_says_what_to_do_in_words(golden: Golden) -> None:
    shown = at("fault-line-not-low")
    golden(shown.heading)
    golden(shown.lines[0])
    assert at("fault-line-not-low", reason=None).lines[0] == shown.lines[0]
    both = {"number": 3, "what": "both held", "at": NOW - 0.2}
    golden(at("fault-line-not-low", said=both).notice)


def test_no_ink_is_told_and_no_word_at_all(golden: Golden) -> None:
    golden(at("no-ink").notice)
    shown = lost("No answer.")
    assert not shown.white_safe and shown.lines[0] == "No answer." and "seen it dark" in shown.lines[1]


def test_the_map_comes_by_itself_at_a_carry_and_before_a_flash_and_on_call() -> None:
    tide = plans()["breakwater"][0]
    with_maps = {name for name, shown in all_shown().items() if shown.map is not None}
    assert with_maps == {
        "prompt-carry", "prompt-carry-to-flash", "prompt-out-of-the-box", "ready-flash", "map", "map-flash",
    }  # fmt: skip
    image = at("prompt-carry").map
    assert image is not None and not image.ticked and image.at_hand is not None and image.at_hand.name == "all"
    marked = at("prompt-carry-to-flash").map
    assert marked is not None and marked.ticked and marked.at_hand is not None
    assert [f"{tick.mm:.0f}" for tick in ticks(marked.at_hand)] == ["12", "191", "44", "109"]
    for name, scene in all_scenes().items():
        called = view(scene.status, scene.plan, scene.bench, NOW, True)
        burning = scene.status.state in ("lead-in", "exposing", "fault")
        assert (called.kind == "map") == (scene.plan is not None and not burning), name
    assert tide.sheet is not None
    bare = tide.model_copy(update={"sheet": None})
    flash = all_scenes()["ready-flash"]
    assert view(flash.status, bare, flash.bench, NOW, True).kind == "steps"


def test_the_map_is_turned_as_the_sheet_lies_at_that_station() -> None:
    tide, bench = plans()["breakwater"]
    stations = {
        "flashing": bench.stations["flashing"].model_copy(update={"turn": 90}), "enlarger": bench.stations["enlarger"],
    }  # fmt: skip
    turned = bench.model_copy(update={"stations": stations})
    shown = view(all_scenes()["ready-flash"].status, tide, turned, NOW)
    assert shown.map is not None and (shown.map.sheet.width, shown.map.sheet.height) == (254.0, 203.2)
    shown = view(all_scenes()["prompt-carry"].status, tide, turned, NOW)
    assert shown.map is not None and (shown.map.sheet.width, shown.map.sheet.height) == (203.2, 254.0)


def test_cues_run_on_dose_so_a_slow_lamp_and_a_pause_do_not_move_them() -> None:
    text = """\
print: Gasworks wall
paper: plain
bench: slow-lamps
sheet: 8x10 in
areas: {sky: [[0, 0], [1, 0], [1, 1]]}
steps:
  - {base: soft, light: cold, seconds: 10, dodge: [{area: sky, stops: 1/2, start: 4}]}
"""
    plan = plan_of(text, SLOW_LAMPS)
    step = plan.steps[1]
    lag, cue = 0.1333, step.dodges[0]
    bench = all_scenes()["idle"].bench

    def cues(given: float, lit_for: float) -> tuple[CueBar, ...]:
        seconds = step.response.seconds((step.dose or 0.0) - given)
        burst = LightOn(1, "cold", NOW - lit_for, NOW - lit_for + seconds)
        return view(status(plan, "exposing", step=2, given={2: given}, burst=burst), plan, bench, NOW).cues

    assert cue.start == 4.0 and cue.stop == pytest.approx(4 + (10 - lag) * (1 - 2**-0.5))
    assert cues(0.0, 3.0) == (CueBar("in 2: sky", 0.0),), "4 s of dose take 4.13 s"
    assert cues(0.0, 3.2) == (CueBar("in 1: sky", 0.0),)
    assert cues(0.0, 4.12) == (CueBar("in 1: sky", 0.0),)
    inside = cues(0.0, 4.14)[0]
    assert inside.words == "out 3: sky" and inside.filled == pytest.approx(0.002, abs=0.002)
    # After a pause at 5 s of dose the lag is lost again, and the bar stands where it stood.
    before = cues(0.0, 5.0 + lag)[0]
    again = cues(5.0, lag)[0]
    assert again.filled == before.filled and before.words == "out 2: sky" == again.words
    assert cues(0.0, 4.0 + lag + cue.seconds + 0.001) == ()


def test_the_edge_flashes_the_beat_only_when_asked() -> None:
    scene = all_scenes()["exposing-last-seconds"]
    burst = scene.status.burst
    assert burst is not None and burst.deadline is not None
    seconds = burst.deadline - burst.lit

    def edges(lit_for: float, on_before: float = 0.0) -> int:
        facts = but(scene.status, on_s=on_before)
        return view(facts, scene.plan, scene.bench, NOW - 1.7 + lit_for).edge

    assert [edges(t) for t in (0.0, 0.1, 0.2)] == [2, 2, 0], "light on is a beat"
    assert [edges(t, 4.0) for t in (0.0, 0.1)] == [1, 1]
    left = [2.99, 2.9, 2.5, 2.01, 1.99, 1.0, 0.5, 0.01]
    assert [edges(seconds - one) for one in left] == [1, 1, 0, 0, 1, 1, 0, 0]
    asked = all_scenes()["exposing-card"].bench.screen.flash_edge
    assert not asked and at("exposing-card").edge == 0
    lead = all_scenes()["lead-in"].status
    told = [view(lead, scene.plan, scene.bench, NOW + later).edge for later in (-1.3, -0.3, -0.1, 0.7, 1.75)]
    assert told == [1, 1, 0, 1, 0]


def test_the_list_shows_the_step_before_the_one_at_hand_and_ends_with_the_last() -> None:
    tide, bench = plans()["breakwater"]
    for n in range(1, 13):
        shown = view(status(tide, "ready" if n > 3 else "idle", step=n, white=3), tide, bench, NOW)
        if shown.kind == "steps" and shown.state == "ready":
            numbers = [row.n for row in shown.rows]
            assert numbers == list(range(min(n - 1, 8), min(n - 1, 8) + 5))
            assert [row.n for row in shown.rows if row.here] == [n]
    over = but(status(tide, "done", step=12, white=3), step=None)
    assert [row.n for row in view(over, tide, bench, NOW).rows] == [8, 9, 10, 11, 12]
    told = status(tide, "ready", step=6, white=3)
    assert told.steps is not None

    def row(fifth: StepStands) -> StepRow:
        steps = tuple(fifth if one.n == 5 else one for one in told.steps or ())
        return view(replace(told, steps=steps), tide, bench, NOW).rows[0]

    assert row(StepStands(5, 0.0, 0.0, "skipped")) == StepRow(5, True, False, "base hard, blue", "skipped")
    assert row(StepStands(5, 4.0, 0.0, "printer")).amount == "4.0 of 8.7"


def test_without_the_plan_or_the_bench_there_is_still_a_screen_for_every_state() -> None:
    for name, scene in all_scenes().items():
        shown = view(scene.status, None, None, NOW)
        assert shown.state == scene.shown.state and shown.white, name


def test_a_status_that_this_panel_does_not_know_is_no_screen() -> None:
    good = all_scenes()["ready-burn"]
    with pytest.raises(ValueError, match="no state 'asleep'"):
        view(but(good.status, state="asleep"), good.plan, good.bench, NOW)
    with pytest.raises(ValueError, match="without a burst"):
        view(but(good.status, state="exposing"), good.plan, good.bench, NOW)


def test_no_screen_shows_a_time_as_stops_or_a_colour_as_a_code() -> None:
    """The band names the light in words, and the figure is seconds, a sheet's number or a count of sheets."""
    for name, shown in all_shown().items():
        assert shown.figure == "" or shown.figure.replace(".", "", 1).isdigit(), name
        assert shown.light in ("", "red") or len(shown.light) > 3, name


def test_taken_up_the_map_shows_how_the_sheet_lies_with_its_corner(golden: Golden) -> None:
    scene = all_scenes()["prompt-out-of-the-box"]
    assert scene.bench is not None
    stations = {**scene.bench.stations, "enlarger": scene.bench.stations["enlarger"].model_copy(update={"turn": 90})}
    for bench, corner, size in (
        (scene.bench, "top left", (203.2, 254.0)),
        (scene.bench.model_copy(update={"stations": stations}), "top right", (254.0, 203.2)),
    ):
        shown = view(scene.status, scene.plan, bench, NOW)
        assert shown.kind == "carry" and shown.map is not None
        assert (shown.map.corner, (shown.map.sheet.width, shown.map.sheet.height)) == (corner, size)
    golden(scene.shown.lines)
    unmapped = scene.plan.model_copy(update={"sheet": None}) if scene.plan is not None else None
    assert view(scene.status, unmapped, scene.bench, NOW).kind == "asks"
    assert view(but(scene.status, boxed=None), scene.plan, scene.bench, NOW).kind == "asks"


def test_a_press_of_go_says_where_a_finished_sheet_is(golden: Golden) -> None:
    """At done of the sheet at hand; in idle, whatever is offered there, of those that are at hand no more."""
    to_trays, to_fixer = {"sheet": 3, "where": "trays"}, {"sheet": 2, "where": "fixer"}
    golden(at("done").lines[0])
    assert at("done", goes_to=[to_fixer, to_trays]).lines[0] == "go: to the trays"
    golden(at("done", goes_to=[to_fixer]).lines[0])
    for name in ("idle", "idle-unfinished", "idle-set-aside"):
        assert not [line for line in at(name).lines if line.startswith("go: ")]
        said = [line for line in at(name, goes_to=[to_fixer, to_trays]).lines if line.startswith("go: ")]
        golden(said)
