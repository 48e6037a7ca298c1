"""For all tests: where their files go, in which order they run, and which random examples they try.

Files go into memory, if there is room: a disk that stalls for half a second puts out a light, as it should, and a build
machine's disk does that. What comes of a disk's faults is tested with one that is made to fail.
Files of tests are mixed, those that wait for a light among those that compute, and the same each time.
Examples are the same each time; `--hypothesis-profile=explore` tries others.
What is said is held against files beside the tests: `golden.py` has how, and how they are written anew.
"""

from __future__ import annotations

import gc
import os
import shutil
from collections.abc import Generator, Iterator
from pathlib import Path
from zlib import crc32

import pytest
from golden import Golden
from hypothesis import settings

MEMORY = Path("/dev/shm")
ROOM_BYTES = 4 << 30

settings.register_profile("suite", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None)
settings.load_profile("suite")


def pytest_configure(config: pytest.Config) -> None:
    if config.option.basetemp is None and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM_BYTES:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: crc32(item.location[0].encode()))


def pytest_collection_finish() -> None:
    gc.freeze()  # five thousand tests' own objects need not be looked through again and again


OUTCOME = pytest.StashKey[str]()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(
    item: pytest.Item, call: pytest.CallInfo[None]
) -> Generator[None, pytest.TestReport, pytest.TestReport]:
    report = yield
    if call.when == "call":
        item.stash[OUTCOME] = report.outcome
    return report


@pytest.fixture
def golden(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Golden]:
    """What the test's values are held against; of one that passed, none may be left over."""
    held = Golden(request.path, request.node.name, tmp_path, os.environ.get("GOLDEN") == "write")
    yield held
    if request.node.stash.get(OUTCOME, "") == "passed":
        held.end()
