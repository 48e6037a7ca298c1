"""What a light gave that nobody wrote down: exact by the keeper's note, else between two doses that hold the truth."""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import pytest
from daemon.virtual_disk import VirtualDisk, ink_on
from hypothesis import given, settings
from hypothesis import strategies as st
from records import wrote
from walks.book_walk import BookWalk

from timerd.bench.keeper import LEASE_S
from timerd.bench.note import Noted
from timerd.daemon.recovery import FIRST_S, RATIO, SLACK_S, next_instant, recovered
from timerd.printing.light import Response
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.record import Progress, Record

RESPONSES = [Response(), Response(rise_s=0.12, fall_s=0.06), Response(rise_s=0.5), Response(lag_s=0.1333)]
DOSE = 20.0


def plan_of(response: Response = RESPONSES[0], dose: float | None = DOSE) -> Plan:
    base = Step.model_validate({
        "n": 2, "kind": "base", "name": "base/soft/green", "station": "enlarger", "light": "green", "dose": dose,
        "seconds": None if dose is None else response.seconds(dose), "pedal": "press" if dose else "free",
        "lead_in": 0.2, "parts": () if dose is None else (dose,), "response": response, "longest_s": 60.0,
    })  # fmt: skip
    burn = base.model_copy(update={"n": 3, "kind": "burn", "name": "burn/sky/green"})
    start = Step(n=1, kind="wait", name="wait", station="enlarger")
    return Plan(
        print="Low tide", negative=None, paper="demo", bench="walk", steps=(start, base, burn), cautions=(), totals=(),
        lamp_seconds=0.0,
    )  # fmt: skip


def until_ready(dose: float | None = DOSE, sheet: int = 1) -> list[Record]:
    steps = [(1, "wait", 0.0, False), (2, "base", dose, True), (3, "burn", dose, True)]
    return [
        wrote("armed", 1.0, sheet, facts={"print": "Low tide", "steps": steps}),
        wrote("sheet out", 2.0, sheet, 1),
        wrote("passed", 2.0, sheet, 1),
        wrote("ready", 2.0, sheet, 2, facts={"owed": dose}),
    ]


def lit(seconds: float, burst: int = 1, at: float = 10.0, most: float = DOSE) -> Record:
    return wrote("lit", at, 1, 2, burst, {"light": "green", "lit": at, "seconds": seconds, "most": most})


def so_far(seconds: float, burst: int = 1, at: float = 10.0) -> Record:
    return wrote("so far", at + seconds, 1, 2, burst, {"seconds": seconds})


def dark(off: float, given: float, burst: int = 1, at: float = 10.0) -> Record:
    return wrote("dark", off, 1, 2, burst, {"lit": at, "dark": off, "given": given, "why": "pedal"})


def noted(burst: int = 1, on: float | None = 10.0, off: float | None = 13.5, why: str = "pipe closed") -> Noted:
    return Noted("book", "boot", burst, 10.0, on, off, None if off is None else why)


def again(
    records: list[Record], plan: Plan | Mapping[int, Plan], note: Noted | None
) -> tuple[list[Record], Progress]:  # fmt: skip
    """Start once: what is added, and how the sheets stand after it. A second start must add nothing. `plan` is that of
    every sheet, or each one's."""
    progress = Progress(records)
    plans = dict.fromkeys(progress.sheets, plan) if isinstance(plan, Plan) else plan
    found = recovered(progress, plans, note, 99.0)
    for record in (*found, wrote("started", 99.0)):
        progress.apply(record)
    assert recovered(progress, plans, note, 100.0) == []
    fold = Progress([*records, *found, wrote("started", 99.0)])
    assert recovered(fold, plans, note, 100.0) == []
    return found, progress


def told(given: float, given_lo: float, on: float | None, off: float | None, why: str, burst: int = 1) -> Record:
    facts = {"lit": on, "dark": off, "given": given, "given_lo": given_lo, "why": why}
    return wrote("recovered", 99.0, 1, 2, burst, facts)


# -- one by one --------------------------------------------------------------------------------------------------

