"""Boots the emulated kernel once and lets it run the tests in `inside/`; each of them is told here.

That takes some minutes, longer than all else: it is done where asked for, `pytest -n 0 -m kernel`, as .ci/run does.
"""

from __future__ import annotations

import ast
from importlib.util import find_spec
from pathlib import Path
from xml.etree import ElementTree

import pytest
from outside import need

from kernel.machine import TESTS, NoMachine, run

pytestmark = pytest.mark.kernel
INSIDE = Path(__file__).with_name("inside")
NAMES = [
    f"{path.stem}.{node.name}"
    for path in sorted(INSIDE.glob("test_*.py"))
    for node in ast.parse(path.read_text()).body
    if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
]


@pytest.fixture(scope="session")
def told(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[str]]:
    """Every test in `inside/`, and what went wrong in it."""
    if request.config.option.markexpr != "kernel":
        pytest.skip("some minutes in the emulated kernel, for whoever asks for them: pytest -n 0 -m kernel")
    need(find_spec("lgpio") is not None, "lgpio", "pip install lgpio (there are wheels for Python 3.11 and 3.12)")
    folder = tmp_path_factory.mktemp("kernel")
    try:
        ran = run(TESTS, folder)
    except NoMachine as missing:
        need(False, missing.what, missing.how)
        raise
    report = folder / "tests.xml"
    assert report.exists(), f"the tests in the emulated kernel came to no end:\n{ran.said}"
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
