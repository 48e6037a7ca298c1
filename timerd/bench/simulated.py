"""The simulated bench in virtual time: the keeper's own rules on lines that are only remembered, with faults to inject.

Nothing waits: time is a number that jumps from one thing due to the next. The lines keep their levels when the keeper
is killed, as a Raspberry Pi's do, and remember every edge: what they say is the truth that records are held against.
"""

from __future__ import annotations

import heapq
from collections import deque
from collections.abc import Callable
from typing import NamedTuple

from timerd.bench.cueing import CUE
from timerd.bench.gone import instead_of_the_keeper
from timerd.bench.keeper import SAFELIGHT, Keeper
from timerd.bench.note import Noted
from timerd.bench.settling import settle
from timerd.bench.setup import setup
from timerd.sheet.engine import events as ev
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.record import Record
from timerd.sheet.session import Session
from timerd.sheet.trays import events as tr
from timerd.wire.keeper import STAY, TO_KEEPER, Dark, Expose, Lit, Message, Renew, Report

RENEW_S = 0.1
"""How often the daemon renews the keeper's lease."""


class LineEdge(NamedTuple):
    """What a line did: `line` is the light's name, `safelight`, `stay` and a lamp's name, or `cue line`."""

    at: float
    line: str
    lit: bool


class SimulatedLines:
    """Lines that keep their level whoever dies, and remember every change of it."""

    def __init__(self, bench: Bench) -> None:
        others = [f"{STAY}{name}" for name, lamp in bench.lamps.items() if lamp.stay_pin is not None]
        others += [CUE] if bench.cue_line is not None else []
        self.lit = dict.fromkeys([*(f"lamp {name}" for name in bench.lamps), *others], False) | {SAFELIGHT: True}
        self.wanted = dict(self.lit)
        self.stuck: set[str] = set()
        self.dead: set[str] = set()
        self.welded: set[str] = set()
        self.edges: list[LineEdge] = []
        self.name_of = {f"lamp {light.lamp}": name for name, light in bench.lights.items()}
        self.name_of |= {line: line for line in (*others, SAFELIGHT)}

    def write(self, line: str, lit: bool, at: float) -> None:
        """Drive a line; one that is stuck cannot be put out."""
        self.wanted[line] = lit
        if not lit and line in self.stuck:
            return
        if self.lit[line] != lit:
            self.lit[line] = lit
            self.edges.append(LineEdge(at, self.name_of[line], lit))

    def light(self, line: str) -> bool:
        """Whether a lamp gives light: its line does not tell of a dead one, nor of a welded relay."""
        return line in self.welded or (self.lit[line] and line not in self.dead)

    def free(self, line: str, at: float) -> None:
        """A stuck line comes loose."""
        self.stuck.discard(line)
        self.write(line, self.wanted[line], at)


