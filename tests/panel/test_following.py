"""The daemon followed over a connection: plan and bench with the status, and back again by itself when it was gone."""

from __future__ import annotations

import json
import socket
from typing import Any

from panel.screens import all_scenes, plans

from timerd.panel.following import RETRY_S, Following
from timerd.sheet.status import status_json
from timerd.wire.control import Answer, Request, answer_of, request_line


class End:
    """A panel's end of a pair of sockets; the test holds the other."""

    def __init__(self, own: socket.socket) -> None:
        self._own = own

    def fileno(self) -> int:
        return self._own.fileno()

    def send(self, request: Request) -> None:
        self._own.sendall(request_line(request))

    def receive(self) -> list[Answer]:
        try:
            chunk = self._own.recv(1 << 20)
        except ConnectionError:
            chunk = b""
        if not chunk:
            raise ConnectionError("the daemon has hung up")
        return [answer_of(line) for line in chunk.splitlines()]

    def close(self) -> None:
        self._own.close()


class Daemon:
    """The other end: what it was asked, and what it tells."""

    def __init__(self) -> None:
        self.there = True
        self.connected = 0
        self.end: socket.socket | None = None

    def connect(self) -> End:
        if not self.there:
            raise ConnectionRefusedError("no timerd is serving here")
        own, self.end = socket.socketpair()
        self.end.setblocking(False)
        self.connected += 1
        return End(own)

    def asked(self) -> list[str]:
        assert self.end is not None
        try:
            return [json.loads(line)["do"] for line in self.end.recv(1 << 16).splitlines()]
        except BlockingIOError:
            return []

    def tell(self, **message: Any) -> None:
        assert self.end is not None
        self.end.setblocking(True)
        self.end.sendall(json.dumps({"ok": True, **message}).encode() + b"\n")
        self.end.setblocking(False)

    def go(self) -> None:
        assert self.end is not None
        self.there = False
        self.end.close()


def test_it_asks_for_all_it_needs_and_for_a_plan_once_for_each() -> None:
    daemon = Daemon()
    following = Following(daemon.connect)
    following.poll(0.0)
    assert daemon.asked() == ["follow", "bench"]
    assert following.status is None and following.why == "Its socket is there, but it says nothing."
    plan, bench = plans()["breakwater"]
    daemon.tell(**{"is": "bench", "bench": bench.model_dump(mode="json")})
    following.poll(0.1)
    assert following.bench == bench
    told = status_json(all_scenes()["ready-burn"].status)
    daemon.tell(**{**told, "plan": "one"})
    following.poll(0.2)
    following.poll(0.3)
    assert daemon.asked() == ["plan"] and following.plan is None
    daemon.tell(**{"is": "plan", "id": "one", "plan": plan.model_dump(mode="json")})
    following.poll(0.4)
    assert following.plan == plan and following.status is not None
    daemon.tell(**{**told, "plan": "one"})
    following.poll(0.5)
    assert daemon.asked() == [] and following.plan == plan
    daemon.tell(**{**told, "plan": "two"})
    following.poll(0.6)
    assert daemon.asked() == ["plan"] and following.plan is None, "an older plan is not shown with a newer status"
    daemon.tell(**{"is": "plan", "id": "three", "plan": None})
    following.poll(0.7)
    assert daemon.asked() == ["plan"], "it has changed meanwhile: asked again"
    following.close()


def test_when_the_daemon_goes_it_says_so_and_finds_it_again() -> None:
    daemon = Daemon()
    following = Following(daemon.connect)
    following.poll(0.0)
    daemon.tell(**{**status_json(all_scenes()["idle"].status), "plan": None})
    following.poll(0.1)
    assert following.status is not None
    daemon.go()
    following.poll(0.2)
    assert following.status is None and following.why == "The daemon has hung up."
    following.poll(0.3)
    assert daemon.connected == 1, "not sooner than a second after the last try"
    following.poll(0.0 + RETRY_S)
    assert following.why == "No timerd is serving here."
    daemon.there = True
    following.poll(1.5)
    assert daemon.connected == 1
    following.poll(2 * RETRY_S)
    assert daemon.connected == 2 and daemon.asked() == ["follow", "bench"]
    daemon.tell(**{**status_json(all_scenes()["idle"].status), "plan": None})
    following.wait(5.0)
    following.poll(2.1)
    assert following.status is not None
    following.close()


def test_a_plan_of_another_version_is_not_shown_and_ends_nothing() -> None:
    daemon = Daemon()
    following = Following(daemon.connect)
    following.poll(0.0)
    daemon.tell(**{**status_json(all_scenes()["ready-burn"].status), "plan": "one"})
    daemon.tell(**{"is": "plan", "id": "one", "plan": {"print": "from the future", "prism": 3}})
    daemon.tell(**{"is": "bench", "bench": {"bench": "from the future"}})
    for now in (0.1, 0.2, 0.3):
        following.poll(now)
    assert daemon.asked() == ["follow", "bench"], "and the plan is not asked for again and again"
    assert following.status is not None and following.plan is None and following.bench is None
    following.close()


def test_what_is_no_message_drops_the_daemon_with_one_line_and_it_is_tried_again() -> None:
    daemon = Daemon()
    following = Following(daemon.connect)
    following.poll(0.0)
    assert daemon.end is not None
    daemon.end.sendall(b"{half a mess\n")
    following.poll(0.1)
    assert following.status is None and len(following.why.splitlines()) == 1
    following.poll(5.0)
    assert daemon.connected == 2
    following.close()
