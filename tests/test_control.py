"""The control socket, both ends: what is small, plain and soon is answered, all else is dropped, nothing echoed."""

from __future__ import annotations

import array
import contextlib
import grp
import json
import os
import pwd
import shutil
import socket
import stat
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from timerd import control
from timerd.control import SOCKET, Client, ControlError, Link, Server, ask, follow
from timerd.wire import control as co

NO_DAEMON = (
    "no timerd is serving here: start it with  timerd serve --bench BENCH  (the service: sudo systemctl start timerd)"
)
OTHER_VERSION = "the daemon answers what this version does not know: are both of one version?"
HUNG_UP = "the daemon has hung up: it is stopping, or the request was too much"


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Server]:
    one = Server(tmp_path)
    yield one
    one.close()


OPEN: list[socket.socket] = []


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    """What a test has opened by `pair` is closed after it."""
    yield
    closed_now()


def closed_now() -> None:
    while OPEN:
        OPEN.pop().close()


def raw(server: Server) -> socket.socket:
    """A client that knows no manners."""
    end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    end.settimeout(10)
    end.connect(str(server.path))
    return end


def pair(now: float = 0.0) -> tuple[Client, socket.socket]:
    """A client at the daemon's end, and the other end."""
    ours, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_STREAM)
    ours.setblocking(False)
    theirs.settimeout(10)
    OPEN.extend((ours, theirs))
    return Client(ours, now), theirs


def told(**facts: Any) -> co.StatusTold:
    """A status with these facts."""
    return co.StatusTold({"ok": True, "is": "status", **facts})


def read(client: Client, now: float) -> list[Any] | None:
    """What a client has asked since, and the next few of what it asked before."""
    return client.more(now) if client.receive(now) else None


def answers(end: socket.socket) -> list[Any]:
    """All that came, until the daemon hung up."""
    found = b""
    while chunk := end.recv(65536):
        found += chunk
    return [json.loads(line) for line in found.splitlines()]


# -- who may -----------------------------------------------------------------------------------------------------


def test_the_socket_is_the_groups_alone_whatever_the_mask(tmp_path: Path) -> None:
    for mask in (0o000, 0o022, 0o077):
        before = os.umask(mask)
        try:
            server = Server(tmp_path)
        finally:
            os.umask(before)
        assert stat.S_IMODE(server.path.stat().st_mode) == 0o660
        server.close()
        assert not server.path.exists()


def test_a_socket_left_behind_is_replaced(tmp_path: Path) -> None:
    left = socket.socket(socket.AF_UNIX)
    left.bind(str(tmp_path / SOCKET))
    left.close()
    server = Server(tmp_path)
    end = raw(server)
    assert server.accept(0.0) is not None
    end.close()
    server.close()
    server.close()


def test_a_folder_with_a_long_name_is_no_hindrance(tmp_path: Path) -> None:
    """A socket's own path may have 107 letters."""
    folder = tmp_path / ("a" * 200) / ("b" * 200)
    folder.mkdir(parents=True)
    server = Server(folder)
    before = len(os.listdir("/proc/self/fd"))
    link = Link(folder, 10)
    client = server.accept(0.0)
    assert client is not None
    link.send(co.AskStatus())
    assert read(client, 0.0) == [co.AskStatus()]
    client.send(told())
    assert link.receive(10) == [told()]
    link.close()
    server.drop(client)
    assert len(os.listdir("/proc/self/fd")) == before
    server.close()


MEMBERS = {"printer": 1001, "guest": 1002}
"""Invented users; 50 is the folder's group, and `printer` is in it beside a group of their own."""


