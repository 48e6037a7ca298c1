"""The wet side as the daemon keeps it: fed beside the engine, woken by itself, asked by command. It lights nothing."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace

from timerd.book.wetside import Past
from timerd.daemon.loading import text_of
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.standing import Standing
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.profile.reading import read
from timerd.sheet.record import Record
from timerd.sheet.status import CueTold, TraysStand
from timerd.sheet.trays import events as tr
from timerd.sheet.trays.stock import filling_of
from timerd.sheet.wetside import WetSide, cue_told
from timerd.wire.control import FillBath, HasTemperature, LeaveBaths, MoveBath, OfBaths, StartBaths

MOST_CUES = 16
"""So many cues are told with each status: a client that hears of each change misses none."""


class Wet:
    """One bench's wet side with its cues numbered. What `see`, `wake` and `ask` return is to be written down.

    `first` are the records with which this daemon begins, which the book does not have yet.
    """

    def __init__(self, standing: Standing, past: Past, first: Iterable[Record], now: float) -> None:
        out = set(standing.progress.sheets_in_hand)
        since = [record for record in first if record.sheet in (0, *out)]
        self._side = WetSide(standing, past.at_trays, past.stock, [*past.out, *since] if out else (), now)
        self._cues: deque[CueTold] = deque(maxlen=MOST_CUES)
        self._number = 0

    @property
    def wake_at(self) -> float | None:
        """When something is due at the trays."""
        return self._side.wake_at

    def see(self, event: ev.Event, actions: Iterable[ev.Action], now: float) -> list[Record]:
        """What the engine was given, and what it did."""
        return self._take(self._side.see(event, actions, now))

    def is_due(self, now: float) -> bool:
        """Whether the time has come that `wake_at` told."""
        due = self.wake_at
        return due is not None and now >= due

    def wake(self, now: float) -> list[Record]:
        """It has."""
        return self._take(self._side.do(tr.Wake(now), now))

    def do(self, event: tr.Event, now: float) -> list[Record]:
        """Do what a client asks (`event_of` its request). Raises ValueError or LookupError, in words; then nothing has
        changed."""
        return self._take(self._side.do(event, now))

    def status(self, now: float) -> TraysStand:
        """How it stands, for a status."""
        return replace(self._side.status(now), cues=tuple(self._cues))

    def _take(self, actions: list[tr.Action]) -> list[Record]:
        for action in actions:
            if isinstance(action, tr.Cue):
                self._number += 1
                self._cues.append(cue_told(action, self._number))
        return [action for action in actions if isinstance(action, Record)]


def event_of(request: OfBaths, now: float) -> tr.Event:
    """What a request wants of the trays; ProfileError or LookupError, in words, where its file is not fit for it."""
    match request:
        case StartBaths():
            return tr.Start(now)
        case LeaveBaths():
            return tr.Leave(request.sheet, now)
        case HasTemperature():
            return tr.Temperature(request.bath, request.celsius, now)
        case MoveBath():
            return tr.NewBatch(request.bath, None, now, request.from_)
        case FillBath():
            bath = _bath(request)
            return tr.NewBatch(bath.name, filling_of(bath, request.litres), now)


def _bath(request: FillBath) -> Bath:
    """The bath of that name in the line that was sent."""
    line = read(*text_of(request.line, "line"), "bath")
    found = [bath for bath in line.value.baths if bath.name == request.bath]
    if not found:
        raise LookupError(f"bath line '{line.value.bath}' has no bath '{request.bath}'")
    return found[0]
