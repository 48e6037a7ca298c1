"""The attacks on a real daemon that no other test does, in their short form; tests/measure/attacks.py has them all."""

from __future__ import annotations

from pathlib import Path

import pytest
from attacks import Ground, clients
from whole import first


@pytest.mark.parametrize("do", first([clients.tiny_seconds, clients.much_while_lit, clients.slow_files], 2))
def test_nothing_comes_of_it(do: object, tmp_path: Path) -> None:
    assert callable(do)
    assert do(Ground(tmp_path, short=True))
