"""The wet side as the daemon keeps it: fed beside the engine, woken by itself, asked by command. It lights nothing."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from timerd.book.wetside import Past
from timerd.daemon.loading import file_of
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.standing import Standing
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.profile.reading import read
from timerd.sheet.record import Record
from timerd.sheet.status import CueTold, TraysStand
from timerd.sheet.trays import events as tr
from timerd.sheet.trays.stock import filling_of
from timerd.sheet.wetside import WetSide, cue_told

MOST_CUES = 16
"""So many cues are told with each status: a client that hears of each change misses none."""
COLDEST_C, WARMEST_C = 5.0, 50.0


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


def event_of(request: dict[str, Any], now: float) -> tr.Event:
    """What a request wants of the trays; ValueError or LookupError, in words, where it cannot be understood."""
    match request.get("what"):
        case "start":
            return tr.Start(now)
        case "leave":
            sheet = request.get("sheet")
            if not isinstance(sheet, int) or isinstance(sheet, bool):
                raise ValueError("leave: needs the number of a sheet")
            return tr.Leave(sheet, now)
        case "temperature":
            celsius = _number(request, "celsius", COLDEST_C, WARMEST_C)
            return tr.Temperature(_name(request, "bath"), celsius, now)
        case "new" if "from" in request:
            return tr.NewBatch(_name(request, "bath"), None, now, _name(request, "from"))
        case "new":
            bath = _bath(request, _name(request, "bath"))
            litres = _number(request, "litres", 0.01, 1000.0) if "litres" in request else None
            return tr.NewBatch(bath.name, filling_of(bath, litres), now)
    raise ValueError("bath: what is to be done: new, temperature, start or leave?")


def _bath(request: dict[str, Any], name: str) -> Bath:
    """The bath of that name in the line that was sent."""
    line = read(*file_of(request, "line"), "bath")
    found = [bath for bath in line.value.baths if bath.name == name]
    if not found:
        raise LookupError(f"bath line '{line.value.bath}' has no bath '{name}'")
    return found[0]


def _name(request: dict[str, Any], key: str) -> str:
    name = request.get(key)
    if not isinstance(name, str) or not 0 < len(name) <= 40 or not name.isprintable():
        raise ValueError(f"{key}: needs the name of a bath")
    return name


def _number(request: dict[str, Any], key: str, least: float, most: float) -> float:
    number = request.get(key)
    if isinstance(number, bool) or not isinstance(number, int | float) or not least <= number <= most:
        raise ValueError(f"{key}: must be from {least:g} to {most:g}")
    return float(number)
