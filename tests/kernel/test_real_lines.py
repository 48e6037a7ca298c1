"""Boots the emulated kernel once and lets it run the tests in `inside/`; each of them is told here."""

from __future__ import annotations

import ast
import fcntl
import json
from importlib.util import find_spec
from pathlib import Path
from xml.etree import ElementTree

import pytest
from outside import need

from kernel.machine import TESTS, NoMachine, run

INSIDE = Path(__file__).with_name("inside")
NAMES = [
    f"{path.stem}.{node.name}"
    for path in sorted(INSIDE.glob("test_*.py"))
    for node in ast.parse(path.read_text()).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
]


@pytest.fixture(scope="session")
def told(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """Every test in `inside/`, and what went wrong in it; the first who asks boots, whoever else waits for that."""
    shared = tmp_path_factory.getbasetemp()
    if shared.name.startswith("popen-"):  # of several workers
        shared = shared.parent
    folder = shared / "kernel"
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        kept = folder / "told.json"
        if not kept.exists():
            kept.write_text(json.dumps(_told(folder)))
        found = json.loads(kept.read_text())
    if isinstance(found, list):
        need(False, *found)
    assert "" not in found, found[""]
    return dict(found)


def _told(folder: Path) -> dict[str, list[str]] | list[str]:
    """What each test came to; what is missing and how to get it, where none could be run."""
    if find_spec("lgpio") is None:
        return ["lgpio", "pip install lgpio (there are wheels for Python 3.11 and 3.12)"]
    try:
        ran = run(TESTS, folder)
    except NoMachine as missing:
        return [missing.what, missing.how]
    report = folder / "tests.xml"
    if not report.exists():
        return {"": [f"the tests in the emulated kernel came to no end:\n{ran.said}"]}
    found: dict[str, list[str]] = {}
    for case in ElementTree.parse(report).iter("testcase"):
        name = f"{case.attrib['classname'].rsplit('.', 1)[-1]}.{case.attrib['name'].split('[')[0]}"
        wrong = found.setdefault(name, [])
        for what in case:
            if what.tag in ("failure", "error", "skipped"):
                wrong.append(f"{case.attrib['name']}: {what.tag}: {what.text or what.attrib.get('message', '')}")
    return found


@pytest.mark.parametrize("name", NAMES)
def test_in_the_emulated_kernel(name: str, told: dict[str, list[str]]) -> None:
    assert name in told, f"was not run; these were: {sorted(told)}"
    assert told[name] == []


def test_nothing_else_is_run_there(told: dict[str, list[str]]) -> None:
    assert sorted(told) == sorted(NAMES)
