"""The services: what the service manager's own tools say of them, and the daemon really run in its unit's cage."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from firmware.machine import ROOT, SOURCE
from outside import need
from served import LIMIT_S, Served, bursts
from served.killing import PAPER

from firmware import cage

SERVE, PANEL = SOURCE / "timerd.service", SOURCE / "timerd-panel.service"
CAGE = str(Path(cage.__file__))
PRINT = "print: A wall\npaper: demo-resin-pearl\nbench: two-station\nsheet: 8x10 in\nsteps:\n"
TRIES = """
import ctypes, mmap, os, socket, sys
def tried(what):
    try:
        what()
    except OSError as error:
        return type(error).__name__
    return "done"
told = [tried(lambda: os.sched_setscheduler(0, os.SCHED_FIFO, os.sched_param(50))),
        "done" if ctypes.CDLL(None).mlockall(3) == 0 else "no",
        tried(lambda: os.sched_setaffinity(0, {0})),
        tried(lambda: mmap.mmap(-1, 4096, prot=mmap.PROT_READ | mmap.PROT_WRITE | mmap.PROT_EXEC)),
        tried(lambda: socket.socket(socket.AF_UNIX)),
        tried(lambda: socket.socket(socket.AF_INET)),
        tried(lambda: os.mkdir(sys.argv[1])),
        tried(lambda: os.chown(sys.argv[2], 1, 1))]