@pytest.mark.parametrize(
    ("uid", "gid", "allowed"),
    [
        (0, 0, True),  # root
        (0, 7, True),
        (900, 900, True),  # the daemon's own user
        (900, 7, True),
        (1002, 50, True),  # the group is the peer's first
        (1001, 1001, True),  # the group is one of the peer's others
        (1002, 1002, False),  # another user
        (1002, 0, False),  # the group of root is nothing by itself
        (4242, 4242, False),  # nobody knows this user
        (4242, 50, True),
    ],
)
def test_who_may_enter(monkeypatch: pytest.MonkeyPatch, uid: int, gid: int, allowed: bool) -> None:
    def user(uid: int) -> Any:
        names = {number: name for name, number in MEMBERS.items()}
        return SimpleNamespace(pw_name=names[uid])

    monkeypatch.setattr(os, "geteuid", lambda: 900)
    monkeypatch.setattr(pwd, "getpwuid", user)
    monkeypatch.setattr(grp, "getgrgid", lambda gid: SimpleNamespace(gr_mem={50: ["printer"]}[gid]))
    assert control.may_enter(uid, gid, 50) is allowed
    if uid not in (0, 900) and gid != 50:
        assert control.may_enter(uid, gid, 51) is False, "a group that is not there has no members"


def test_who_may_not_is_told_so_and_hung_up_on(server: Server, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[int, int, int]] = []

    def nobody(uid: int, gid: int, group: int) -> bool:
        asked.append((uid, gid, group))
        return False

    monkeypatch.setattr(control, "may_enter", nobody)
    end = raw(server)
    end.sendall(b'{"do": "load"}\n')
    assert server.accept(0.0) is None and server.clients == []
    with contextlib.suppress(ConnectionResetError):
        assert answers(end) == [{"ok": False, "code": "not allowed", "why": "this user may not talk to this daemon"}]
    assert asked == [(os.geteuid(), os.getegid(), server.path.parent.stat().st_gid)]
    end.close()


def test_the_ninth_client_is_turned_away_until_one_goes(server: Server) -> None:
    ends = [raw(server) for _ in range(control.MOST_CLIENTS)]
    for _ in ends:
        assert server.accept(0.0) is not None
    for _ in range(20):
        more = raw(server)
        assert server.accept(0.0) is None
        assert answers(more) == [{"ok": False, "code": "too many clients", "why": "too many clients: close one"}]
        more.close()
    assert len(server.clients) == control.MOST_CLIENTS == 8
    server.drop(server.clients[3])
    server.drop(Client(socket.socket(), 0.0))
    ends.append(raw(server))
    assert server.accept(0.0) is not None
    for end in ends:
        end.close()


def test_nobody_there_to_accept_is_nothing(server: Server) -> None:
    assert server.accept(0.0) is None


# -- how much ----------------------------------------------------------------------------------------------------


def feed(client: Client, end: socket.socket, data: bytes, now: float = 0.0) -> list[Any] | None:
    """Send it in pieces that a socket takes, and read it as it comes; None as soon as the client is to be dropped."""
    found: list[Any] = []
    for at in range(0, len(data), 32768):
        end.sendall(data[at : at + 32768])
        got = read(client, now)
        if got is None:
            return None
        found += got
    return found


def test_a_request_may_be_so_long_and_no_longer() -> None:
    body = b'{"do":"load","paper":{"name":"","text":""},"print":{"name":"","text":"%s"}}'
    fits = body % (b"x" * (control.LONGEST_REQUEST - len(body) + 2))
    assert len(fits) == control.LONGEST_REQUEST
    client, end = pair()
    assert feed(client, end, fits) == [] and client.long_begun
    (request,) = feed(client, end, b"\n") or [None]
    assert request == control.Long(fits) and not client.long_begun, "nobody has read it yet"
    assert isinstance(loaded := co.request_of(request.line), co.LoadPrint) and len(loaded.print.text) > 600_000
    assert feed(client, end, fits + b"x") is None


