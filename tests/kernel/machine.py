"""Boots the emulated kernel, and runs one Python program in it.

PYTHONPATH=tests python -m kernel.machine [-k NAME]     shows what the tests in inside/ say, or some of them
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from kernel.build import HOW, NotBuilt, kernel

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
JOB, BEGUN, ENDED = "job.json", "begun", "ended"
TESTS = (
    "-m", "pytest", "-c", str(ROOT / "pyproject.toml"), "--rootdir", str(ROOT), "--basetemp=/run/tmp/pytest", "-q",
    "-o", "addopts=--import-mode=importlib", "-p", "no:cacheprovider", "--color=no",
    "--junitxml=/run/out/tests.xml", "-o", "faulthandler_timeout=300", "-o", "faulthandler_exit_on_timeout=true",
    str(HERE / "inside"),
)  # fmt: skip
"""The program that runs the tests in the emulated kernel, and leaves `tests.xml`. One that stands still ends all, and
says where it stood."""
MEMORY = "512M"
WITHIN_S = 1200.0


class NoMachine(LookupError):
    """No emulated kernel runs here: what is missing, and how to get it."""

    def __init__(self, what: str, how: str) -> None:
        super().__init__(f"{what} is not here: {how}")
        self.what, self.how = what, how


class Ran(NamedTuple):
    """What a program came to: its exit status (None: the kernel ended first), and what was on the console."""

    status: int | None
    said: str


def run(program: Sequence[str], folder: Path, within_s: float = WITHIN_S) -> Ran:
    """Boot the kernel and run `python PROGRAM...` in it. Raises NoMachine where that cannot be done here.

    The guest sees this machine's files, which it cannot write to, but for `folder`: to it that is /run/out. It has a
    Raspberry Pi's revision in its /proc/cpuinfo, and a chip of 54 lines that is simulated (`chip.py`).
    """
    try:
        linux = kernel()
    except NotBuilt as missing:
        raise NoMachine(str(missing), HOW) from None
    folder.mkdir(parents=True, exist_ok=True)
    for name in (BEGUN, ENDED):
        (folder / name).unlink(missing_ok=True)
    environment = {name: value for name, value in os.environ.items() if name in ("PATH", "LANG", "LC_ALL", "LC_CTYPE")}
    job = {"program": [sys.executable, *program], "environment": environment}
    (folder / JOB).write_text(json.dumps(job))
    init = folder / "init"
    init.write_text(f"#!/bin/sh\nexec '{sys.executable}' '{HERE / 'guest.py'}' '{folder}'\n")
    init.chmod(0o755)
    said = _boot(linux, init, folder, within_s)
    if not (folder / BEGUN).exists():
        last = " ".join(line.strip() for line in said.splitlines()[-4:])
        how = "where processes may trace each other, it does (in a container: with ptrace allowed)"
        raise NoMachine(f"a machine on which User-Mode Linux comes up (it said: {last})", how)
    ended = folder / ENDED
    return Ran(int(ended.read_text()) if ended.exists() else None, said)


def _boot(linux: Path, init: Path, folder: Path, within_s: float) -> str:
    """Run the kernel until it halts; what its console said."""
    options = ("root=host", "rootfstype=hostfs", "rootflags=/", "ro", "con=null", "con0=null,fd:1", "quiet")
    machine = subprocess.Popen(
        [linux, f"mem={MEMORY}", *options, f"init={init}", f"uml_dir={folder}/"],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace",
        env={**os.environ, "TMPDIR": str(folder)}, start_new_session=True,
    )  # fmt: skip
    try:
        return machine.communicate(timeout=within_s)[0]
    except subprocess.TimeoutExpired:
        os.killpg(machine.pid, signal.SIGKILL)
        return machine.communicate()[0] + f"\nkilled after {within_s:g} s"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        try:
            sys.stdout.write(run([*TESTS, *sys.argv[1:]], Path(scratch)).said)
        except NoMachine as none:
            sys.exit(str(none))
