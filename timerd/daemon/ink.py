"""Ink: what must be on disk before a light may burn, and how far it may burn on what is on disk.

The intent of a step's light is on disk when the step is ready. While the light burns the book hears of it at geometric
instants, and the keeper is told with each renewal how far that lets it burn: if the disk falls behind, the light goes
out by itself before it can burn longer than a later reader of the book would have to assume.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from timerd.book.store import Book
from timerd.book.writing import Writer
from timerd.daemon.recovery import SLACK_S, next_instant
from timerd.sheet import facts as fa
from timerd.sheet.plan.value import Plan
from timerd.sheet.record import Record

_INTENT = (
    fa.SheetArmed, fa.StepReady, fa.TakenUp, fa.SheetOut, fa.BenchSetUp, fa.StepGoneTo, fa.StepOwedAgain, fa.SetAside,
    fa.ToBeShown, fa.BurstDark,
)  # fmt: skip
"""Records that must be on disk before anything is done that could lead to a light."""
_SURE_S = 0.005
"""An instant is written down so long after it: a light that went out before it has been reported by then."""


class Ink:
    """The writing of one book, as the daemon's loop needs it: nothing here waits."""

    def __init__(self, book: Book) -> None:
        self._writer = Writer(book)
        self._intent = 0
        self.written = 0
        """The number of the last write that has come to an end."""
        self._waiting_since: float | None = None
        self._burst: Record | None = None
        self._lit: float | None = None
        """Since when that one burns."""
        self._so_far = 0.0
        self._sure = 0.0
        self._on_its_way: dict[int, float] = {}
        self.failed: str | None = None
        """Why nothing more is written, or None. Without ink there is no light."""

    def fileno(self) -> int:
        """Readable when something has come to disk, or has failed to."""
        return self._writer.fileno()

    def write(self, records: Sequence[Record], plans: Mapping[int, Plan], now: float) -> int:
        """Put records down, in order; the number of this write."""
        number = self._writer.append(records, plans)
        for record in records:
            if isinstance(record.fact, _INTENT):
                self._intent = number
                self._waiting_since = self._waiting_since or now
            if isinstance(record.fact, fa.BurstLit | fa.BurstDark | fa.FaultCame):
                self._burst = self._lit = None
                if isinstance(record.fact, fa.BurstLit) and record.sheet:
                    self._burst, self._lit = record, record.fact.lit
                self._so_far = self._sure = 0.0
                self._on_its_way.clear()
        return number

    def heard(self) -> None:
        """Take in what has come to disk."""
        for number, failed in self._writer.done():
            self.written = number
            if failed is not None:
                self.failed = failed
            elif (instant := self._on_its_way.pop(number, None)) is not None:
                self._sure = max(self._sure, instant)
        if self.written >= self._intent:
            self._waiting_since = None

    @property
    def waits(self) -> bool:
        """Whether something must come to disk before anything that could lead to a light."""
        return self.failed is None and self.written < self._intent

    def waited_s(self, now: float) -> float:
        """For how long that has been waited for."""
        return 0.0 if self._waiting_since is None else now - self._waiting_since

    # -- while a light burns -------------------------------------------------------------------------------------

    @property
    def wake_at(self) -> float | None:
        """When the burning light is to be written down next."""
        return None if self._lit is None else self._lit + next_instant(self._so_far) + _SURE_S

    def so_far(self, now: float) -> Record | None:
        """The burning light, written down: the last instant that is past. Call it when all reports have been heard."""
        burst, lit = self._burst, self._lit
        if burst is None or lit is None or (wake_at := self.wake_at) is None or now < wake_at:
            return None
        elapsed = now - lit - _SURE_S
        self._so_far = next_instant(self._so_far)  # it is due, whatever the last digit of `elapsed` says
        while (after := next_instant(self._so_far)) <= elapsed:
            self._so_far = after
        record = Record(fa.BurstSoFar(self._so_far), now, burst.sheet, burst.step, burst.burst)
        self._on_its_way[self._writer.append([record], {})] = self._so_far
        return record

    def burns_until(self, lit: float) -> float:
        """How far the light that was lit then may burn on what is on disk: a monotonic time."""
        return lit + next_instant(self._sure) + SLACK_S

    # -- at rest -------------------------------------------------------------------------------------------------

    def tidy(self) -> None:
        """Nothing is at stake for now: let the file be tidied."""
        self._writer.checkpoint()

    def close(self, within_s: float) -> bool:
        """Write what is queued and close the book; False where the disk did not let go of it in time."""
        return self._writer.close(within_s)
