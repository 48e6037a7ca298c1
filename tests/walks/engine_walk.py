"""Random feet, faults and time on the whole simulated bench; what must never happen is asserted on the way."""

from __future__ import annotations

import random
from typing import Any

from timerd.bench.keeper import SAFELIGHT
from timerd.bench.simulated import SimulatedBench
from timerd.printing.light import Response
from timerd.sheet.engine import events as ev
from timerd.sheet.engine import rows, table
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.progress import NEAR_ENOUGH
from timerd.sheet.record import Progress, Record
from timerd.sheet.session import Session

BENCH = Bench.model_validate({
    "bench": "walk",
    "stations": {"enlarger": {}, "flashing": {}},
    "lamps": {
        "head-green": {"pin": 17, "station": "enlarger", "rise_ms": 120, "fall_ms": 60, "longest_s": 20},
        "head-blue": {"pin": 27, "station": "enlarger", "longest_s": 20},
        "flasher": {"pin": 23, "station": "flashing", "lag_s": 0.1, "longest_s": 20},
        "red-led": {"pin": 24, "station": "enlarger", "longest_s": 20},
    },
    "lights": {
        "green": {"lamp": "head-green", "colour": "green"},
        "blue": {"lamp": "head-blue", "colour": "blue"},
        "flash": {"lamp": "flasher", "colour": "white"},
        "red": {"lamp": "red-led", "colour": "red", "paper_safe": True},
    },
    "viewing": "green",
    "view_s": 15,
    "safelight": {"pin": 22},
    "pedals": {
        "go": [{"pin": 5, "station": "enlarger"}, {"pin": 13, "station": "flashing"}],
        "end": [{"pin": 6}, {"pin": 19, "station": "trays"}],
        "third": [{"pin": 12}],
    },
    "third": "view",
})  # fmt: skip


def _light(n: int, kind: str, light: str, station: str, dose: float | None, **more: Any) -> Step:
    lamp = BENCH.lamps[BENCH.lights[light].lamp]
    facts: dict[str, Any] = {
        "n": n, "kind": kind, "name": f"{kind}/{n}/{light}", "station": station, "light": light, "dose": dose,
        "seconds": None if dose is None else lamp.response.seconds(dose), "pedal": "press", "lead_in": 3.0,
        "parts": () if dose is None else (dose,), "response": lamp.response, "longest_s": lamp.longest_s,
    }  # fmt: skip
    return Step(**{**facts, **more})


AT = {place: (("lens", "lens at f/8"), ("station", f"carry the sheet to the {place}")) for place in BENCH.stations}


PLAN = Plan(
    print="A walk", negative=None, paper="demo", bench="walk", cautions=(), totals=(), lamp_seconds=0.0,
    steps=(
        Step(n=1, kind="wait", name="wait", station="flashing", set_up=AT["flashing"]),
        _light(2, "flash", "flash", "flashing", 0.9, pedal="hold", lead_in=0.2, set_up=AT["flashing"]),
        Step(n=3, kind="carry", name="carry/enlarger", station="enlarger", set_up=AT["enlarger"]),
        _light(4, "base", "green", "enlarger", 6.0, parts=(3.0, 4.5, 6.0), then_next=True, set_up=AT["enlarger"]),
        _light(5, "base", "blue", "enlarger", 2.0, lead_in=1.0, set_up=AT["enlarger"]),
        Step(n=6, kind="filter", name="filter/green", station="enlarger", set_up=AT["enlarger"]),
        _light(
            7, "burn", "green", "enlarger", 2.5, pedal="hold", lead_in=0.5, lead_in_again=True, set_up=AT["enlarger"]
        ),
        _light(8, "burn", "blue", "enlarger", None, pedal="free", lead_in=0.2, set_up=AT["enlarger"]),
        Step(n=9, kind="develop", name="develop/trays", station="enlarger", set_up=AT["enlarger"]),
    ),
)  # fmt: skip

