"""The kernel that is looked for, and a machine on which none can run: it is said what is missing, and a test is skipped
or, where tools are required, fails."""

from __future__ import annotations

from pathlib import Path

import pytest
from outside import need

from kernel import build
from kernel.machine import NoMachine, run


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "timerd" / "kernels"


def put(cache: Path, version: str, key: str, script: str = "") -> Path:
    place = cache / f"{version}-{key}"
    place.mkdir(parents=True)
    kernel = place / "linux"
    kernel.write_text(f"#!/bin/sh\n{script}\n")
    kernel.chmod(0o755)
    return kernel


def test_the_kernel_of_this_config_is_found_and_no_other(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    key = build._key()
    put(cache, "6.1", "another")
    with pytest.raises(build.NotBuilt):
        build.kernel()
    kernel = put(cache, "6.1", key)
    assert build.kernel() == kernel


def test_another_config_is_another_kernel_but_a_comment_is_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = (build.HERE / "config").read_text()
    key = build._key()
    monkeypatch.setattr(build, "HERE", tmp_path)
    (tmp_path / "config").write_text(f"# a word more\n\n{asked}")
    assert build._key() == key
    (tmp_path / "config").write_text(f"{asked}CONFIG_EXTRA=y\n")
    assert build._key() != key


def test_without_a_kernel_it_is_said_how_to_get_one(cache: Path, tmp_path: Path) -> None:
    with pytest.raises(NoMachine, match=r"^a kernel with a simulated GPIO chip is not here: apt install linux-source "):
        run(["-c", "pass"], tmp_path / "job")


def test_where_it_does_not_come_up_its_own_words_are_told(
    cache: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    put(cache, "6.1", build._key(), "echo 'check_ptrace : PTRACE_TRACEME failed: Operation not permitted'; exit 1")
    with pytest.raises(NoMachine) as told:
        run(["-c", "pass"], tmp_path / "job")
    assert str(told.value) == (
        "a machine on which User-Mode Linux comes up (it said: check_ptrace : PTRACE_TRACEME failed: Operation not "
        "permitted) is not here: where processes may trace each other, it does (in a container: with ptrace allowed)"
    )
    monkeypatch.delenv("TIMERD_REQUIRE_TOOLS", raising=False)
    with pytest.raises(pytest.skip.Exception, match="PTRACE_TRACEME failed"):
        need(False, told.value.what, told.value.how)
    monkeypatch.setenv("TIMERD_REQUIRE_TOOLS", "1")
    with pytest.raises(pytest.fail.Exception, match="PTRACE_TRACEME failed"):
        need(False, told.value.what, told.value.how)


def test_one_that_hangs_is_ended(cache: Path, tmp_path: Path) -> None:
    put(cache, "6.1", build._key(), "echo hello; while :; do :; done")
    with pytest.raises(NoMachine, match=r"it said: hello +killed after 0\.5 s"):
        run(["-c", "pass"], tmp_path / "job", within_s=0.5)
