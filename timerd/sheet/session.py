"""Engine, trays, safelight and status of one bench as one machine: what happens goes in, what is to be done comes out.

Whoever feeds it owns the clock, the keeper and the book, and none of the rules: the daemon in real time, a rehearsal in
virtual time. It has no clock and does nothing itself; nothing that comes out lights a lamp but an `Expose`.
"""

from __future__ import annotations

import zlib
from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from timerd.sheet import status as st
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.machine import Engine
from timerd.sheet.engine.rows import IDLE_TO_SHOW, LEAD_IN, PAUSED_TO_SHOW, PROMPT, READY_TO_SHOW, STATE_OF
from timerd.sheet.engine.standing import Standing
from timerd.sheet.facts import PressRefused
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.progress import SheetProgress, StepProgress
from timerd.sheet.reason import InkTrouble, Mind, NewBox, RecordDamaged, SheetDamaged
from timerd.sheet.record import Progress, Record
from timerd.sheet.trays import events as tr
from timerd.sheet.trayside import TraySide, cue_told

TO_SHOW = {IDLE_TO_SHOW: "viewing light", READY_TO_SHOW: "paper-safe light", PAUSED_TO_SHOW: "paper-safe light"}
"""What the next press of `go` shows, in the rows in which it does."""
Outcome = ev.Action | tr.TrayCue
"""What is to be done, in the order in which it comes: records to be written down, the keeper to be asked, things to be
said and cues at the trays."""
MOST_CUES = 16
"""So many cues are told with each status: a client that hears of each change misses none."""


