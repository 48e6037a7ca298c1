"""A whole evening as it is heard, and what a panel hears that was late, stopped, started again or left alone."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from golden import Golden
from panel.evening import heard, statuses, told_by
from panel.telling import but, exposing, lead_in, plan, status, step
from panel.test_words_to_say import shipped_plan
from walks.engine_walk import PLAN, EngineWalk

from timerd.panel.agenda import Agenda
from timerd.places import read_bytes, shipped
from timerd.sheet.profile.reading import read
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.reason import TwoLights

ROOT = Path(__file__).parents[2]


def half_a_second(words: str) -> float:
    return 0.5


def nothing(words: str) -> None:
    return None


def evening(print_: str, feet: Path) -> tuple:
    of = shipped_plan(print_)
    bench = read(read_bytes(shipped() / "benches" / f"{of.bench}.yaml"), "bench", "bench").value
    return statuses(of, bench, read(read_bytes(feet), "feet", "feet")), of


def test_the_readmes_rehearsal_as_it_is_heard(golden: Golden) -> None:
    """The feet of the README: a pause after 4 s, a press too soon, and a burn. By hand, beside its timeline."""
    told, of = evening("quiet-yard", ROOT / "tests" / "readme" / "feet.yaml")
    golden(heard(told, of, SoundSettings(), half_a_second))


def test_what_is_heard_of_the_demo_with_and_without_words() -> None:
    """Two sheets of the demo's print. Beeps alone and silence are parts of what is heard with everything on."""
    told, of = evening("breakwater", shipped() / "feet" / "breakwater.yaml")
    both = heard(told, of, SoundSettings(), nothing)
    beeps = heard(told, of, SoundSettings(say="beep"), half_a_second)
    assert beeps == [(at, what) for at, what in both if what[0] != "'"]
    assert heard(told, of, SoundSettings(say="off"), half_a_second) == []
    spoken = heard(told, of, SoundSettings(say="speak"), nothing)
    quiet = {"paused", "refused", "prompt", "done", "warning", "ready", "tray"}
    assert spoken == [(at, what) for at, what in both if what not in quiet]
    lit = [at for at, what in both if what == "light_on"]
    out = [at for at, what in both if what == "light_off"]
    bursts = {s.burst.burst: s.burst for s in told if s.burst is not None and s.state == "exposing"}
    assert lit == [round(burst.lit, 3) for burst in bursts.values()] and len(lit) >= 20
    ended = {s.dark.at for s in told if s.dark is not None and s.dark.burst in bursts}
    assert sorted({*out, *(at for at, what in both if what == "paused")}) == sorted(round(at, 3) for at in ended)
    assert sum(what == "done" for _, what in both) == 2
    assert {what for _, what in both} >= {"card_in", "card_out", "notice", "accent", "last", "paused", "prompt"}


def test_the_moves_of_the_demo_are_announced() -> None:
    told, of = evening("breakwater", shipped() / "feet" / "breakwater.yaml")
    words = [what for _, what in heard(told, of, SoundSettings(), half_a_second)]
    assert {"'breakwater in'", "'breakwater out'", "'boat in'", "'boat out'", "'wet sand in'", "'out'"} <= set(words)


@pytest.mark.parametrize("seed", range(15))
def test_random_evenings_are_heard_as_the_lines_were(seed: int) -> None:
    """Held against the lines' own edges: a beat is heard only while a light burns, each light's coming and going is
    heard at its instant, and nothing else is. With faults thrown in, whatever happens, something can be said of it."""
    walk = EngineWalk(hostile=seed % 3 == 0)
    told = told_by(walk.bench)
    pick = random.Random(seed)
    for _ in range(300):
        walk.step(pick.randrange(256), pick.randrange(256))
    walk.finish()
    sounds = heard(told, PLAN, SoundSettings(), half_a_second)
    assert sounds
    if walk.hostile:
        return
    edges = [edge for edge in walk.bench.lines.edges if edge.line != "safelight"]
    lights = [(round(on.at, 3), round(off.at, 3)) for on, off in zip(edges[::2], edges[1::2], strict=True)]
    at = {name: [when for when, what in sounds if what == name] for name in ("light_on", "light_off", "paused")}
    assert at["light_on"] == [on for on, _ in lights]
    assert {off for _, off in lights} <= {*at["light_off"], *at["paused"]}
    for when, what in sounds:
        if what in ("beat", "accent", "last", "card_out"):
            assert any(on < when < off for on, off in lights), (when, what)


def test_a_panel_started_again_at_any_moment_goes_on_as_if_it_had_not_stopped() -> None:
    told, of = evening("breakwater", shipped() / "feet" / "breakwater.yaml")
    whole = heard(told, of, SoundSettings(), half_a_second)
    for k in range(1, len(told), 7):
        again = heard(told[k:], of, SoundSettings(), half_a_second)
        now = round(told[k].now, 3)
        assert [pair for pair in again if pair[0] > now + 0.6] == [pair for pair in whole if pair[0] > now + 0.6]