def test_only_a_load_may_be_long_and_begins_with_what_it_is() -> None:
    """840 KB of small objects take 0.1 s to be read: eight such questions held a daemon up until its light went out."""

    def padded(line: bytes, length: int) -> bytes:
        more = line[:-1] + b', "x": [' + b"{}," * ((length - len(line) - 12) // 3) + b"{}"
        return more + b" " * (length - len(more) - 2) + b"]}"

    for line, whole in (
        (padded(b'{"do": "status"}', control.LONGEST_LINE), True),
        (padded(b'{"do": "load"}', control.LONGEST_LINE), True),
        (padded(b'{"do": "status"}', control.LONGEST_LINE + 300), False),
        (padded(b' { "do" :\t"load"}', control.LONGEST_LINE + 300), True),
        (b'{"sheets": 1, "do": "load", "x": "' + b"y" * control.LONGEST_LINE + b'"}', False),
        (b'{"do": "loader", "x": "' + b"y" * control.LONGEST_LINE + b'"}', False),
    ):
        client, end = pair()
        got = feed(client, end, line + b'\n{"do": "status"}\n')
        assert (got == [None]) is not whole, line[:40]
        if whole:
            assert got is not None and got[1] == co.AskStatus()
            assert got[0] == (control.Long(line) if len(line) > control.LONGEST_LINE else co.request_of(line))
        client.close()
        end.close()


def test_what_is_too_long_is_told_before_it_has_ended() -> None:
    client, end = pair()
    assert feed(client, end, b'{"do": "status", "x": "' + b"y" * control.LONGEST_LINE) == [None]
    assert feed(client, end, b'"}\n{"do": "dark"}\n') == [], "nothing behind it is looked at"


def test_a_loads_two_files_of_256_kib_fit() -> None:
    text = ("# a line of a print's file, as they are\n" * 8000)[: 256 * 1024]
    load = co.LoadPrint(1, False, co.SentFile("x", text), co.SentFile("x", text))
    client, end = pair()
    (request,) = feed(client, end, co.request_line(load)) or [None]
    assert isinstance(request, control.Long) and co.request_of(request.line) == load


def test_a_request_that_has_begun_must_be_whole_in_time() -> None:
    client, end = pair(now=100.0)
    assert feed(client, end, b'{"do":', now=100.0) == []
    assert not client.overdue(100.0 + control.SLOWEST_S)
    assert client.overdue(100.0 + control.SLOWEST_S + 0.01)
    assert feed(client, end, b'"sta', now=102.5) == [], "more of it is not the whole of it"
    assert client.overdue(102.5)
    assert feed(client, end, b'tus"}\n', now=102.5) == [co.AskStatus()]
    assert not client.overdue(102.5 + control.SLOWEST_S + 1)


def test_each_request_has_its_own_time() -> None:
    """One who asks all the time is never slow, though the next question has always begun when the last is read."""
    client, end = pair()
    half = b'{"do":"status"}\n{"do":'
    assert feed(client, end, half, now=0.0) == [co.AskStatus()]
    for n in range(1, 40):
        now = n * 0.5
        assert feed(client, end, b'"status"}\n{"do":', now=now) == [co.AskStatus()]
        assert not client.overdue(now + 1.9), n
    assert client.overdue(now + control.SLOWEST_S + 0.01)


def test_who_says_nothing_is_dropped_but_not_who_follows() -> None:
    client, end = pair(now=50.0)
    assert not client.overdue(50.0 + control.SILENT_S)
    assert client.overdue(50.0 + control.SILENT_S + 0.01)
    feed(client, end, b'{"do":"status"}\n', now=59.0)
    assert not client.overdue(59.0 + control.SILENT_S)
    client.follows = True
    assert not client.overdue(1e9)
    feed(client, end, b'{"do"', now=60.0)
    assert client.overdue(60.0 + control.SLOWEST_S + 0.01), "who follows must end what he begins, too"


def test_two_hundred_at_once_and_a_hundred_a_second_after_that() -> None:
    client, end = pair()
    asked = 0
    end.sendall(b'{"do":"status"}\n' * 200)
    got = read(client, 0.0)
    while got:
        assert len(got) <= control.MOST_AT_ONCE
        asked += len(got)
        got = client.more(0.0) if client.has_more else []
    assert asked == 200 == 2 * control.MOST_A_SECOND
    end.sendall(b'{"do":"status"}\n' * 50)
    now = 0.5
    got = read(client, now)
    for _ in range(2):
        assert got is not None and len(got) == 20
        got = client.more(now)
    assert got is not None and len(got) == 10 and not client.has_more
    end.sendall(b"\n")
    assert read(client, now) is None, "the fifty-first in half a second"


def test_it_never_gathers_more_than_two_seconds_worth() -> None:
    client, end = pair()
    end.sendall(b'{"do":"status"}\n' * 220)
    got, asked = read(client, 1e6), 0
    while got:
        asked += len(got)
        got = client.more(1e6)
    assert got is None and asked == 200


def test_who_does_not_read_is_dropped_when_too_much_waits() -> None:
    client, _ = pair()
    answer = told(text="x" * 10_000)
    sent = 0
    while client.send(answer):
        sent += 1
        assert sent * 10_000 < control.LONGEST_BACKLOG + 3_000_000, "it grew without end"
    assert sent * 10_000 > control.LONGEST_BACKLOG
    assert len(client._out) < control.LONGEST_BACKLOG + 20_000


def test_who_reads_late_gets_everything_in_order() -> None:
    client, end = pair()
    end.settimeout(0.5)
    for n in range(40):
        assert client.send(told(n=n, text="x" * 10_000))
    found = b""
    while found.count(b"\n") < 40:
        assert client.flush()
        found += end.recv(65536)
    assert [json.loads(line)["n"] for line in found.splitlines()] == list(range(40))
    end.close()
    assert not client.send(told()) or not client.flush()
    client.close()


def test_files_passed_along_are_not_kept() -> None:
    client, end = pair()
    before = len(os.listdir("/proc/self/fd"))
    with tempfile.TemporaryFile() as file:
        fds = array.array("i", [file.fileno()] * 20)
        for _ in range(5):
            end.sendmsg([b'{"do":"status"}\n'], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, fds)])
            assert read(client, 0.0) == [co.AskStatus()]
    assert len(os.listdir("/proc/self/fd")) == before


