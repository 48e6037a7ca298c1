"""What clients ask that is not done at once: prints to load, orders, baths filled anew.

What is long to read is read beside the loop; the engine has it in its turn, and the answer comes when it was done.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from timerd.control import NOT_UNDERSTOOD, Client, Long
from timerd.daemon.clients import Clients, answering, fault_words
from timerd.daemon.ink import Ink
from timerd.daemon.loading import to_load
from timerd.daemon.reading import TOO_MANY, ReadBeside
from timerd.daemon.trays import event_of
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.rows import ABANDONED, DONE, IDLE
from timerd.sheet.engine.standing import Standing
from timerd.sheet.facts import PressRefused
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.reading import Profile
from timerd.sheet.reason import NoInk
from timerd.sheet.record import Record
from timerd.sheet.session import Outcome
from timerd.sheet.telling import reason_words, refusal_words
from timerd.sheet.trays import events as tr
from timerd.wire.control import Answer, FillBath, LoadAgain, LoadPrint, No, OfBaths, Order, SaidNo, request_of


class Asking:
    """What one daemon's clients ask. `tell` gives the engine an event in its turn, `status` how the bench stands."""

    def __init__(
        self, standing: Standing, ink: Ink, clients: Clients, tell: Callable[[ev.Event], None],
        status: Callable[[], Answer],
    ) -> None:  # fmt: skip
        self._standing, self._ink, self._clients, self._tell, self._status = standing, ink, clients, tell, status
        self._reading = ReadBeside()
        self._asked: deque[tuple[ev.Event, Client]] = deque()

    def fileno(self) -> int:
        """Readable when something has been read."""
        return self._reading.fileno()

    def heard(self) -> None:
        """Go on with what has been read."""
        self._reading.heard()

    def no_load(self) -> SaidNo | None:
        """The refusal where nothing may be loaded now; None where it may."""
        if self._ink.failed is not None:
            return self._no_ink()
        if self._standing.burst is not None:
            return SaidNo("a light is on: nothing is loaded", No.LIGHT_ON)
        if self._standing.state not in (IDLE, DONE, ABANDONED):
            return SaidNo(f"a sheet is under way ({self._standing.state}): nothing is loaded", No.UNDER_WAY)
        return None

    def _no_ink(self) -> SaidNo:
        return SaidNo(reason_words(NoInk(self._ink.failed or ""), {}), No.NO_INK)

    def load(
        self, client: Client, request: LoadPrint | LoadAgain | Long, bench: Profile[Bench], home: Path
    ) -> Answer | None:
        """Put a print on the bench, or a sheet of the book in `home` once more."""
        if (no := self.no_load()) is not None:
            return no

        def loaded(found: tuple[Plan, int] | Exception) -> None:
            no = self.no_load()
            if isinstance(found, Exception) or no is not None:
                self._clients.send(client, no if no is not None else _no(found))
                return
            self._in_its_turn(ev.Load(*found, time.monotonic()), client)

        taken = self._reading.take(lambda: to_load(_whole(request), bench, home), loaded, self.no_load)
        return None if taken else SaidNo(TOO_MANY, No.BUSY)

    def order(self, client: Client, order: Order) -> Answer | None:
        """An order goes to the engine."""
        if self._ink.failed is not None:
            return self._no_ink()
        self._in_its_turn(ev.Told(order.what, time.monotonic(), order.n), client)
        return None

    def bath(self, client: Client, request: OfBaths, do: Callable[[tr.Event], None]) -> Answer | None:
        """Something about the baths, for `do`: no light comes of it, so that it may be told at any time."""

        def understood(event: tr.Event | Exception) -> Answer:
            if not isinstance(event, Exception):
                try:
                    do(event)
                    return self._status()
                except (ValueError, LookupError) as error:
                    event = error
            return _no(event)

        now = time.monotonic()
        if not isinstance(request, FillBath):
            return understood(event_of(request, now))

        def read(event: tr.Event | Exception) -> None:
            self._clients.send(client, answering(lambda: understood(event)))

        taken = self._reading.take(lambda: event_of(request, now), read, lambda: None)
        return None if taken else SaidNo(TOO_MANY, No.BUSY)

    def _in_its_turn(self, event: ev.Event, client: Client) -> None:
        self._asked.append((event, client))
        self._tell(event)

    def done(self, event: ev.Event, outcomes: Iterable[Outcome]) -> None:
        """The engine had its turn with an event: whoever asked for it hears what came of it."""
        no = [a.fact.why for a in outcomes if isinstance(a, Record) and isinstance(a.fact, PressRefused)]
        self._answer(event, SaidNo(refusal_words(no[0]), No.NOT_NOW) if no else None)

    def dropped(self, event: ev.Event) -> None:
        """The engine never had it: there is no ink."""
        self._answer(event, self._no_ink())

    def _answer(self, event: ev.Event, no: Answer | None) -> None:
        for asked, client in [one for one in self._asked if one[0] is event]:
            self._asked.remove((asked, client))
            self._clients.send(client, no or self._status())


def _whole(request: LoadPrint | LoadAgain | Long) -> LoadPrint | LoadAgain:
    found = request_of(request.line) if isinstance(request, Long) else request
    if not isinstance(found, LoadPrint | LoadAgain):
        raise ValueError((found if isinstance(found, SaidNo) else NOT_UNDERSTOOD).why)
    return found


def _no(error: Any) -> SaidNo:
    known = isinstance(error, (ValueError, LookupError, OSError)) and bool(error.args)
    if not known:
        return SaidNo(fault_words(error))
    return SaidNo(str(error.args[0] if isinstance(error, LookupError) else error), No.WRONG)
