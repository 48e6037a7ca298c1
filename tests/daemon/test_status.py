"""How the bench stands, for a client to draw and sound by itself: whole, in every state, by the real engine."""

from __future__ import annotations

import json
import random
from typing import Any

import pytest
from records import wrote
from walks.engine_walk import EngineWalk

from timerd.bench.simulated import SimulatedBench
from timerd.daemon.recovery import recovered
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Progress, Record
from timerd.sheet.refusal import NotNow, refusal_of
from timerd.sheet.session import Outcome, Session
from timerd.sheet.status import Since, Status, status_json, status_of

BENCH = Bench.model_validate({
    "bench": "pier", "stations": {"enlarger": {}}, "lamps": {"head": {"pin": 17, "station": "enlarger"}},
    "lights": {"green": {"lamp": "head", "colour": "green"}}, "viewing": "green", "view_s": 60,
    "safelight": {"pin": 22}, "pedals": {"go": [{"pin": 5}], "end": [{"pin": 6}]},
})  # fmt: skip


def light(n: int, kind: str, dose: float | None, **more: Any) -> Step:
    facts = {
        "n": n, "kind": kind, "name": f"{kind}/{n}/green", "station": "enlarger", "light": "green", "dose": dose,
        "seconds": dose, "pedal": "press", "lead_in": 3.0, "parts": () if dose is None else (dose,), "longest_s": 60.0,
    }  # fmt: skip
    return Step.model_validate({**facts, **more})


PLAN = Plan(
    print="Pier lights", negative=None, paper="demo", bench="pier", cautions=(), totals=(), lamp_seconds=0.0,
    steps=(
        Step(n=1, kind="wait", name="wait", station="enlarger", asks=("paper out",)),
        light(2, "base", 8.0),
        light(3, "burn", 2.0, pedal="hold", lead_in=0.2),
        light(4, "burn", None, pedal="free", lead_in=0.2),
        Step(n=5, kind="develop", name="develop/trays", station="enlarger"),
    ),
)  # fmt: skip
NOTHING = json.loads(json.dumps(status_json(Status(bench="pier", now=0, since=Since(0, 0), not_verified=("head",)))))
KEYS = NOTHING.keys()
LOADED: dict[str, Any] = {"print": "Pier lights", "plan": "the plan"}
OUT, ARMED, FIXING = (
    {"white_light": "not yet", "white_light_spoils": {"why": "not safe", "spoils": 1, "where": where}}
    for where in ("is out", "is armed", "in the fixer")
)


class Told:
    """A simulated bench, told as the daemon tells it."""

    def __init__(self, progress: Progress | None = None, plans: dict[int, Plan] | None = None) -> None:
        self.session = Session(BENCH, progress, plans)
        self.bench = SimulatedBench(self.session)
        self.standing = self.session.standing

    def load(self, sheets: int = 2) -> None:
        self.bench.event(ev.Load(PLAN, sheets, self.bench.now))

    def press(self, *pedals: str, down: float = 0.15) -> None:
        for pedal in pedals:
            self.bench.raw_edge(pedal, True)
        self.wait(down)
        for pedal in pedals:
            self.bench.raw_edge(pedal, False)

    def wait(self, seconds: float) -> None:
        self.bench.advance(self.bench.now + seconds)

    def status(self) -> dict[str, Any]:
        """The status as JSON, to six decimals, with the plan's id as words and without what is asked by itself."""
        told = self.session.status(self.bench.now)
        raw = json.loads(json.dumps(status_json(told), allow_nan=False))
        assert status_of(raw) == told
        status: dict[str, Any] = rounded(raw)
        assert status["now"] == round(self.bench.now, 6)
        status["now"] = 0.0
        assert status["trays"]["stacks"] == []
        status["trays"] = None
        assert status["plan"] in (None, self.session.plan_id)
        status["plan"] = "the plan" if status["plan"] else None
        return status

    def stands(self, since: float, **more: Any) -> None:
        """Exactly this is told."""
        status = self.status()
        assert status["since"]["at"] == since
        assert status == {**NOTHING, "since": status["since"], "now": 0.0, **more}