SMALL = (("lens", "lens at f/16"), ("station", "carry the sheet to the enlarger"))
BOXED = PLAN.model_copy(update={
    "print": "A longer walk",
    "steps": (
        Step(n=1, kind="wait", name="wait", station="flashing", set_up=AT["flashing"]),
        _light(2, "flash", "flash", "flashing", 0.7, pedal="hold", lead_in=0.2, set_up=AT["flashing"]),
        Step(n=3, kind="box", name="box", station="flashing", set_up=AT["flashing"]),
        Step(n=4, kind="carry", name="carry/enlarger", station="enlarger", set_up=AT["enlarger"]),
        _light(5, "base", "green", "enlarger", 3.0, parts=(2.0, 3.0), set_up=AT["enlarger"]),
        Step(n=6, kind="aperture", name="aperture/16", station="enlarger", set_up=SMALL),
        _light(7, "burn", "green", "enlarger", 4.0, set_up=SMALL),
        Step(n=8, kind="aperture", name="aperture/8", station="enlarger", set_up=AT["enlarger"]),
        Step(n=9, kind="negative", name="negative", station="enlarger", set_up=AT["enlarger"]),
        _light(10, "base", "blue", "enlarger", 1.5, lead_in=1.0, set_up=AT["enlarger"]),
        _light(11, "burn", "blue", "enlarger", None, pedal="free", lead_in=0.2, set_up=AT["enlarger"]),
        Step(n=12, kind="develop", name="develop/trays", station="enlarger", set_up=AT["enlarger"]),
    ),
})  # fmt: skip
"""Another print, whose sheets are boxed on the way and whose lens is stopped down."""

_THING_OF = {words: thing for plan in (PLAN, BOXED) for step in plan.steps for thing, words in step.set_up}

LATEST_S = 0.3
"""How late at the most the engine hears of anything: a stopped daemon is resumed only after all checks."""


def owed_by_hand(records: list[Record], sheet: int) -> dict[int, float | None]:
    """What a sheet's steps are owed, added up without the fold that is tested."""
    planned: dict[int, float | None] = {}
    given: dict[int, float] = {}
    ended: set[int] = set()
    for record in records:
        if record.sheet != sheet:
            continue
        if record.kind == "armed":
            planned = {n: dose for n, _, dose, _ in record.facts["steps"]}
        elif record.kind in ("dark", "line low"):
            got = record.facts["given"] if record.kind == "dark" else record.facts["more"]
            given[record.step] = given.get(record.step, 0.0) + got
        elif record.kind in ("ended", "passed"):
            ended.add(record.step)
        elif record.kind == "owed again":
            ended.discard(record.step)
    owed = {n: 0.0 if p is None or n in ended else p - given.get(n, 0.0) for n, p in planned.items()}
    return {n: None if p is None else 0.0 if owed[n] <= p * NEAR_ENOUGH else owed[n] for n, p in planned.items()}


SHOWING = (rows.VIEWING, rows.READY_SHOWN, rows.PAUSED_SHOWN)


