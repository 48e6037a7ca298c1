"""The sense inputs: whether a lamp gives light, seen by something that is not its line. Pure: the time is handed in.

An input that pulses with the mains counts as lit all the while. What is seen and what is asked for may differ for a
moment, while a relay works and a filament warms or cools; for longer, the lamp or its relay has failed.
"""

from __future__ import annotations

import math
from collections.abc import KeysView, Mapping
from dataclasses import dataclass

SENSE = "sense "
"""What a sense input's name begins with, so that no pedal can pass as one."""
STRETCH_S = 0.05
"""Light that was seen counts as seen for so long after: the mains puts a pulse every 8 or 10 ms."""
DIFFERS_S = 0.2
"""What is seen may differ from what is asked for no longer. With the stretch a failure is told within 0.25 s."""
LIGHT_NOT_SEEN = "light not seen"
LIGHT_SEEN = "light seen"


@dataclass
class _Sensor:
    lines: frozenset[str]
    asked: bool
    asked_at: float
    level: bool = False
    rose: float = -math.inf
    fell: float = -math.inf

    def seen(self, now: float) -> bool:
        return self.level or now < self.fell + STRETCH_S

    @property
    def differs_at(self) -> float | None:
        """When this has differed for too long, if nothing changes before."""
        if self.asked:
            return None if self.level else max(self.asked_at, self.fell + STRETCH_S) + DIFFERS_S
        at = max(self.asked_at, self.rose) + DIFFERS_S
        return at if self.seen(at) else None


class Sensing:
    """The sense inputs of a bench. `of` gives lamps' lines their inputs; one input may see several lamps."""

    def __init__(self, of: Mapping[str, str], now: float) -> None:
        self._sensors = {
            name: _Sensor(frozenset(line for line in of if of[line] == name), False, now) for name in set(of.values())
        }

    @property
    def names(self) -> KeysView[str]:
        """The inputs."""
        return self._sensors.keys()

    def asked(self, line: str | None, now: float) -> None:
        """This lamp is to give light from now on, and no other; None: none is."""
        for sensor in self._sensors.values():
            asked = line in sensor.lines
            if asked != sensor.asked:
                sensor.asked, sensor.asked_at = asked, now

    def sensed(self, name: str, lit: bool, at: float) -> None:
        """What an input sees, from that time on."""
        sensor = self._sensors[name]
        if lit and not sensor.level:
            if not sensor.seen(at):
                sensor.rose = at
            sensor.level = True
        elif sensor.level and not lit:
            sensor.level, sensor.fell = False, at

    def again(self, now: float) -> None:
        """A fault was cleared: what differed until now is forgiven."""
        for sensor in self._sensors.values():
            sensor.asked_at = now

    @property
    def due(self) -> float | None:
        """When an input will have differed for too long, if nothing changes before."""
        if not self._sensors:
            return None
        times = [at for sensor in self._sensors.values() if (at := sensor.differs_at) is not None]
        return min(times) if times else None

    def wrong(self, now: float) -> str | None:
        """What an input tells by now: LIGHT_NOT_SEEN, LIGHT_SEEN (where nobody asked for it), or nothing."""
        for sensor in self._sensors.values():
            at = sensor.differs_at
            if at is not None and now >= at:
                return LIGHT_NOT_SEEN if sensor.asked else LIGHT_SEEN
        return None

    def last_seen(self, line: str) -> float:
        """When the input of a lamp whose light is not seen now saw light last; minus infinity where it never did."""
        return max((sensor.fell for sensor in self._sensors.values() if line in sensor.lines), default=-math.inf)

    def lit(self, now: float) -> list[str]:
        """The inputs that see light where none is asked for."""
        return sorted(name for name, sensor in self._sensors.items() if sensor.seen(now) and not sensor.asked)