# -- what --------------------------------------------------------------------------------------------------------

MALFORMED: tuple[bytes, ...] = (
    b"", b"   ", b"status", b'{"do": "status"', b'{"do": "status"} {"do": "dark"}', b'{"do": "status",}',
    b"{'do': 'status'}", b'[{"do": "status"}]', b'"status"', b"17", b"null", b"true", b"{}", b'{"Do": "status"}',
    b'{"do": "expose"}', b'{"do": "cut"}', b'{"do": "STATUS"}', b'{"do": "status "}', b'{"do": "status\\u0000"}',
    b'{"do": ["status"]}', b'{"do": 1}', b'{"do": null}', b'{"do": "status", "do": "status"}',
    b'{"do": "load", "print": {"name": "a", "name": "b"}}', b'{"do": "load", "sheets": NaN}',
    b'{"do": "load", "sheets": -Infinity}', b'{"do": ' + b"[" * 100_000 + b"]" * 100_000 + b"}",
    b'{"do":' * 50_000 + b"1" + b"}" * 50_000, b'{"do": "load", "sheets": ' + b"9" * 5000 + b"}",
    b'{"do": "status", "x": "\xff\xfe"}', b'{"do": "status", "x": "\xed\xa0\x80"}',
    '{"do": "status"}'.encode("utf-16"), b'\xef\xbb\xbf{"do": "status"}', b'{"do": "status", "x": "\x1b[2J\x07"}',
    b'{"do": "status"}\x00', b"\x1b]0;mine\x07", b'{"do": "status"} // please', b"GET / HTTP/1.1\r",
)  # fmt: skip


@pytest.mark.parametrize("line", MALFORMED, ids=range(len(MALFORMED)))
def test_what_is_not_understood_is_nothing(line: bytes) -> None:
    client, end = pair()
    got = feed(client, end, line + b"\n")
    assert got == [None]


def test_what_is_understood_is_taken_however_it_is_written() -> None:
    assert sorted(co.VERBS) == [
        "bath", "bench", "clear", "dark", "follow", "load", "note", "plan", "rate", "status", "tell",
    ]  # fmt: skip
    for verb in co.VERBS:
        for line in (
            f'{{"do": "{verb}"}}',
            f'\t{{ "do" :"{verb}" }}\r',
            f'{{"do": "\\u00{ord(verb[0]):x}{verb[1:]}"}}',
        ):
            client, end = pair()
            (got,) = feed(client, end, line.encode() + b"\n") or [None]
            assert got == co.request_of(b'{"do": "%s"}' % verb.encode()) and got is not None
            client.close()
            end.close()