def test_a_panel_that_is_told_again_and_again_hears_everything_once() -> None:
    told, of = evening("breakwater", shipped() / "feet" / "breakwater.yaml")
    thrice = [but(status, now=status.now) for status in told for _ in range(3)]
    assert heard(thrice, of, SoundSettings(), half_a_second) == heard(told, of, SoundSettings(), half_a_second)


def test_a_panel_stopped_for_a_while_sounds_nothing_at_the_wrong_time() -> None:
    agenda = Agenda(SoundSettings(say="beep"), nothing)
    agenda.heard(exposing(100.0, 30.0), None)
    assert [sound.at for sound in agenda.take(100.0, 100.06)] == [100.0]
    assert [sound.at for sound in agenda.take(111.02, 111.02)] == [111.0], "late by less than 30 ms: still right"
    assert agenda.take(112.04, 112.04) == [], "late by more: not heard"
    assert agenda.next_at == 113.0
    agenda.heard(status(state="ready", since={"number": 2, "at": 130.0}, dark={
        "burst": 7, "at": 130.0, "why": "deadline",
    }), None)  # fmt: skip
    assert [sound.sound for sound in agenda.take(131.5, 131.5)] == ["light_off"], "that it is dark is told late too"
    agenda.heard(status(since={"number": 3, "at": 132.0}), None)
    assert agenda.take(192.0, 192.0) == [], "but not after a minute"


def test_what_was_cut_is_not_heard() -> None:
    agenda = Agenda(SoundSettings(say="beep"), nothing)
    agenda.heard(lead_in(100.0, 103.0, 9.0), None)
    agenda.heard(exposing(103.001, 9.0), None)
    assert [sound.sound for sound in agenda.take(103.001, 103.1)] == ["light_on"]
    dark = {"burst": 7, "at": 104.5, "why": "pedal"}
    agenda.heard(status(state="paused", since={"number": 2, "at": 104.5}, dark=dark), None)
    assert [sound.sound for sound in agenda.take(104.5, 500.0)] == ["paused"]
    assert agenda.next_at is None


def test_light_on_is_heard_once_though_it_came_later_than_told() -> None:
    agenda = Agenda(SoundSettings(say="beep"), nothing)
    agenda.heard(lead_in(100.0, 103.0, 9.0), None)
    assert [sound.sound for sound in agenda.take(102.99, 103.05)] == ["light_on"]
    agenda.heard(exposing(103.002, 9.0), None)
    assert [(s.at, s.sound) for s in agenda.take(103.06, 104.1)] == [(104.002, "beat")], "and counts from the light"


def test_a_light_hushes_the_voice() -> None:
    of = plan(step(9.0))
    agenda = Agenda(SoundSettings(), half_a_second)
    ready = status(state="ready", step=2, sheet=1, given=0.0, since={"number": 2, "at": 99.0})
    agenda.heard(ready, of)
    assert agenda.words == "base, all, nine seconds" and not agenda.hush
    agenda.heard(lead_in(100.0, 103.0, 9.0, step=2, since={"number": 3, "at": 100.0}), of)
    assert agenda.words is None and agenda.hush


def test_words_come_after_the_sound_that_goes_with_them() -> None:
    agenda = Agenda(SoundSettings(), nothing)
    agenda.heard(exposing(90.0, 10.0), None)
    agenda.take(100.0, 100.0)
    dark = {"burst": 7, "at": 100.0, "why": "deadline"}
    agenda.heard(status(state="done", sheet=1, since={"number": 2, "at": 100.0}, dark=dark), None)
    assert agenda.words == "sheet 1 is done"
    assert agenda.quiet_from == pytest.approx(100.5 + 0.8)


def test_ready_ticks_and_faults_go_on() -> None:
    agenda = Agenda(SoundSettings(say="beep", beat_in_ready=True), nothing)
    agenda.heard(status(state="ready", since={"number": 2, "at": 100.25}), None)
    assert [sound.at for sound in agenda.take(104.0, 104.3)] == [104.25]
    assert agenda.next_at == 105.25
    agenda.heard(status(state="fault", since={"number": 3, "at": 106.0}, reason=TwoLights()), None)
    assert [(sound.at, sound.sound) for sound in agenda.take(106.0, 106.1)] == [(106.0, "fault")]
    assert [sound.at for sound in agenda.take(116.0, 126.0)] == [116.0, 126.0]
    agenda.heard(status(since={"number": 4, "at": 127.0}), None)
    assert [sound.sound for sound in agenda.take(127.0, 500.0)] == ["ready"] and agenda.next_at is None


def test_a_daemon_that_is_gone_is_told_once(golden: Golden) -> None:
    agenda = Agenda(SoundSettings(), nothing)
    agenda.heard(None, None)
    assert agenda.next_at is None and agenda.words is None, "there was none yet"
    agenda.heard(exposing(100.0, 30.0), None)
    agenda.take(101.0, 101.0)
    agenda.heard(None, None)
    agenda.heard(None, None)
    assert agenda.hush
    golden(agenda.words)
    assert [sound.sound for sound in agenda.take(101.0, 500.0)] == ["fault"] and agenda.next_at is None
    agenda.words = None
    agenda.heard(status(), None)
    assert agenda.words == "no print is loaded"
