"""The trays as they are shown and heard: by a daemon's own statuses, and by made-up ones."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from golden import Golden
from panel.screens import all_scenes
from panel.telling import but, in_json, plan, status, step
from sheet.trays.evening import SIX, Evening, plan_on

from timerd.panel.agenda import Agenda
from timerd.panel.drawing import Painter
from timerd.panel.scenes import AT_ONCE, DRAIN_4, NOW, status_at_trays
from timerd.panel.shown import Shown, StepRow
from timerd.panel.trays import due_words, tray_sounds, tray_words
from timerd.panel.view import view
from timerd.panel.words_to_say import present_words
from timerd.sheet.engine.machine import Engine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.sound import SoundSettings
from timerd.sheet.refusal import NotSafe
from timerd.sheet.telling.trays import cue_text
from timerd.sheet.trays import events as ev
from timerd.sheet.trayside import TraySide, cue_told


def cue(number: int, what: str = "move", soft: bool = False) -> dict[str, Any]:
    return {
        "number": number, "what": what, "at": 100.0 + number, "bath": "developer", "to": "stop", "seconds": 0.0,
        "why": None, "soft": soft, "sheets": [3],
    }  # fmt: skip


def trays(*cues: dict[str, Any]) -> dict[str, Any]:
    return {"stacks": [], "by_press": False, "safelight": [], "safelight_lit": True, "cues": list(cues)}


def test_a_whole_screen(golden: Golden) -> None:
    scene = all_scenes()["trays"]
    shown = scene.shown
    assert (shown.kind, shown.state, shown.figure) == ("steps", "trays", "13")
    golden(shown.heading)
    assert shown.rows == (
        StepRow(3, False, True, "fixer 1", "0:13"), StepRow(4, False, False, "developer", "1:12"),
        StepRow(2, False, False, "wash", "4:10"),
    )  # fmt: skip
    golden(shown.lines)
    assert (shown.trays, shown.sheet) == ("sheet 3: drain in 0:13", "")
    later = view(scene.status, scene.plan, scene.bench, NOW + 12.3 + 30.0)
    assert (later.figure, later.lines[0], later.trays) == (
        "30", "seconds late, fixer 1 at 20 °C", "sheet 3: drain, 0:30 late"
    )  # fmt: skip
    wash = replace(scene, status=but(scene.status, sheet=2, trays={**trays(), "stacks": [
        {**in_json(scene.status.trays)["stacks"][2], "at": NOW + 290.0},
    ]}))  # fmt: skip
    golden((wash.shown.figure, wash.shown.heading, wash.shown.trays))


def test_of_two_stacks_in_one_tray_the_rocking_that_comes_first_is_told() -> None:
    """Sheets 3 and 4 went into the fixer 7 s apart: the tray is rocked every 5 s of each, the nearest is shown."""
    scene = all_scenes()["trays"]
    first = {**in_json(scene.status.trays)["stacks"][0], "agitate": {"every_s": 5, "for_s": 2}, "at": NOW + 30.0}
    stacks = [{**first, "since": NOW - since, "sheets": [n]} for n, since in ((3, 11.0), (4, 4.0))]
    for order in (stacks, stacks[::-1]):
        told = but(scene.status, trays={**trays(), "stacks": order})
        assert "rock fixer 1 in 1 s" in view(told, scene.plan, scene.bench, NOW).lines


def test_what_is_due_next_is_in_view_on_every_screen_but_a_dark_one() -> None:
    told = status_at_trays()
    for name, scene in all_scenes().items():
        shown = view(but(scene.status, trays=told), scene.plan, scene.bench, NOW, scene.map_called)
        assert shown.trays == "sheet 3: drain in 0:13", name


def test_a_cue_stands_for_six_seconds_but_never_over_a_burning_light() -> None:
    told = status_at_trays(said=AT_ONCE)
    ready, burning = all_scenes()["ready-base"], all_scenes()["exposing-base"]
    shown = [view(but(ready.status, trays=told), ready.plan, ready.bench, NOW + s) for s in (0, 4.9, 5.1)]
    assert [one.told for one in shown] == [cue_text(AT_ONCE), cue_text(AT_ONCE), ""]
    assert view(but(burning.status, trays=told), burning.plan, burning.bench, NOW).told == ""
    refused = {"number": 4, "at": NOW - 1.0, "why": "late"}
    both = but(ready.status, trays=told, refused=refused)
    assert view(both, ready.plan, ready.bench, NOW).notice == "nothing done: late"
    assert view(both, ready.plan, ready.bench, NOW).told == cue_text(AT_ONCE)


@pytest.mark.parametrize("name", [name for name, scene in all_scenes().items() if scene.status.burst is None])
def test_what_the_trays_say_takes_no_step_s_name_away_and_no_other_sheet_s(name: str) -> None:
    """A step's name stays where it is at ready; and with sheet 3 overdue a figure of 21 s late is not sheet 4's."""
    scene = all_scenes()[name]
    for told in (status_at_trays(late=21.0, said=DRAIN_4), None):
        facts = but(scene.status, trays=told, refused=None, said=None, ink=None)
        shown = view(facts, scene.plan, scene.bench, NOW, scene.map_called)
        if told is None or scene.status.lead_in is not None:
            assert shown.told == ""
            continue
        silent = view(but(facts, trays=replace(told, cues=())), scene.plan, scene.bench, NOW, scene.map_called)
        told_beside = replace(silent, told="sheet 4, drain, then into stop", rows=shown.rows)
        assert shown == told_beside and not shown.notice
        assert [row for row in shown.rows if row.here] == [row for row in silent.rows if row.here]
        assert len(shown.rows) == min(3, len(silent.rows)) and set(shown.rows) <= set(silent.rows)
        same = ("heading", "figure", "band", "card", *(() if shown.kind in ("asks", "words", "offer") else ("lines",)))
        assert drawn(shown, *same) == drawn(silent, *same)
        assert " ".join(drawn(shown, "told")) == "sheet 4, drain, then into stop" and not drawn(silent, "told")


def drawn(shown: Shown, *parts: str) -> list[str]:
    """What stands in these parts of the screen."""
    painter = Painter((800, 480))
    painter.draw(shown)
    return [placed.text for placed in painter.placed if placed.part in parts]


def test_the_caution_is_whole_and_gives_way(golden: Golden) -> None:
    scene = all_scenes()["trays-caution"]
    assert "Acid into water, never water into acid." in scene.shown.lines and len(scene.shown.lines) == 7
    golden(view(scene.status, scene.plan, scene.bench, NOW + 14.5).heading)


def test_sounds_and_words_of_new_cues_once(golden: Golden) -> None:
    before = status(trays=trays(cue(1)))
    after = status(now=110.0, trays=trays(cue(1), cue(2, "agitate"), cue(3), cue(4, "drain", True)))
    assert [(s.at, s.sound) for s in tray_sounds(before, after)] == [
        (102.0, "agitate"), (103.0, "tray"), (104.0, "tray_soft"),
    ]  # fmt: skip
    golden(tray_words(before, after))
    assert tray_sounds(after, after) == [] and tray_words(after, after) == (None, False)
    assert tray_sounds(None, after) == [], "what was said before this panel began is not said again"
    assert tray_words(status(), after) == (None, False)


def test_the_agenda_says_both_what_changed_and_what_is_due(golden: Golden) -> None:
    agenda = Agenda(SoundSettings(), lambda words: 0.5)
    agenda.heard(status(trays=trays()), None)
    agenda.words = None
    agenda.heard(status(trays=trays(cue(1))), None)
    assert (agenda.words, agenda.soft) == ("sheet 3 into stop", False)
    assert [heard.sound for heard in agenda.take(101.0, 101.5)] == ["tray"]
    agenda.heard(status(now=102, trays=trays(cue(1), cue(2, "drain", True))), None)
    golden((agenda.words, agenda.soft))
    silent = Agenda(SoundSettings(say="off"), lambda words: 0.5)
    silent.heard(status(trays=trays()), None)
    silent.heard(status(trays=trays(cue(1))), None)
    assert silent.words is None and silent.take(101.0, 102.0) == []


def test_again_says_all_that_is_due(golden: Golden) -> None:
    stacks = in_json(status_at_trays())["stacks"]
    before = status(trays=trays())
    after = status(now=NOW, trays={**trays(cue(1, "again")), "stacks": stacks})
    words, _ = tray_words(before, after)
    golden(words)
    golden(tray_words(before, status(trays=trays(cue(1, "again"))))[0])


def test_a_cue_of_an_older_daemon_is_told_as_it_came() -> None:
    old = {"number": 2, "what": "move", "at": 101.0, "text": "sheet 3 into the stop", "soft": False, "sheets": [3]}
    assert tray_words(status(trays=trays()), status(trays=trays(old))) == ("sheet 3 into the stop", False)


def test_what_is_said_when_a_sheet_is_done(golden: Golden) -> None:
    of = plan(step(4.0), step(None, n=3, kind="develop", name="develop/six", pedal=None, lead_in=None))
    done = status(state="done", sheet=3, step=3, white_light_spoils=NotSafe(3, "is out"))

    def said(where: str) -> str:
        return present_words(but(done, goes_to=[{"sheet": 3, "where": where}, {"sheet": 2, "where": "fixer"}]), of)

    golden(said("fixer"))
    golden(said("trays"))
    assert "press go" not in present_words(but(done, goes_to=[{"sheet": 2, "where": "fixer"}]), of)


def test_a_machines_own_status_is_shown(golden: Golden) -> None:
    """What the wet side tells of a sheet in its developer is what the screen needs: no key is missing."""
    bench = Bench.model_validate({
        "bench": "b", "stations": {"enlarger": {}}, "lamps": {"head": {"pin": 17, "station": "enlarger"}},
        "lights": {"green": {"lamp": "head", "colour": "green"}}, "pedals": {"go": [{"pin": 5}], "end": [{"pin": 6}]},
    })  # fmt: skip
    engine = Engine(bench)
    engine.standing.plans[1] = plan_on(SIX)
    evening = Evening(SIX)
    evening.send(1, 0)
    wet = TraySide(engine.standing, evening.records, (), (), 50.0)
    wet.do(ev.TrayWake(50.0), 50.0)
    told = replace(wet.status(50.0), cues=(cue_told(ev.TrayCue("into", 50.0, (1,), "", "developer"), 1),))
    assert due_words(status(trays=told), 50.0) == "sheet 1: drain in 1:50"
    golden(view(status(now=50.0, sheet=1, trays=told), None, bench, 50.0).heading)
    assert view(status(now=50.0, sheet=1, trays=told), None, bench, 50.0).told == "sheet 1 into developer"
