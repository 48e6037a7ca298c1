"""All clients of the socket in the daemon's loop: each has its turn, and no one of them can stop it."""

from __future__ import annotations

import contextlib
import json
import selectors
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from test_control import MALFORMED

from timerd.control import LONGEST_LINE, MOST_CLIENTS, NOT_UNDERSTOOD, SILENT_S, Client, Long
from timerd.daemon.clients import MOST_FOLLOWERS, TURN_S, Clients
from timerd.wire.control import (
    Answer,
    AskBench,
    AskPlan,
    AskStatus,
    Follow,
    MakeDark,
    No,
    Request,
    SaidNo,
    StatusTold,
    answer_line,
)  # fmt: skip

WORDS = {AskStatus: "status", AskBench: "bench", AskPlan: "plan", Follow: "follow"}


def told(**facts: Any) -> StatusTold:
    return StatusTold({"ok": True, **facts})


class Loop:
    """The daemon's loop, one turn at a time, with what was asked of it."""

    def __init__(self, folder: Path) -> None:
        self.selector = selectors.DefaultSelector()
        self.asked: list[tuple[Client, Request | Long]] = []
        self.late: list[Client] = []
        self.no_load: SaidNo | None = None
        self.now = 0.0
        self.costs_s = 0.0
        self.clients = Clients(folder, self.selector, self.do, lambda: self.no_load, lambda: self.now)
        self.path = folder / "control.sock"
        self.ends: list[socket.socket] = []

    def do(self, client: Client, request: Request | Long) -> Answer | None:
        self.asked.append((client, request))
        self.now += self.costs_s
        if isinstance(request, Long):
            return told(**{"is": "long"})
        if isinstance(request, Follow):
            client.follows = True
        if isinstance(request, MakeDark):
            self.late.append(client)
            return None
        return told(**{"is": WORDS[type(request)]})

    def connect(self) -> socket.socket:
        end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        end.settimeout(10)
        end.connect(str(self.path))
        self.ends.append(end)
        self.turn()
        return end

    def turn(self, later: float = 0.0) -> None:
        for key, _ in self.selector.select(0):
            key.data()
        self.now += later
        self.clients.attend(self.now)

    @property
    def count(self) -> int:
        return len(self.clients._server.clients)

    def close(self) -> None:
        for end in self.ends:
            end.close()
        self.clients.close()
        self.selector.close()


@pytest.fixture
def loop(tmp_path: Path) -> Iterator[Loop]:
    one = Loop(tmp_path)
    yield one
    one.close()


def heard(end: socket.socket) -> list[Any]:
    return [json.loads(line) for line in end.recv(1 << 20).splitlines()]


def test_what_is_asked_is_done_and_answered(loop: Loop) -> None:
    end = loop.connect()
    end.sendall(b'{"do": "status"}\n{"do": "bench"}\n{"do": "dark"}\n{"do": "plan"}\n')
    loop.turn()
    assert heard(end) == [{"ok": True, "is": "status"}, {"ok": True, "is": "bench"}, {"ok": True, "is": "plan"}]
    loop.clients.send(loop.late[0], told(**{"is": "late"}))
    assert heard(end) == [{"ok": True, "is": "late"}]
    assert [request for _, request in loop.asked] == [AskStatus(), AskBench(), MakeDark(), AskPlan()]


@pytest.mark.parametrize("what", MALFORMED, ids=range(len(MALFORMED)))
def test_what_is_not_understood_is_answered_in_fixed_words_and_hung_up_on(loop: Loop, what: bytes) -> None:
    """Nothing of it comes back, nothing behind it is done, and the others do not notice."""
    other, end = loop.connect(), loop.connect()
    line = what + b'\n{"do": "status"}\n'
    for at in range(0, len(line), 60_000):
        with contextlib.suppress(BrokenPipeError):  # it may have been hung up on already
            end.sendall(line[at : at + 60_000])
        loop.turn()
    loop.turn()
    came = end.recv(1 << 20)
    assert came == answer_line(NOT_UNDERSTOOD)
    assert loop.asked == []
    assert loop.count == 1
    other.sendall(b'{"do": "status"}\n')
    loop.turn()
    assert heard(other) == [{"ok": True, "is": "status"}]


def test_many_requests_have_their_turn_beside_the_others(loop: Loop) -> None:
    greedy, other = loop.connect(), loop.connect()
    greedy.sendall(b'{"do": "status"}\n' * 100)
    other.sendall(b'{"do": "bench"}\n')
    loop.turn()
    done = [request for _, request in loop.asked]
    assert done.count(AskBench()) == 1 and done.count(AskStatus()) < 100
    assert (loop.clients.wake_at(5.0) or 0) == 5.0, "the rest waits for its turn, and for nothing else"
    for _ in range(5):
        loop.turn()
    assert [request for _, request in loop.asked].count(AskStatus()) == 100
    assert loop.clients.wake_at(5.0) == 6.0
    greedy.sendall(b'{"do": "status"}\n' * 150)
    for _ in range(9):
        loop.turn()
    assert loop.count == 1, "a hundred a second is enough"