LATER = next_instant(next_instant(0.5))
STARTS: dict[str, tuple[list[Record], Noted | None, list[Record]]] = {
    "nothing at all": ([], None, []),
    "a prompt": (until_ready()[:2], None, []),
    "a light, by the note": ([*until_ready(), lit(20.0)], noted(), [told(3.5, 3.5, 10.0, 13.5, "pipe closed")]),
    "a light written down on the way, by the note": (
        [*until_ready(), lit(20.0), so_far(0.5), so_far(next_instant(0.5))], noted(why="last off"),
        [told(3.5, 3.5, 10.0, 13.5, "last off")]),
    "a light not in the book, by the note": (
        until_ready(), noted(), [told(3.5, 3.5, 10.0, 13.5, "pipe closed")]),
    "a lead-in called off, by the note": (
        until_ready(), noted(on=None), [wrote("called off", 99.0, 1, 2, 1, {"why": "pipe closed"})]),
    "nothing since it was ready, by the note": (
        [*until_ready(), lit(20.0), dark(12.0, 2.0)], noted(1, off=12.0), []),
    "ready, and a keeper that was never asked for a light": (
        until_ready(), Noted("book", "boot", 0, 5.0, None, 5.0, "nothing lit yet"), []),
    "nothing ever, by the note of an older sheet's burst": (
        [wrote("called off", 0.5, burst=4), *until_ready()], noted(4), []),
    "a light to look at": ([wrote("started", 0.5)], noted(5), [wrote("called off", 99.0, burst=5,
                                                                       facts={"why": "pipe closed"})]),
    "a light in the power cut": (
        [*until_ready(), lit(20.0), so_far(0.5), so_far(next_instant(0.5))], None,
        [told(LATER + 0.5, next_instant(0.5), 10.0, 10.0 + LATER + 0.5, "power")]),
    "a light at its very beginning": (
        [*until_ready(), lit(20.0)], None, [told(1.0, 0.0, 10.0, 11.0, "power")]),
    "a light near its end": (
        [*until_ready(), lit(0.7, most=0.7), so_far(0.5)], None, [told(0.7, 0.5, 10.0, 10.7, "power")]),
    "a light over at what was written down": (
        [*until_ready(), lit(0.5, most=0.5), so_far(0.5)], None, [told(0.5, 0.5, 10.0, 10.5, "power")]),
    "a light that nobody put out at its end": (
        [*until_ready(), lit(0.4, most=0.4), so_far(0.5)], None,
        [told(next_instant(0.5) + 0.5, 0.5, 10.0, 10.0 + next_instant(0.5) + 0.5, "power")]),
    "ready in the power cut: a light may have begun": (
        until_ready(), None, [told(1.0, 0.0, None, None, "power")]),
    "ready again, with a part of it given": (
        [*until_ready(), lit(19.8, most=19.8), dark(29.8, 19.8)], None,
        [told(0.2, 0.0, None, None, "power", burst=2)]),
    "stopped in good order": ([*until_ready(), wrote("stopped", 3.0)], None, []),
    "abandoned": ([*until_ready(), wrote("abandoned", 3.0, 1, 2)], None, []),
    "a fault": ([*until_ready(), wrote("fault", 3.0, 1, 2, facts={"why": "keeper gone"})], None, []),
    "a fault that was told before its dark": (
        [*until_ready(), lit(20.0), so_far(0.5), wrote("fault", 10.6, 1, 2, facts={"why": "line not low"})], None,
        [told(next_instant(0.5) + 0.5, 0.5, 10.0, 10.0 + next_instant(0.5) + 0.5, "power")]),
    "taken up": (
        [*until_ready(), wrote("abandoned", 3.0, 1, 2), wrote("taken up", 4.0, 1, 2)], None,
        [told(1.0, 0.0, None, None, "power")]),
    "a note that could not be completed, of a light": (
        [*until_ready(), lit(20.0), so_far(0.5)], noted(off=None),
        [told(next_instant(0.5) + 0.5, 0.5, 10.0, 10.0 + next_instant(0.5) + 0.5, "power")]),
    "a note that could not be completed, of a burst not in the book": (
        until_ready(), noted(off=None), [told(1.0, 0.0, None, None, "power")]),
    "a note that could not be completed, of what the book has": (
        [*until_ready(), lit(20.0), dark(12.0, 2.0)], noted(1, off=None), []),
}  # fmt: skip


@pytest.mark.parametrize("what", STARTS)
def test_what_is_written_first_after_an_end_of_any_kind(what: str) -> None:
    records, note, expected = STARTS[what]
    found, progress = again(records, plan_of(), note)
    assert [(r.kind, *r[1:]) for r in found] == [(r.kind, *r[1:]) for r in expected]
    for one, other in zip(found, expected, strict=True):
        assert one.facts.keys() == other.facts.keys()
        for key, value in one.facts.items():
            assert value == (
                pytest.approx(other.facts[key], abs=1e-9) if isinstance(value, float) else other.facts[key]
            )
    assert all(sheet.burning is None and not sheet.may_light for sheet in progress.sheets.values())
    assert progress.last_burst == max([r.burst for r in (*records, *expected)], default=0), "no number is used again"