class Session:
    """One bench's session. It goes on from `progress` (a fold over the book's records) with the `plans` of its sheets,
    and from the `batch` of which so many sheets are still to be done, as `Engine` has them; `at_trays`, `stock` and
    `out` are the records that `TraySide` wants, on the clock of `now`."""

    def __init__(
        self, bench: Bench, progress: Progress | None = None, plans: dict[int, Plan] | None = None,
        batch: tuple[Plan, int] | None = None, *, at_trays: Iterable[Record] = (), stock: Iterable[Record] = (),
        out: Iterable[Record] = (), now: float = 0.0,
    ) -> None:  # fmt: skip
        self.engine = Engine(bench, progress, plans, batch)
        self.standing = self.engine.standing
        self.trayside = TraySide(self.standing, at_trays, stock, out, now)
        self._entered_at = 0.0
        self._asked: ev.Expose | None = None
        self._dark: st.LightOff | None = None
        self._refused: st.NotTaken | None = None
        self._refusals = 0
        self._said: st.LastSaid | None = None
        self._plan: tuple[Plan, str] | None = None
        self._cues: deque[st.CueTold] = deque(maxlen=MOST_CUES)
        self._cue = 0

    def handle(self, event: ev.Event | tr.Event, now: float) -> list[Outcome]:
        """Take in one event, at the bench or at the trays. Raises LookupError, in words, for a command at the trays
        that names what is not there; then nothing has changed."""
        found: list[Outcome] = []
        if isinstance(event, tr.Event):
            found += self.trayside.do(event, now)
        else:
            actions = self.engine.handle(event, now)
            self._take(event, actions)
            found += actions
            found += self.trayside.see(event, actions, now)
        for outcome in found:
            if isinstance(outcome, tr.TrayCue):
                self._cue += 1
                self._cues.append(cue_told(outcome, self._cue))
        return found

    @property
    def wake_at(self) -> float | None:
        """When `events.Wake` is due, if nothing happens before: it may lead to a light."""
        return self.standing.wake_at

    @property
    def trays_wake_at(self) -> float | None:
        """When the `TrayWake` is due, if nothing happens before."""
        return self.trayside.wake_at

    @property
    def leased(self) -> bool:
        """Whether the keeper must be told all the while that somebody is there."""
        return self.standing.burst is not None or not self.standing.safelight_lit

    def _take(self, event: ev.Event, actions: list[ev.Action]) -> None:
        """What is told of an event and of what came of it, and the standing alone does not say."""
        if isinstance(event, ev.Dark):
            self._dark = st.LightOff(event.burst, event.at, event.why)
        for action in actions:
            if isinstance(action, ev.Entered):
                self._entered_at = action.at
            elif isinstance(action, ev.Say):
                self._said = st.LastSaid(1 if self._said is None else self._said.number + 1, action.what, action.at)
            elif isinstance(action, ev.Expose):
                self._asked = action
            elif isinstance(action, Record) and isinstance(action.fact, PressRefused):
                self._refusals += 1
                self._refused = st.NotTaken(self._refusals, action.at, action.fact.why)
        if self.standing.refusal is None:
            self._refused = None

    @property
    def plan(self) -> Plan | None:
        """The plan of the sheet at hand or offered, else the one that is loaded."""
        standing = self.standing
        sheet = standing.sheet or standing.offer
        return standing.plans[sheet.sheet] if sheet is not None else standing.loaded

    @property
    def plan_id(self) -> str | None:
        """What tells that plan from another."""
        plan = self.plan
        if plan is None:
            return None
        if self._plan is None or self._plan[0] is not plan:
            self._plan = plan, f"{zlib.crc32(plan.model_dump_json().encode()):08x}"
        return self._plan[1]

    def status(
        self, now: float, *, simulated: bool = False, scheduling: str = "", ink: InkTrouble | None = None,
        copies: st.CopiesStand | None = None,
    ) -> st.Status:  # fmt: skip
        """How the bench stands now, with what is its feeder's own to say: how its keeper runs, its book's ink and the
        copies."""
        s = self.standing
        plan, step = self.plan, s.step
        progress = s.sheet.steps[step.n] if s.sheet is not None and step is not None else None
        lead_in, burst = self._light_now()
        return st.Status(
            bench=s.bench.bench,
            simulated=simulated,
            scheduling=scheduling,
            ink=ink,
            now=now,
            state=s.state,
            since=st.Since(s.visit, self._entered_at),
            print=plan.print if plan is not None else None,
            plan=self.plan_id,
            sheet=s.sheet.sheet if s.sheet is not None else None,
            sheets_left=s.sheets_left,
            step=step.n if step is not None else None,
            given=None if progress is None else progress.given,
            given_lo=None if progress is None else progress.given_lo,
            owed=None if progress is None else _owed(progress),
            on_s=None if progress is None else sum((off - on for on, off in progress.bursts), 0.0),
            steps=None if s.sheet is None else tuple(_step(step) for step in s.sheet.steps.values()),
            lead_in=lead_in,
            burst=burst,
            dark=self._dark,
            white_light_spoils=s.white_light_spoils,
            goes_to=tuple(st.GoesTo(number, where) for number, where in s.goes_to.items()),
            reason=s.reason,
            unplugged=dict(s.unplugged),
            worn=s.worn,
            not_verified=tuple(name for name, lamp in s.bench.lamps.items() if lamp.sense is None),
            warming=None if (warming := s.warming(now)) is None else st.Warming(*warming),
            refused=self._refused,
            said=self._said,
            asks=s.asking if s.state == PROMPT else None,
            boxed=s.sheet.boxed if s.sheet is not None else None,
            shows=TO_SHOW.get(s.row),
            shown=s.shown if s.lit_at is not None else None,
            unfinished=_offer(s.offer) if s.sheet is None else None,
            aside=tuple(s.progress.aside),
            damaged=tuple(s.progress.damaged.words.values()),
            mind=(*_minds(s), *(() if copies is None or copies.wrong is None else (copies.wrong,))),
            trays=self._trays(now),
            copies=copies,
        )

    def _light_now(self) -> tuple[st.LeadIn | None, st.LightOn | None]:
        s, asked = self.standing, self._asked
        if s.burst is None or asked is None:
            return None, None
        if s.lit_at is not None:
            return None, st.LightOn(s.burst, asked.light, s.lit_at, s.deadline)
        if STATE_OF[s.row] == LEAD_IN:
            return st.LeadIn(s.burst, asked.light, self._entered_at, asked.at, asked.seconds), None
        return None, None

    def _trays(self, now: float) -> st.TraysStand:
        return replace(self.trayside.status(now), cues=tuple(self._cues))


def _minds(s: Standing) -> list[Mind]:
    """What the book is damaged of; and, until the first sheet of a box that was not open before is begun, that box."""
    found: list[Mind] = [SheetDamaged(n) if n else RecordDamaged() for n in sorted(s.progress.damaged.words)]
    if s.loaded is not None and s.loaded.new_box is not None and s.sheets_left and s.sheet is None:
        found.append(NewBox(s.loaded.paper, s.loaded.new_box))
    return found


def _owed(step: StepProgress) -> float | None:
    """What is still to be given, without the burst that burns now; None where no dose is planned."""
    if step.planned is None:
        return None
    return step.owed if step.under_way <= 0 else max(0.0, step.planned - step.given)


def _step(step: StepProgress) -> st.StepStands:
    return st.StepStands(step.n, step.given, _owed(step), step.ended_by)


def _offer(sheet: SheetProgress | None) -> st.Offered | None:
    if sheet is None:
        return None
    if (step := sheet.steps.get(sheet.at_hand)) is None:
        return st.Offered(sheet.sheet, aside=sheet.boxed)
    return st.Offered(sheet.sheet, step.n, step.given_lo, step.given, _owed(step), sheet.boxed)
