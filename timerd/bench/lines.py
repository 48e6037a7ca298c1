"""The lines that go out, on GPIO pins: lamps, safelight, heartbeat.

A lamp's line drives a relay: active is lit (a relay may weld: a line that reads low is no proof of dark). The safelight
hangs on its relay's normally-closed contact: active is dark, so that it is lit at rest, in fault and without power.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Protocol

SAFELIGHT = "safelight"
LAMP = "lamp "
"""What the name of a lamp's line begins with: a line that makes light. No other line's does."""
HEARTBEAT = "heartbeat"
DEVICES = Path("/dev")
PIN_LIBRARY = "apt install python3-lgpio (Raspberry Pi OS) or pip install 'lgpio>=0.2.2' (Python 3.11, 3.12)"
"""How to come by it: Debian has no package of it, and the index no build for a later Python."""


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

    What a dead keeper left on them cannot be found out: the library makes every pin an input before anything else.
    Raises LinesError where a pin cannot be had; all the others have been put to rest then.
    """

    def __init__(self, outputs: Mapping[str, Any]) -> None:
        self._lines: dict[str, Any] = {}
        self._heartbeat: Any = None
        from gpiozero import OutputDevice

        failed: LinesError | None = None
        for name, out in outputs.items():
            pin = out["pin"]
            try:
                with claiming(f"GPIO{pin} for {name}"):
                    device = OutputDevice(pin, active_high=out["active"] == "high", initial_value=False)
            except LinesError as error:
                failed = failed or error
                continue
            if name == HEARTBEAT:
                self._heartbeat = device
            else:
                self._lines[name] = device
        if failed is not None:
            self.close()
            raise failed

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
        """Everything at rest, before the pins are given back: what a pin does after that is the board's affair. A line
        that fails keeps none of the others from it."""
        devices = [device for device in (*self._lines.values(), self._heartbeat) if device is not None]
        with contextlib.ExitStack() as last_first:
            for device in devices:
                last_first.callback(device.close)
            for device in devices:
                last_first.callback(device.off)


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
        if said[0] == said[-1] == "'":  # lgpio's errors print their text in quotes
            said = said[1:-1]
        raise LinesError(f"{self._what}: {said.splitlines()[0]}: {_what_to_do(error, said)}") from None


def _what_to_do(error: BaseException, said: str) -> str:
    kind = type(error).__name__
    words = said.lower()
    if "InUse" in kind or "busy" in words or "in use" in words:
        return "another program holds it: stop that one (is a timerd running already?)"
    if "gpiochip" in words and not any(DEVICES.glob("gpiochip*")):
        return "there is no chip of pins here: is this a Raspberry Pi?"
    if isinstance(error, PermissionError) or any(hint in words for hint in ("permi", "not allowed", "gpiochip")):
        return "this user may not: join the group that may (on a Raspberry Pi: gpio)"
    if kind == "BadPinFactory":
        return "leave GPIOZERO_PIN_FACTORY unset, or name one that is installed"
    if isinstance(error, ImportError):
        return f"install the pin library: {PIN_LIBRARY}"
    if kind == "PinInvalidPin":
        return "give the pin's number in the bench file as the board counts it (GPIO17 is 17)"
    if kind == "PinFixedPull":
        return "take another pin, or close the contact the other way"
    return "is this a Raspberry Pi?"


def open_factory(folder: Path) -> str:
    """Make gpiozero's pin factory and say which it is: lgpio's, unless GPIOZERO_PIN_FACTORY names another.

    Raises LinesError where that cannot be had, or where its pins are only pretended: nothing else is fallen back to,
    and a simulated bench is chosen by name. lgpio keeps a named pipe in `folder`, and makes it this process's working
    directory.
    """
    os.environ.setdefault("LG_WD", str(folder.resolve()))
    os.environ.setdefault("GPIOZERO_PIN_FACTORY", "lgpio")
    with claiming("the pins"):
        from gpiozero import Device

        Device.ensure_pin_factory()
    factory = Device.pin_factory
    name = type(factory).__name__
    if any(kind.__name__ == "MockFactory" for kind in type(factory).__mro__):
        raise LinesError(f"the pins: {name} only pretends: for a simulated bench say --simulated")
    if name == "LGPIOFactory":
        factory.pin_class = _steady(factory.pin_class)
    return name


def chip_of_the_pins() -> int | None:
    """The number of the chip that the pins are lines of, or None where the pin library does not say."""
    from gpiozero import Device

    number = getattr(Device.pin_factory, "chip", None)
    return number if isinstance(number, int) else None


def device_of(chip: int) -> Path:
    """A chip's character device."""
    return Path(f"/dev/gpiochip{chip}")


def _steady(pin_class: Any) -> Any:
    """lgpio's pin, claimed as an output at the level wanted at once: as it comes it is claimed low, and written after
    that, which is a pulse of light on a relay that is lit by a low line. Whoever claims it so claims it at rest, and
    there the chip's own resistor holds it, however it is let go: as it comes that one is switched off."""
    import lgpio

    class SteadyPin(pin_class):  # type: ignore[misc]
        _pull: int | None = None

        def output_with_state(self, state: bool) -> None:
            if getattr(self, "_callback", None) is not None:
                self._callback.cancel()
                self._callback: Any = None
            self._pull = lgpio.SET_PULL_UP if state else lgpio.SET_PULL_DOWN
            lgpio.gpio_claim_output(self.factory._handle, self._number, int(bool(state)), self._pull)

        def close(self) -> None:
            if self._pull is None or self.factory._handle is None:
                super().close()
            else:
                lgpio.gpio_claim_input(self.factory._handle, self._number, self._pull)

    return SteadyPin
