"""Every hazard says what is safe and which tests show it, and those tests exist."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
TEXT = (ROOT / "hardware" / "HAZARDS.md").read_text()
NAME = re.compile(r"`(tests/[^`]+)`")


def hazards(text: str) -> dict[str, str]:
    """The hazards under "Proved", with what is said of each."""
    proved = text.split("\n## Proved\n")[1].split("\n## ")[0]
    head, *parts = re.split(r"^### (.+)$", proved, flags=re.M)
    assert not head.strip()
    return dict(zip(parts[::2], parts[1::2], strict=True))


@cache
def names_in(path: Path) -> frozenset[str]:
    """The tests of a file."""
    nodes = ast.walk(ast.parse(path.read_text()))
    return frozenset(node.name for node in nodes if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"))


def missing(text: str) -> list[str]:
    """Each name in the page that leads to no test."""
    found = []
    for name in NAME.findall(text):
        file, _, test = name.partition("::")
        path = ROOT / file
        if file.startswith("tests/rehearsals/") and not test:
            there = (
                all((ROOT / f"{file}{kind}").exists() for kind in (".feet.yaml", ".expected.json"))
                or name == "tests/rehearsals/NAME"
            )
        elif path.suffix == ".py" and path.exists():
            there = (test in names_in(path)) if test else True
        else:
            there = False
        if not there:
            found.append(name)
    return found


def faults(text: str) -> list[str]:
    """What is wrong with the page."""
    found = [f"{name}: there is no such test" for name in missing(text)]
    for hazard, said in hazards(text).items():
        found += [
            f"{hazard}: says no '{key}'" for key in ("Harm", "Safe reaction", "Proved by") if f"\n- {key}: " not in said
        ]
        if not NAME.search(said.partition("- Proved by:")[2]):
            found.append(f"{hazard}: names no test")
    return found


def test_every_hazard_names_tests_that_exist() -> None:
    assert faults(TEXT) == []
    assert len(hazards(TEXT)) >= 20 and len(NAME.findall(TEXT)) >= 60


def test_the_tests_of_interlock_guard_and_wiring_are_each_named_somewhere() -> None:
    """What was written to prove a hazard is named by one: those of the main rules at least."""
    for test in ("test_interlock.py", "test_wiring.py"):
        assert f"tests/hardware/{test}::" in TEXT
    assert "tests/firmware/test_guard.py::" in TEXT and "tests/firmware/test_main.py::" in TEXT


@pytest.mark.parametrize(
    ("was", "now", "says"),
    [
        (
            "::test_the_pipe_closes`",
            "::test_it_leaks`",
            "tests/bench/test_keeper.py::test_it_leaks: there is no such test",
        ),
        ("rehearsals/plain.pipe-cut`", "rehearsals/plain.pipe`", "tests/rehearsals/plain.pipe: there is no such test"),
        (
            "`tests/test_house.py::test_imports_point_one_way`",
            "eye",
            "The keeper depends on something that breaks: names no test",
        ),
        (
            "- Safe reaction: none is lit.",
            "- None is lit.",
            "Two lights at once, or the wrong one: says no 'Safe reaction'",
        ),
    ],
)
def test_a_slip_in_the_page_is_told(was: str, now: str, says: str) -> None:
    assert TEXT.count(was) == 1
    assert faults(TEXT.replace(was, now)) == [says]
