"""The last off that waits beside a keeper, on lines that stay as a dead keeper left them and on lines that fall."""

from __future__ import annotations

from pathlib import Path

import pytest
from kernel.bench import Wired
from kernel.line_killing import WAYS, line_killing

KILLS = 3


@pytest.mark.parametrize("stays", [False, True], ids=["falls", "stays"])
@pytest.mark.parametrize("way", WAYS)
def test_the_book_holds_what_the_line_gave(way: str, stays: bool, wired: Wired, tmp_path: Path) -> None:
    """A seeded few; a hundred of each are in tests/measure/line_kills.py, which judges how soon it was dark."""
    found = list(line_killing(tmp_path, wired, way, stays, 1, KILLS))
    assert all(one.holds for one in found), "\n".join(map(str, found))
