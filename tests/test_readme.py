"""README and manual show what the commands print, and they print it. `python tests/test_readme.py` writes it anew."""

from __future__ import annotations

import contextlib
import io
import os
import re
import sqlite3
import tempfile
import time
from pathlib import Path

import pytest

from timerd.cli import main

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
PAGES = (README, *sorted((ROOT / "timerd" / "manual").glob("*.md")))
SHOWN = re.compile(r"<!-- shown: timerd (.*?) -->\n```\n\$ timerd [^\n]*\n(.*?)```", re.S)
FILE = re.compile(r"<!-- file: (.*?) -->\n```yaml\n(.*?)```", re.S)


def book_of_an_evening(home: Path) -> None:
    """The book that the README reads in, and the time zone that it is read in."""
    os.environ["TZ"] = "UTC"
    time.tzset()
    with contextlib.closing(sqlite3.connect(home / "book.sqlite")) as db:
        db.executescript((ROOT / "tests" / "book" / "format-1.sql").read_text())


def output(command: str, out: str) -> str:
    """What a command prints in the clone; after `|` the heading of the part that is shown."""
    words, _, part = command.partition(" | ")
    argv = words.split() + (["--out", out] if words == "demo" else [])
    told = io.StringIO()
    with contextlib.redirect_stdout(told), contextlib.chdir(ROOT):
        main(argv)
    text = told.getvalue()
    return text if not part else next(block for block in text.split("\n\n") if block.startswith(part)) + "\n"


def typed(command: str) -> str:
    """The command as its reader types it."""
    words, _, part = command.partition(" | ")
    return f"$ timerd {words}{'   # of which: ' + part if part else ''}\n"


def test_what_is_shown_is_what_is_printed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("TIMERD_HOME", str(tmp_path))
    monkeypatch.setenv("TZ", "UTC")
    book_of_an_evening(tmp_path)
    pages = [page.read_text() for page in PAGES]
    found = [(page, *shown) for page in pages for shown in SHOWN.findall(page)]
    assert len(found) >= 19
    for page, command, text in found:
        assert output(command, str(tmp_path)) == text, command
        assert f"```\n{typed(command)}" in page
    monkeypatch.undo()
    time.tzset()


def test_the_files_shown_are_the_files_used() -> None:
    found = [shown for page in PAGES for shown in FILE.findall(page.read_text())]
    assert found
    for name, text in found:
        assert (ROOT / name).read_text() == text


def test_the_first_paragraph_states_the_job() -> None:
    first = README.read_text().split("\n\n")[1]
    assert all(word in first for word in ("variable-contrast", "pedals", "Raspberry Pi", "burned", "dodged", "flash"))


if __name__ == "__main__":
    os.environ["TIMERD_HOME"] = tempfile.mkdtemp()
    book_of_an_evening(Path(os.environ["TIMERD_HOME"]))
    for page in PAGES:
        text = SHOWN.sub(
            lambda m: f"<!-- shown: timerd {m[1]} -->\n```\n{typed(m[1])}{output(m[1], os.environ['TIMERD_HOME'])}```",
            page.read_text(),
        )
        text = FILE.sub(lambda m: f"<!-- file: {m[1]} -->\n```yaml\n{(ROOT / m[1]).read_text()}```", text)
        page.write_text(text)