def rounded(value: Any) -> Any:
    if isinstance(value, float):
        return round(value, 6)
    if isinstance(value, dict):
        return {key: rounded(inner) for key, inner in value.items()}
    return [rounded(inner) for inner in value] if isinstance(value, list) else value


def steps(*given_and_end: tuple[float, str | None], at_hand: int = 0) -> list[dict[str, Any]]:
    """All five steps, from what each was given and who ended it; the rest has got nothing."""
    planned = (0.0, 8.0, 2.0, None, 0.0)
    rest = [*given_and_end, *[(0.0, None)] * (5 - len(given_and_end))]
    found = []
    for n, ((given, ended_by), dose) in enumerate(zip(rest, planned, strict=True), start=1):
        owed = None if dose is None else 0.0 if ended_by in ("dose", "printer") else round(dose - given, 6)
        found.append({"n": n, "given": given, "owed": owed, "ended_by": ended_by})
    return found


def hands(
    step: int, given: float, owed: float | None, on_s: float | None = None, lo: float | None = None
) -> dict[str, Any]:
    return {
        "sheet": 1, "step": step, "given": given, "given_lo": given if lo is None else lo, "owed": owed,
        "on_s": given if on_s is None else on_s,
    }  # fmt: skip


def test_from_nothing_to_the_viewing_light() -> None:
    told = Told()
    told.stands(0.0)
    told.load()
    told.stands(0.0, **LOADED, sheets_left=2)
    told.wait(1.0)
    told.press("end", down=1.1)
    told.stands(0.0, **LOADED, sheets_left=2)
    told.wait(0.3)
    lit = {"burst": 1, "light": "green", "lit": 2.3, "deadline": 62.3}
    told.stands(0.0, **LOADED, sheets_left=2, burst=lit, shown="green")
    told.press("go")
    told.stands(0.0, **LOADED, sheets_left=2, dark={"burst": 1, "at": 2.4, "why": "pedal"})


