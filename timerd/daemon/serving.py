"""The daemon's loop: events to the engine, its wishes to the keeper, its records to the book, its standing to clients.

Whatever stops it, every exposing line goes dark and the safelight on: the keeper sees to that when its pipe closes.
"""

from __future__ import annotations

import contextlib
import logging
import math
import selectors
import socket
import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from timerd import __version__
from timerd.bench.gone import instead_of_the_keeper
from timerd.bench.setup import to_keep
from timerd.book.store import Book, boot_id
from timerd.book.store import wall_now as _wall
from timerd.control import Client, Long
from timerd.daemon.asking import Asking
from timerd.daemon.clients import Clients, answering
from timerd.daemon.copies import Copies
from timerd.daemon.ink import Ink
from timerd.daemon.keeping import Keeping, NoKeeper, first_keeper, last_off_elsewhere
from timerd.daemon.past import found, see_dark
from timerd.daemon.recovery import note_of
from timerd.daemon.remarks import Remarks
from timerd.daemon.service import RunFolder
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.rows import DONE, FAULT, IDLE
from timerd.sheet.facts import DaemonStarted, DaemonStopped, FaultCame, SheetArmed
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile
from timerd.sheet.reason import DiskSlow, LinesLost, NoInk
from timerd.sheet.record import Record
from timerd.sheet.refusal import NoFault
from timerd.sheet.session import Outcome, Session
from timerd.sheet.status import Status, status_json
from timerd.sheet.telling import reason_words, refusal_words
from timerd.sheet.trays import events as tr
from timerd.systemd import Manager
from timerd.wire import control as wire
from timerd.wire.control import Answer, No, SaidNo
from timerd.wire.keeper import Here, Message, Renew, stay_on

RENEW_S = 0.1
HUNG_S = 0.5
"""A keeper that is told to go on all the while and says nothing for so long hangs: its light is put out without it."""
KEEPER_AGAIN_S = 0.5
DARK_WITHIN_S = 1.0
INK_WITHIN_S = 5.0
SLOW_INK_S = 0.5

_AT_ONCE = (ev.Dark, ev.Fault, ev.BenchFails, ev.Lit)
"""Events that lead to no light, whatever the ink waits for."""

_log = logging.getLogger(__name__)


