"""The last off that waits beside a keeper, on lines that stay as a dead keeper left them and on lines that fall."""

from __future__ import annotations

from pathlib import Path

import pytest
from kernel.bench import Wired
from kernel.line_killing import WAYS, line_killing
from served import NEAR_S


@pytest.mark.parametrize("stays", [False, True], ids=["falls", "stays"])
def test_the_book_holds_what_the_line_gave(stays: bool, wired: Wired, tmp_path: Path) -> None:
    """A seeded few of each way; a hundred of each are in tests/measure/line_kills.py, which tells how soon it was dark.

    Each line that was lit goes dark, and stays: `line_killing` asks for that.
    """
    found = list(line_killing(tmp_path, wired, (*WAYS, "killed", "stopped"), stays, seed=1))
    assert len(found) == len(WAYS) + 2
    assert any(one.true_hi > 0 for one in found), "none of these was lit"
    assert all(one.outside_s < NEAR_S for one in found), "\n".join(map(str, found))
