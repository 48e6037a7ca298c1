"""An installation that is killed at one of its commands, and what comes after it."""

from __future__ import annotations

import shutil
from pathlib import Path

from firmware.machine import Machine

INSTALL = ("--yes", "--bench", "two-station")
_TRAP = """\
if [ -z "$INSIDE" ]; then
    export INSIDE=1
    set -T
    n=0
    trap 'n=$((n + 1)); {then}' DEBUG
fi
"""
"""Bash takes it in before the installer, and goes through it before each of the installer's commands."""


def commands(folder: Path) -> int:
    """How many commands an installation goes through."""
    machine, count = _machine(folder), folder / "count"
    _install(machine, folder, f'echo $n >"{count}"')
    return int(count.read_text())


def killed_at(folder: Path, command: int) -> list[str]:
    """What is wrong after an installation was killed before that command: with a second one, and with an uninstall."""
    whole = _machine(folder / "whole")
    before = _tree(whole)
    assert whole.install(*INSTALL).returncode == 0
    machine = _machine(folder / "killed")
    _install(machine, folder, f"[ $n = {command} ] && kill -9 $$")
    shutil.copytree(machine.root, folder / "as-killed", symlinks=True)
    wrong = []
    again = machine.install(*INSTALL)
    if again.returncode or _tree(machine) != _tree(whole):
        wrong.append(f"{command}: installed again: {again.stderr} {_unlike(machine, _tree(whole))}")
    shutil.rmtree(machine.root)
    shutil.copytree(folder / "as-killed", machine.root, symlinks=True)
    taken = machine.install("--yes", "--uninstall")
    left = {path: text for path, text in _tree(machine).items() if path != "etc/timerd/bench"}
    if taken.returncode or left != before:
        wrong.append(f"{command}: uninstalled: {taken.stderr} {_unlike(machine, before)}")
    return wrong


def _machine(folder: Path) -> Machine:
    folder.mkdir(parents=True, exist_ok=True)
    return Machine(folder)


def _install(machine: Machine, folder: Path, then: str) -> None:
    trap = folder / "trap"
    trap.write_text(_TRAP.replace("{then}", then))
    machine.install(*INSTALL, BASH_ENV=str(trap))


def _tree(machine: Machine) -> dict[str, str]:
    """All but what the system keeps its users in: those stay."""
    users = ("passwd", "group", "shadow", "gshadow", ".pwd.lock")
    return {
        path: text for path, text in machine.tree().items() if path.rpartition("/")[2].removesuffix("-") not in users
    }


def _unlike(machine: Machine, wanted: dict[str, str]) -> list[str]:
    found = _tree(machine)
    return sorted(path for path in found.keys() | wanted.keys() if found.get(path) != wanted.get(path))
