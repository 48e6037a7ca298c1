"""Tools from outside Python that some tests need: where one is missing, the test is skipped with the reason; where
`TIMERD_REQUIRE_TOOLS=1` says that they must be there (as .ci/run does), it fails."""

from __future__ import annotations

import os

import pytest


def need(found: bool, what: str, how: str) -> None:
    """Go on if the tool was found; else skip or fail, saying `what` is missing and `how` to get it."""
    if not found:
        told = f"{what} is not here: {how}"
        if os.environ.get("TIMERD_REQUIRE_TOOLS") == "1":
            pytest.fail(told)
        pytest.skip(told)
