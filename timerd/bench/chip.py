"""A chip's lines from the kernel itself: the GPIO character device, second version. Pedals, and the last off's lines.

The kernel stamps each edge as it happens, and it wakes the keeper's own loop: no thread and no queue of the pin library
lies between. The last off is loaded in a tenth of the pin library's time, and sees what a dead keeper left.
Structures and numbers are those of the kernel's include/uapi/linux/gpio.h (Linux 5.10 and later).
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import select
import struct
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from timerd.bench.lines import HEARTBEAT, SAFELIGHT, LinesError, claiming

_REQUEST = struct.Struct("=64I32sQ264xII20xi")
"""gpio_v2_line_request: lines, who asks, flags, how many lines, how many edges are kept, and the descriptor that comes
back; what is left out says how some lines differ from the others."""
_CONFIG = struct.Struct("=QI20xI4xQQ216x")
"""gpio_v2_line_config: flags, one attribute, and that: its kind, levels, and for which lines they are."""
_EVENT = struct.Struct("=QI36x")
"""gpio_v2_line_event: nanoseconds of the monotonic clock, and which edge."""
_VALUES = struct.Struct("=QQ")
"""gpio_v2_line_values: levels, and which lines are asked for."""
_GET_LINE, _SET_CONFIG, _GET_VALUES, _SET_VALUES = 0xC250B407, 0xC110B40D, 0xC010B40E, 0xC010B40F
_AS_IT_IS = 0
_INPUT, _OUTPUT, _RISING, _FALLING, _PULL_UP, _PULL_DOWN = 1 << 2, 1 << 3, 1 << 4, 1 << 5, 1 << 8, 1 << 9
_LEVELS = 2
"""The attribute that says at which level an output begins."""
_ROSE = 1
KEPT = 256
"""Edges that the kernel keeps for each line until they are read; of more it drops the oldest."""
_BUSY_S = 0.25
"""So long a line may still be held by a process that is just dying."""


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
        with claiming(f"GPIO{pin} for pedal {name}"):
            line = self._lines[name] = _line(device, pin, flags, KEPT)
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
        return _high(self._lines[contact]) != self._closes_low[contact]

    def close(self) -> None:
        """Hear no more, and give the lines back."""
        for line in self._lines.values():
            os.close(line)
        self._lines.clear()
        self._ready.close()


class ChipLines:
    """Lines that go out, taken as a dead keeper left them and put to rest at once.

    `found` says which were lit until then, `found_at` when that was seen. Raises LinesError where a line cannot be had;
    all the others have been put to rest then.
    """

    def __init__(self, outputs: Mapping[str, Any], device: Path) -> None:
        self._lines: dict[str, int] = {}
        self._rests_high = {name: out["active"] == "low" for name, out in outputs.items()}
        self.found: dict[str, bool] = {}
        self.found_at = time.monotonic()
        refused = dict(outputs)
        failed: LinesError | None = None
        for patience_s in (0.0, _BUSY_S):  # those that can be had at once are dark before any other is waited for
            until, failed = time.monotonic() + patience_s, None
            for name, out in list(refused.items()):
                try:
                    with claiming(f"GPIO{out['pin']} for {name}"):
                        self._take(name, out["pin"], device, until)
                    del refused[name]
                except LinesError as error:
                    failed = failed or error
        if failed is not None:
            self.close()
            raise failed

    def _take(self, name: str, pin: int, device: Path, until: float) -> None:
        """Take a line as it is, see how it is, and drive it to rest: there is no level between."""
        if (line := self._lines.get(name)) is None:
            line = self._lines[name] = _line_soon(device, pin, until)
        high, rests_high = _high(line), self._rests_high[name]
        flags = _OUTPUT | (_PULL_UP if rests_high else _PULL_DOWN)  # which holds it once it is given back
        fcntl.ioctl(line, _SET_CONFIG, bytearray(_CONFIG.pack(flags, 1, _LEVELS, int(rests_high), 1)))
        if name != HEARTBEAT:
            self.found[name] = (high != rests_high) != (name == SAFELIGHT)

    def write(self, line: str, lit: bool) -> None:
        """Drive a line at once."""
        high = (lit != (line == SAFELIGHT)) != self._rests_high[line]
        fcntl.ioctl(self._lines[line], _SET_VALUES, bytearray(_VALUES.pack(int(high), 1)))

    def read(self) -> dict[str, bool]:
        """What every line reads, as lit or not."""
        return {
            name: (_high(line) != self._rests_high[name]) != (name == SAFELIGHT)
            for name, line in self._lines.items() if name != HEARTBEAT
        }  # fmt: skip

    def close(self) -> None:
        """Give the lines back, at rest: where the kernel makes inputs of them, the chip's own resistors hold them."""
        for line in self._lines.values():
            os.close(line)
        self._lines.clear()


def _line_soon(device: Path, pin: int, until: float) -> int:
    """A line as it is; where a process that is dying has it still, once that is gone."""
    while True:
        try:
            return _line(device, pin, _AS_IT_IS)
        except OSError as error:
            if error.errno != errno.EBUSY or time.monotonic() >= until:
                raise
        select.select([], [], [], 0.001)


def _line(device: Path, pin: int, flags: int, edges: int = 0) -> int:
    """One line of a chip, asked for: its descriptor. Raises OSError."""
    asked = bytearray(_REQUEST.pack(pin, *[0] * 63, b"timerd", flags, 1, edges, 0))
    chip = os.open(device, os.O_RDWR | os.O_CLOEXEC)
    try:
        fcntl.ioctl(chip, _GET_LINE, asked)
    finally:
        os.close(chip)
    return int(_REQUEST.unpack(asked)[-1])


def _high(line: int) -> bool:
    values = bytearray(_VALUES.pack(0, 1))
    fcntl.ioctl(line, _GET_VALUES, values)
    return bool(values[0])
