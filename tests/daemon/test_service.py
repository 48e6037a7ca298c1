"""What the daemon owes its system: one of it, a folder closed to strangers, and word to the service manager."""

from __future__ import annotations

import os
import shutil
import socket
import stat
import tempfile
import uuid
from collections.abc import Callable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from timerd.daemon import service
from timerd.daemon.service import LOCK, Manager, RunFolder, Running

WHO = "timerd, simulated bench 'pier',"


def refused(path: Path, who: str = WHO) -> str:
    with pytest.raises(Running) as caught:
        RunFolder(path, who)
    return str(caught.value)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


# -- one of it ---------------------------------------------------------------------------------------------------


def test_a_second_daemon_is_refused_by_the_name_of_the_first(tmp_path: Path) -> None:
    first = RunFolder(tmp_path / "run", WHO)
    for who in (WHO, "timerd, bench 'other',"):
        said = refused(tmp_path / "run", who)
        assert said == "timerd, simulated bench 'pier', serves here already: stop that one first"
    first.close()
    second = RunFolder(tmp_path / "run", "timerd, bench 'other',")
    said = refused(tmp_path / "run")
    assert said == "timerd, bench 'other', serves here already: stop that one first", "and a longer name leaves no tail"
    second.close()
    assert (tmp_path / "run" / LOCK).read_text() == ""


def test_a_first_that_has_not_given_its_name_yet_is_another_timerd(tmp_path: Path) -> None:
    first = RunFolder(tmp_path / "run", "")
    assert refused(tmp_path / "run") == "another timerd serves here already: stop that one first"
    first.close()


def test_one_that_was_killed_leaves_the_way_free(tmp_path: Path) -> None:
    child = os.fork()
    if not child:
        RunFolder(tmp_path / "run", WHO)
        os._exit(0)  # with the lock held, and its name in it
    os.waitpid(child, 0)
    assert (tmp_path / "run" / LOCK).read_text() == WHO
    RunFolder(tmp_path / "run", WHO).close()


def test_no_file_is_left_open(tmp_path: Path) -> None:
    before = len(os.listdir("/proc/self/fd"))
    first = RunFolder(tmp_path / "run", WHO)
    for _ in range(5):
        refused(tmp_path / "run")
    first.close()
    assert len(os.listdir("/proc/self/fd")) == before


# -- a folder of its own -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077])
def test_a_new_folder_is_the_owners_and_the_group_may_enter(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        folder = RunFolder(tmp_path / "deep" / "run", WHO)
    finally:
        os.umask(before)
    assert mode(folder.path) == 0o750 & ~mask
    assert not mode(folder.path / LOCK) & 0o027
    folder.close()


@pytest.mark.parametrize(
    ("found", "expected"),
    [(0o777, 0o750), (0o755, 0o750), (0o770, 0o750), (0o751, 0o750), (0o750, 0o750), (0o700, 0o700), (0o2750, 0o2750)],
)
def test_a_folder_that_is_open_to_others_is_closed(tmp_path: Path, found: int, expected: int) -> None:
    path = tmp_path / "run"
    path.mkdir()
    path.chmod(found)
    folder = RunFolder(path, WHO)
    assert mode(path) == expected
    folder.close()


def test_somebody_elses_folder_is_not_used(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run"
    path.mkdir(mode=0o777)
    path.chmod(0o777)
    owner = path.stat().st_uid
    monkeypatch.setattr(os, "geteuid", lambda: owner + 1000)
    if owner == 0:  # root's folders are the system's own: a service's run folder may be one
        assert refused(path) == f"{path}: anybody may write there: have it made for its group alone (mode 750)"
        path.chmod(0o775)
        RunFolder(path, WHO).close()
        assert mode(path) == 0o775, "what is not ours is not changed"
        path.chmod(0o777)
        os.chown(path, 4242, -1)
    assert refused(path) == f"{path}: belongs to somebody else: remove it, or give --home DIR"
    assert mode(path) == 0o777 and (owner != 0 or sorted(p.name for p in path.iterdir()) == [LOCK])


def as_nobody(call: Callable[[], str]) -> str:
    heard, told = os.pipe()
    child = os.fork()
    if not child:
        try:
            os.setgroups([])
            os.setgid(65534)
            os.setuid(65534)
            os.write(told, call().encode())
        finally:
            os._exit(0)
    os.close(told)
    with os.fdopen(heard) as file:
        said = file.read()
    os.waitpid(child, 0)
    return said


def said_of(path: Path) -> str:
    try:
        RunFolder(path, WHO).close()
    except Running as error:
        return str(error)
    return "served"


@pytest.mark.skipif(os.geteuid() != 0, reason="only root can become somebody else")
def test_a_folder_that_this_user_may_not_use_is_one_line() -> None:
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    path = place / "run"
    assert (
        as_nobody(lambda: said_of(path)) == f"{path}: cannot be used: Permission denied: mend that, or give --home DIR"
    )
    path.mkdir(mode=0o755)
    assert (
        as_nobody(lambda: said_of(path)) == f"{path}: cannot be used: Permission denied: mend that, or give --home DIR"
    )
    os.chown(path, 1, 1)
    assert as_nobody(lambda: said_of(path)) == f"{path}: belongs to somebody else: remove it, or give --home DIR"
    os.chown(path, 65534, 65534)
    assert as_nobody(lambda: said_of(path)) == "served"
    shutil.rmtree(place)


def test_what_is_no_folder_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for path, why in ((tmp_path / "file", "File exists"), (tmp_path / "file" / "run", "Not a directory")):
        assert refused(path) == f"{path}: cannot be used: {why}: mend that, or give --home DIR"
    assert (tmp_path / "file").read_text() == "x"
    (tmp_path / "run" / LOCK).mkdir(parents=True)
    said = refused(tmp_path / "run")
    assert said == f"{tmp_path / 'run'}: cannot be used: Is a directory: mend that, or give --home DIR"


# -- word to the service manager ---------------------------------------------------------------------------------


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
    monkeypatch.setattr(service, "time", clock)
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
    monkeypatch.setattr(service, "time", clock)
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
