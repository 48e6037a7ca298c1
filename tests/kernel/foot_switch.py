"""A foot switch that the kernel takes for a keyboard on USB: an input device made by this process. For `inside/` alone.

Structures and numbers: Linux, include/uapi/linux/uinput.h and input.h.
"""

from __future__ import annotations

import fcntl
import os
import struct
from collections.abc import Iterable

NAME = "Marsh Lane foot switch"
A, B, C = 30, 48, 46
"""The codes of the keys a, b and c (input-event-codes.h)."""
_KEYS, _KEY, _SETUP, _CREATE, _DESTROY = 0x40045564, 0x40045565, 0x405C5503, 0x5501, 0x5502
_EV_SYN, _EV_KEY, _BUS_USB = 0, 1, 3


class FootSwitch:
    """Plugged in from the start, until `unplug`."""

    def __init__(self, name: str = NAME, keys: Iterable[int] = (A, B, C)) -> None:
        self._device = os.open("/dev/uinput", os.O_WRONLY | os.O_CLOEXEC)
        fcntl.ioctl(self._device, _KEYS, _EV_KEY)
        for key in keys:
            fcntl.ioctl(self._device, _KEY, key)
        fcntl.ioctl(self._device, _SETUP, struct.pack("=4H80sI", _BUS_USB, 1, 1, 1, name.encode(), 0))
        fcntl.ioctl(self._device, _CREATE)

    def key(self, code: int, down: bool) -> None:
        """A foot on a key, or off it."""
        for kind, number, value in ((_EV_KEY, code, int(down)), (_EV_SYN, 0, 0)):
            os.write(self._device, struct.pack("@llHHi", 0, 0, kind, number, value))

    def unplug(self) -> None:
        """Pull the plug."""
        fcntl.ioctl(self._device, _DESTROY)
        os.close(self._device)