def test_every_state_of_a_sheet_that_is_printed() -> None:
    told = Told()
    told.load()
    told.press("go", down=1.1)
    one = {**LOADED, "sheets_left": 1}
    told.stands(1.1, **one, **ARMED, **hands(1, 0.0, 0.0), state="prompt", asks=["paper out"], steps=steps())
    told.wait(0.9)
    told.press("go")
    passed = (0.0, "printer")
    told.stands(2.0, **one, **OUT, **hands(2, 0.0, 8.0), state="ready", steps=steps(passed))
    told.wait(0.85)
    told.press("go")
    led = {"burst": 1, "light": "green", "from": 3.0, "at": 6.0, "seconds": 8.0}
    told.stands(3.0, **one, **OUT, **hands(2, 0.0, 8.0), state="lead-in", steps=steps(passed), lead_in=led)
    told.wait(3.85)
    lit = {"burst": 1, "light": "green", "lit": 6.0, "deadline": 14.0}
    told.stands(6.0, **one, **OUT, **hands(2, 0.0, 8.0), state="exposing", steps=steps(passed), burst=lit)
    told.press("end")
    off = {"burst": 1, "at": 7.0, "why": "pedal"}
    half = steps(passed, (1.0, None))
    told.stands(7.0, **one, **OUT, **hands(2, 1.0, 7.0), state="paused", steps=half, dark=off)
    told.wait(0.85)
    told.press("go")
    led = {"burst": 2, "light": "green", "from": 8.0, "at": 11.0, "seconds": 7.0}
    told.stands(8.0, **one, **OUT, **hands(2, 1.0, 7.0), state="lead-in", steps=half, dark=off, lead_in=led)
    told.wait(3.85)
    lit = {"burst": 2, "light": "green", "lit": 11.0, "deadline": 18.0}
    told.stands(11.0, **one, **OUT, **hands(2, 1.0, 7.0), state="exposing", steps=half, dark=off, burst=lit)
    told.wait(8.0)
    off, whole = {"burst": 2, "at": 18.0, "why": "deadline"}, (8.0, "dose")
    told.stands(18.0, **one, **OUT, **hands(3, 0.0, 2.0), state="ready", steps=steps(passed, whole), dark=off)
    told.press("go", down=1.2)
    off = {"burst": 3, "at": 21.2, "why": "pedal"}
    held = steps(passed, whole, (1.0, None))
    told.stands(21.2, **one, **OUT, **hands(3, 1.0, 1.0), state="paused", steps=held, dark=off)
    told.wait(0.8)
    told.press("end", down=1.1)
    free = steps(passed, whole, (1.0, "printer"))
    told.stands(23.1, **one, **OUT, **hands(4, 0.0, None), state="ready", steps=free, dark=off)
    told.wait(0.85)
    told.bench.raw_edge("go", True)
    told.wait(1.2)
    lit = {"burst": 4, "light": "green", "lit": 24.15, "deadline": 84.15}
    told.stands(24.15, **one, **OUT, **hands(4, 0.0, None), state="exposing", steps=free, dark=off, burst=lit)
    told.wait(49.9)
    said = {"number": 1, "what": "ten seconds left", "at": 74.15}
    told.stands(
        24.15, **one, **OUT, **hands(4, 0.0, None), state="exposing", steps=free, dark=off, burst=lit, said=said
    )
    told.bench.raw_edge("go", False)
    off = {"burst": 4, "at": 75.05, "why": "pedal"}
    told.stands(75.05, **one, **OUT, **hands(4, 50.9, None), state="paused", dark=off, said=said,
                steps=steps(passed, whole, (1.0, "printer"), (50.9, None)))  # fmt: skip
    told.wait(0.9)
    told.press("end", down=1.1)
    ended = (passed, whole, (1.0, "printer"), (50.9, "printer"))
    told.stands(77.05, **one, **OUT, **hands(5, 0.0, 0.0), state="done", steps=steps(*ended), dark=off, said=said,
                goes_to=[{"sheet": 1, "where": "fixer"}])  # fmt: skip
    told.wait(0.85)
    told.press("go")
    said = {"number": 2, "what": "in the fixer", "at": 78.05}
    bathed = steps(*ended, (0.0, "printer"))
    told.stands(77.05, **one, **FIXING, **hands(5, 0.0, 0.0), state="done", steps=bathed, dark=off, said=said)
    told.press("end", down=1.1)
    told.stands(79.15, **one, **FIXING, dark=off, said=said)
    told.bench.advance(108.05)
    told.stands(79.15, **one, dark=off, said=said)


def ready() -> Told:
    """A sheet out, its base ready, at three seconds."""
    told = Told()
    told.load()
    told.press("go", down=1.1)
    told.wait(0.75)
    told.press("go")
    told.wait(1.0)
    return told


def test_a_fault_and_after_it() -> None:
    told = ready()
    told.press("go")
    told.wait(4.85)
    told.bench.cut_pipe()
    off = {"burst": 1, "at": 8.0, "why": "keeper gone"}
    one = {**LOADED, "sheets_left": 1, "dark": off}
    half = steps((0.0, "printer"), (2.0, "fault"))
    told.stands(8.0, **one, **OUT, **hands(2, 2.0, 6.0), state="fault", steps=half, reason={"why": "keeper gone"})
    told.wait(1.0)
    told.press("go", "end", down=2.2)
    offer = {"sheet": 1, "step": 2, "given_lo": 2.0, "given": 2.0, "owed": 6.0, "aside": None}
    said = {"number": 2, "what": "both held", "at": 10.0}
    told.stands(11.0, **one, **OUT, unfinished=offer, said=said)
    told.wait(0.8)
    told.press("go", down=1.1)
    half = steps((0.0, "printer"), (2.0, None))
    told.stands(13.1, **one, **OUT, **hands(2, 2.0, 6.0), state="paused", steps=half, said=said)
    told.wait(0.9)
    told.press("end", "go", down=2.2)
    status = told.status()
    assert (status["state"], status["step"], status["given"], status["owed"]) == ("abandoned", 2, 2.0, 6.0)
    assert status["steps"] == steps((0.0, "printer"), (2.0, "abandoned"))
    assert status["unfinished"] is None and status["white_light"] == "not yet"
    told.wait(0.8)
    told.press("go", down=1.1)
    assert told.status()["sheet"] == 2 and told.status()["white_light_spoils"]["spoils"] == 2


