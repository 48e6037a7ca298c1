"""Random evenings at the trays, a fixed part of those in tests/measure/trays.py."""

from __future__ import annotations

import pytest
from walks.trays_walk import walk


@pytest.mark.parametrize("seed", range(18))
def test_a_random_evening(seed: int) -> None:
    evening = walk(seed)
    assert evening.sent
