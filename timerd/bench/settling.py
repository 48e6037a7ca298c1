"""What the keeper's rules want is done to the lines: the same wherever these are, real or remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from timerd.bench.keeper import Keeper
from timerd.wire.keeper import Report


def settle(
    keeper: Keeper, write: Callable[[str, bool], None], read: Callable[[], Mapping[str, bool]],
    clock: Callable[[], float], report: Callable[[Report], None],
) -> None:  # fmt: skip
    """Drive the lines as the rules want them, pass the reports on, and have every line read, until nothing is wanted.

    `write` drives one line, `read` gives what all of them read, `clock` the time then (monotonic seconds).
    """
    while True:
        out = keeper.take()
        for line, lit in out.writes:
            write(line, lit)
        for one in out.reports:
            report(one)
        if not keeper.wants_reading:
            return
        keeper.read(read(), clock())
