"""Evenings at the trays in virtual time, every record and cue worked out by hand and compared whole.

The line has a developer of 120 s (10 s of drain inside), a stop bath of 10 s (10 s of drain after it), two fixers of
60 s (10 s of drain inside), a hypo clear of 600 s and a wash of 300 s. Without a pedal there the way is 10 s.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest
from golden import Golden
from sheet.trays.evening import SIX, Evening

from timerd.sheet.facts import Filling
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.trays import events as ev
from timerd.sheet.trays.stock import filling_of

SHORT: dict[str, Any] = {**SIX, "baths": SIX["baths"][:3]}
"""Developer, stop bath, one fixer."""


def developer(**facts: Any) -> dict[str, Any]:
    """The short line with its developer written otherwise."""
    line = copy.deepcopy(SHORT)
    line["baths"][0].update(facts)
    return line


def test_one_sheet_through_six_baths(golden: Golden) -> None:
    evening = Evening(SIX)
    evening.send(1, 100)
    evening.until(5000)
    golden(evening.told("draining"))
    # 210.0 sheet 1,: ten seconds before it is lifted to drain
    golden(evening.heard())
    assert evening.trays.wake_at is None and not evening.trays.visits


def test_three_overlapping_sheets(golden: Golden) -> None:
    evening = Evening(SHORT)
    for sheet, at in ((1, 0), (2, 60), (3, 135)):
        evening.send(sheet, at)
    evening.until(1000)
    golden([line for line in evening.told("draining") if " out of bath" in line])
    # 135.0 at once:: sheet 1 drains at 140, sheet 3 goes in at 145
    # 190.0 at once:: both drain at 200
    # 240.0 at once:: they drain at 255 and 260
    # 265.0 at once:: sheet 2 leaves at 270, sheet 3 drains at 275
    golden([line for line in evening.heard("soon") if line < "2" or "at once" in line])


def test_a_late_move(golden: Golden) -> None:
    evening = Evening(SHORT, by_press=True)
    evening.send(1, 0)
    for at in (12, 137.5, 155, 250):
        evening.press(at)
    evening.until(400)
    golden(evening.told("draining"))
    golden(evening.heard("soon", "drain"))


def test_a_temperature_that_changes(golden: Golden) -> None:
    """At 70 s half of the developer's 120 s are over; 4 degrees warmer the other 60 s take 60 * exp(-0.32) = 43.57."""
    evening = Evening(SHORT)
    evening.send(1, 0)
    evening.temperature(70, "developer", 24)
    evening.send(2, 200)
    evening.until(217)
    # 2 210.0 in: 120 * exp(-0.32), from the start
    golden(evening.told("draining"))


def test_a_temperature_of_another_evening_is_not_believed() -> None:
    evening = Evening(SHORT)
    evening.temperature(0, "developer", 24)
    evening.send(1, 12 * 3600 + 1)
    evening.until(12 * 3600 + 20)
    assert evening.told("draining")[-1].endswith("in bath: developer, batch 0, 20 C, 120.0 s")


def test_a_double_press(golden: Golden) -> None:
    evening = Evening(SHORT, by_press=True)
    evening.send(1, 0)
    for at in (12, 12.3, 60, 60.4, 70, 73, 80):
        evening.press(at)
    evening.until(85)
    # 1 80.0 out: 3 s before its lifting: it is meant
    golden(evening.told("draining"))
    golden(evening.heard())


def test_a_press_again_counts_for_five_seconds_and_for_the_same_sheet() -> None:
    evening = Evening(SHORT, by_press=True)
    evening.send(1, 0)
    for at in (10, 50, 55.1):
        evening.press(at)
    assert evening.trays.stays.of[1].index == 0
    evening.send(2, 56)
    evening.press(57)  # the sheet that waits for the developer comes first
    assert (evening.trays.stays.of[1].index, evening.trays.stays.of[2].index) == (0, 0)
    evening.press(58)
    assert evening.trays.stays.of[1].index == 0, "asked about anew"


