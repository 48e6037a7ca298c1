"""Every number from outside has its source in the project: what a test names in SOURCES.md is there, and is named."""

from __future__ import annotations

import re
from pathlib import Path

TESTS = Path(__file__).parent
NAMES = re.findall(r"^## (.+)$", (TESTS / "SOURCES.md").read_text(), re.M)
NAMED = re.compile(r"SOURCES: ([^\n]+)")
ELSEWHERE = re.compile(r"facts/[a-z]+\.md|\btrade reference\b|\btrade\.md\b")


def cited() -> dict[str, list[str]]:
    """What each file of the tests says behind `SOURCES: `."""
    files = [path for path in TESTS.rglob("*.py") if path != Path(__file__) and "node_modules" not in path.parts]
    return {str(path.relative_to(TESTS)): NAMED.findall(path.read_text()) for path in files}


def test_what_is_named_is_there() -> None:
    lost = [
        (file, said) for file, all_said in cited().items() for said in all_said if not said.startswith(tuple(NAMES))
    ]
    assert lost == []


def test_what_is_there_is_named_once_at_least() -> None:
    said = [text for all_said in cited().values() for text in all_said]
    assert [name for name in NAMES if not any(text.startswith(name) for text in said)] == []
    assert len(NAMES) == len(set(NAMES)) > 12


def test_no_source_is_a_page_that_is_not_in_the_project() -> None:
    away = [
        str(path.relative_to(TESTS.parent)) for folder in ("tests", "timerd", "profiles", "hardware", "firmware")
        for path in (TESTS.parent / folder).rglob("*")
        if path.suffix in (".py", ".md", ".yaml") and path != Path(__file__) and "node_modules" not in path.parts
        and ELSEWHERE.search(path.read_text())
    ]  # fmt: skip
    assert away == []
