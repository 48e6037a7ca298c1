"""What is shown, as plain values: two that are equal look the same, so a frame is drawn only when they differ."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from timerd.sheet.map import MapArea, SheetMap

Kind = Literal["steps", "offer", "burst", "marks", "asks", "carry", "words", "map", "nothing"]
"""How the screen is divided: by what matters then."""

ROWS = 5
"""How many steps the list shows at once."""


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step in the list: its number, a tick when it is over, its words, and what it was given or is owed."""

    n: int
    over: bool
    here: bool
    words: str
    amount: str


@dataclass(frozen=True, slots=True)
class CueBar:
    """A dodge in a burst: a bar that fills while the card is in."""

    words: str
    filled: float


@dataclass(frozen=True, slots=True)
class MarkedMap:
    """The sheet as it lies, the area at hand, whether it needs ticks since no image is projected, and, where the sheet
    is laid back, the `corner` with its number: `top left`."""

    sheet: SheetMap
    at_hand: MapArea | None
    ticked: bool
    corner: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """One screen. `state` and `light` stand in the band at the top, which is filled while a light is lit; `card` is
    what the hand is to hold next, where that is said larger than the `lines`; `trays` is what is due next there, `told`
    what was said there a moment ago: a bar of its own, since heading and figure may be of another sheet, or of a step.
    """

    kind: Kind = "words"
    state: str = ""
    light: str = ""
    lit: bool = False
    heading: str = ""
    notice: str = ""
    figure: str = ""
    caption: str = ""
    amount: str = ""
    bar: float | None = None
    rows: tuple[StepRow, ...] = ()
    side: tuple[str, ...] = ()
    card: str = ""
    lines: tuple[str, ...] = ()
    cues: tuple[CueBar, ...] = ()
    map: MarkedMap | None = None
    white: str = ""
    white_safe: bool = True
    sheet: str = ""
    trays: str = ""
    told: str = ""
    edge: Literal[0, 1, 2] = 0
