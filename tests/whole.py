"""What the suite takes a fixed part of. The rest is marked `whole`, and runs in tests/measure/whole.py."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest


def first(values: Iterable[Any], count: int) -> list[Any]:
    """Parameters for `parametrize`: the first so many for the suite, the others for `-m whole` alone."""
    values = list(values)
    assert 0 < count < len(values)
    return [*values[:count], *(pytest.param(value, marks=pytest.mark.whole) for value in values[count:])]