class EngineWalk:
    """One evening of random feet. `hostile` walks also kill, stop, cut and weld."""

    def __init__(self, hostile: bool) -> None:
        self.hostile = hostile
        self.bench = SimulatedBench(Session(BENCH))
        self.engine = self.bench.session.engine
        self.events = 0
        self.seen: list[tuple[int, dict[int, tuple[int, float, str]]]] = []
        self.hands: dict[str, str] = {}
        self.welded: str | None = None
        self.stopped = False
        self.last_press: dict[str, float] = {}
        self.made_dark: dict[str, float] = {}
        self.no_go_until = 0.0
        self.double_taps = 0
        handle = self.engine.handle

        def counted(event: ev.Event, now: float) -> list[ev.Action]:
            self.events += 1
            standing = self.engine.standing
            prompt = (standing.asking, standing.step) if standing.row == rows.PROMPT else None
            row = standing.row
            actions = handle(event, now)
            self.by_the_hands(prompt, [a for a in actions if isinstance(a, Record)])
            self.by_the_feet(event, row, actions)
            self.check_engine()
            return actions

        self.engine.handle = counted  # type: ignore[method-assign]
        self.load()

    def load(self, amount: int = 3) -> None:
        """One of two prints, up to six sheets of it."""
        self.bench.event(ev.Load(BOXED if amount % 2 == 0 else PLAN, 1 + amount % 6, self.bench.now))

    def order(self, amount: int) -> None:
        """Something asked for by command, of any step or sheet."""
        what, n = ev.ORDERS[amount % len(ev.ORDERS)], amount // len(ev.ORDERS)
        sheet = self.engine.standing.sheet
        if what in ("step", "owe") and sheet is not None and n % 4:  # mostly of a step that may need it
            again = [k for k, step in sheet.steps.items() if step.ended_by in ("printer", "skipped")]
            n = (again or list(sheet.steps))[n % len(again or sheet.steps)]
        if what == "give up" and n % 8:  # mostly the one that is offered
            n = 0
        self.bench.event(ev.Told(what, self.bench.now, n or None))

    # -- one thing happens ---------------------------------------------------------------------------------------

    _TIMES = (0.0, 0.003, 0.01, 0.03, 0.06, 0.15, 0.2, 0.25, 0.5, 0.72, 1.0, 1.3, 2.05, 3.0, 3.4, 6.0)

    def step(self, what: int, amount: int) -> None:
        """`what` and `amount` are any numbers from 0 to 255."""
        bench = self.bench
        contacts = list(bench._setup.pedals)
        match what % 16:
            case 0 | 1 | 2 | 3 | 4:
                name = contacts[amount % len(contacts)]
                bench.raw_edge(name, name not in bench.raw_down)
            case 5 | 6:  # a whole press, or both pedals for as long
                for name in contacts[amount % 3 : amount % 3 + 1 + (amount >> 6) // 3]:
                    bench.raw_edge(name, name not in bench.raw_down)
                bench.advance(bench.now + self._TIMES[amount % 16])
                for name in list(bench.raw_down):
                    bench.raw_edge(name, False)
            case 7 if amount < 40:
                self.load(amount)
            case 7 if amount < 60:
                bench.event(ev.Clear(bench.now))
            case 7:  # a double tap
                name = contacts[amount % len(contacts)]
                for after in (0.1, 0.05 + amount / 500, 0.1):
                    bench.raw_edge(name, name not in bench.raw_down)
                    bench.advance(bench.now + after)
                bench.raw_edge(name, False)
            case 8 if self.hostile:
                self.hostility(amount)
            case 9 | 10 | 11:
                self.go_on(amount)
            case 12 | 13:
                self.order(amount)
            case _:
                bench.advance(bench.now + self._TIMES[amount % 16])
        self.check()

    def go_on(self, amount: int) -> None:
        """What a printer who wants this sheet done would do next."""
        bench, engine = self.bench, self.engine
        for name in list(bench.raw_down):
            bench.raw_edge(name, False)
        bench.advance(bench.now + 0.8)
        step = engine.standing.step or PLAN.steps[0]
        go = next(
            c.name for c in engine.standing.feet.contacts.values() if c.pedal == "go" and c.station == step.station
        )
        pedals, down = [go], 0.15
        match engine.standing.row:
            case rows.IDLE | rows.UNFINISHED | rows.ASIDE | rows.DONE:
                down = 1.1
            case rows.ABANDONED:
                pedals, down = ["end 1, everywhere"], 1.1
            case rows.READY_HELD:
                down = 1.0 + amount / 64
            case rows.PAUSED:
                pedals = [go] if step.dose is not None else ["end 1, everywhere"]
                down = 0.15 if step.pedal == "press" else 3.0
            case rows.FAULT:
                pedals, down = [go, "end 1, everywhere"], 2.1
            case rows.LEAD_IN | rows.EXPOSING:
                pedals, down = [], 3.5
        for name in pedals:
            bench.raw_edge(name, True)
        bench.advance(bench.now + down)
        for name in pedals:
            bench.raw_edge(name, False)

    def hostility(self, amount: int) -> None:
        bench = self.bench
        match amount % 12:
            case 0:
                bench.kill_keeper()
            case 1:
                bench.cut_pipe()
            case 2 | 3:
                self.stopped = True
                bench.stop_daemon()
                bench.advance(bench.now + self._TIMES[amount % 16])
                self.stopped = False
                bench.resume_daemon()
            case 4 if self.welded is None:
                self.welded = "lamp head-green"
                bench.lines.stuck.add(self.welded)
            case _ if self.welded is not None:
                bench.line_free(self.welded)
                self.welded = None

    def by_the_hands(self, prompt: tuple[tuple[str, ...], Step | None] | None, records: list[Record]) -> None:
        """The printer changes the bench as a prompt asks, and otherwise not at all; each light finds it as planned."""
        for record in records:
            if record.kind in ("passed", "set up", "sheet out") and prompt is not None:
                asked, step = prompt
                if step is not None and step.kind == "wait":
                    self.hands = dict(step.set_up)
                self.hands |= {_THING_OF[words]: words for words in asked if words in _THING_OF}
                prompt = None
            elif record.kind == "lit" and record.sheet:
                step = self.engine.standing.plans[record.sheet].steps[record.step - 1]
                assert self.hands == dict(step.set_up), "the bench is not set up for this light"

    def by_the_feet(self, event: ev.Event, row: str, actions: list[ev.Action]) -> None:
        """A second press soon after the first means nothing; only a hold of a second ends a step."""
        records = [a for a in actions if isinstance(a, Record)]
        edge = event if isinstance(event, ev.Edge) else None
        pedal = edge.pedal.split()[0] if edge is not None else ""
        for record in records:
            if record.kind == "ended" and record.facts["by"] != "dose" and edge is not None:
                assert pedal == "end" and not edge.down and edge.at - self.last_press["end"] >= 1.0, (
                    "a slip ended a step"
                )
        if edge is None or not edge.down or edge.pedal == "end 2, trays":
            return
        self.last_press[pedal] = edge.at
        if row in rows.DARKENING:
            self.made_dark[edge.pedal] = edge.at
            if row in (rows.LEAD_IN, rows.EXPOSING):
                self.no_go_until = edge.at + 0.7
            return
        soon = edge.at < self.made_dark.get(edge.pedal, -1.0) + 0.7 or (pedal == "go" and edge.at < self.no_go_until)
        if soon:
            assert not any(isinstance(a, ev.Expose) for a in actions), "a double tap lit a light again"
            meant = {record.kind for record in records} - {"abandoned", "given up"}  # both held, by now long enough
            assert meant == {"refused"}, "a double tap meant something"
            self.double_taps += 1
        elif pedal == "go" and row == rows.PROMPT and any(r.kind != "refused" for r in records):
            self.no_go_until = edge.at + 0.7

    # -- what must always be true --------------------------------------------------------------------------------

    def check_engine(self) -> None:
        engine = self.engine
        assert engine.standing.row in table.TABLE and engine.standing.state in rows.STATES
        assert (engine.standing.burst is not None) == (
            engine.standing.state in (rows.LEAD_IN, rows.EXPOSING) or engine.standing.row in SHOWING
        ) or engine.standing.state == rows.FAULT
        at_hand = engine.standing.sheet
        if engine.standing.state in (rows.READY, rows.PAUSED):
            assert at_hand is not None and at_hand.may_light, "a light could begin of which nothing is known"
        for sheet in engine.standing.progress.sheets.values():
            for step in sheet.steps.values():
                assert step.owed >= 0.0
                if step.planned is not None and step.exact and self.welded is None:
                    assert step.given <= step.planned + 1e-6, "more than was owed"

    def check(self) -> None:
        bench, engine = self.bench, self.engine
        lit = [line for line, level in bench.lines.lit.items() if level and line != SAFELIGHT]
        assert len(lit) <= 1 or self.welded, f"two lights: {lit}"
        if lit and self.welded not in lit:
            row, sheet = engine.standing.row, engine.standing.sheet
            assert engine.standing.state == rows.EXPOSING or row in SHOWING, f"{lit} lit in {row}"
            if row == rows.VIEWING:
                assert not self.sensitive_by_hand(), "viewing light with a sheet that it spoils"
            elif row in SHOWING:
                assert lit == ["lamp red-led"], "no light but the paper-safe one is shown with a sheet in hand"
            else:
                assert sheet is not None
                assert sheet.sheet in self.out_by_hand(), "exposing light with no sheet out"
                assert sheet.sheet == self.at_hand_by_hand(), "another sheet's light"
        if engine.standing.burst is None and not self.stopped:
            sheets = engine.standing.progress.sheets
            self.seen.append((len(bench.records), {n: (s.at_hand, s.owed, s.outcome) for n, s in sheets.items()}))

    def out_by_hand(self) -> set[int]:
        """The sheets that are out, read off the records without the fold."""
        out: set[int] = set()
        for record in self.bench.records:
            if record.kind == "sheet out":
                out.add(record.sheet)
            elif record.kind in ("in the fixer", "given up", "set aside"):
                out.discard(record.sheet)
        return out

    def sensitive_by_hand(self) -> set[int]:
        """The sheets that white light would spoil: in the hand, or less than half a minute in the fixer."""
        found: set[int] = set()
        for record in self.bench.records:
            if record.kind in ("armed", "taken up"):
                found.add(record.sheet)
            elif record.kind in ("given up", "set aside") or (
                record.kind == "in the fixer" and self.bench.now - record.at > 30.0 - 1e-6
            ):
                found.discard(record.sheet)
        return found

    def at_hand_by_hand(self) -> int:
        """The sheet that was last taken in hand, read off the records without the fold."""
        return next(r.sheet for r in reversed(self.bench.records) if r.kind in ("armed", "taken up", "owed again"))

    def finish(self) -> None:
        """Let everything come to rest; hold every prefix of the records to what the engine owed at that moment."""
        bench = self.bench
        if self.welded:
            bench.line_free(self.welded)
        while (due := bench.next_due) is not None:
            bench.advance(due)
        bench.advance(bench.now + 1.0)
        self.check()
        assert not any(level for line, level in bench.lines.lit.items() if line != SAFELIGHT), "a light left on"
        fold, done = Progress(), 0
        for count, live in self.seen:
            for record in bench.records[done:count]:
                fold.apply(record)
            done = count
            assert {n: (s.at_hand, s.owed, s.outcome) for n, s in fold.sheets.items()} == live
        for number, sheet in self.engine.standing.progress.sheets.items():
            by_hand = owed_by_hand(bench.records, number)
            for n, step in sheet.steps.items():
                if step.planned is not None:
                    assert abs((by_hand[n] or 0.0) - step.owed) < 1e-9
        if not self.hostile:
            self.check_lines_against_records()

    def check_lines_against_records(self) -> None:
        """With nothing broken, what the records say was lit is what the lines did, to the last edge."""
        lines = [(e.line, e.lit, round(e.at, 6)) for e in self.bench.lines.edges if e.line != SAFELIGHT]
        told: list[tuple[str, bool, float]] = []
        for record in self.bench.records:
            if record.kind == "dark":
                light = self.engine.standing.plans[record.sheet].steps[record.step - 1].light or ""
                told += [
                    (light, True, round(record.facts["lit"], 6)),
                    (light, False, round(record.facts["dark"], 6)),
                ]
            elif record.kind == "viewing":
                told.append((record.facts["light"], record.facts["lit"], round(record.at, 6)))
        assert lines == told


def walk(seed: int, steps: int) -> EngineWalk:
    """A seeded walk to its end; every third one is hostile."""
    pick = random.Random(seed)
    evening = EngineWalk(hostile=seed % 3 == 0)
    for _ in range(steps):
        evening.step(pick.randrange(256), pick.randrange(256))
    evening.finish()
    return evening


__all__ = ["BENCH", "BOXED", "PLAN", "EngineWalk", "Response", "walk"]
