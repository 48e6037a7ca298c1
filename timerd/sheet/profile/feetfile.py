"""Scripted feet: the presses of a rehearsal, and the faults it injects."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from timerd.sheet.profile.fields import Name, Part

StateName = Literal[
    "idle", "prompt", "ready", "lead-in", "exposing", "paused", "done", "abandoned", "fault"
]  # fmt: skip
FaultName = Literal[
    "line stuck", "lamp dead", "relay welded", "pipe cut", "keeper killed", "daemon stopped", "pedal unplugged"
]  # fmt: skip
OrderName = Literal[
    "say", "arm", "skip", "end", "abandon", "step", "owe", "set aside", "take up", "give up", "tray", "view", "rest"
]  # fmt: skip


class Foot(Part):
    """One press, one fault, or something asked for by command (`do`, of the step or sheet `n`): at a time from the
    start, or so long after the first entry into a state."""

    at: Annotated[float, Field(ge=0, le=86400)] | None = None
    when: StateName | None = None
    after: Annotated[float, Field(ge=0, le=86400)] = 0
    pedal: Literal["go", "end", "third"] | None = None
    station: Name | None = None
    down: Annotated[float, Field(gt=0, le=86400)] = 0.15
    bounce: Annotated[int, Field(ge=0, le=200)] = 0
    found_down: bool = False
    fault: FaultName | None = None
    light: Name | None = None
    until: Annotated[float, Field(gt=0, le=86400)] | None = None
    do: OrderName | None = None
    n: Annotated[int, Field(ge=1, le=100000)] | None = None


class Feet(Part):
    """A feet file, whole."""

    feet: Annotated[list[Foot], Field(max_length=2000)]
    sheets: Annotated[int, Field(ge=1, le=100)] = 1
    by_step: bool = False