print(*told)
"""


@pytest.fixture(autouse=True)
def manager() -> None:
    need(shutil.which("systemd-analyze") is not None, "systemd-analyze", "apt install systemd")


@pytest.fixture
def caged() -> None:
    """What the cage needs; it runs as any user, and is tighter as root."""
    with contextlib.suppress(OSError):
        __import__("ctypes").CDLL("libseccomp.so.2")
        return
    need(False, "libseccomp", "apt install libseccomp2")


# -- by the manager's own tools ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("unit", "most"), [(SERVE, 1.5), (PANEL, 2.0)])
def test_little_is_exposed(unit: Path, most: float) -> None:
    command = ["systemd-analyze", "security", "--offline=yes", "--no-pager", str(unit)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    found = re.search(r"Overall exposure level for [a-z.-]+: ([0-9.]+)", told)
    assert found is not None and float(found[1]) <= most


def test_the_units_are_clean(tmp_path: Path) -> None:
    """Programs that are not on this machine are changed for one that is: nothing else."""
    for unit in (SERVE, PANEL):
        text = unit.read_text()
        assert "=/opt/timerd/current/bin/timerd " in text
        (tmp_path / unit.name).write_text(text.replace("=/opt/timerd/current/bin/timerd ", "=/bin/true "))
    units = [str(path) for path in tmp_path.iterdir()]
    ran = subprocess.run(["systemd-analyze", "verify", *units], capture_output=True, text=True)
    assert (ran.returncode, ran.stdout, ran.stderr) == (0, "", "")


def test_what_the_manager_is_told() -> None:
    serve, panel = cage.settings(SERVE), cage.settings(PANEL)
    assert serve["ExecStopPost"] == ["/opt/timerd/current/bin/timerd dark"]
    assert (serve["RuntimeDirectoryPreserve"], serve["KillMode"]) == (["yes"], ["process"])
    assert (serve["LimitRTPRIO"], panel["LimitRTPRIO"]) == (["50"], ["0"])
    assert serve["RestrictRealtime"] == ["no"] and panel["RestrictRealtime"] == ["yes"]
    assert not {"CPUSchedulingPolicy", "CPUSchedulingPriority", "Nice"} & serve.keys(), "the keeper raises itself"
    assert serve["DeviceAllow"] == ["char-gpiochip rw", "char-input r"]
    assert panel["DeviceAllow"] == ["char-drm rw", "char-alsa rw"]
    for unit in (serve, panel):
        assert (unit["Type"], unit["Restart"], unit["WatchdogSec"]) == (["notify"], ["always"], ["20"])
        assert unit["WorkingDirectory"] == ["/"]
        assert unit["DevicePolicy"] == ["closed"] and unit["CapabilityBoundingSet"] == [""]
    assert serve["User"] != panel["User"]


# -- in the cage -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "told"),
    [
        (SERVE, "done done PermissionError PermissionError done PermissionError OSError PermissionError"),
        (PANEL, "PermissionError no PermissionError done done PermissionError OSError PermissionError"),
    ],
)
def test_the_cage_lets_nothing_out_that_the_unit_does_not(caged: None, tmp_path: Path, unit: Path, told: str) -> None:
    inside, outside = tmp_path / "inside", tmp_path / "outside"
    for path in (inside, outside):
        path.mkdir()
    command = [sys.executable, "-c", TRIES, str(outside / "new"), str(inside)]
    ran = subprocess.run([sys.executable, CAGE, str(unit), str(inside), "--", *command], capture_output=True, text=True)
    need(os.geteuid() == 0 and "unshare" not in ran.stderr, "root, for the whole cage", "run the tests as root")
    assert ran.stdout.split() == told.split(), ran.stderr


class Caged(Served):
    """The daemon as its unit has it started: its command line, its environment and no other, in its cage."""

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        told = cage.settings(SERVE)
        self.heard = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.heard.bind(str(self.memory / "notify"))
        self.heard.settimeout(LIMIT_S)
        there = {"TIMERD_HOME": str(self.home), "XDG_RUNTIME_DIR": str(self.memory), "LG_WD": str(self.memory)}
        manager = {
            "BENCH": self.bench, "NOTIFY_SOCKET": str(self.memory / "notify"),
            "WATCHDOG_USEC": str(int(told["WatchdogSec"][0]) * 10**6),
        }  # fmt: skip
        self.env = {**cage.environment(told), **manager, **there}

    def command(self, setting: str, *more: str) -> list[str]:
        """A command of the unit, in its cage, run by this Python."""
        words = cage.settings(SERVE)[setting][0].replace("${BENCH}", self.bench).split()
        assert words[0] == "/opt/timerd/current/bin/timerd"
        cage_ = [sys.executable, CAGE, str(SERVE), str(self.home), str(self.memory), "--"]
        return [*cage_, sys.executable, "-m", "timerd", *words[1:], *more]

    def start(self, *more: str) -> None:
        self.daemon = subprocess.Popen(
            self.command("ExecStart", "--simulated"), env=self.env, cwd=ROOT, text=True, stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        )  # fmt: skip


@pytest.fixture
def served(caged: None, tmp_path: Path) -> Iterator[Caged]:
    one = Caged(tmp_path)
    yield one
    one.close()
    one.heard.close()


def test_the_unit_s_own_command_serves_in_its_cage(served: Caged) -> None:
    served.start()
    assert served.heard.recv(100) == b"READY=1"
    scheduling = served.status()["scheduling"]
    if os.geteuid() == 0:
        assert scheduling == "real time, memory locked"
    served.load(f"{PRINT}  - {{base: plain, light: green, seconds: 0.4, lead_in: 0.2}}\n", PAPER)
    served.arm()
    served.tap("go")
    served.state("done")
    assert served.heard.recv(100) == b"WATCHDOG=1"
    said = served.stop()
    assert served.heard.recv(100) in (b"WATCHDOG=1", b"STOPPING=1") and "Traceback" not in said
    (burst,) = bursts(served.truth())
    assert burst[0] == "lamp head-green" and burst[2] is not None


def test_the_unit_s_last_off_darkens_in_its_cage(served: Caged) -> None:
    served.start()
    assert served.heard.recv(100) == b"READY=1"
    served.load(f"{PRINT}  - {{base: plain, light: green, seconds: 60, lead_in: 0.2}}\n", PAPER)
    served.arm()
    served.light()
    served.kill("beside", "keeper", "daemon")  # as the manager does to all that is left
    killed = time.monotonic()
    served.gone()
    ran = subprocess.run(
        served.command("ExecStopPost"), env=served.env, cwd=ROOT, capture_output=True, text=True, timeout=LIMIT_S
    )
    assert ran.returncode == 0 and ran.stdout.startswith("dark, by the last off"), ran.stderr
    ((line, _, dark),) = bursts(served.truth())
    assert line == "lamp head-green" and dark is not None and dark > killed


def test_the_panel_tells_the_manager_of_its_window_and_that_it_lives(served: Caged) -> None:
    told = cage.settings(PANEL)
    shown = {**cage.environment(told), "SDL_VIDEODRIVER": "dummy", "SDL_AUDIODRIVER": "dummy"}
    words = told["ExecStart"][0].split()[1:]
    panel = subprocess.Popen(
        [sys.executable, CAGE, str(PANEL), str(served.home), str(served.memory), "--", sys.executable, "-m", "timerd",
         *words, "--size", "800x480"],
        env={**served.env, **shown}, cwd=ROOT, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        assert [served.heard.recv(100) for _ in range(2)] == [b"READY=1", b"WATCHDOG=1"]
    finally:
        panel.kill()
        panel.wait()


def test_pins_that_are_not_real_are_refused_in_the_cage_too(served: Caged) -> None:
    ran = subprocess.run(
        served.command("ExecStart"), env={**served.env, "GPIOZERO_PIN_FACTORY": "mock"}, cwd=ROOT, text=True,
        capture_output=True, timeout=LIMIT_S,
    )  # fmt: skip
    (said,) = [line for line in ran.stderr.splitlines() if not line.startswith("cage:")]
    assert ran.returncode == 1 and said.startswith("the pins: MockFactory only pretends")