class Daemon:
    """One bench, served until stopped. Raises OSError, in words, where it cannot be."""

    def __init__(self, bench: Profile[Bench], home: Path, run: Path, simulated: bool) -> None:
        self._bench, self._simulated = bench, simulated
        with contextlib.ExitStack() as undo:
            kind = "simulated bench" if simulated else "bench"
            self._folder = RunFolder(run, f"timerd, {kind} '{bench.value.bench}',")
            undo.callback(self._folder.close)
            book = Book(home, _wall(), time.monotonic_ns())
            undo.callback(book.close)
            self._run, self._book = run, book
            see_dark(run)
            now = time.monotonic()
            progress, plans, first, trays, batch = found(home, run, book.id, now)
            self._to_keep = to_keep(bench.value, simulated, book.id, boot_id())
            self._keeping: Keeping | None = first_keeper(self._to_keep, run)
            undo.callback(self._keeping.end)
            how = (bench.value.bench, simulated, self._keeping.scheduling, self._keeping.factory)
            first.append(Record(DaemonStarted(__version__, _wall(), time.time(), *how), now))
            for record in first:
                progress.apply(record)
            out = set(progress.sheets_in_hand)
            since = [*trays.out, *(record for record in first if record.sheet in (0, *out))] if out else ()
            self._session = Session(
                bench.value, progress, plans, batch, at_trays=trays.at_trays, stock=trays.stock, out=since, now=now
            )
            self._standing = self._session.standing
            self._selector = selectors.DefaultSelector()
            self._clients = Clients(run, self._selector, self._do, lambda: self._asking.no_load())
            book.append(first, {})
            self._ink = Ink(book)
            self._copies = Copies(home, bench.value.backup_to, now)
            self._remarks = Remarks(self._ink, self._clients, book.id)
            undo.pop_all()
        self.scheduling = self._keeping.scheduling
        self._inbox: deque[ev.Event] = deque()
        self._asking = Asking(self._standing, self._ink, self._clients, self._inbox.append, self.status)
        self._outbox: list[ev.AskKeeper] = []
        self._asked_at: float | None = None
        self._renewed = self._heard_at = 0.0
        self._unanswered_since: float | None = None
        self._lost: Keeping | None = None
        self._dark_pending = False
        self._dark_asked_at = -math.inf
        self._keeper_again_at: float | None = None
        self._to_keep_slow = False
        self._waiting_for_dark: list[Client] = []
        self._manager = Manager()
        self._stopping = False
        self._changed = False
        self._bell, self._ring = socket.socketpair()
        self._bell.setblocking(False)
        self._ring.setblocking(False)
        self._listen(self._bell, lambda: self._bell.recv(64))
        self._listen(self._keeping, self._hear_keeper)
        self._listen(self._ink, self._hear_ink)
        self._listen(self._asking, self._asking.heard)

    def _listen(self, to: Any, call: Callable[[], object]) -> None:
        self._selector.register(to, selectors.EVENT_READ, call)

    # -- the loop ------------------------------------------------------------------------------------------------

    def run(self) -> None:
        """Serve until `stop`."""
        self._manager.tell("READY=1")
        _log.info("'%s' is served, the keeper %s", self._bench.value.bench, self.scheduling)
        while not self._stopping:
            self._turn()
        self._manager.tell("STOPPING=1")
        self._darken()
        _log.info("stopped")

    def stop(self, *_: object) -> None:
        """Stop soon; may be called from a signal's handler."""
        self._stopping = True
        with contextlib.suppress(OSError):
            self._ring.send(b"s")

    def _turn(self) -> None:
        now = time.monotonic()
        times = [
            self._session.wake_at if not self._ink.waits else None, self._ink.wake_at, self._renew_at,
            self._hangs_at, self._keeper_again_at, self._manager.wake_at, self._clients.wake_at(now),
            self._session.trays_wake_at, self._copies.wake_at,
            now + SLOW_INK_S if self._ink.waits else now if self._inbox else None,
        ]  # fmt: skip
        due = min((t for t in times if t is not None), default=None)
        for key, _ in self._selector.select(None if due is None else max(0.0, due - now)):
            key.data()
        now = time.monotonic()
        if (hangs_at := self._hangs_at) is not None and now >= hangs_at:
            self._keeper_gone()
        if self._keeper_again_at is not None and now >= self._keeper_again_at:
            self._keeper_gone()
        self._process()
        if not self._inbox and (so_far := self._ink.so_far(now)) is not None:
            self._standing.progress.apply(so_far)
        if (wake_at := self._session.wake_at) is not None and now >= wake_at and not self._ink.waits:
            self._inbox.append(ev.Wake(now))
            self._process()
        if (trays_wake_at := self._session.trays_wake_at) is not None and now >= trays_wake_at:
            self._do_at_trays(tr.TrayWake(now))
        if (renew_at := self._renew_at) is not None and time.monotonic() >= renew_at:
            self._renew()
        self._changed = self._copies.turn(now, self._standing, self._ink) or self._changed
        self._clients.attend(now)
        self._manager.alive()
        if self._ink.waited_s(now) > SLOW_INK_S and not self._to_keep_slow:
            self._to_keep_slow = self._changed = True
            _log.warning("the disk is slow: what was given waits to be written")
        elif not self._ink.waits and self._to_keep_slow:
            self._to_keep_slow, self._changed = False, True
            _log.info("the disk has caught up")
        if self._changed:
            self._changed = False
            self._clients.tell_followers(self.status)

    @property
    def _hangs_at(self) -> float | None:
        """When a keeper that has not answered is taken to hang."""
        unanswered = self._unanswered_since
        return unanswered + HUNG_S if unanswered is not None and self._keeping is not None else None

    @property
    def _renew_at(self) -> float | None:
        return self._renewed + RENEW_S if self._session.leased and self._keeping is not None else None

    def _renew(self) -> None:
        """Tell the keeper that we live and, of a sheet's light, how far it may burn on the ink there is."""
        now = time.monotonic()
        if self._unanswered_since is None:  # it may have died as soon as it had last been heard
            self._unanswered_since = max(self._heard_at, now - RENEW_S)
        self._renewed = now
        until = None
        standing = self._standing
        dosed = standing.burst is not None and standing.sheet is not None and standing.shown is None
        if dosed and self._asked_at is not None:
            until = self._ink.burns_until(standing.lit_at or self._asked_at)
        self._send(Renew(until))

    def _process(self) -> None:
        """Give the engine what has come, as far as the ink allows: what could lead to a light waits for its intent."""
        while self._inbox and (not self._ink.waits or isinstance(self._inbox[0], _AT_ONCE)):
            event = self._inbox.popleft()
            if self._ink.failed is not None and isinstance(event, (ev.Rest, ev.Load, ev.Clear)):
                self._asking.dropped(event)
                continue  # no ink, no light: nothing is cleared until timerd is started anew
            self._handle(event)
        self._post()

    def _handle(self, event: ev.Event) -> None:
        now = time.monotonic()
        if isinstance(event, ev.Dark) and event.why == "lease" and self._ran_out_of_ink(event.at):
            event = replace(event, why="disk")
        outcomes = self._session.handle(event, now)
        self._asking.done(event, outcomes)
        self._do_what_comes_of(outcomes, event.at, now)

    def _do_at_trays(self, event: tr.Event) -> None:
        """A command at the trays, or that something is due there. Raises LookupError, in words."""
        now = time.monotonic()
        self._do_what_comes_of(self._session.handle(event, now), now, now)

    def _do_what_comes_of(self, outcomes: list[Outcome], at: float, now: float) -> None:
        records = []
        for action in outcomes:
            if isinstance(action, Record):
                if isinstance(armed := action.fact, SheetArmed):
                    action = action._replace(fact=replace(armed, wall=_wall(), scheduling=self.scheduling))
                records.append(action)
            elif isinstance(action, ev.Expose):
                self._asked_at = action.at
                self._outbox.append(action)
                if self._dark_pending or at <= self._dark_asked_at or self._ink.failed is not None:
                    self._call_off()
            elif isinstance(action, (ev.StayOn, ev.Cut, ev.ClearLines)):
                self._outbox.append(action)
            elif isinstance(action, ev.Entered) and action.state in (IDLE, DONE):
                self._ink.tidy()
        self._write(records, now)
        self._post()
        self._changed = True

    def _write(self, records: list[Record], now: float) -> None:
        for fault in (record.fact for record in records if isinstance(record.fact, FaultCame)):
            _log.error("fault: %s", reason_words(fault.why, {}))
        if records and self._ink.failed is None:
            plans = self._standing.plans
            self._ink.write(records, {r.sheet: plans[r.sheet] for r in records if isinstance(r.fact, SheetArmed)}, now)
            self._changed = True

    def _call_off(self) -> None:
        """No light that the keeper has not been asked for yet comes on any more: the engine is told that it is dark."""
        for message in [message for message in self._outbox if isinstance(message, ev.Expose)]:
            self._outbox.remove(message)
            self._inbox.append(ev.Dark(message.burst, time.monotonic(), "asked"))

    def _all_dark(self) -> None:
        """Everything dark by command: what burns, what waits for its intent, and what would be lit by anything that
        happened before, or before the keeper has answered."""
        self._dark_asked_at, self._dark_pending = time.monotonic(), True
        self._call_off()
        self._send(stay_on())  # who wants it dark wants no lamp on behind a shutter either
        self._send(ev.Cut())

    def _post(self) -> None:
        """Pass on to the keeper what the engine wants: a light's intent is on disk before the light is asked for."""
        if not self._ink.waits:
            for message in self._outbox:
                self._send(message)
            self._outbox.clear()

    def _ran_out_of_ink(self, dark: float) -> bool:
        lit = self._standing.lit_at
        return lit is not None and dark >= self._ink.burns_until(lit) - 0.001

    # -- the keeper ----------------------------------------------------------------------------------------------

    def _send(self, message: Message) -> None:
        if self._keeping is not None:
            self._keeping.send(message)

    def _hear_keeper(self) -> None:
        if self._keeping is None:
            return
        reports, alive = self._keeping.reports()
        if reports:
            self._unanswered_since = None
            self._heard_at = time.monotonic()
        for event in reports:
            if isinstance(event, Here):
                continue
            self._inbox.append(event)
            if isinstance(event, ev.Rest) or (isinstance(event, ev.Dark) and event.why == "asked"):
                self._dark_pending = False
                self._answer_dark(event)
        if not alive:
            self._keeper_gone()

    def _keeper_gone(self) -> None:
        """The keeper is dead, or hangs: every line low first; its note tells of its last burst; then a new keeper."""
        if self._keeping is not None:
            _log.error("the keeper is lost, dead or hanging")
            self._selector.unregister(self._keeping)
            self._lost, self._keeping = self._keeping, None
        self._unanswered_since = self._keeper_again_at = None
        for client in self._waiting_for_dark:
            self._clients.send(client, SaidNo("the keeper is dead", No.KEEPER_GONE))
        self._waiting_for_dark.clear()
        self._dark_pending = False
        try:
            dark, high = self._lost.off() if self._lost is not None else last_off_elsewhere(self._run)
            if self._lost is not None:
                self._lost = None
                noted = note_of(self._run, self._book.id)
                self._inbox.extend(instead_of_the_keeper(self._standing, noted, dark, bool(high)))
            self._keeping = Keeping(self._to_keep, self._run)
        except NoKeeper as error:
            fault = LinesLost(str(error))
            if self._standing.state != FAULT or self._standing.reason != fault:
                self._inbox.append(ev.BenchFails(fault, time.monotonic()))
            self._keeper_again_at = time.monotonic() + KEEPER_AGAIN_S
            return
        self.scheduling = self._keeping.scheduling
        self._listen(self._keeping, self._hear_keeper)
        _log.warning("a new keeper is there, %s", self.scheduling)

    # -- the book ------------------------------------------------------------------------------------------------

    def _hear_ink(self) -> None:
        failed = self._ink.failed
        self._ink.heard()
        self._remarks.heard()
        if self._ink.failed is not None and failed is None:
            self._send(ev.Cut())
            self._inbox.appendleft(ev.BenchFails(NoInk(self._ink.failed), time.monotonic()))
            self._call_off()

    # -- those at the socket -------------------------------------------------------------------------------------

    def _do(self, client: Client, request: wire.Request | Long) -> Answer | None:
        """Do what is asked; the answer, or None where it comes later. Nothing here lights anything, and nothing is
        given to the engine: that is done in the loop."""
        match request:
            case wire.Follow():
                client.follows = True
            case wire.AskPlan():
                plan = self._session.plan
                return wire.PlanTold(self._session.plan_id, plan.model_dump(mode="json") if plan is not None else None)
            case wire.AskBench():
                return wire.BenchTold(self._bench.value.model_dump(mode="json"))
            case wire.LoadPrint() | wire.LoadAgain() | Long():
                return self._asking.load(client, request, self._bench, self._book.path.parent)
            case wire.Order():
                return self._asking.order(client, request)
            case wire.ClearFault():
                return self._clear(client)
            case wire.AddNote() | wire.AddRating():
                return self._remarks.take(client, request, self._standing, _wall())
            case wire.MakeDark():
                if self._keeping is None:
                    return SaidNo("the keeper is dead", No.KEEPER_GONE)
                self._all_dark()
                self._waiting_for_dark.append(client)
                return None
            case wire.AskStatus():
                pass
            case _:
                return self._asking.bath(client, request, self._do_at_trays)
        return self.status()

    def _clear(self, client: Client) -> Answer | None:
        if self._ink.failed is not None:
            return SaidNo(f"{self._ink.failed}. Then start timerd anew", No.NO_INK)
        if self._keeping is None:
            return SaidNo(reason_words(self._standing.reason or "the keeper is dead", {}), No.KEEPER_GONE)
        if self._standing.state != FAULT:
            return SaidNo(refusal_words(NoFault()), No.NO_FAULT)
        self._waiting_for_dark.append(client)
        self._inbox.append(ev.Clear(time.monotonic()))
        return None

    def _answer_dark(self, event: ev.Dark | ev.Rest) -> None:
        """Those who asked for dark are told once the keeper has read the lines."""
        low = not isinstance(event, ev.Rest) or event.low
        self._process()
        for client in self._waiting_for_dark:
            why = "a line does not go low: light may still be on: cover the paper, switch the lamp off at the wall"
            self._clients.send(client, self.status() if low else SaidNo(why, No.LINE_HIGH))
        self._waiting_for_dark.clear()

    def status(self) -> Answer:
        """How the bench stands, as it is told."""
        return answering(lambda: wire.StatusTold(status_json(self.stands())))

    def stands(self) -> Status:
        """How the bench stands, with what is the daemon's own to say."""
        now, failed = time.monotonic(), self._ink.failed
        slow = DiskSlow() if self._ink.waited_s(now) > SLOW_INK_S else None
        return self._session.status(
            now, simulated=self._simulated, scheduling=self.scheduling, ink=slow if failed is None else NoInk(failed),
            copies=self._copies.status(),
        )  # fmt: skip

    # -- the end -------------------------------------------------------------------------------------------------

    def _darken(self) -> None:
        """In good order: the light out, its dose written down, and that nothing is left unwritten."""
        until = time.monotonic() + DARK_WITHIN_S
        self._all_dark()
        self._dark_asked_at = math.inf
        standing = self._standing
        while standing.burst is not None and self._keeping is not None and time.monotonic() < until:
            for key, _ in self._selector.select(max(0.0, until - time.monotonic())):
                if key.fileobj in (self._keeping, self._ink):
                    key.data()
            self._process()
        if standing.burst is None and self._ink.failed is None:
            self._ink.write([Record(DaemonStopped(), time.monotonic())], {}, time.monotonic())

    def close(self) -> None:
        """Everything dark, the book closed, the folder free."""
        if self._keeping is not None and not self._keeping.end():
            with contextlib.suppress(NoKeeper):
                self._keeping.off()
        self._copies.close()
        self._clients.close()
        self._folder.close()
        self._selector.close()
        self._bell.close()
        self._ring.close()
        if not self._ink.close(INK_WITHIN_S):
            raise OSError(f"the disk did not take the last records in {INK_WITHIN_S:g} s: what they say is lost")
