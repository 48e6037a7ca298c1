"""For all tests: where their files go, in which order they run, and which random examples they try.

Files go into memory, if there is room: a disk that stalls for half a second puts out a light, as it should, and a build
machine's disk does that. What comes of a disk's faults is tested with one that is made to fail.
Files of tests are mixed, those that wait for a light among those that compute, and the same each time.
Examples are the same each time; `--hypothesis-profile=explore` tries others.
In a fresh clone the tests are compiled once before the workers begin: else each of them compiles all of them.
"""

from __future__ import annotations

import gc
import os
import shutil
import subprocess
import sys
from pathlib import Path
from zlib import crc32

import pytest
from hypothesis import settings

MEMORY = Path("/dev/shm")
ROOM_BYTES = 4 << 30
TESTS = Path(__file__).parent

settings.register_profile("suite", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None)
settings.load_profile("suite")


def pytest_configure(config: pytest.Config) -> None:
    if config.option.basetemp is None and os.access(MEMORY, os.W_OK) and shutil.disk_usage(MEMORY).free > ROOM_BYTES:
        os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(MEMORY))
    whole = config.args_source is pytest.Config.ArgsSource.TESTPATHS and not sys.dont_write_bytecode
    if whole and config.getoption("numprocesses", 0) and not hasattr(config, "workerinput"):
        _compile_once()


def _compile_once() -> None:
    """Collect what is not compiled yet, a part a core: it takes 9 s of a core, and took them in each worker."""
    tag = f"{sys.implementation.cache_tag}-pytest-{pytest.__version__}.pyc"
    tests = [path for path in sorted(TESTS.rglob("test_*.py")) if not {"inside", "node_modules"} & {*path.parts}]
    new = [path for path in tests if not (path.parent / "__pycache__" / f"{path.stem}.{tag}").exists()]
    if len(new) < len(tests) / 2:
        return
    cores = min(4, os.cpu_count() or 1)
    collect = [sys.executable, "-m", "pytest", "--collect-only", "-q", "-n", "0", "-p", "no:cacheprovider"]
    quiet = {"cwd": TESTS.parent, "stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    for part in [subprocess.Popen([*collect, *new[core::cores]], **quiet) for core in range(cores)]:
        part.wait()


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: crc32(item.location[0].encode()))


def pytest_collection_finish() -> None:
    gc.freeze()  # five thousand tests' own objects need not be looked through again and again