def known(request: Any) -> bool:
    """Whether it is a request, as it would be sent again, or the answer to one that is wrong."""
    return isinstance(request, co.SaidNo) or co.request_of(co.request_line(request)) == request


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.one_of(
            st.binary(max_size=40),
            st.sampled_from([b"\n", b'{"do": "status"}', b'{"do": "dark"}\n', b'{"do":', b"}", b'"', b"[", b"\x1b[2J"]),
            st.sampled_from(MALFORMED).filter(lambda line: len(line) < 100),
        ),
        max_size=12,
    )
)
def test_any_bytes_make_known_requests_or_nothing(pieces: list[bytes]) -> None:
    client, end = pair()
    got: list[Any] | None = []
    for piece in pieces:
        if piece:
            end.sendall(piece)
            got = read(client, 0.0)
        assert got is not None and all(one in (None, co.AskStatus(), co.MakeDark()) or known(one) for one in got)
    closed_now()


# -- the client's end --------------------------------------------------------------------------------------------


class Daemon:
    """Stands in for a daemon: takes one client and does with it as told, in a thread."""

    def __init__(self, folder: Path, act: Callable[[socket.socket], object]) -> None:
        self._listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        self._listening.bind(str(folder / SOCKET))
        self._listening.listen(1)
        self._thread = threading.Thread(target=self._serve, args=(act,))
        self._thread.start()

    def _serve(self, act: Callable[[socket.socket], object]) -> None:
        connection, _ = self._listening.accept()
        with connection:
            connection.settimeout(10)
            self.asked = connection.recv(100)  # what is not read before hanging up would be an error at the other end
            act(connection)

    def end(self) -> None:
        self._thread.join(10)
        assert not self._thread.is_alive()
        self._listening.close()


def said(call: Callable[[], object]) -> str:
    with pytest.raises(ControlError) as caught:
        call()
    return str(caught.value)


def test_without_a_daemon_one_line_says_how_to_start_it(tmp_path: Path) -> None:
    assert said(lambda: ask(tmp_path / "nowhere", co.AskStatus())) == NO_DAEMON
    assert said(lambda: ask(tmp_path, co.AskStatus())) == NO_DAEMON
    before = len(os.listdir("/proc/self/fd"))
    (tmp_path / SOCKET).write_text("no socket")
    assert said(lambda: follow(tmp_path, lambda _: True)) == NO_DAEMON
    assert len(os.listdir("/proc/self/fd")) == before, "nothing is left open"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become a user who may not")
def test_who_may_not_is_told_what_to_do() -> None:
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o755)
    server = Server(folder)
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            try:
                Link(folder, 5)
            except ControlError as error:
                os.write(told, str(error).encode())
        finally:
            os._exit(0)
    os.close(told)
    with os.fdopen(heard) as file:
        assert file.read() == "you may not talk to this daemon: join its group"
    os.waitpid(child, 0)
    server.close()
    shutil.rmtree(folder)


def test_an_answer_may_come_in_pieces(tmp_path: Path) -> None:
    def act(connection: socket.socket) -> None:
        for byte in b'{"ok": true, "is": "status", "name": "Tide \xc3\xa9"}\n':
            connection.send(bytes([byte]))

    daemon = Daemon(tmp_path, act)
    assert ask(tmp_path, co.AddNote(1, "é")) == told(name="Tide é")
    daemon.end()
    assert daemon.asked == '{"do": "note", "sheet": 1, "text": "é"}\n'.encode()


def test_no_is_an_error_with_the_daemons_own_reason(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, lambda c: c.send(b'{"ok": false, "why": "a light is on"}\n'))
    assert (
        said(lambda: ask(tmp_path, co.LoadPrint(1, False, co.SentFile("", ""), co.SentFile("", "")))) == "a light is on"
    )
    daemon.end()


