"""The pedals' contacts on GPIO pins: raw edges with their own times, and levels. Nothing is debounced here."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Iterable, Mapping
from typing import Any, Protocol

from timerd.bench.lines import LinesError, claiming

RawEdge = Callable[[str, bool, float], None]
"""A contact's name, whether it closed, and when (monotonic seconds)."""
_log = logging.getLogger(__name__)
_BELIEVED_S = 1.0
"""A pin's own time is taken where it lies no further back than this; some kernels stamp by another clock."""


class PedalInput(Protocol):
    """What the keeper's loop asks of pedals. `missing` says of each contact that is unplugged why, in words."""

    missing: dict[str, str]

    def down(self, contact: str) -> bool: ...
    def close(self) -> None: ...


class ReadPedals(PedalInput, Protocol):
    """Pedals that the loop reads itself: readable when a contact has moved, or a plug. `heard`, or `down`, raises
    OSError where nothing can be read any more."""

    def fileno(self) -> int: ...
    def heard(self) -> list[tuple[str, bool, float]]: ...
    def look_round(self) -> None: ...


class LostPedals:
    """Contacts of which nothing can be read any more: they count as up, and `missing` says why."""

    def __init__(self, contacts: Iterable[str], why: str) -> None:
        self.missing = dict.fromkeys(contacts, f"can no longer be read: {why}")

    def down(self, contact: str) -> bool:
        """Nobody knows."""
        return False

    def close(self) -> None:
        """There is nothing to give back."""


class GpioPedals:
    """Contacts on GPIO pins. `on_edge` is called from the pins' own thread, and must do no more than put it down.

    Raises LinesError where a pin cannot be had.
    """

    def __init__(self, contacts: Mapping[str, Any], on_edge: RawEdge) -> None:
        self.missing: dict[str, str] = {}  # a pin is always there; whether a cable hangs on it nobody knows
        self._devices: dict[str, Any] = {}
        self._callbacks: list[Any] = []  # a pin keeps only a weak reference to its own
        try:
            for name, contact in contacts.items():
                self._claim(name, contact["pin"], contact["pull"] == "up", on_edge)
        except LinesError:
            self.close()
            raise

    def _claim(self, name: str, pin: int, closes_low: bool, on_edge: RawEdge) -> None:
        from gpiozero import InputDevice

        with claiming(f"GPIO{pin} for pedal {name}"):
            device = self._devices[name] = InputDevice(pin, pull_up=closes_low)
            callback = _callback(name, closes_low, on_edge)
            self._callbacks.append(callback)
            device.pin.bounce = None
            device.pin.edges = "both"
            device.pin.when_changed = callback

    def down(self, contact: str) -> bool:
        """Whether a contact is closed now."""
        return bool(self._devices[contact].is_active)

    def close(self) -> None:
        """Hear no more, and give the pins back."""
        for device in self._devices.values():
            device.pin.when_changed = None
            device.close()


def _callback(name: str, closes_low: bool, on_edge: RawEdge) -> Callable[[float, int], None]:
    def changed(ticks: float, level: int) -> None:
        now = time.monotonic()
        at = ticks if now - _BELIEVED_S <= ticks <= now else now
        try:
            on_edge(name, bool(level) != closes_low, at)
        except Exception:  # noqa: BLE001 (one edge's trouble must not end the pins' thread: that is every pedal's)
            _log.exception("pedal %s: an edge was not taken", name)

    return changed
