"""What tests of the daemon share: a daemon that is surely stopped afterwards, and the disk that forgets."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from outside import need
from served import Served, forgetful_disk


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """One home and its daemon, not yet started."""
    one = Served(tmp_path)
    yield one
    one.close()


@pytest.fixture(scope="session")
def disk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The preloaded disk; a skip with its reason where it cannot be made."""
    need(shutil.which("cc") is not None, "a C compiler, for the disk that forgets", "apt install gcc libc6-dev")
    return forgetful_disk(tmp_path_factory.mktemp("disk"))