def test_a_daemon_that_hangs_up_or_says_nothing_or_nothing_whole(tmp_path: Path) -> None:
    done = threading.Event()
    for act, timeout, why in (
        (lambda c: None, 20.0, HUNG_UP),
        (lambda c: c.send(b'{"ok": tru'), 20.0, HUNG_UP),
        (lambda c: done.wait(10), 0.05, "the daemon does not answer"),
        (lambda c: [c.send(b'{"ok": tru'), done.wait(10)], 0.05, "the daemon does not answer"),
    ):
        done.clear()
        daemon = Daemon(tmp_path, act)
        assert said(partial(ask, tmp_path, co.AskStatus(), timeout)) == why
        done.set()
        daemon.end()
        (tmp_path / SOCKET).unlink()


def test_a_daemon_with_many_at_the_door_is_waited_for_and_not_called_dead(tmp_path: Path) -> None:
    listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
    listening.bind(str(tmp_path / SOCKET))
    listening.listen(1)
    waiting: list[socket.socket] = []
    with contextlib.suppress(BlockingIOError):
        while len(waiting) < 100:
            end = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            waiting.append(end)
            end.setblocking(False)
            end.connect(str(tmp_path / SOCKET))
    assert len(waiting) < 100
    for timeout in (0.05, 0.000001):
        start = time.monotonic()
        assert said(lambda timeout=timeout: ask(tmp_path, co.AskStatus(), timeout)) == "the daemon does not answer"
        assert time.monotonic() - start >= timeout
    asking = threading.Thread(target=lambda: waiting.append(Link(tmp_path, 10)))  # type: ignore[arg-type]
    asking.start()
    with listening.accept()[0]:  # one is let in, and the next may come to the door
        asking.join(10)
        assert not asking.is_alive()
    for end in (*waiting, listening):
        end.close()


def test_following_goes_on_until_enough_is_known(tmp_path: Path) -> None:
    def act(connection: socket.socket) -> None:
        connection.send(b'{"ok": true, "is": "status", "n": 1}\n{"ok": true, "is": "status", "n": 2}\n{"ok": tr')
        connection.send(b'ue, "is": "status", "n": 3}\n')
        assert connection.recv(100) == b""

    daemon = Daemon(tmp_path, act)
    seen: list[int] = []

    def take(status: Mapping[str, Any]) -> bool:
        seen.append(status["n"])
        return status["n"] < 3

    follow(tmp_path, take)
    daemon.end()
    assert seen == [1, 2, 3] and daemon.asked == b'{"do": "follow"}\n'


def test_following_ends_in_words(tmp_path: Path) -> None:
    for act, why in (
        (lambda c: c.send(b'{"ok": true, "is": "status"}\n'), HUNG_UP),
        (lambda c: c.send(b'{"ok": true, "is": "written"}\n'), "the daemon does not tell how the bench stands"),
        (lambda c: c.send(b'{"ok": true, "is": "weather"}\n'), OTHER_VERSION),
        (lambda c: c.send(b"weather\n"), OTHER_VERSION),
        (lambda c: c.send(b'{"ok": false, "why": "too many clients: close one"}\n'), "too many clients: close one"),
    ):
        daemon = Daemon(tmp_path, act)
        assert said(lambda: follow(tmp_path, lambda _: True)) == why
        daemon.end()
        (tmp_path / SOCKET).unlink()


def test_a_request_to_one_who_has_gone_is_in_words(tmp_path: Path) -> None:
    daemon = Daemon(tmp_path, lambda c: None)
    link = Link(tmp_path, 5)
    link.send(co.AskStatus())
    daemon.end()
    assert said(lambda: link.send(co.AskStatus())) == "the daemon has hung up"
    assert said(lambda: link.receive(1)) == HUNG_UP
    link.close()


def test_a_request_that_is_refused_before_it_has_ended_is_told_why(tmp_path: Path) -> None:
    """A long load while a light burns: the daemon says so, and hangs up while the rest is still being sent."""
    daemon = Daemon(tmp_path, lambda c: c.send(b'{"ok": false, "why": "a light is on: nothing is loaded"}\n'))
    long = co.LoadPrint(1, False, co.SentFile("x", "y" * 3_000_000), co.SentFile("", ""))
    assert said(lambda: ask(tmp_path, long, 10)) == "a light is on: nothing is loaded"
    daemon.end()