def test_silent_and_slow_ones_are_dropped(loop: Loop) -> None:
    silent, slow, following = loop.connect(), loop.connect(), loop.connect()
    slow.sendall(b'{"do": "sta')
    following.sendall(b'{"do": "follow"}\n')
    loop.turn()
    assert loop.count == 3
    loop.turn(later=2.5)
    assert loop.count == 2 and slow.recv(100) == b""
    loop.turn(later=SILENT_S - 2.4)
    assert loop.count == 1 and silent.recv(100) == b""
    loop.turn(later=1e6)
    assert loop.count == 1


def test_followers_are_told_and_one_that_does_not_read_is_dropped(loop: Loop) -> None:
    reading, deaf, other = loop.connect(), loop.connect(), loop.connect()
    for end in (reading, deaf):
        end.sendall(b'{"do": "follow"}\n')
    loop.turn()
    assert heard(reading) == [{"ok": True, "is": "follow"}]
    made = 0

    def status() -> StatusTold:
        nonlocal made
        made += 1
        return told(n=made, text="x" * 10_000)

    for n in range(1, 100):
        loop.clients.tell_followers(status)
        found = b""
        while not found.endswith(b"\n"):
            found += reading.recv(65536)
        assert json.loads(found)["n"] == n
        loop.turn()
    assert made == 99, "worked out once for all of them"
    assert loop.count == 2
    assert not select_readable(other)


def select_readable(end: socket.socket) -> bool:
    end.setblocking(False)
    try:
        return bool(end.recv(1)) or True
    except BlockingIOError:
        return False


def test_nobody_follows_and_nothing_is_worked_out(loop: Loop) -> None:
    loop.connect()
    loop.clients.tell_followers(lambda: pytest.fail("nobody asked"))


def test_one_who_goes_in_the_middle_of_a_turn_stops_nothing(loop: Loop) -> None:
    """Dropped while its own next request is waiting in the same turn, and told late when it has gone."""
    end, other = loop.connect(), loop.connect()
    end.sendall(b'{"do": "dark"}\n')
    loop.turn()
    (client,) = loop.late
    end.sendall(b'{"do": "status"}\n')
    ready = loop.selector.select(0)
    assert len(ready) == 1
    client._socket.shutdown(socket.SHUT_WR)  # it can be told nothing any more
    loop.clients.send(client, told())
    assert loop.count == 1
    for key, _ in ready:
        key.data()
    loop.clients.send(client, told())
    loop.clients.attend(loop.now)
    other.sendall(b'{"do": "status"}\n')
    loop.turn()
    assert heard(other) == [{"ok": True, "is": "status"}]


def test_coming_and_going_leaves_nothing_behind(loop: Loop) -> None:
    registered = len(loop.selector.get_map())
    for n in range(100):
        end = loop.connect()
        if n % 3:
            end.sendall((b'{"do": "status"}\n', b"nonsense\n")[n % 2])
        end.close()
        loop.turn()
        loop.turn()
    assert loop.count == 0 and len(loop.selector.get_map()) == registered
    assert loop.clients.wake_at(1.0) is None


# -- what a client may not do to the others, or to the light ---------------------------------------------------------


def test_a_long_line_is_a_load_or_is_not_read(loop: Loop) -> None:
    end, other = loop.connect(), loop.connect()
    end.sendall(b'{"do": "load", "x": "' + b"y" * LONGEST_LINE + b'"}\n')
    other.sendall(b'{"do": "status", "x": "' + b"y" * LONGEST_LINE)
    loop.turn()
    assert heard(end) == [{"ok": True, "is": "long"}] and heard(other) == [json.loads(answer_line(NOT_UNDERSTOOD))]
    assert loop.count == 1 and [type(request) for _, request in loop.asked] == [Long]


@pytest.mark.parametrize("ended", [True, False])
def test_while_nothing_may_be_loaded_no_long_load_is_even_taken_in(loop: Loop, ended: bool) -> None:
    end = loop.connect()
    loop.no_load = SaidNo("a light is on: nothing is loaded", No.LIGHT_ON)
    end.sendall(b'{"do": "load", "x": "' + b"y" * LONGEST_LINE + (b'"}\n' if ended else b""))
    loop.turn()
    assert heard(end) == [json.loads(answer_line(loop.no_load))] and loop.asked == []
    assert loop.count == (1 if ended else 0)


