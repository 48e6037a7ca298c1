"""The control socket's messages, both ends: one JSON object a line. It may load and arm nothing, and never light.

What a client sends is small, plain and soon, or the client is told so and dropped; nothing it sends is sent back to it.
A load alone may be long: it begins with its `do`, so that what it is can be seen before it is read.
"""

from __future__ import annotations

import contextlib
import grp
import os
import pwd
import re
import socket
import struct
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from timerd.wire import control as wire
from timerd.wire.codec import Malformed

SOCKET = "control.sock"
MOST_CLIENTS = 8
LONGEST_LINE = 16 * 1024
"""Any request but a load; it is read in a millisecond."""
LONGEST_REQUEST = 860 * 1024
"""A load carries a print's, a paper's and a bath line's file, 256 KiB each at the most."""
_LOAD = re.compile(rb'\s*\{\s*"do"\s*:\s*"load"\s*[,}]')
LONGEST_BACKLOG = 256 * 1024
SLOWEST_S = 2.0
"""A request that has begun must be whole in this time."""
SILENT_S = 10.0
"""A client that neither asks nor follows for this long is dropped."""
MOST_A_SECOND = 100.0
"""Requests; twice as many may come at once."""
MOST_AT_ONCE = 20


class ControlError(OSError):
    """The daemon does not answer, or says no: `code` says why, the words what to do."""

    def __init__(self, code: wire.No, words: str) -> None:
        super().__init__(words)
        self.code = code


class NoDaemon(ControlError):
    """There is none at this socket."""

    def __init__(self, words: str) -> None:
        super().__init__(wire.No.NO_DAEMON, words)


class Long(NamedTuple):
    """A load too long to be read at once; `request_of` reads it."""

    line: bytes


Asked = wire.Request | Long | wire.SaidNo | None
"""A request; one that is not read yet; the answer to one that has something wrong with it; None: not understood."""


# -- the daemon's end --------------------------------------------------------------------------------------------


NOT_UNDERSTOOD = wire.SaidNo(
    "not understood: one JSON object a line, with a known 'do'; a load alone may be long, with its 'do' first",
    wire.No.NOT_UNDERSTOOD,
)


class Client:
    """One connected client, at the daemon's end. `waits` while the answer to something it asked is to come later."""

    def __init__(self, connection: socket.socket, now: float) -> None:
        self.follows = False
        self.waits = False
        self._socket = connection
        self._in = bytearray()
        self._out = bytearray()
        self._spoilt = False
        self._begun: float | None = None
        self._heard_at = now
        self._allowance = 2 * MOST_A_SECOND
        self._counted_at = now

    def fileno(self) -> int:
        return self._socket.fileno()

    def receive(self, now: float) -> bool:
        """Take in what has come; False when the client has hung up."""
        try:
            chunk = self._socket.recv(65536)
        except BlockingIOError:
            return True
        except OSError:
            return False
        self._in += chunk
        self._heard_at = now
        return bool(chunk)

    def more(self, now: float, most: int = MOST_AT_ONCE) -> list[Asked] | None:
        """The next few whole requests of those that have come, None among them, and last, for what is not one; None
        alone when the client is to be dropped."""
        self._allowance = min(2 * MOST_A_SECOND, self._allowance + (now - self._counted_at) * MOST_A_SECOND)
        self._counted_at = now
        requests: list[Asked] = []
        while not self._spoilt and len(requests) < most and (end := self._in.find(b"\n")) >= 0:
            requests.append(self._one(bytes(self._in[:end])))
            del self._in[: end + 1]
            self._spoilt = requests[-1] is None
        if not self._spoilt and self.long_begun and not _LOAD.match(self._in):
            self._spoilt = True
            requests.append(None)
        self._allowance -= len(requests)
        if len(self._in) > LONGEST_REQUEST or self._allowance < 0:
            return None
        if requests or not self._in:  # what is left, if anything, has only just begun
            self._begun = None
        if self._in and self._begun is None:
            self._begun = now
        return requests

    @staticmethod
    def _one(line: bytes) -> Asked:
        if len(line) <= LONGEST_LINE:
            return wire.request_of(line)
        return Long(line) if _LOAD.match(line) else None

    @property
    def long_begun(self) -> bool:
        """Whether a request has begun, and not ended, that is longer already than any but a load may be."""
        return len(self._in) > LONGEST_LINE and b"\n" not in self._in

    @property
    def has_more(self) -> bool:
        """Whether whole requests are waiting for their turn."""
        return b"\n" in self._in

    def silent_s(self, now: float) -> float:
        """For how long it has asked nothing; one that follows, or waits for an answer, is not silent."""
        return 0.0 if self.follows or self.waits else now - self._heard_at

    def overdue(self, now: float) -> bool:
        """Whether it has begun a request and not ended it, or has said nothing for too long and follows nothing."""
        slow = self._begun is not None and now - self._begun > SLOWEST_S
        return slow or self.silent_s(now) > SILENT_S

    def send(self, answer: wire.Answer) -> bool:
        """Queue an answer; False when the client does not read what it asked for, and is to be dropped."""
        return self.tell(wire.answer_line(answer))

    def tell(self, line: bytes) -> bool:
        """The same of an answer that is a line already."""
        self._out += line
        return self.flush()

    def flush(self) -> bool:
        """Pass on what is queued as far as the client reads."""
        try:
            while self._out:
                sent = self._socket.send(self._out, socket.MSG_DONTWAIT)
                del self._out[:sent]
        except BlockingIOError:
            return len(self._out) <= LONGEST_BACKLOG
        except OSError:
            return False
        return True

    def close(self) -> None:
        self._socket.close()


