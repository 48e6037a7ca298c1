"""The lines that go out, on GPIO pins: lamps, safelight, heartbeat.

A lamp's line drives a relay: active is lit (a relay may weld: a line that reads low is no proof of dark). The safelight
hangs on its relay's normally-closed contact: active is dark, so that it is lit at rest, in fault and without power.
"""

from __future__ import annotations

import contextlib
from collections.abc import Mapping
from typing import Any, Protocol

SAFELIGHT = "safelight"
HEARTBEAT = "heartbeat"


class LinesError(RuntimeError):
    """The lines or pedals cannot be had; the words say which, why, and what to do."""


class Lines(Protocol):
    """What the keeper's loop does with lines. Lamps and the safelight are spoken of as lit or not."""

    def write(self, line: str, lit: bool) -> None: ...
    def read(self) -> dict[str, bool]: ...
    def beat(self, high: bool) -> None: ...
    def close(self) -> None: ...


class GpioLines:
    """Lines on GPIO pins through gpiozero, claimed at their resting level without a pulse.

    With `as_found` they are claimed at the level they have, so that it can be read what a dead keeper left behind.
    Raises LinesError where the pins cannot be had.
    """

    def __init__(self, outputs: Mapping[str, Any], as_found: bool = False) -> None:
        self._lines: dict[str, Any] = {}
        self._heartbeat: Any = None
        from gpiozero import OutputDevice

        for name, out in outputs.items():
            pin = out["pin"]
            with claiming(f"GPIO{pin} for {name}"):
                device = OutputDevice(
                    pin, active_high=out["active"] == "high", initial_value=None if as_found else False
                )
            if name == HEARTBEAT:
                self._heartbeat = device
            else:
                self._lines[name] = device

    def write(self, line: str, lit: bool) -> None:
        """Drive a line at once."""
        device = self._lines[line]
        device.value = (not lit) if line == SAFELIGHT else lit

    def read(self) -> dict[str, bool]:
        """What every line's pin reads, as lit or not."""
        return {name: bool(device.value) != (name == SAFELIGHT) for name, device in self._lines.items()}

    def beat(self, high: bool) -> None:
        """Drive the heartbeat."""
        if self._heartbeat is not None:
            self._heartbeat.value = high

    def close(self) -> None:
        """Everything at rest, before the pins are given back: what a pin does after that is the board's affair."""
        devices = [device for device in (*self._lines.values(), self._heartbeat) if device is not None]
        with contextlib.ExitStack() as all_of_it:  # whatever one of them raises, each gets its turn
            for device in devices:
                all_of_it.callback(device.close)
            for device in devices:
                all_of_it.callback(device.off)


class claiming:
    """Turns whatever gpiozero and its backends raise while a pin is claimed into one line that says which pin."""

    def __init__(self, what: str) -> None:
        self._what = what

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, traceback: object) -> None:
        if error is None or isinstance(error, (LinesError, KeyboardInterrupt, SystemExit)):
            return
        said = str(error).strip() or type(error).__name__
        raise LinesError(f"{self._what}: {said.splitlines()[0]}: {_what_to_do(error, said)}") from None


def _what_to_do(error: BaseException, said: str) -> str:
    kind = type(error).__name__
    if "InUse" in kind or "busy" in said.lower() or "in use" in said.lower():
        return "another program holds it: stop that one (is a timerd running already?)"
    if isinstance(error, PermissionError) or "permission" in said.lower() or "not allowed" in said.lower():
        return "this user may not: join the group that may (on a Raspberry Pi: gpio)"
    if isinstance(error, ImportError):
        return "install the pin library (on a Raspberry Pi: apt install python3-lgpio)"
    return "is this a Raspberry Pi, and is the pin's number right in the bench file?"


def open_factory() -> str:
    """Make gpiozero's pin factory and say which it is.

    Raises LinesError where there is none, or where its pins are only pretended: a simulated bench is chosen by name,
    never fallen back to.
    """
    with claiming("the pins"):
        from gpiozero import Device
        from gpiozero.exc import BadPinFactory, GPIOZeroError, NativePinFactoryFallback  # noqa: F401

        Device.ensure_pin_factory()
    factory = Device.pin_factory
    name = type(factory).__name__
    if name == "MockFactory":
        raise LinesError("the pins: GPIOZERO_PIN_FACTORY=mock only pretends: for a simulated bench say --simulated")
    if name == "LGPIOFactory":
        factory.pin_class = _steady(factory.pin_class)
    return name


def _steady(pin_class: Any) -> Any:
    """lgpio's pin, claimed as an output at its resting level at once: as it comes it is claimed low and then written,
    which is a pulse of light on a relay that is lit by a low line."""
    import lgpio

    class SteadyPin(pin_class):  # type: ignore[misc]
        def output_with_state(self, state: bool) -> None:
            if getattr(self, "_callback", None) is not None:
                self._callback.cancel()
                self._callback: Any = None
            lgpio.gpio_claim_output(self.factory._handle, self._number, int(bool(state)))

    return SteadyPin