def test_followers_leave_two_places_for_those_who_ask(loop: Loop) -> None:
    ends = [loop.connect() for _ in range(MOST_CLIENTS)]
    for end in ends:
        end.sendall(b'{"do": "follow"}\n')
        loop.turn()
    heard_by = [heard(end) for end in ends]
    assert heard_by == [[{"ok": True, "is": "follow"}]] * MOST_FOLLOWERS + [
        [{"ok": False, "code": "too many clients", "why": "6 follow already: close one"}]
    ] * (MOST_CLIENTS - MOST_FOLLOWERS)
    ends[0].sendall(b'{"do": "follow"}\n')
    loop.turn()
    assert heard(ends[0]) == [{"ok": True, "is": "follow"}], "who follows already may say so again"
    loop.now += 0.001
    for asked in ("dark", "status", "dark", "status"):
        more = loop.connect()
        more.sendall(b'{"do": "%s"}\n' % asked.encode())
        loop.turn()
        assert loop.asked[-1][1] == (MakeDark() if asked == "dark" else AskStatus())
        if asked == "dark":
            loop.clients.send(loop.late[-1], told())
        assert heard(more)[0]["ok"]
        loop.now += 0.001


def test_eight_who_ask_all_the_time_keep_nobody_out(loop: Loop) -> None:
    ends = [loop.connect() for _ in range(MOST_CLIENTS)]
    for _ in range(20):
        loop.now += 0.01
        for end in ends:
            end.sendall(b'{"do": "status"}\n')
        loop.turn()
    loop.now += 0.001
    more = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    more.connect(str(loop.path))
    more.sendall(b'{"do": "dark"}\n')
    loop.turn()
    assert loop.asked[-1][1] == MakeDark(), "heard in the turn in which it came"
    assert loop.count == MOST_CLIENTS
    loop.ends.append(more)


def test_who_waits_for_an_answer_is_not_silent(loop: Loop) -> None:
    ends = [loop.connect() for _ in range(MOST_CLIENTS)]
    for end in ends:
        end.sendall(b'{"do": "dark"}\n')
    loop.turn()
    loop.turn(later=SILENT_S + 1)
    more = loop.connect()
    assert (
        heard(more) == [{"ok": False, "code": "too many clients", "why": "too many clients: close one"}]
        and loop.count == MOST_CLIENTS
    )
    loop.clients.send(loop.late[3], told())
    loop.now += 0.001
    loop.connect()
    assert heard(ends[3]) == [{"ok": True}] and ends[3].recv(100) == b""
    loop.turn(later=SILENT_S + 1)
    assert loop.count == MOST_CLIENTS - 1, "the newcomer said nothing"


def test_a_turn_ends_in_time_whatever_is_asked_and_everybody_has_one(loop: Loop) -> None:
    """Eight clients with twenty questions each, of which every one takes a hundredth of a second."""
    ends = [loop.connect() for _ in range(MOST_CLIENTS)]
    loop.costs_s = 0.01
    for end in ends:
        end.sendall(b'{"do": "status"}\n' * 20)
    turns = 0
    while len(loop.asked) < 160:
        begun, done = loop.now, len(loop.asked)
        loop.turn()
        turns += 1
        assert loop.now - begun <= TURN_S + loop.costs_s + 1e-9
        assert len(loop.asked) > done
        if turns == MOST_CLIENTS:
            assert len({id(client) for client, _ in loop.asked}) == MOST_CLIENTS, "nobody waits for all of another's"
    assert loop.count == MOST_CLIENTS


def test_whatever_is_raised_over_a_question_is_its_answer(loop: Loop, monkeypatch: pytest.MonkeyPatch) -> None:
    end, other = loop.connect(), loop.connect()

    def fails(client: Client, request: Any) -> None:
        raise {AskPlan(): OverflowError, AskBench(): KeyError, AskStatus(): RecursionError}[request]("\x1b[2J")

    monkeypatch.setattr(loop.clients, "_do", fails)
    end.sendall(b'{"do": "plan"}\n{"do": "bench"}\n{"do": "status"}\n')
    loop.turn()
    for answer, kind in zip(heard(end), ("OverflowError", "KeyError", "RecursionError"), strict=True):
        assert not answer["ok"] and answer["why"].startswith(f"timerd itself failed at this ({kind} in test_clients.py")
        assert answer["why"].endswith("): nothing was done; please report it")
    monkeypatch.undo()
    other.sendall(b'{"do": "status"}\n')
    loop.turn()
    assert heard(other) == [{"ok": True, "is": "status"}] and loop.count == 2
