"""The book's writer in a thread of its own: no light and no answer waits for a disk unless it must."""

from __future__ import annotations

import contextlib
import os
import queue
import threading
from collections import deque
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from timerd.book.store import Book, BookError
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record


class _Job(NamedTuple):
    number: int
    records: Sequence[Record]
    plans: Mapping[int, Plan]


class Writer:
    """Takes records, writes them in order, and tells when they are on disk."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._jobs: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._done: deque[tuple[int, str | None]] = deque()
        self._bell = os.eventfd(0, os.EFD_NONBLOCK | os.EFD_CLOEXEC)
        self._last = 0
        self._thread = threading.Thread(target=self._write, name="book", daemon=True)
        self._thread.start()

    def fileno(self) -> int:
        """Readable when something has been written, or has failed."""
        return self._bell

    def append(self, records: Sequence[Record], plans: Mapping[int, Plan]) -> int:
        """Queue records; their number comes back in `done`."""
        self._last += 1
        self._jobs.put(_Job(self._last, records, plans))
        return self._last

    def checkpoint(self) -> None:
        """Queue a tidying of the file, for when nothing is at stake."""
        self._jobs.put(_Job(0, (), {}))

    def done(self) -> list[tuple[int, str | None]]:
        """What has come to an end since the last call: numbers, each with None when it is on disk, or why it is not."""
        with contextlib.suppress(BlockingIOError):  # nothing since the last call
            os.eventfd_read(self._bell)
        found = []
        while self._done:
            found.append(self._done.popleft())
        return found

    def close(self, within_s: float) -> bool:
        """Write what is queued and close the book; False where the disk did not let go of it in time."""
        self._jobs.put(None)
        self._thread.join(within_s)
        if self._thread.is_alive():
            return False
        self._book.close()
        if self._bell >= 0:
            os.close(self._bell)
            self._bell = -1
        return True

    def _write(self) -> None:
        failed: str | None = None
        while (job := self._jobs.get()) is not None:
            unwritten: str | None = failed or "the book's writer has failed: look at what it said on standard error"
            try:
                if failed is None and job.number:
                    self._book.append(job.records, job.plans)
                elif failed is None:
                    self._book.checkpoint()
                unwritten = failed
            except BookError as error:
                unwritten = failed = str(error)
            finally:  # whatever ends this thread, nobody waits for it in vain
                if job.number:
                    self._done.append((job.number, unwritten))
                    os.eventfd_write(self._bell, 1)