def test_the_image_shows(golden: Golden) -> None:
    """Six times 18 s are 108 s; with an `end` at the trays that one says it, and may say it anew."""
    evening = Evening(developer(factor=6.0), by_press=True)
    evening.send(1, 0)
    for at in (10, 28, 28.5, 117):
        evening.press(at)
    golden(evening.told("draining"))
    assert "28.0 sheet 1, image shows, developer 108 seconds in all" in evening.heard()
    by_clock = Evening(developer(factor=6.0), end_there=True)
    by_clock.send(1, 0)
    by_clock.press(18, "end")
    by_clock.press(28, "end")
    by_clock.temperature(40, "developer", 24)  # the factor has it in it already
    by_clock.until(130)
    golden([line for line in by_clock.told("draining") if "time" in line or "out" in line])


def test_no_image_shows_in_the_first_moment() -> None:
    """A slip of the foot as the sheet goes in would else make a developer of no time at all."""
    evening = Evening(developer(factor=6.0), by_press=True, end_there=True)
    evening.send(1, 0)
    evening.press(10)
    evening.press(10, "end")
    evening.press(11.9, "end")
    assert evening.told()[-1] == "1 10.0 in bath: developer, batch 0, 20 C, 120.0 s"
    evening.press(16.6, "end")  # 39.6 s, less than a third of the bath's 120 s
    assert evening.told()[-1] == "1 10.0 in bath: developer, batch 0, 20 C, 120.0 s"
    assert evening.heard()[-1] == "16.6 again "
    evening.press(17.5, "end")
    assert evening.told()[-1].startswith("1 17.5 bath time: 45.0 s")


def test_no_image_shows_so_late_that_nobody_would_wait_so_long() -> None:
    """Thirteen times 30 s are 390 s, more than three times the bath's 120 s; 27 s are 351 s."""
    evening = Evening(developer(factor=13.0), by_press=True, end_there=True)
    evening.send(1, 0)
    for at in (10, 40):
        evening.press(at, "go" if at == 10 else "end")
    assert evening.told()[-1] == "1 10.0 in bath: developer, batch 0, 20 C, 120.0 s"
    evening = Evening(developer(factor=13.0), by_press=True, end_there=True)
    evening.send(1, 0)
    for at in (10, 37):
        evening.press(at, "go" if at == 10 else "end")
    assert evening.told()[-1] == "1 37.0 bath time: 351.0 s, 20 C, image at 27.0"


def test_in_the_second_half_a_press_means_the_move(golden: Golden) -> None:
    evening = Evening(developer(factor=6.0), by_press=True)
    evening.send(1, 0)
    evening.press(10)
    evening.press(71)
    assert evening.told("draining")[-1] == "1 10.0 in bath: developer, batch 0, 20 C, 120.0 s"
    golden(evening.heard()[-1])


def test_a_daemon_restarted_in_the_middle_of_the_fix_loses_nothing() -> None:
    whole, broken = Evening(SIX), Evening(SIX)
    for evening in (whole, broken):
        evening.send(1, 0)
        evening.until(165)
    broken.restarted(175)
    for evening in (whole, broken):
        evening.until(2000)
    assert broken.told() == whole.told() and broken.records == whole.records
    assert broken.heard() == whole.heard()


def test_what_was_due_while_no_daemon_lived_is_late_and_said_so(golden: Golden) -> None:
    evening = Evening(SHORT)
    evening.send(1, 0)
    evening.until(165)
    evening.restarted(230)  # it was to drain at 200 and to go on at 210
    evening.until(300)
    golden(evening.told("draining")[-2:])
    golden(evening.heard()[-2:])


def test_cues_wait_for_the_dark(golden: Golden) -> None:
    evening = Evening(SHORT)
    evening.send(1, 0)
    for at, burns in ((5, True), (35, False), (140, True), (190, False)):
        evening.burns(at, burns)
    evening.until(222)
    golden(evening.told("draining"))
    golden(evening.heard())


def test_cues_are_soft_where_the_file_says_so(golden: Golden) -> None:
    evening = Evening({**SHORT, "cues": "softly"})
    evening.send(1, 0)
    for at, burns in ((5, True), (35, False), (128, True)):
        evening.burns(at, burns)
    evening.until(141)
    golden(evening.heard())
    golden(evening.told("draining")[2])


