"""The whole of what the suite takes a fixed part of: every seed, size and instant that is marked `whole`.

python tests/measure/whole.py [--short]

Some minutes; --short runs every fifteenth of them.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

ONE_IN = 15


class OneIn:
    """For pytest: the first of them and every so many-th after it."""

    @pytest.hookimpl(trylast=True)
    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = items[::ONE_IN]


def main() -> int:
    tests = str(Path(__file__).parents[1])
    plugins = [OneIn()] if "--short" in sys.argv else []
    return pytest.main(["-q", "-n", "0", "-m", "whole", "-p", "no:cacheprovider", tests], plugins=plugins)


if __name__ == "__main__":
    sys.exit(main())
