"""Ink: no light before its intent is on disk, none that burns further than the book lets a later reader believe."""

from __future__ import annotations

from typing import Any

import pytest
from daemon.virtual_disk import VirtualDisk, ink_on
from hypothesis import given, settings
from hypothesis import strategies as st
from records import wrote
from walks.engine_walk import PLAN

from timerd.daemon.recovery import SLACK_S, next_instant, recovered
from timerd.sheet.record import Progress, Record

INTENTS = {"armed", "ready", "taken up", "sheet out", "set up", "went", "owed again", "set aside", "show", "dark"}
OTHERS = {
    "loaded", "sheet out", "passed", "safelight", "refused", "called off", "so far", "ended", "done", "stop bath",
    "abandoned", "given up", "viewing", "cleared", "line low", "stopped", "fault", "lit",
}  # fmt: skip


def lit(burst: int = 1, at: float = 10.0, sheet: int = 1, seconds: float = 60.0) -> Record:
    return wrote("lit", at, sheet, 2, burst, {"light": "green", "lit": at, "seconds": seconds, "most": seconds})


def dark(burst: int = 1, at: float = 12.0) -> Record:
    return wrote("dark", at, 1, 2, burst, {"lit": 10.0, "dark": at, "given": 2.0, "why": "pedal"})


@pytest.mark.parametrize("kind", sorted(INTENTS | OTHERS))
def test_what_must_be_on_disk_before_anything_that_could_lead_to_a_light(kind: str) -> None:
    disk = VirtualDisk(lambda: 2.0)
    ink = ink_on(disk)
    assert not ink.waits and ink.waited_s(0.0) == 0.0
    disk.now = 5.0
    record = lit() if kind == "lit" else wrote(kind, 5.0, 1, 2)
    ink.write([record], {}, 5.0)
    assert ink.waits is (kind in INTENTS)
    disk.now = 6.5
    ink.heard()
    assert ink.waits is (kind in INTENTS) and ink.waited_s(6.5) == (1.5 if kind in INTENTS else 0.0)
    disk.now = 7.0
    ink.heard()
    assert not ink.waits and ink.waited_s(7.0) == 0.0
    assert [list(records) for records, _ in disk.jobs] == [[record]]


def test_all_of_it_goes_down_in_order_with_its_plans() -> None:
    disk = VirtualDisk()
    ink = ink_on(disk)
    records = [wrote("armed", 1.0, 1), wrote("sheet out", 2.0, 1), wrote("ready", 2.0, 1, 2)]
    ink.write(records[:1], {1: PLAN}, 1.0)
    ink.write(records[1:], {}, 2.0)
    assert disk.jobs == [(records[:1], {1: PLAN}), (records[1:], {})]
    assert ink.fileno() == disk.fileno()
    ink.tidy()
    assert disk.tidied == 1 and ink.close(2.5) and disk.closed == 2.5


def test_it_waits_for_the_last_intent_since_the_first() -> None:
    disk = VirtualDisk(lambda: 1.0)
    ink = ink_on(disk)
    ink.write([wrote("dark", 0.0, 1, 2)], {}, 0.5)
    ink.write([wrote("refused", 0.0)], {}, 0.6)
    ink.write([wrote("ready", 0.0, 1, 3)], {}, 0.7)
    for now, waits in ((0.9, True), (1.1, True), (2.1, True), (3.1, False)):
        disk.now = now
        ink.heard()
        assert (ink.waits, ink.waited_s(now)) == (waits, pytest.approx(now - 0.5) if waits else 0.0)


def test_after_a_failure_nothing_is_waited_for_and_the_reason_stays() -> None:
    disk = VirtualDisk(lambda: 1.0)
    disk.fails_from = 2
    ink = ink_on(disk)
    ink.write([wrote("ready", 0.0, 1, 2)], {}, 0.0)
    ink.write([wrote("dark", 0.0, 1, 2)], {}, 0.0)
    disk.now = 1.0
    ink.heard()
    assert ink.failed is None and ink.waits
    disk.now = 2.0
    ink.heard()
    assert ink.failed == "the disk is full" and not ink.waits
    ink.heard()
    assert ink.failed == "the disk is full"


# -- while a light burns -----------------------------------------------------------------------------------------


def burning(disk: VirtualDisk, until: float) -> list[tuple[float, float]]:
    """The ink's own instants of one light, each with when it was written; woken exactly when it asks to be."""
    ink = ink_on(disk)
    ink.write([lit()], {}, 10.001)
    found = []
    while (wake_at := ink.wake_at) is not None and wake_at < until:
        assert ink.so_far(wake_at - 1e-6) is None, "not before its time"
        record = ink.so_far(wake_at)
        assert record is not None
        assert (record.kind, record.sheet, record.step, record.burst, record.at) == ("so far", 1, 2, 1, wake_at)
        assert ink.so_far(wake_at) is None, "once"
        found.append((record.facts["seconds"], wake_at))
    return found


def test_the_instants_are_every_sixth_of_a_stop_from_half_a_second_on() -> None:
    disk = VirtualDisk()
    found = burning(disk, 10.0 + 140.0)
    expected = [0.5 * 2 ** (k / 6) for k in range(len(found))]
    assert len(found) == 49, "eight stops, from half a second to two minutes"
    assert [seconds for seconds, _ in found] == pytest.approx(expected, rel=1e-12)
    assert [at - 10.0 for _, at in found] == pytest.approx([e + 0.005 for e in expected], abs=1e-9)
    assert [record.facts["seconds"] for records, _ in disk.jobs[1:] for record in records] == [s for s, _ in found]


