"""What clients ask of the trays, as their events."""

from __future__ import annotations

from typing import Any

from timerd.daemon.loading import file_of
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.profile.reading import read
from timerd.sheet.trays import events as tr
from timerd.sheet.trays.stock import filling_of

COLDEST_C, WARMEST_C = 5.0, 50.0


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
