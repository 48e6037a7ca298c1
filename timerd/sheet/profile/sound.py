"""How a bench sounds in the dark: the key `sound` of its file."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, PlainSerializer, WithJsonSchema

from timerd.sheet.profile.faults import shown
from timerd.sheet.profile.fields import Name, Part

Level = Annotated[float, Field(ge=0, le=1)]
"""How loud, from 0 (not at all) to 1."""

_BEATS = (1, 0.5)


def _beat(value: Any) -> float:
    """Reads `off`, 1 or 0.5 as seconds between beats, 0 for none."""
    if value == "off":
        return 0.0
    if isinstance(value, int | float) and not isinstance(value, bool) and value in _BEATS:
        return float(value)
    raise ValueError(f"write off, 1 or 0.5 (seconds between beats); found {shown(value)}")


def _written_beat(seconds: float) -> float | str:
    return seconds or "off"


Beat = Annotated[
    float,
    BeforeValidator(_beat),
    PlainSerializer(_written_beat),
    WithJsonSchema({
        "description": "off, or the seconds between beats while a light burns: 1 or 0.5",
        "anyOf": [{"const": "off"}, {"type": "number", "enum": [1, 0.5]}],
    }),
]  # fmt: skip


class Levels(Part):
    """How loud each sound is beside the others; `level` makes all of them louder or softer together."""

    beat: Level = 0.6
    accent: Level = 0.8
    half: Level = 0.3
    lead_in: Level = 0.6
    last: Level = 0.8
    ready: Level = 0.4
    notice: Level = 0.6
    card_in: Level = 0.9
    card_out: Level = 0.9
    light_on: Level = 0.9
    light_off: Level = 0.9
    paused: Level = 0.9
    refused: Level = 0.9
    prompt: Level = 0.8
    done: Level = 0.8
    warning: Level = 1.0
    agitate: Level = 0.4
    tray: Level = 0.9
    tray_soft: Level = 0.25
    fault: Level = 1.0
    voice: Level = 1.0


class SoundSettings(Part):
    """What is heard, and how loud.

    `say`: happenings by their sounds (`beep`), in words (`speak`), by both, or silence. `beat`: seconds between beats
    while a light burns, 0 where the file says off. `beat_in_ready`: a soft tick each second while a step waits for the
    foot. `voice` and `words_a_minute` are espeak-ng's.
    """

    say: Literal["beep", "speak", "both", "off"] = "both"
    beat: Beat = 1.0
    count: Literal["up", "down", "off"] = "down"
    beat_in_ready: bool = False
    level: Level = 0.7
    levels: Levels = Levels()
    voice: Name = "en-gb"
    words_a_minute: Annotated[int, Field(ge=80, le=300)] = 175
