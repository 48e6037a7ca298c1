"""The book's writer on a disk whose every write takes as long as is said, in virtual time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import pytest

from timerd.daemon import ink as ink_module
from timerd.daemon.ink import Ink
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record


class VirtualDisk:
    """Takes the place of the writer. The test sets `now`, and `latency`, which tells how long the next write takes."""

    def __init__(self, latency: Callable[[], float] = lambda: 0.0) -> None:
        self.now = 0.0
        self.fails_from: int | None = None
        self.tidied = 0
        self.closed: float | None = None
        self.latency = latency
        self._jobs: list[tuple[float, float, Sequence[Record], Mapping[int, Plan]]] = []
        self._told = 0

    # -- as the writer -------------------------------------------------------------------------------------------

    def append(self, records: Sequence[Record], plans: Mapping[int, Plan]) -> int:
        begun = max(self.now, self._jobs[-1][1] if self._jobs else 0.0)
        self._jobs.append((begun, begun + self.latency(), list(records), dict(plans)))
        return len(self._jobs)

    def done(self) -> list[tuple[int, str | None]]:
        found: list[tuple[int, str | None]] = []
        while self._told < len(self._jobs) and self._jobs[self._told][1] <= self.now:
            self._told += 1
            failed = self.fails_from is not None and self._told >= self.fails_from
            found.append((self._told, "the disk is full" if failed else None))
        return found

    def checkpoint(self) -> None:
        self.tidied += 1

    def close(self, within_s: float) -> bool:
        self.closed = within_s
        return True

    def fileno(self) -> int:
        return 77

    # -- for the test --------------------------------------------------------------------------------------------

    @property
    def next_done(self) -> float:
        """When something comes to disk next."""
        return self._jobs[self._told][1] if self._told < len(self._jobs) else 1e9

    @property
    def jobs(self) -> list[tuple[Sequence[Record], Mapping[int, Plan]]]:
        """All that it was given, in order."""
        return [(records, plans) for _, _, records, plans in self._jobs]

    def records(self, at: float, half_written: bool) -> list[Record]:
        """What is on disk at a time; what is being written then counts or not."""
        found: list[Record] = []
        for begun, done, records, _ in self._jobs:
            if done <= at or (half_written and begun <= at):
                found += records
            if done > at:
                break
        return found


def ink_on(disk: VirtualDisk) -> Ink:
    """The daemon's ink, writing to a virtual disk."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ink_module, "Writer", lambda book: disk)
        book: Any = None
        return Ink(book)
