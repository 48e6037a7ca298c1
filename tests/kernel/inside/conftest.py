"""What the tests in the emulated kernel start from."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from kernel.bench import ServedLines, Wired
from kernel.chip import Chip
from lines.keeper import bench


@pytest.fixture(scope="session")
def whole_chip() -> Chip:
    return Chip()


@pytest.fixture
def chip(whole_chip: Chip) -> Chip:
    """The chip as after a reset: nothing drives it, everything is pulled down."""
    whole_chip.forget()
    return whole_chip


@pytest.fixture
def wired(chip: Chip) -> Wired:
    """The two-station bench on it."""
    return Wired(chip, bench())


@pytest.fixture
def served(wired: Wired, tmp_path: Path) -> Iterator[ServedLines]:
    """Its daemon, not started yet."""
    served = ServedLines(tmp_path, wired)
    yield served
    served.close()