def test_a_free_step_may_have_burned_as_long_as_any_light_unseen() -> None:
    found, progress = again(until_ready(dose=None), plan_of(dose=None), None)
    assert [(r.facts["given_lo"], r.facts["given"]) for r in found] == [(0.0, FIRST_S + SLACK_S)]
    step = progress.sheets[1].steps[2]
    assert (step.given_lo, step.given, step.owed, step.exact) == (0.0, 1.0, 0.0, False)


def test_every_sheet_that_may_have_been_lit_is_seen_to_and_no_other() -> None:
    other = [r._replace(sheet=2) for r in [*until_ready(sheet=2), wrote("abandoned", 3.0, 2, 2)]]
    found, progress = again([*until_ready(), lit(20.0), so_far(0.5), *other], plan_of(), None)
    assert [(r.kind, r.sheet) for r in found] == [("recovered", 1)]
    assert progress.sheets[2].steps[2].given == 0.0


def test_the_instants_are_a_sixth_of_a_stop_apart_from_half_a_second_on() -> None:
    at, instants = 0.0, []
    while at < 300:
        at = next_instant(at)
        instants.append(at)
    assert instants[0] == 0.5
    assert all(b / a == pytest.approx(2 ** (1 / 6), rel=1e-12) for a, b in pairwise(instants))
    assert [instants[6 * k] for k in range(9)] == pytest.approx([0.5 * 2**k for k in range(9)])


# -- random bursts, cut anywhere ---------------------------------------------------------------------------------


def burn(
    pick: random.Random, response: Response, before: float, disk: VirtualDisk, slow_s: float, cut: float
) -> tuple[float, float]:
    """One burst by the real ink on a virtual disk, until it ends or the power is cut; when it was lit and went out.

    Its intent is on disk before it is asked for, as the daemon does it; from there on a write takes up to `slow_s`, and
    now and then ten times as long. The keeper burns only as far as it was last told that it may; the daemon hears of
    edges a little late, and may hang.
    """
    ink = ink_on(disk)
    ink.write(until_ready(), {}, 0.0)
    lit_at = 10.0
    if before:
        half = [lit(before, 1, 5.0), dark(5.0 + response.seconds(before), before, 1, 5.0)]
        ink.write([r._replace(at=5.0) for r in half], {}, 5.0)
    disk.now = 9.8
    ink.heard()
    assert not ink.waits
    disk.latency = lambda: pick.uniform(0.0, slow_s) * (10 if pick.random() < 0.05 else 1)
    wanted = response.seconds(DOSE - before)
    burst = 2 if before else 1
    heard_at = lit_at + pick.uniform(0.0, 0.004)
    lease = min(9.9 + LEASE_S, ink.burns_until(lit_at))
    now, renew_at, told_lit = lit_at, lit_at, False
    hang = pick.choice((0.0, 0.0, 0.0, 0.3, 2.0))
    hang_from = lit_at + pick.uniform(0.0, wanted)
    while True:
        off = min(lit_at + wanted, lease)
        times = [renew_at, disk.next_done]
        times += [ink.wake_at or 1e9] if told_lit else [heard_at]
        now = max(now, min(times))
        if hang_from <= now < hang_from + hang:
            now = hang_from + hang
        if off <= min(now, cut):
            break
        if now >= cut:
            return lit_at, cut
        disk.now = now
        ink.heard()
        if not told_lit and now >= heard_at:
            ink.write([lit(wanted, burst)], {}, now)
            told_lit = True
        elif (record := ink.so_far(now)) is not None:
            assert record.facts["seconds"] <= now - lit_at
        if now >= renew_at:
            lease = min(now + LEASE_S, ink.burns_until(lit_at))
            renew_at = now + pick.uniform(0.08, 0.12)
    heard_at = off + pick.uniform(0.0, 0.004)
    if heard_at < cut:
        disk.now = heard_at
        if not told_lit:
            ink.write([lit(wanted, burst)], {}, heard_at)
        given = response.dose(off - lit_at)
        ink.write([dark(off, given, burst)], {}, heard_at)
    return lit_at, off


