"""The simulated chip, seen from the board's other side: levels put on inputs, and all that was driven on outputs.

For `inside/` alone. What was driven is told by the kernel's own trace, so no pulse is too short.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

CHIP = Path("/sys/devices/platform/gpio-sim.0")
DEVICE = Path("/dev/gpiochip0")
_TRACE = Path("/sys/kernel/tracing")
_DRIVEN = re.compile(r"-(?P<pid>\d+) .* (?P<at>\d+\.\d+): gpio_value: (?P<line>\d+) set (?P<level>[01])")
_TURNED = re.compile(r"-(?P<pid>\d+) .* (?P<at>\d+\.\d+): gpio_direction: (?P<line>\d+) (?P<way> in|out) \(0\)")


class Driven(NamedTuple):
    """A level that a process wrote to an output, at a monotonic time with microseconds; None: the output was given up
    for an input, and the board outside decides."""

    at: float
    pid: int
    level: bool | None


class Chip:
    """The chip's lines by their numbers; every one pulled down outside to begin with, as after a reset."""

    def __init__(self) -> None:
        (self._lines,) = CHIP.glob("gpiochip*")
        (base,) = CHIP.glob("gpio/gpiochip*/base")
        self._base = int(base.read_text())
        (_TRACE / "trace_clock").write_text("mono")
        (_TRACE / "buffer_size_kb").write_text("8192")
        (_TRACE / "events/gpio/gpio_value/filter").write_text("get == 0")
        (_TRACE / "events/gpio/enable").write_text("1")
        self.forget()

    def forget(self) -> None:
        """Pull every line down outside, and begin the trace anew."""
        for line in range(28):
            self.pull(line, False)
        self.forget_trace()

    def forget_trace(self) -> None:
        """Begin the trace anew."""
        (_TRACE / "trace").write_text("")

    def pull(self, line: int, high: bool) -> None:
        """Put a level on a line from outside: a foot, a resistor, a short. It shows where no process drives it."""
        (self._lines / f"sim_gpio{line}" / "pull").write_text("pull-up" if high else "pull-down")

    def level(self, line: int) -> bool:
        """What a meter on the line reads."""
        return (self._lines / f"sim_gpio{line}" / "value").read_text().strip() == "1"

    def driven(self) -> dict[int, list[Driven]]:
        """All that was done to each line since `forget`."""
        found: dict[int, list[Driven]] = {}
        for text in (_TRACE / "trace").read_text().splitlines():
            if text.startswith("CPU:") or "LOST" in text:
                raise AssertionError(f"the trace was too small: {text}")
            if (seen := _DRIVEN.search(text)) is not None:
                level: bool | None = seen["level"] == "1"
            elif (seen := _TURNED.search(text)) is not None and seen["way"] == " in":
                level = None
            else:
                continue
            told = Driven(float(seen["at"]), int(seen["pid"]), level)
            found.setdefault(int(seen["line"]) - self._base, []).append(told)
        return found
