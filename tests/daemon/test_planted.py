"""Modules that lie in the folder where timerd is started are nobody's: what is started there runs its own."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from served import LIMIT_S, Served

PLANTED = ("select.py", "json.py", "ctypes.py", "timerd/__init__.py", "timerd/bench/loop.py", "timerd/bench/lastoff.py")
PROGRAM = Path(sys.executable).with_name("timerd")
"""As it is installed: it does not look into the folder either."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder of modules that tell of it when they are run."""
    folder = tmp_path / "planted"
    for name in PLANTED:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"open({str(folder / 'ran')!r}, 'a').write({name!r})\nraise SystemExit(1)\n")
    return folder


@pytest.fixture
def served(folder: Path, tmp_path: Path) -> Iterator[Served]:
    served = Served(tmp_path)
    served.daemon = subprocess.Popen(
        [PROGRAM, "serve", "--bench", served.bench, "--simulated"], env=served.env, cwd=folder, text=True,
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    yield served
    served.close()


def test_keeper_and_last_off_are_timerd_s_own_wherever_it_is_served(served: Served, folder: Path) -> None:
    assert served.daemon is not None and served.daemon.stdout is not None
    assert served.daemon.stdout.readline().startswith("serving"), (folder / "ran").read_text()
    served.kill("keeper")
    assert served.state("fault")["reason"] == {"why": "keeper gone"}, "and the last off ran"
    assert not (folder / "ran").exists()


def test_the_self_check_runs_nothing_of_the_folder_it_is_asked_in(folder: Path, tmp_path: Path) -> None:
    asked = [PROGRAM, "--home", str(tmp_path / "home"), "bench", "check", "--bench", "two-station"]
    ran = subprocess.run(asked, cwd=folder, capture_output=True, text=True, timeout=LIMIT_S)
    assert "scheduling" in ran.stdout and not (folder / "ran").exists()
