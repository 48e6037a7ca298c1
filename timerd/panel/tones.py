"""The sounds themselves: for each thing that is told without words, its own rhythm and pitch.

Every fundamental lies from 300 to 1000 Hz and has three harmonics below 4 kHz, so that ears which have lost the high
notes, and ears behind a running tap, still have most of each sound (IEC 60601-1-8 asks as much of alarms: fundamental
150 to 1000 Hz, four harmonics from 300 to 4000 Hz; ISO 24500 keeps below 2 kHz for older ears, from memory). None of
them is a medical alarm's pattern.
"""

from __future__ import annotations

import math
from array import array
from functools import cache
from typing import NamedTuple

RATE = 32000
"""Samples a second. A whole number of milliseconds for each of the mixer's buffers of 512."""
FADE_S = 0.004
"""Each pulse rises and falls as half a cosine for so long: no click."""

_HARMONICS = (1.0, 0.5, 0.33, 0.25)
_PEAK = 0.6
"""Of full scale, at level 1: two sounds at once are not clipped."""


class Pulse(NamedTuple):
    """A part of a sound: from when, for how long, at which fundamental."""

    at_ms: int
    ms: int
    hertz: float


SOUNDS: dict[str, tuple[Pulse, ...]] = {
    "beat": (Pulse(0, 40, 800),),
    "accent": (Pulse(0, 70, 1000),),
    "half": (Pulse(0, 30, 630),),
    "lead_in": (Pulse(0, 110, 560),),
    "last": (Pulse(0, 40, 800), Pulse(90, 40, 800)),
    "ready": (Pulse(0, 30, 400),),
    "notice": (Pulse(0, 40, 450), Pulse(90, 40, 450)),
    "card_in": (Pulse(0, 80, 500), Pulse(80, 120, 750)),
    "card_out": (Pulse(0, 80, 750), Pulse(80, 120, 500)),
    "light_on": (Pulse(0, 250, 1000),),
    "light_off": (Pulse(0, 400, 320),),
    "paused": (Pulse(0, 120, 800), Pulse(150, 120, 600), Pulse(300, 200, 400)),
    "refused": (Pulse(0, 120, 300), Pulse(200, 220, 300)),
    "prompt": (Pulse(0, 80, 600), Pulse(130, 80, 600), Pulse(260, 260, 750)),
    "done": (Pulse(0, 120, 400), Pulse(150, 120, 500), Pulse(300, 120, 600), Pulse(450, 350, 800)),
    "warning": (Pulse(0, 100, 900), Pulse(180, 100, 900), Pulse(360, 100, 900)),
    "agitate": (Pulse(0, 50, 340), Pulse(110, 50, 420)),
    "tray": (Pulse(0, 140, 700), Pulse(190, 140, 700), Pulse(380, 200, 500)),
    "tray_soft": (Pulse(0, 90, 500), Pulse(150, 140, 400)),
    "fault": tuple(Pulse(160 * k, 150, 950 if k % 2 == 0 else 600) for k in range(6)),
}
"""What each sound is made of. The names are also those of the bench's levels."""


def length_s(name: str) -> float:
    """How long a sound lasts, in seconds.

    >>> length_s("beat"), length_s("paused")
    (0.04, 0.5)
    """
    return max(pulse.at_ms + pulse.ms for pulse in SOUNDS[name]) / 1000


def samples(name: str, level: float = 1.0) -> array[int]:
    """A sound as signed 16-bit samples, one channel, `RATE` a second; level from 0 to 1.

    >>> len(samples("beat")), samples("beat")[0], max(samples("beat", 0.0))
    (1280, 0, 0)
    """
    sound = array("h", bytes(2 * round(length_s(name) * RATE)))
    for pulse in SOUNDS[name]:
        first = pulse.at_ms * RATE // 1000
        for i, value in enumerate(_pulse(pulse, level)):
            sound[first + i] = value
    return sound


def _pulse(pulse: Pulse, level: float) -> list[int]:
    wave = _one_turn()
    step = pulse.hertz * _TURN / RATE
    count, fade = pulse.ms * RATE // 1000, round(FADE_S * RATE)
    gains = [(1 - math.cos(math.pi * i / fade)) / 2 for i in range(fade)]
    scale = level * _PEAK * 32767
    made = [scale * wave[int(step * i) % _TURN] for i in range(count)]
    for i, gain in enumerate(gains):
        made[i] *= gain
        made[-1 - i] *= gain
    return [round(value) for value in made]


_TURN = 8192


@cache
def _one_turn() -> list[float]:
    """One turn of the fundamental with its harmonics, the highest point at 1."""
    turn = 2 * math.pi / _TURN
    wave = [sum(a * math.sin(turn * i * (h + 1)) for h, a in enumerate(_HARMONICS)) for i in range(_TURN)]
    most = max(wave)
    return [value / most for value in wave]