def test_woken_late_it_writes_the_last_instant_that_is_past_and_only_that() -> None:
    disk = VirtualDisk()
    ink = ink_on(disk)
    ink.write([lit()], {}, 10.0)
    record = ink.so_far(10.0 + 8.1)
    assert record is not None and record.facts["seconds"] == pytest.approx(8.0)
    assert ink.so_far(10.0 + 8.1) is None
    assert ink.wake_at == pytest.approx(10.0 + 8.0 * 2 ** (1 / 6) + 0.005)
    assert len(disk.jobs) == 2


@pytest.mark.parametrize("end", ["dark", "fault"])
def test_a_light_that_is_over_is_written_down_no_more(end: str) -> None:
    ink = ink_on(VirtualDisk())
    assert ink.wake_at is None and ink.so_far(99.0) is None
    ink.write([lit()], {}, 10.0)
    assert ink.wake_at is not None
    ink.write([dark() if end == "dark" else wrote("fault", 11.0, 1, 2, facts={"why": "line not low"})], {}, 11.0)
    assert ink.wake_at is None and ink.so_far(99.0) is None


def test_lit_and_dark_told_at_once_is_over() -> None:
    ink = ink_on(VirtualDisk())
    ink.write([lit(), dark()], {}, 12.0)
    assert ink.wake_at is None
    ink.write([lit(2, 20.0), dark(2, 21.0), lit(3, 30.0)], {}, 30.0)
    assert ink.wake_at == pytest.approx(30.505)


def test_a_light_of_no_sheet_is_nobodys_dose() -> None:
    ink = ink_on(VirtualDisk())
    ink.write([lit(sheet=0)], {}, 10.0)
    assert ink.wake_at is None


def test_how_far_a_light_may_burn_follows_what_is_on_disk_not_what_was_sent_there() -> None:
    disk = VirtualDisk(lambda: 3.0)
    ink = ink_on(disk)
    assert ink.burns_until(10.0) == 11.0, "before anything of it is on disk: half a second, and the slack"
    ink.write([lit()], {}, 10.0)
    first = ink.so_far(10.51)
    assert first is not None and first.facts["seconds"] == 0.5
    assert ink.burns_until(10.0) == 11.0
    disk.now = 16.0
    ink.heard()
    assert ink.burns_until(10.0) == pytest.approx(10.0 + 0.5 * 2 ** (1 / 6) + 0.5)
    ink.write([dark()], {}, 16.0)
    ink.write([lit(2, 20.0)], {}, 20.0)
    assert ink.burns_until(20.0) == 21.0, "each burst begins anew"


def test_what_comes_to_disk_late_counts_for_its_own_burst_alone() -> None:
    disk = VirtualDisk(lambda: 3.0)
    ink = ink_on(disk)
    ink.write([lit()], {}, 10.0)
    assert ink.so_far(30.0) is not None
    ink.write([dark(1, 30.0), lit(2, 31.0)], {}, 31.0)
    disk.now = 99.0
    ink.heard()
    assert ink.burns_until(31.0) == 32.0


def test_what_failed_to_come_to_disk_lets_nothing_burn() -> None:
    disk = VirtualDisk()
    disk.fails_from = 2
    ink = ink_on(disk)
    ink.write([lit()], {}, 10.0)
    assert ink.so_far(30.0) is not None
    ink.heard()
    assert ink.failed is not None and ink.burns_until(10.0) == 11.0


STEPS = [(1, "wait", 0.0, False), (2, "flash", 60.0, True)]
BEFORE = [
    wrote("armed", 1.0, 1, facts={"print": "x", "steps": STEPS}), wrote("passed", 2.0, 1, 1),
    wrote("ready", 2.0, 1, 2),
]  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0005, 3.0), st.floats(0.0, 4.0)), min_size=1, max_size=40), st.booleans())
def test_it_never_burns_past_what_a_later_reader_assumes(turns: list[tuple[float, float]], half_written: bool) -> None:
    """However late the loop comes round and however slow the disk is: at every moment the keeper is told no more than
    the recovery's hi would be if everything stopped then."""
    latencies: list[float] = [0.0]
    disk = VirtualDisk(lambda: latencies[-1])
    ink = ink_on(disk)
    ink.write(BEFORE, {}, 2.0)
    ink.write([lit()], {}, 10.0)
    now = 10.0
    for wait, latency in turns:
        latencies.append(latency)
        now = disk.now = now + wait
        ink.heard()
        ink.so_far(now)
        until = ink.burns_until(10.0)
        (found,) = recovered(Progress(disk.records(now, half_written)), {1: PLAN}, None, 0.0)
        facts: Any = found.facts
        assert until <= facts["dark"] + 1e-9 or facts["dark"] == 70.0, "or its own end"
        assert facts["given_lo"] <= PLAN.steps[1].response.dose(now - 10.0)
        assert facts["dark"] <= 10.0 + max(0.5, next_instant(now - 10.0)) + SLACK_S + 1e-9