def test_a_burst_that_a_fault_has_not_ended_yet_is_told() -> None:
    """The fault comes before its dark: until that is known the light counts as burning."""
    told = ready()
    told.press("go")
    told.wait(4.85)
    told.standing.now = told.bench.now
    handle = told.bench.session.engine.handle
    handle(ev.Fault("line not low", told.bench.now), told.bench.now)
    status = told.status()
    assert status["state"] == "fault" and status["reason"] == {"why": "line not low"}
    assert status["burst"] == {"burst": 1, "light": "green", "lit": 6.0, "deadline": 14.0}


def test_what_is_refused_is_counted_and_told_with_why() -> None:
    told = Told()
    told.press("go", down=1.1)
    told.stands(0.0, reason={"why": "no print"},
                refused={"number": 1, "at": 1.1, "why": "no print"})  # fmt: skip
    told.wait(0.9)
    told.press("go", down=1.1)
    assert told.status()["refused"] == {"number": 2, "at": 3.1, "why": "no print"}


def test_what_was_refused_is_told_until_the_next_press_or_command_that_is_taken() -> None:
    told = Told()
    told.press("go", down=1.1)
    first = {"number": 1, "at": 1.1, "why": "no print"}
    assert told.status()["refused"] == first
    told.load()
    assert (told.status()["refused"], told.status()["reason"]) == (None, None)
    told = ready()
    told.wait(0.3)
    told.bench.event(ev.Clear(told.bench.now))
    assert (told.status()["reason"], told.status()["refused"]["why"]) == ({"why": "no fault"}, "no fault")
    told.wait(1.0)
    assert told.status()["reason"] == {"why": "no fault"}, "time alone takes nothing back"
    told.press("go")
    assert told.status()["refused"] is None and told.status()["reason"] is None


def test_why_it_is_paused_is_told_no_more_once_the_printer_has_gone_on() -> None:
    told = ready()
    told.press("go")
    told.wait(4.85)
    told.bench.stop_daemon()
    told.wait(1.0)
    told.bench.resume_daemon()
    lease = {"why": "went dark", "how": "lease"}
    assert (told.status()["state"], told.status()["reason"]) == ("paused", lease)
    told.wait(1.0)
    told.press("end")
    assert told.status()["reason"] == lease, "what is owed was said, and it is paused still"
    told.bench.event(ev.Told("rest", told.bench.now))
    assert told.status()["refused"] is not None
    told.wait(1.0)
    told.press("end", down=1.1)
    assert (told.status()["state"], told.status()["step"], told.status()["reason"]) == ("ready", 3, None)


def test_a_fault_s_reason_is_not_taken_for_what_is_refused_in_it() -> None:
    told = ready()
    told.press("go")
    told.wait(4.85)
    told.bench.cut_pipe()
    told.bench.event(ev.Told("skip", told.bench.now))
    status = told.status()
    assert (status["state"], status["reason"]) == ("fault", {"why": "keeper gone"})
    assert refusal_of(status["refused"]) == NotNow("skip", "fault")


