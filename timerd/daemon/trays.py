"""What clients ask of the trays, as their events."""

from __future__ import annotations

from timerd.daemon.loading import text_of
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.profile.reading import read
from timerd.sheet.trays import events as tr
from timerd.sheet.trays.stock import filling_of
from timerd.wire.control import FillBath, HasTemperature, LeaveBaths, MoveBath, OfBaths, StartBaths


def event_of(request: OfBaths, now: float) -> tr.Event:
    """What a request wants of the trays; ProfileError or LookupError, in words, where its file is not fit for it."""
    match request:
        case StartBaths():
            return tr.Start(now)
        case LeaveBaths():
            return tr.TakeOut(request.sheet, now)
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
