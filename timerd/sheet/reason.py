"""Why the bench stands as it does and what there is to mind, beside what was refused: one class a code. The words are
in `telling`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar, get_args

from timerd.sheet.codes import coded_of, codes_of
from timerd.sheet.refusal import Refusal

# -- faults: nothing is lit until they are cleared ---------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LineNotLow:
    """A lamp was switched off, and its line does not read low."""


@dataclass(frozen=True, slots=True)
class KeeperGone:
    """The process that owns the lines was lost."""


@dataclass(frozen=True, slots=True)
class KeeperStopped:
    """Another program stopped it."""


@dataclass(frozen=True, slots=True)
class WentOutLate:
    """A light was kept by nobody for long after its end."""

    CODE: ClassVar[str] = "the light went out late"


@dataclass(frozen=True, slots=True)
class LightNotSeen:
    """A lamp was switched on, and its sense input saw no light."""


@dataclass(frozen=True, slots=True)
class LightSeen:
    """A sense input sees light that nobody asked for."""


@dataclass(frozen=True, slots=True)
class TwoLights:
    """Two were asked for at once."""


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """The keeper was told what is no message."""

    CODE: ClassVar[str] = "bad message"


@dataclass(frozen=True, slots=True)
class OverLimit:
    """A light burned for longer than its lamp may."""

    CODE: ClassVar[str] = "over the limit by a second clock"


@dataclass(frozen=True, slots=True)
class NoInk:
    """The book takes nothing more: what is wrong with it, in the system's words."""

    wrong: str


@dataclass(frozen=True, slots=True)
class LinesLost:
    """The lines could not be made dark, or not be had again: what is wrong, in the system's words."""

    wrong: str


BenchFault = (
    LineNotLow | KeeperGone | KeeperStopped | WentOutLate | LightNotSeen | LightSeen | TwoLights | NotUnderstood
    | OverLimit | NoInk | LinesLost
)  # fmt: skip
FAULTS: Mapping[str, Any] = codes_of(get_args(BenchFault))
"""Every fault by its code, as the keeper tells it and books have it."""


def fault_of(facts: Mapping[str, Any]) -> BenchFault | str:
    """The fault that is written there; what this version knows no class for is the text itself.

    >>> fault_of({"why": "line not low"}), fault_of({"why": "it rained in"})
    (LineNotLow(), 'it rained in')
    """
    found: BenchFault | str = coded_of(facts, FAULTS)
    return found


# -- why it stands as it does ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class WentDark:
    """A light went out otherwise than by a press or by itself: the keeper's code for it, or `tap`."""

    how: str


@dataclass(frozen=True, slots=True)
class PedalsOut:
    """Those that the status tells are `unplugged`."""


Reason = Refusal | BenchFault | WentDark | PedalsOut

# -- what there is to mind ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SheetDamaged:
    """A sheet is left out, since a record of it is not what was written."""

    which: int


@dataclass(frozen=True, slots=True)
class RecordDamaged:
    """One of no sheet is not."""


@dataclass(frozen=True, slots=True)
class NewBox:
    """The next sheet's paper is from a box that was not open before."""

    paper: str
    box: str


@dataclass(frozen=True, slots=True)
class NotCopied:
    """The book was not: why, in the copying process's words."""

    wrong: str


@dataclass(frozen=True, slots=True)
class CopiedDamaged:
    """It was, with what is damaged in it: the first of that, as the book's check tells it."""

    wrong: str


CopyTrouble = NotCopied | CopiedDamaged
Mind = SheetDamaged | RecordDamaged | NewBox | CopyTrouble

# -- why no light comes on ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class DiskSlow:
    """What must be on disk first is not yet."""


InkTrouble = NoInk | DiskSlow