class Server:
    """The daemon's end: a socket in a folder that only its group may enter."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / SOCKET
        self._group = folder.stat().st_gid
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()
        self.socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM | socket.SOCK_NONBLOCK)
        with _short(folder) as short:
            self.socket.bind(f"{short}/{SOCKET}")
        os.chmod(self.path, 0o660)
        with contextlib.suppress(PermissionError):  # not a member: then the group is the daemon's own
            os.chown(self.path, -1, self._group)
        self.socket.listen(16)
        self.clients: list[Client] = []

    def accept(self, now: float) -> Client | None:
        """Take a client in, or turn it away: too many, or one who may not."""
        try:
            connection, _ = self.socket.accept()
        except OSError:
            return None
        connection.setblocking(False)
        credentials = connection.getsockopt(socket.SOL_SOCKET, socket.SO_PEERCRED, struct.calcsize("3i"))
        _, uid, gid = struct.unpack("3i", credentials)
        allowed = may_enter(uid, gid, self._group)
        if not allowed or len(self.clients) >= MOST_CLIENTS:
            no = (
                wire.SaidNo("too many clients: close one", wire.No.TOO_MANY)
                if allowed
                else wire.SaidNo("this user may not talk to this daemon", wire.No.NOT_ALLOWED)
            )
            with contextlib.suppress(OSError):
                connection.send(wire.answer_line(no))
            connection.close()
            return None
        client = Client(connection, now)
        self.clients.append(client)
        return client

    def drop(self, client: Client) -> None:
        """Be rid of a client."""
        if client in self.clients:
            self.clients.remove(client)
        client.close()

    def close(self) -> None:
        """Hang up on everybody."""
        for client in list(self.clients):
            self.drop(client)
        self.socket.close()
        with contextlib.suppress(FileNotFoundError):
            self.path.unlink()


def may_enter(uid: int, gid: int, group: int) -> bool:
    """Whether a peer may talk to the daemon: root, the daemon's own user, and members of the folder's group."""
    if uid in (0, os.geteuid()) or gid == group:
        return True
    try:
        return pwd.getpwuid(uid).pw_name in grp.getgrgid(group).gr_mem
    except KeyError:
        return False


# -- the client's end --------------------------------------------------------------------------------------------


class Link:
    """A client's end, for one with a loop of its own. Raises ControlError when there is no daemon, or no more."""

    def __init__(self, folder: Path, timeout: float | None = None) -> None:
        self._socket = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        if timeout is not None:  # by the socket's own means: a connect that may not wait fails at once when others do
            within = struct.pack("ll", int(timeout), max(1, int(timeout % 1 * 1e6)))
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_SNDTIMEO, within)
        self._in = b""
        try:
            with _short(folder) as short:
                self._socket.connect(f"{short}/{SOCKET}")
            self._socket.settimeout(timeout)
        except OSError as error:
            self._socket.close()
            if isinstance(error, PermissionError):
                raise ControlError(wire.No.NOT_ALLOWED, "you may not talk to this daemon: join its group") from None
            if isinstance(error, BlockingIOError):
                raise ControlError(wire.No.NO_ANSWER, "the daemon does not answer") from None
            raise NoDaemon(
                "no timerd is serving here: start it with  timerd serve --bench BENCH  "
                "(the service: sudo systemctl start timerd)"
            ) from None

    def fileno(self) -> int:
        """Readable when something has come."""
        return self._socket.fileno()

    def send(self, request: wire.Request) -> None:
        """Ask something."""
        try:
            self._socket.sendall(wire.request_line(request))
        except TimeoutError:
            raise ControlError(wire.No.NO_ANSWER, "the daemon does not answer") from None
        except OSError:
            raise ControlError(wire.No.HUNG_UP, self._last_word() or "the daemon has hung up") from None

    def _last_word(self) -> str | None:
        """What a daemon that hung up in the middle of a request has said before."""
        with contextlib.suppress(OSError, ValueError, LookupError):
            last = wire.answer_of(self._socket.recv(1 << 16, socket.MSG_DONTWAIT).splitlines()[-1])
            return last.why if isinstance(last, wire.SaidNo) else None
        return None

    def receive(self, timeout: float | None = None) -> list[wire.Answer]:
        """What has come since, waited for as long as `timeout` says; call it when `fileno` is readable."""
        try:
            self._socket.settimeout(timeout)
            chunk = self._socket.recv(1 << 18)
        except (TimeoutError, BlockingIOError):
            raise ControlError(wire.No.NO_ANSWER, "the daemon does not answer") from None
        except OSError:
            chunk = b""
        if not chunk:
            raise ControlError(wire.No.HUNG_UP, "the daemon has hung up: it is stopping, or the request was too much")
        *lines, self._in = (self._in + chunk).split(b"\n")
        try:
            return [wire.answer_of(line) for line in lines]
        except Malformed:
            raise ControlError(
                wire.No.NOT_UNDERSTOOD, "the daemon answers what this version does not know: are both of one version?"
            ) from None

    def close(self) -> None:
        """Hang up."""
        self._socket.close()


