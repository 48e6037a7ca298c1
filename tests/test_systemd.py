"""Word to the service manager: what it hears, and that it holds nobody up."""

from __future__ import annotations

import os
import socket
import uuid
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from timerd import systemd
from timerd.systemd import Manager


class Clock:
    """The test's own clock, in place of the service's."""

    def __init__(self, now: float) -> None:
        self.now = now

    def monotonic(self) -> float:
        return self.now


class Listening:
    """A service manager's end."""

    def __init__(self, address: str) -> None:
        self.end = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_NONBLOCK)
        self.end.bind(address)

    def heard(self) -> list[str]:
        found = []
        while True:
            try:
                found.append(self.end.recv(4096).decode())
            except BlockingIOError:
                return found


@pytest.fixture(params=["a path", "an abstract name"])
def listening(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Listening]:
    for name in ("WATCHDOG_USEC", "WATCHDOG_PID"):
        monkeypatch.delenv(name, raising=False)
    if request.param == "a path":
        told = address = str(tmp_path / "notify")
    else:
        name = f"timerd-test-{uuid.uuid4().hex}"
        told, address = f"@{name}", f"\0{name}"
    monkeypatch.setenv("NOTIFY_SOCKET", told)
    one = Listening(address)
    yield one
    one.end.close()


def test_it_is_told_what_it_is_to_be_told(listening: Listening) -> None:
    manager = Manager()
    manager.tell("READY=1")
    manager.tell("STOPPING=1")
    assert listening.heard() == ["READY=1", "STOPPING=1"]
    assert manager.wake_at is None, "no watchdog was asked for"
    manager.alive()
    assert listening.heard() == []


def test_the_watchdog_is_told_twice_in_its_time(listening: Listening, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATCHDOG_USEC", "1000000")
    monkeypatch.setenv("WATCHDOG_PID", str(os.getpid()))
    clock = Clock(1000.0)
    monkeypatch.setattr(systemd, "time", clock)
    manager = Manager()
    assert manager.wake_at is not None and manager.wake_at <= 1000.0, "at once"
    heard = []
    for _ in range(400):  # four seconds, looked at every hundredth
        manager.alive()
        heard += [(round(clock.now - 1000.0, 2), words) for words in listening.heard()]
        assert manager.wake_at is not None and clock.now < manager.wake_at <= clock.now + 0.5
        clock.now += 0.01
    assert [words for _, words in heard] == ["WATCHDOG=1"] * 8
    gaps = [b - a for (a, _), (b, _) in pairwise(heard)]
    assert heard[0][0] == 0.0 and all(0.49 <= gap <= 0.52 for gap in gaps)


@pytest.mark.parametrize(
    ("usec", "pid"),
    [("", "mine"), ("0", "mine"), ("soon", "mine"), ("-5", "mine"), ("1e6", "mine"), ("²", "mine"), ("1000000", "1")],
)
def test_a_watchdog_that_is_none_or_anothers_is_not_told(
    listening: Listening, monkeypatch: pytest.MonkeyPatch, usec: str, pid: str
) -> None:
    monkeypatch.setenv("WATCHDOG_USEC", usec)
    monkeypatch.setenv("WATCHDOG_PID", str(os.getpid()) if pid == "mine" else pid)
    manager = Manager()
    manager.alive()
    assert manager.wake_at is None and listening.heard() == []
    manager.tell("READY=1")
    assert listening.heard() == ["READY=1"]


def test_without_a_manager_nothing_is_told_and_nothing_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NOTIFY_SOCKET", raising=False)
    monkeypatch.setenv("WATCHDOG_USEC", "1000000")
    monkeypatch.delenv("WATCHDOG_PID", raising=False)
    manager = Manager()
    manager.tell("READY=1")
    manager.alive()
    assert manager.wake_at is None


def test_a_manager_that_has_gone_or_does_not_listen_holds_nobody_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    Manager().tell("READY=1")
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    monkeypatch.setenv("WATCHDOG_USEC", "1000000")
    monkeypatch.delenv("WATCHDOG_PID", raising=False)
    clock = Clock(1000.0)
    monkeypatch.setattr(systemd, "time", clock)
    deaf = Listening(str(tmp_path / "notify"))
    before = len(os.listdir("/proc/self/fd"))
    manager = Manager()
    for _ in range(5000):  # more than any socket's queue holds; and none of them may wait
        manager.alive()
        clock.now += 0.5
    manager.tell("STOPPING=1", within_s=0.01)
    assert len(os.listdir("/proc/self/fd")) == before
    told = deaf.heard()
    assert 0 < len(told) < 5000 and set(told) == {"WATCHDOG=1"}
    deaf.end.close()
