"""Those at the socket: taken in, heard in turn, told, and dropped when they take too much."""

from __future__ import annotations

import selectors
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from timerd.control import MOST_CLIENTS, NOT_UNDERSTOOD, Client, Server

GIVES_WAY_S = 0.5
Answer = dict[str, Any]
Do = Callable[[Client, dict[str, Any]], Answer | None]
"""Does what a client asks; gives the answer, or None where that comes later."""


class Clients:
    """All clients of one socket, in the daemon's selector."""

    def __init__(self, run: Path, selector: selectors.BaseSelector, do: Do) -> None:
        self._selector, self._do = selector, do
        self._server = Server(run)
        selector.register(self._server.socket, selectors.EVENT_READ, self._accept)

    def wake_at(self, now: float) -> float | None:
        """When they must be attended to at the latest."""
        clients = self._server.clients
        if any(client.has_more for client in clients):
            return now
        return now + 1.0 if clients else None

    def _accept(self) -> None:
        now = time.monotonic()
        if len(self._server.clients) >= MOST_CLIENTS:  # one that says nothing gives way: somebody may want it dark
            silent = max(self._server.clients, key=lambda client: client.silent_s(now))
            if silent.silent_s(now) > GIVES_WAY_S:
                self._drop(silent)
        client = self._server.accept(now)
        if client is not None:
            self._selector.register(client, selectors.EVENT_READ, lambda: self._hear(client))

    def _hear(self, client: Client) -> None:
        self._take(client, client.read(time.monotonic()))

    def _take(self, client: Client, requests: list[dict[str, Any] | None] | None) -> None:
        if requests is None:
            self._drop(client)
            return
        for request in requests:
            answer = NOT_UNDERSTOOD if request is None else self._do(client, request)
            if (answer is not None and not client.send(answer)) or request is None:
                self._drop(client)
                return

    def attend(self, now: float) -> None:
        """What they need beside being heard: their turn, what they have not read yet, and an end."""
        for client in list(self._server.clients):
            if client.has_more:
                self._take(client, client.more(now))
            if client in self._server.clients and (client.overdue(now) or not client.flush()):
                self._drop(client)

    def send(self, client: Client, answer: Answer) -> None:
        """A late answer, to a client that may have gone meanwhile."""
        if client in self._server.clients and not client.send(answer):
            self._drop(client)

    def tell_followers(self, status: Callable[[], Answer]) -> None:
        """Tell those who follow how the bench stands."""
        followers = [client for client in self._server.clients if client.follows]
        if followers:
            told = status()
            for client in followers:
                self.send(client, told)

    def _drop(self, client: Client) -> None:
        if client in self._server.clients:  # it may have been dropped in the same turn already
            self._selector.unregister(client)
            self._server.drop(client)

    def close(self) -> None:
        """Hang up on everybody."""
        self._server.close()
