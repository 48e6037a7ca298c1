"""The file of what is expected can be failed."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from golden import Golden


def test_another_value_one_more_and_one_left_over_fail(tmp_path: Path) -> None:
    held = [Golden(tmp_path / "test_x.py", "t", tmp_path, write) for write in (True, False, False, False)]
    for one in held[:2]:
        one({"a": (1, f"{tmp_path}/b\nc")})
        one.end()
    assert (tmp_path / "test_x.expected.yaml").read_text() == "t:\n- a:\n  - 1\n  - |-\n    TMP/b\n    c\n"
    for wrong in (lambda: held[1]("one more"), lambda: held[2]({"a": [1, "b"]}), held[3].end):
        with pytest.raises(AssertionError, match="yaml: t"):
            wrong()
    with pytest.raises(AssertionError, match="Fraction: not to be held"):
        held[0](Fraction(1, 2))
    with pytest.raises(AssertionError, match="no ValueError"), held[0].raises(ValueError):
        pass
