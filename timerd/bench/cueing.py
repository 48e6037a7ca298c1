"""The cue line: a burst felt or seen by those who do not hear it. Pure: the time is handed in.

What is pulsed while a burst runs comes with the burst, as seconds from its light; how it ends nobody knows beforehand,
so that pulse is made here. A lamp's edge is never kept waiting: near one the cue line stands still.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable

from timerd.wire.keeper import Pulses

CUE = "cue line"
OFF_PULSE_S = 0.6
"""How long the pulse is that tells that a light went out."""
CLEAR_S = 0.003
"""So long before a lamp's edge is due the cue line is not touched: the loop waits for nothing else then."""


class Cueing:
    """The pulses of the burst at hand. `wake` says what the line must do now, `due` when it is to be asked next.

    Where no cue line is `fitted` there is nothing to do, ever.
    """

    def __init__(self, fitted: bool) -> None:
        self._fitted = fitted
        self._base = 0.0
        self._edges: deque[tuple[float, bool]] = deque()
        self._on = False

    @property
    def busy(self) -> bool:
        """Whether the line is still to change."""
        return bool(self._edges)

    def begin(self, pulses: Iterable[Pulses], at: float) -> None:
        """A burst is taken that is to be lit at that time."""
        self._base = at
        self._edges = deque(_edges(pulses) if self._fitted else ())

    def lit(self, at: float) -> None:
        """Its light came on: from now on all counts from there."""
        self._base = at

    def over(self, at: float, told: bool) -> None:
        """The burst has ended; `told` says whether that is to be felt."""
        self._base = at
        if told and self._fitted:
            self._edges = deque([(0.0, True), (OFF_PULSE_S, False)])
        else:
            self._edges = deque([(0.0, False)] if self._on else ())

    def due(self, lamp_edge: float | None) -> float | None:
        """When the line changes next, where a lamp's edge is due at that time (None: none is)."""
        if not self._edges:
            return None
        at = self._base + self._edges[0][0]
        return lamp_edge if lamp_edge is not None and lamp_edge - CLEAR_S < at < lamp_edge else at

    def wake(self, now: float, lamp_edge: float | None) -> bool | None:
        """The level that the line must have from now on; None where it stays as it is."""
        if lamp_edge is not None and 0.0 < lamp_edge - now < CLEAR_S:
            return None
        level = self._on
        while self._edges and self._base + self._edges[0][0] <= now:
            level = self._edges.popleft()[1]
        if level == self._on:
            return None
        self._on = level
        return level


def _edges(pulses: Iterable[Pulses]) -> list[tuple[float, bool]]:
    """On and off in order of time; pulses that touch are one."""
    spans = sorted((p.at + k * p.every, p.at + k * p.every + p.seconds) for p in pulses for k in range(p.times))
    joined: list[list[float]] = []
    for begins, ends in spans:
        if joined and begins <= joined[-1][1]:
            joined[-1][1] = max(joined[-1][1], ends)
        else:
            joined.append([begins, ends])
    return [edge for begins, ends in joined for edge in ((begins, True), (ends, False))]
