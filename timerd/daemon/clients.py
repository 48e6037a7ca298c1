"""Those at the socket: taken in, heard in turn, told, and dropped when they take too much."""

from __future__ import annotations

import logging
import selectors
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from timerd.control import MOST_AT_ONCE, MOST_CLIENTS, NOT_UNDERSTOOD, Client, Long, Server
from timerd.wire.control import Answer, Follow, No, Request, SaidNo, answer_line

MOST_FOLLOWERS = MOST_CLIENTS - 2
"""So many may follow: two places are left for those who ask."""
TURN_S = 0.03
"""Those at the socket are heard for so long in one turn of the loop; who is left has the next one. The keeper's lease
is renewed every 0.1 s, and runs out after 0.5."""
Do = Callable[[Client, Request | Long], Answer | None]
"""Does what a client asks; gives the answer, or None where that comes later."""

_log = logging.getLogger(__name__)


T = TypeVar("T")


def answering(make: Callable[[], T]) -> T | SaidNo:
    """What `make` gives; whatever it raises is an answer too: nobody who asks something may end the daemon."""
    try:
        return make()
    except Exception as error:  # noqa: BLE001 (a bench must not go dark for a question)
        return SaidNo(fault_words(error))


def fault_words(error: Exception) -> str:
    """A fault of timerd's own, for whoever asked for what it came of."""
    at = error.__traceback__
    while at is not None and at.tb_next is not None:
        at = at.tb_next
    where = f" in {Path(at.tb_frame.f_code.co_filename).name}, line {at.tb_lineno}" if at is not None else ""
    return f"timerd itself failed at this ({type(error).__name__}{where}): nothing was done; please report it"


class Clients:
    """All clients of one socket, in the daemon's selector.

    `no_load` is the refusal where nothing may be loaded now, or None: a long load is then not even read. `clock` is the
    monotonic one.
    """

    def __init__(
        self, run: Path, selector: selectors.BaseSelector, do: Do, no_load: Callable[[], Answer | None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:  # fmt: skip
        self._selector, self._do, self._no_load, self._clock = selector, do, no_load, clock
        self._server = Server(run)
        self._spent = 0.0
        selector.register(self._server.socket, selectors.EVENT_READ, self._accept)

    def wake_at(self, now: float) -> float | None:
        """When they must be attended to at the latest."""
        clients = self._server.clients
        if any(client.has_more for client in clients):
            return now
        return now + 1.0 if clients else None

    def _accept(self) -> None:
        now = self._clock()
        if len(self._server.clients) >= MOST_CLIENTS:  # the most silent one gives way: somebody may want it dark
            silent = max(self._server.clients, key=lambda client: client.silent_s(now))
            if silent.silent_s(now) > 0:
                self._drop(silent)
        client = self._server.accept(now)
        if client is not None:
            self._selector.register(client, selectors.EVENT_READ, lambda: self._hear(client))
            _log.debug("a client has come, %d in all", len(self._server.clients))
            self._hear(client)  # what it wants is there already, mostly: before anybody pushes it out again

    def _hear(self, client: Client) -> None:
        if self._spent >= TURN_S:
            return
        if client.receive(self._clock()):
            self._take(client)
        else:
            self._drop(client)

    def _take(self, client: Client) -> None:
        """A client's turn: what it has asked, as far as there is time."""
        for _ in range(MOST_AT_ONCE):
            begun = self._clock()
            requests = client.more(begun, 1)
            if requests is None:
                self._drop(client)
                return
            if not requests:
                break
            (request,) = requests
            answer = NOT_UNDERSTOOD if request is None else self._answer(client, request)
            client.waits = client.waits or answer is None
            if (answer is not None and not client.send(answer)) or request is None:
                self._drop(client)
                return
            self._spent += self._clock() - begun
            if self._spent >= TURN_S:
                return
        if client.long_begun and (no := self._no_load()) is not None:
            client.send(no)
            self._drop(client)

    def _answer(self, client: Client, request: Request | Long | SaidNo) -> Answer | None:
        if isinstance(request, SaidNo):
            return request
        if isinstance(request, Long):
            no = self._no_load()
            return answering(lambda: self._do(client, request)) if no is None else no
        follows = sum(other.follows for other in self._server.clients)
        if isinstance(request, Follow) and not client.follows and follows >= MOST_FOLLOWERS:
            return SaidNo(f"{MOST_FOLLOWERS} follow already: close one", No.TOO_MANY)
        return answering(lambda: self._do(client, request))

    def attend(self, now: float) -> None:
        """What they need beside being heard: their turn, what they have not read yet, and an end."""
        clients = self._server.clients
        for client in list(clients):
            if client.has_more and self._spent < TURN_S:
                clients.append(clients.pop(clients.index(client)))  # who had a turn is the last to have the next
                self._take(client)
            if client in clients and (client.overdue(now) or not client.flush()):
                self._drop(client)
        self._spent = 0.0

    def send(self, client: Client, answer: Answer) -> None:
        """A late answer, to a client that may have gone meanwhile."""
        client.waits = False
        if client in self._server.clients and not client.send(answer):
            self._drop(client)

    def tell_followers(self, status: Callable[[], Answer]) -> None:
        """Tell those who follow how the bench stands."""
        followers = [client for client in self._server.clients if client.follows]
        if followers:
            told = answer_line(status())
            for client in followers:
                if not client.tell(told):
                    self._drop(client)

    def _drop(self, client: Client) -> None:
        if client in self._server.clients:  # it may have been dropped in the same turn already
            self._selector.unregister(client)
            self._server.drop(client)
            _log.debug("a client has gone, %d left", len(self._server.clients))

    def close(self) -> None:
        """Hang up on everybody."""
        self._server.close()