@pytest.mark.parametrize("by_press", [False, True])
def test_a_batch_is_exposed_first_and_moves_as_one_stack(by_press: bool, golden: Golden) -> None:
    evening = Evening({**SHORT, "develop": "together"}, by_press=by_press)
    evening.send(1, 0, boxed=True)
    evening.send(2, 100, boxed=True)
    assert evening.trays.wake_at is None
    if by_press:
        for at in (200, 210, 330):  # out of the box; into the developer; into the stop bath
            evening.press(at)
    else:
        evening.until(200)
        evening.event(ev.Start(200))
    evening.send(3, 220 if not by_press else 331, boxed=True)
    evening.until(351)
    golden([line for line in evening.told("draining") if line[0] != "3"][:10])
    assert "320.0 sheets 1 and 2, drain, then into stop" in evening.heard()
    assert not any("at once" in line for line in evening.heard()), "one stack needs one pair of hands"
    evening.event(ev.TakeOut(2, 351))
    assert evening.told("draining")[-1] == "2 351.0 out of the baths" and evening.trays.stays.of[1].stack == (1,)
    assert evening.trays.stays.of[3].boxed


def test_agitation(golden: Golden) -> None:
    """Every 30 s for 5 s; a tray is rocked once for the two sheets in it, and not while its sheet drains."""
    evening = Evening(developer(agitate={"every_s": 30.0, "for_s": 5.0}))
    evening.send(1, 0)
    evening.send(2, 55)
    evening.until(180)
    # 55.0 at once:: sheet 2 goes in at 65, five seconds before the beat at 70
    # 80.0 at once:: the beats of both, at 95 and 100
    # 105.0 at once:: sheet 1 drains at 120, the next beat is at 125
    # 135.0 at once:: sheet 1 goes on at 150, the next beat is at 155
    golden([line for line in evening.heard() if "agitate" in line or "rest" in line or "once" in line])


def test_what_a_bath_has_taken_is_told(golden: Golden) -> None:
    """A litre of developer for 5 sheets: near its end with the fourth, at its end with the fifth; it keeps 1 h."""
    line = developer(capacity={"fibre": 5.0}, keeps_h=1.0)
    evening = Evening(line)
    evening.event(ev.NewBatch("developer", Filling({"fibre": 5.0}, 1.0, 1.0, None, 5), 0.0))
    for sheet in range(1, 7):
        evening.send(sheet, sheet * 500.0)
    evening.send(7, 3600)
    evening.until(5000)
    golden([line for line in evening.heard() if "used" in line or "older" in line])
    assert evening.told("draining").count("1 510.0 in bath: developer, batch 1, 20 C, 120.0 s") == 1
    assert evening.trays.stock.batches["developer"].used == {"fibre": 7.0}
    assert evening.trays.stock.batches["stop"].number == 0, "counted though nobody told of a batch"


def test_a_batch_mixed_while_a_sheet_lies_in_the_old_one() -> None:
    """The sheet's account names the one that it went into, and only what goes in later counts for the new one."""
    evening = Evening(SHORT)
    evening.event(ev.NewBatch("fixer-1", filling_of(evening_bath(evening, "fixer-1")), 0.0))
    evening.send(1, 0)
    evening.until(180)
    evening.event(ev.NewBatch("fixer-1", filling_of(evening_bath(evening, "fixer-1")), 180.0))
    evening.send(2, 200)
    evening.until(1000)
    left = [r for r in evening.records if r.kind == "out of bath" and r.facts["bath"] == "fixer-1"]
    assert [(r.sheet, r.facts["batch"]) for r in left] == [(1, 1), (2, 2)]
    assert evening.trays.stock.batches["fixer-1"].used == {"fibre": 1.0}


def evening_bath(evening: Evening, name: str) -> Bath:
    """A bath of an evening's line."""
    return next(Bath.model_validate(bath) for bath in evening.line["baths"] if bath["name"] == name)


def test_a_command_that_names_what_is_not_there_changes_nothing(golden: Golden) -> None:
    evening = Evening(SHORT)
    for event, words in (
        (ev.TakeOut(9, 0.0), "sheet 9 is not at the trays"),
        (ev.Start(0.0), "no sheet waits in its box"),
        (
            ev.NewBatch("fixer-1", None, 0.0, "fixer-2"),
            "no batch of fixer-1 was told yet: say  timerd bath new fixer-1",
        ),
    ):
        with pytest.raises(LookupError, match=words):
            evening.event(event)
    assert not evening.records and evening.trays.wake_at is None
    evening = Evening(SHORT, by_press=True)
    evening.press(1)
    golden(evening.told("draining"))