def test_a_sheet_left_unfinished_is_offered_with_what_it_may_have_got() -> None:
    """After a power cut: between two doses, owed counted from the most, and its own plan."""
    told = ready()
    told.press("go")
    told.wait(4.85)
    records = [*told.bench.records, wrote("so far", 8.0, 1, 2, 1, {"seconds": 1.781797})]
    progress = Progress(records)
    for record in (*recovered(progress, {1: PLAN}, None, 0.0), wrote("started", 0.0)):
        progress.apply(record)
    hi = 1.781797 * 2 ** (1 / 6) + 0.5
    offer = {
        "sheet": 1,
        "step": 2,
        "given_lo": 1.781797,
        "given": round(hi, 6),
        "owed": round(8.0 - hi, 6),
        "aside": None,
    }
    again = Told(progress, {1: PLAN})
    again.stands(0.0, **LOADED, **OUT, unfinished=offer)
    again.press("go", down=1.1)
    given = steps((0.0, "printer"), (round(hi, 6), None))
    at_hand = hands(2, round(hi, 6), round(8.0 - hi, 6), lo=1.781797)
    again.stands(1.1, **LOADED, **OUT, **at_hand, state="paused", steps=given)


def test_the_plan_is_told_by_an_id_that_only_another_plan_has() -> None:
    told = Told()
    assert told.session.plan is None and told.session.plan_id is None
    told.load()
    first = told.session.plan_id
    assert told.session.plan is PLAN and first is not None and len(first) == 8 and int(first, 16) >= 0
    again = Told()
    again.load(1)
    assert again.session.plan_id == first, "the same plan, another day"
    other = PLAN.model_copy(update={"print": "Pier lights 2"})
    again.bench.event(ev.Load(other, 1, 0.0))
    assert again.session.plan is other and again.session.plan_id != first
    told.press("go", down=1.1)
    assert told.session.plan is PLAN
    told.bench.event(ev.Load(other, 1, told.bench.now))
    assert told.session.plan_id == first, "a sheet under way has its own"


@pytest.mark.parametrize("block", range(2))
def test_on_random_evenings_it_is_whole_and_true(block: int) -> None:
    """Against what the records add up to, without the fold; at every event."""
    seen: set[str] = set()
    for seed in range(6 * block, 6 * block + 6):
        evening = EngineWalk(hostile=seed % 3 == 0)
        session = evening.bench.session
        handle = session.handle

        def told(event: Any, now: float, handle: Any = handle, evening: EngineWalk = evening) -> list[Outcome]:
            outcomes: list[Outcome] = handle(event, now)
            check(status_json(evening.bench.session.status(now)), evening)
            seen.add(evening.engine.standing.state)
            return outcomes

        session.handle = told  # type: ignore[method-assign]
        pick = random.Random(seed)
        for _ in range(120):
            evening.step(pick.randrange(256), pick.randrange(256))
        evening.finish()
    assert seen == set(rows.STATES)


def check(status: dict[str, Any], evening: EngineWalk) -> None:
    standing = evening.engine.standing
    json.dumps(status, allow_nan=False)
    assert status.keys() == KEYS
    assert status["state"] == standing.state
    assert (status["burst"] is not None) == (standing.lit_at is not None)
    assert (status["lead_in"] is not None) == (status["state"] == "lead-in" and standing.lit_at is None)
    if status["burst"] is not None:
        assert status["burst"]["deadline"] > status["burst"]["lit"] and status["burst"]["burst"] == standing.burst
    if status["sheet"] is None:
        assert status["steps"] is None and status["given"] is None and status["step"] is None
    else:
        assert status["unfinished"] is None and standing.sheet is not None
        given = [
            r.facts["given"] if r.kind == "dark" else r.facts["more"]
            for r in evening.bench.records
            if r.kind in ("dark", "line low") and (r.sheet, r.step) == (status["sheet"], status["step"])
        ]
        recorded = {id(a) for a in evening.bench.records}
        fresh = [a for a in standing.out if isinstance(a, Record) and id(a) not in recorded]
        given += [
            r.facts["given"] if r.kind == "dark" else r.facts["more"]
            for r in fresh
            if r.kind in ("dark", "line low") and (r.sheet, r.step) == (status["sheet"], status["step"])
        ]
        if status["step"] is not None:
            assert status["given"] == pytest.approx(sum(given), abs=1e-9)
        assert [step["n"] for step in status["steps"]] == list(standing.sheet.steps)
    assert (status["white_light"] == "safe") == (not standing.progress.sensitive)
    assert status["owed"] is None or status["owed"] >= 0.0