class SimulatedBench:
    """A bench, its keeper and the session that the daemon would feed, in virtual time from 0."""

    def __init__(self, session: Session) -> None:
        self.bench = bench = session.standing.bench
        self.session = session
        self.now = 0.0
        self.lines = SimulatedLines(bench)
        self.records: list[Record] = []
        self.entered: list[tuple[str, float]] = [(session.standing.state, 0.0)]
        self.said: list[tuple[str, float]] = []
        self.cues: list[tr.TrayCue] = []
        self.raw_down: set[str] = set()
        self.unplugged: dict[str, str] = {}
        self._setup = setup(bench)
        self._stopped = False
        self._handling = False
        self._inbox: deque[ev.Event | tr.Event | None] = deque()
        self._note: Noted | None = None
        self._alive = True
        self._renewed = 0.0
        self._due: list[tuple[float, int, Callable[[], None]]] = []
        self._count = 0
        self.keeper = Keeper(self._setup, 0.0)
        self._settle()

    # -- time ----------------------------------------------------------------------------------------------------

    def at(self, when: float, act: Callable[[], None]) -> None:
        """Do something at a time; things of one instant are done in the order in which they were asked for."""
        self._count += 1
        heapq.heappush(self._due, (when, self._count, act))

    @property
    def next_due(self) -> float | None:
        """When something happens next of itself; None when nothing is timed. The lease alone is not."""
        keeper = self.keeper.next_wake if self._alive and self.keeper.busy else None
        due = self._due[0][0] if self._due else None
        times = (keeper, self._wake_due(), self._wet_due(), due)
        return min((t for t in times if t is not None), default=None)

    def _wake_due(self) -> float | None:
        return None if self._stopped else self.session.wake_at

    def _wet_due(self) -> float | None:
        return None if self._stopped else self.session.trays_wake_at

    def advance(self, until: float) -> None:
        """Let time pass up to and including `until`."""
        while True:
            keeper = self.keeper.next_wake if self._alive else None
            wake, wet = self._wake_due(), self._wet_due()
            renew = self._renewed + RENEW_S if self._alive and not self._stopped and self.session.leased else None
            due = self._due[0][0] if self._due else None
            times = [t for t in (keeper, wake, wet, renew, due) if t is not None]
            when = min(times, default=until)
            if when > until or not times:
                self.now = max(self.now, until)
                return
            self.now = max(self.now, when)
            if renew is not None and renew <= self.now:
                self._renewed = self.now
                self._send(Renew())
            elif keeper is not None and keeper <= self.now:
                self.keeper.wake(self.now, self.now)
                self._settle()
            elif wake is not None and wake <= self.now:
                self._deliver(ev.Wake(self.now))
            elif wet is not None and wet <= self.now:
                self._deliver(tr.TrayWake(self.now))
            else:
                heapq.heappop(self._due)[2]()

    # -- what may be done to it ----------------------------------------------------------------------------------

    def event(self, event: ev.Event | tr.Event) -> None:
        """Something that no line tells of, such as a load, or a command at the trays."""
        self._deliver(event)

    def raw_edge(self, contact: str, down: bool) -> None:
        """A contact closes or opens under the foot."""
        (self.raw_down.add if down else self.raw_down.discard)(contact)
        if self._alive and contact not in self.unplugged:
            self.keeper.edge(contact, down, self.now, self.now)
            self._settle()

    def found_down(self, contact: str) -> None:
        """A contact is down from the very start."""
        self.raw_down.add(contact)
        self.keeper = self._new_keeper()
        self._settle()

    def _new_keeper(self) -> Keeper:
        down = sorted(self.raw_down - self.unplugged.keys())
        keeper = Keeper(self._setup, self.now, down, self.unplugged)
        for name in sorted(set(self._setup.senses.values())):
            keeper.edge(name, self._sees(name), self.now, self.now)
        return keeper

    def unplug(self, contact: str) -> None:
        """A pedal's plug is pulled, whatever the foot does."""
        self.unplugged[contact] = "is unplugged"
        if self._alive:
            self.keeper.unplugged(contact, self.unplugged[contact], self.now)
            self._settle()

    def plug_in(self, contact: str) -> None:
        """And put in again."""
        del self.unplugged[contact]
        if self._alive:
            self.keeper.plugged_in(contact, contact in self.raw_down, self.now)
            self._settle()

    def line_free(self, line: str) -> None:
        """A stuck line comes loose."""
        self.lines.free(line, self.now)

    def lamp_fails(self, line: str, how: str) -> None:
        """From now on a lamp gives no light (`lamp dead`), or does so whatever its line says (`relay welded`)."""
        (self.lines.dead if how == "lamp dead" else self.lines.welded).add(line)
        self._look()

    def lamp_mended(self, line: str) -> None:
        """It is as it should be again."""
        self.lines.dead.discard(line)
        self.lines.welded.discard(line)
        self._look()

    def _look(self) -> None:
        """What the sense inputs see now."""
        senses = self._setup.senses
        if self._alive and senses:
            for name in sorted(set(senses.values())):
                self.keeper.edge(name, self._sees(name), self.now, self.now)
            self._settle()

    def _sees(self, sense: str) -> bool:
        return any(self.lines.light(line) for line, name in self._setup.senses.items() if name == sense)

    def kill_keeper(self) -> None:
        """SIGKILL: the lines stay as they are until the daemon's last off."""
        self._alive = False
        self._deliver(None)

    def cut_pipe(self) -> None:
        """The keeper sees the pipe close and darkens everything by itself; nobody hears it say so."""
        self.keeper.closed(self.now)
        self._do_lines()
        self._alive = False
        self._deliver(None)

    def stop_daemon(self) -> None:
        """SIGSTOP: the engine hears and says nothing."""
        self._stopped = True

    def resume_daemon(self) -> None:
        """SIGCONT: what was waiting is heard now."""
        self._stopped = False
        self._hear()

    # -- between engine and keeper -------------------------------------------------------------------------------

    def _send(self, message: Message) -> None:
        if not self._alive:
            return
        if isinstance(message, Expose):
            self.lines.name_of[self._setup.lights[message.light]] = message.light
        self.keeper.receive(TO_KEEPER.encode(message), self.now)
        self._settle()

    def _settle(self) -> None:
        """Do what the keeper wants done to the lines, let it read them, and pass its reports on."""
        for report in self._do_lines():
            self._deliver(report)

    def _do_lines(self) -> list[Report]:
        reports: list[Report] = []
        settle(self.keeper, self._write, lambda: self.lines.lit, lambda: self.now, reports.append)
        for report in reports:
            if isinstance(report, Lit):
                self._note = Noted("", "", report.burst, report.at, report.at, None, None)
            elif isinstance(report, Dark) and self._note is not None and self._note.burst == report.burst:
                self._note = self._note._replace(dark=report.at, why=report.why)
            elif isinstance(report, Dark):
                self._note = Noted("", "", report.burst, report.at, None, report.at, report.why)
        return reports

    def _write(self, line: str, lit: bool) -> None:
        self.lines.write(line, lit, self.now)
        if (name := self._setup.senses.get(line)) is not None:
            self.keeper.edge(name, self._sees(name), self.now, self.now)

    def _deliver(self, event: ev.Event | tr.Event | None) -> None:
        """Let the session have an event when it is its turn: one at a time, in the order in which they came. None: that
        the keeper is dead."""
        self._inbox.append(event)
        self._hear()

    def _hear(self) -> None:
        if self._handling or self._stopped:
            return
        self._handling = True
        try:
            while self._inbox:
                first = self._inbox.popleft()
                if first is None:
                    self._last_off()
                else:
                    self._handle(first)
        finally:
            self._handling = False

    def _handle(self, event: ev.Event | tr.Event) -> None:
        for outcome in self.session.handle(event, self.now):
            match outcome:
                case Record():
                    self.records.append(outcome)
                case tr.TrayCue():
                    self.cues.append(outcome)
                case ev.Entered(state, at):
                    self.entered.append((state, at))
                case ev.Say(what, at):
                    self.said.append((what, at))
                case _:
                    self._send(outcome)

    def _last_off(self) -> None:
        """On the keeper's death: every line low, safelight on; its note tells of its last burst. Then a new keeper."""
        for line in self.lines.lit:
            self.lines.write(line, line == SAFELIGHT, self.now)
        high = any(lit for line, lit in self.lines.lit.items() if line not in (SAFELIGHT, CUE))
        self._inbox.extend(instead_of_the_keeper(self.session.standing, self._note, self.now, high))
        self.keeper = self._new_keeper()
        self._alive = True
        self._settle()
