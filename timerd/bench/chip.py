"""The pedals' contacts on a chip's lines, read from the kernel itself: the GPIO character device, second version.

The kernel stamps each edge as it happens, and it wakes the keeper's own loop: no thread and no queue of the pin library
lies between. Structures and numbers are those of the kernel's include/uapi/linux/gpio.h (Linux 5.10 and later).
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import select
import struct
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from timerd.bench.lines import LinesError, claiming

_REQUEST = struct.Struct("=64I32sQ264xII20xi")
"""gpio_v2_line_request: lines, who asks, flags, how many lines, how many edges are kept, and the descriptor that comes
back; what is left out says how some lines differ from the others."""
_EVENT = struct.Struct("=QI36x")
"""gpio_v2_line_event: nanoseconds of the monotonic clock, and which edge."""
_VALUES = struct.Struct("=QQ")
"""gpio_v2_line_values: levels, and which lines are asked for."""
_GET_LINE, _GET_VALUES = 0xC250B407, 0xC010B40E
_INPUT, _RISING, _FALLING, _PULL_UP, _PULL_DOWN = 1 << 2, 1 << 4, 1 << 5, 1 << 8, 1 << 9
_ROSE = 1
KEPT = 256
"""Edges that the kernel keeps for each line until they are read; of more it drops the oldest."""


class ChipPedals:
    """Contacts on a chip's lines. Raises LinesError where a line cannot be had.

    Where the kernel had to drop edges the last one still tells the level, and the keeper reads it besides.
    """

    def __init__(self, contacts: Mapping[str, Any], device: Path) -> None:
        self.missing: dict[str, str] = {}  # a line is always there; whether a cable hangs on it nobody knows
        self._lines: dict[str, int] = {}
        self._closes_low: dict[str, bool] = {}
        self._ready = select.epoll()
        try:
            for name, contact in contacts.items():
                self._claim(name, contact["pin"], contact["pull"] == "up", device)
        except LinesError:
            self.close()
            raise

    def _claim(self, name: str, pin: int, closes_low: bool, device: Path) -> None:
        flags = _INPUT | _RISING | _FALLING | (_PULL_UP if closes_low else _PULL_DOWN)
        asked = bytearray(_REQUEST.pack(pin, *[0] * 63, b"timerd", flags, 1, KEPT, 0))
        with claiming(f"GPIO{pin} for pedal {name}"):
            chip = os.open(device, os.O_RDWR | os.O_CLOEXEC)
            try:
                fcntl.ioctl(chip, _GET_LINE, asked)
            finally:
                os.close(chip)
        line = self._lines[name] = int(_REQUEST.unpack(asked)[-1])
        os.set_blocking(line, False)
        self._closes_low[name] = closes_low
        self._ready.register(line, select.EPOLLIN)

    def fileno(self) -> int:
        """Readable when a contact has moved."""
        return self._ready.fileno()

    def heard(self) -> list[tuple[str, bool, float]]:
        """The edges that have come, in the order in which they happened: contact, whether it closed, and when
        (monotonic seconds). Raises OSError where the chip is there no more."""
        edges = []
        for name, line in self._lines.items():
            with contextlib.suppress(BlockingIOError):
                if not (raw := os.read(line, KEPT * _EVENT.size)):
                    raise OSError(errno.ENODEV, "the chip's line has ended")
                for nanoseconds, which in _EVENT.iter_unpack(raw):
                    edges.append((nanoseconds, name, (which == _ROSE) != self._closes_low[name]))
        edges.sort(key=lambda edge: edge[0])
        return [(name, down, nanoseconds / 1e9) for nanoseconds, name, down in edges]

    def look_round(self) -> None:
        """There is nothing to be plugged in."""

    def down(self, contact: str) -> bool:
        """Whether a contact is closed now."""
        values = bytearray(_VALUES.pack(0, 1))
        fcntl.ioctl(self._lines[contact], _GET_VALUES, values)
        return bool(values[0]) != self._closes_low[contact]

    def close(self) -> None:
        """Hear no more, and give the lines back."""
        for line in self._lines.values():
            os.close(line)
        self._lines.clear()
        self._ready.close()
