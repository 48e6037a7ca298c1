"""What the daemon owes its system: one of it, and a folder closed to strangers."""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from golden import Golden

from timerd.daemon import service
from timerd.daemon.service import LOCK, RunFolder, Running

WHO = "timerd, simulated bench 'pier',"


def refused(path: Path, who: str = WHO) -> str:
    with pytest.raises(Running) as caught:
        RunFolder(path, who)
    return str(caught.value)


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


# -- one of it ---------------------------------------------------------------------------------------------------


def test_a_second_daemon_is_refused_by_the_name_of_the_first(golden: Golden, tmp_path: Path) -> None:
    first = RunFolder(tmp_path / "run", WHO)
    for who in (WHO, "timerd, bench 'other',"):
        said = refused(tmp_path / "run", who)
        golden(said)
    first.close()
    second = RunFolder(tmp_path / "run", "timerd, bench 'other',")
    said = refused(tmp_path / "run")
    golden(said)
    second.close()
    assert (tmp_path / "run" / LOCK).read_text() == ""


def test_a_first_that_has_not_given_its_name_yet_is_another_timerd(golden: Golden, tmp_path: Path) -> None:
    first = RunFolder(tmp_path / "run", "")
    golden(refused(tmp_path / "run"))
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


def test_a_run_folder_that_is_full_is_told_in_words(
    golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It said "28"."""

    def full(descriptor: int, data: bytes) -> int:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    before = len(os.listdir("/proc/self/fd"))
    with monkeypatch.context() as patched:
        patched.setattr(service.os, "write", full)
        golden(refused(tmp_path / "run"))
    assert len(os.listdir("/proc/self/fd")) == before
    RunFolder(tmp_path / "run", WHO).close()


# -- a folder of its own -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("mask", [0o000, 0o022, 0o077])
def test_a_new_folder_is_the_owners_and_the_group_may_enter(tmp_path: Path, mask: int) -> None:
    before = os.umask(mask)
    try:
        folder = RunFolder(tmp_path / "deep" / "run", WHO)
    finally:
        os.umask(before)
    assert mode(folder.path) == 0o750 & ~mask
    assert mode(tmp_path / "deep") == 0o755 & ~mask, "the home above it: others may not write there"
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


def test_somebody_elses_folder_is_not_used(golden: Golden, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "run"
    path.mkdir(mode=0o777)
    path.chmod(0o777)
    owner = path.stat().st_uid
    monkeypatch.setattr(os, "geteuid", lambda: owner + 1000)
    if owner == 0:  # root's folders are the system's own: a service's run folder may be one
        golden(refused(path))
        path.chmod(0o775)
        RunFolder(path, WHO).close()
        assert mode(path) == 0o775, "what is not ours is not changed"
        path.chmod(0o777)
        os.chown(path, 4242, -1)
    golden(refused(path))
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
def test_a_folder_that_this_user_may_not_use_is_one_line(golden: Golden) -> None:
    place = Path(tempfile.mkdtemp())
    place.chmod(0o755)
    path = place / "run"
    golden(as_nobody(lambda: said_of(path)).replace(str(place), "PLACE"))
    path.mkdir(mode=0o755)
    golden(as_nobody(lambda: said_of(path)).replace(str(place), "PLACE"))
    os.chown(path, 1, 1)
    golden(as_nobody(lambda: said_of(path)).replace(str(place), "PLACE"))
    os.chown(path, 65534, 65534)
    assert as_nobody(lambda: said_of(path)) == "served"
    shutil.rmtree(place)


def test_what_is_no_folder_is_one_line(golden: Golden, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    for path in (tmp_path / "file", tmp_path / "file" / "run"):
        golden(refused(path))
    assert (tmp_path / "file").read_text() == "x"
    (tmp_path / "run" / LOCK).mkdir(parents=True)
    said = refused(tmp_path / "run")
    golden(said)