@settings(max_examples=300, deadline=None)
@given(
    st.integers(0, 2**48), st.sampled_from(RESPONSES), st.sampled_from([0.0, 0.0, 0.3, 7.0]), st.floats(10.0, 36.0),
    st.sampled_from([0.002, 0.02, 0.3, 1.5]), st.booleans(),
)  # fmt: skip
def test_the_truth_is_inside_whenever_the_power_is_cut(
    seed: int, response: Response, before: float, cut: float, slow_s: float, half_written: bool
) -> None:
    """On disks from quick to stalling for seconds; what is being written at that moment may be on disk or not."""
    pick = random.Random(seed)
    disk = VirtualDisk()
    on, off = burn(pick, response, before, disk, slow_s, cut)
    truth = before + response.dose(max(0.0, min(off, cut) - on))
    on_disk = disk.records(cut, half_written)
    found, progress = again(on_disk, plan_of(response), None)
    step = progress.sheets[1].steps[2]
    assert step.given_lo - 1e-9 <= truth <= step.given + 1e-9
    assert step.given <= DOSE + 1e-9, "never more than was asked for"
    assert len(found) <= 1
    owed = DOSE - step.given
    assert progress.sheets[1].owed == pytest.approx(owed if owed > step.owed_slack else 0.0, abs=1e-9)
    if before:
        assert step.given_lo >= before - 1e-9, "what was given before is counted once, and stays"
    for record in found:
        span = record.facts["given"] - record.facts["given_lo"]
        longest = record.facts["given_lo"] * (RATIO - 1) + FIRST_S + SLACK_S + 0.5 * response.rise_s
        assert span <= longest + 1e-9, "and no wider than a sixth of a stop and a second"


@settings(max_examples=200, deadline=None)
@given(
    st.integers(0, 2**48), st.sampled_from(RESPONSES), st.sampled_from([0.0, 0.3, 7.0]), st.floats(10.0, 36.0),
    st.sampled_from([0.002, 0.3, 1.5]), st.booleans(),
)  # fmt: skip
def test_with_the_keepers_note_it_is_exact_whenever_both_are_killed(
    seed: int, response: Response, before: float, cut: float, slow_s: float, half_written: bool
) -> None:
    pick = random.Random(seed)
    disk = VirtualDisk()
    on, off = burn(pick, response, before, disk, slow_s, cut)
    was_off = min(off, cut)
    note = Noted("book", "boot", 2 if before else 1, 10.0, on, was_off, "last off")
    truth = before + response.dose(max(0.0, was_off - on))
    _, progress = again(disk.records(cut, half_written), plan_of(response), note)
    step = progress.sheets[1].steps[2]
    assert step.exact and step.given == pytest.approx(truth, abs=1e-9)
    assert step.given_lo == pytest.approx(truth, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 39), st.floats(0, 1, exclude_max=True), st.floats(0, 1))
def test_any_evening_cut_off_anywhere(which: int, where: float, between: float) -> None:
    """Random feet and faults on the whole simulated bench, with the truth from what was written later on."""
    walk = BookWalk(which)
    records = walk.evening(which, 1.0)
    plans = walk.plans
    k = round(where * (len(records) - 1))
    cut = records[k].at + between * (records[k + 1].at - records[k].at) if k + 1 < len(records) else records[k].at
    progress = Progress(records[: k + 1])
    before = {(n, s.n): (s.given_lo, s.given) for n, sheet in progress.sheets.items() for s in sheet.steps.values()}
    truth = dict.fromkeys(before, 0.0)
    lit_last: Record | None = None
    for record in records:
        if record.kind == "lit" and record.at <= cut and record.sheet:
            lit_last = record
        if record.kind == "dark" and lit_last is not None and record.burst == lit_last.burst:
            off = min(record.facts["dark"], cut)
            response = plans[record.sheet].steps[record.step - 1].response
            if (record.sheet, record.step) in truth:
                truth[record.sheet, record.step] += response.dose(max(0.0, off - lit_last.facts["lit"]))
            lit_last = None
    welded = any(record.kind in ("line low", "fault") for record in records)
    _, after = again(records[: k + 1], plans, None)
    for (number, n), (lo, hi) in before.items():
        step = after.sheets[number].steps[n]
        assert step.given_lo >= lo - 1e-9 and step.given >= hi - 1e-9
        if not welded:
            assert step.given_lo - 1e-6 <= truth[number, n] <= step.given + 1e-6
            assert step.planned is None or step.given <= step.planned + 1e-6


def test_instants_and_bisection_agree() -> None:
    """`burns_until` and the recovery's hi rest on the same row of instants, whatever one of them was reached from."""
    row, at = [0.0], 0.0
    while at < 400:
        at = next_instant(at)
        row.append(at)
    for at in row[:-1]:
        assert next_instant(at) == row[bisect_right(row, at)]


def test_facts_are_plain_json() -> None:
    for records, note, _ in STARTS.values():
        for record in again(records, plan_of(), note)[0]:
            kinds: set[Any] = {type(value) for value in record.facts.values()}
            assert kinds <= {float, str, type(None)}
