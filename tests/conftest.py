"""Where the tests' files go: into memory, if there is room.

A disk that stalls for half a second puts out a light, as it should, and a build machine's disk does that. What comes of
a disk's faults is tested with one that is made to fail.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

MEMORY = Path("/dev/shm")
ROOM_BYTES = 4 << 30


def pytest_configure(config: pytest.Config) -> None:
    if config.option.basetemp is None and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM_BYTES:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))
