"""gpiozero's mock pins, made to remember: every change of a level with its time, and who drives the pin since when.

A pin that nobody drives has the level that the wiring outside gives it, as the relay board's resistor would; one in
`held` keeps its level whoever drives it, as a short or a stuck driver would.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from typing import Any

from gpiozero.pins.mock import MockFactory, MockPin
from gpiozero.pins.pi import PiPin

Change = tuple[float, int, bool]
"""When, which pin (its BCM number), and to which level."""


class RecordingPin(MockPin):  # type: ignore[misc]
    """A mock pin whose every change of level is put down by its factory."""

    def __init__(self, factory: RecordingFactory, info: Any) -> None:
        super().__init__(factory, info)
        self._state = self.driven = factory.outside.get(self._number, False)

    def _get_state(self) -> bool:
        return bool(self.factory.held.get(self._number, self._state))

    def _set_state(self, value: bool) -> None:
        if self._number in self.factory.broken:
            raise OSError(5, "Input/output error")
        self.driven = bool(value)
        super()._set_state(value)

    def _change_state(self, value: bool) -> bool:
        if self._number in self.factory.held or self._state == bool(value):
            return False
        self.factory.changes.append((self.factory.now(), self._number, bool(value)))
        self.factory.happened.append((self._number, "high" if value else "low"))
        return bool(super()._change_state(value))

    def _set_function(self, value: str) -> None:
        if value != self._function:
            self.factory.happened.append((self._number, "driven" if value == "output" else "given back"))
        self._function = value
        if value == "input":
            self._change_state(self.factory.outside.get(self._number, False))

    def _set_pull(self, value: str) -> None:
        self._pull = value
        self._change_state(value == "up")

    def _call_when_changed(self) -> None:
        stamp = self.factory.stamp
        PiPin._call_when_changed(self, self.factory.now() if stamp is None else stamp, self._state)


class RecordingFactory(MockFactory):  # type: ignore[misc]
    """A factory of such pins on a clock of the test's own.

    `stamp` is the time that an edge carries, where it is not the clock's; `broken` pins raise when they are driven.
    """

    def __init__(self, now: Callable[[], float] = time.monotonic, outside: Mapping[int, bool] | None = None) -> None:
        super().__init__(revision="c03111", pin_class=RecordingPin)
        self.now = now
        self.outside = dict(outside or {})
        self.held: dict[int, bool] = {}
        self.broken: set[int] = set()
        self.stamp: float | None = None
        self.changes: list[Change] = []
        self.happened: list[tuple[int, str]] = []

    def let_go(self, number: int) -> None:
        """What held a pin does so no more: it goes to the level that it is driven to."""
        del self.held[number]
        pin = self.pin(number)
        pin._change_state(pin.driven)

    def foot(self, number: int, level: bool) -> None:
        """A contact changes the level of its pin."""
        pin = self.pin(number)
        (pin.drive_high if level else pin.drive_low)()