def ask(folder: Path, request: wire.Request, timeout: float = 10.0) -> wire.SaidYes:
    """One request and its answer. Raises ControlError where there is none in time, or where it is no."""
    until = time.monotonic() + timeout
    with contextlib.closing(Link(folder, timeout)) as link:
        link.send(request)
        answers: list[wire.Answer] = []
        while not answers:
            answers = link.receive(max(0.001, until - time.monotonic()))
    return _said_yes(answers[0])


def ask_status(folder: Path, request: wire.Request, timeout: float = 10.0) -> Mapping[str, Any]:
    """The same of a request that is answered with how the bench stands."""
    return _status(ask(folder, request, timeout))


def follow(folder: Path, take: Callable[[Mapping[str, Any]], bool]) -> None:
    """How the bench stands, now and whenever it changes, for as long as `take` wants more."""
    with contextlib.closing(Link(folder, 10.0)) as link:
        link.send(wire.Follow())
        while all(take(_status(_said_yes(answer))) for answer in link.receive()):
            pass


def _said_yes(answer: wire.Answer) -> wire.SaidYes:
    if isinstance(answer, wire.SaidNo):
        raise ControlError(answer.code, answer.why)
    return answer


def _status(answer: wire.Answer) -> Mapping[str, Any]:
    if not isinstance(answer, wire.StatusTold):
        raise ControlError(wire.No.NOT_UNDERSTOOD, "the daemon does not tell how the bench stands")
    return answer.status


@contextlib.contextmanager
def _short(folder: Path) -> Iterator[str]:
    """A short name for a folder: a socket's path may have 107 letters, a folder's more."""
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        yield f"/proc/self/fd/{descriptor}"
    finally:
        os.close(descriptor)
