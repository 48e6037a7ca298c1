"""Why the bench stands as it does and what there is to mind, beside what was refused: one class a code. The words are
in `telling`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, get_args

from timerd.sheet.refusal import Refusal
from timerd.wire.codec import Coded, by_word, read_code

# -- faults: nothing is lit until they are cleared ---------------------------------------------------------------------


class LineNotLow(Coded):
    """A lamp was switched off, and its line does not read low."""


class KeeperGone(Coded):
    """The process that owns the lines was lost."""


class KeeperStopped(Coded):
    """Another program stopped it."""


class WentOutLate(Coded, word="the light went out late"):
    """A light was kept by nobody for long after its end."""


class LightNotSeen(Coded):
    """A lamp was switched on, and its sense input saw no light."""


class LightSeen(Coded):
    """A sense input sees light that nobody asked for."""


class TwoLights(Coded):
    """Two were asked for at once."""


class NotUnderstood(Coded, word="bad message"):
    """The keeper was told what is no message."""


class OverLimit(Coded, word="over the limit by a second clock"):
    """A light burned for longer than its lamp may."""


class NoInk(Coded):
    """The book takes nothing more: what is wrong with it, in the system's words."""

    wrong: str


class LinesLost(Coded):
    """The lines could not be made dark, or not be had again: what is wrong, in the system's words."""

    wrong: str


BenchFault = (
    LineNotLow | KeeperGone | KeeperStopped | WentOutLate | LightNotSeen | LightSeen | TwoLights | NotUnderstood
    | OverLimit | NoInk | LinesLost
)  # fmt: skip
FAULTS: Mapping[str, Any] = by_word(get_args(BenchFault))
"""Every fault by its code, as the keeper tells it and books have it."""


def fault_of(facts: Mapping[str, Any]) -> BenchFault | str:
    """The fault that is written there; what this version knows no class for is the text itself.

    >>> fault_of({"why": "line not low"}), fault_of({"why": "it rained in"})
    (LineNotLow(), 'it rained in')
    """
    found: BenchFault | str = read_code(FAULTS, facts)
    return found


# -- why it stands as it does ------------------------------------------------------------------------------------------


class WentDark(Coded):
    """A light went out otherwise than by a press or by itself: the keeper's code for it, or `tap`."""

    how: str


class PedalsOut(Coded):
    """Those that the status tells are `unplugged`."""


Reason = Refusal | BenchFault | WentDark | PedalsOut

# -- what there is to mind ---------------------------------------------------------------------------------------------


class SheetDamaged(Coded):
    """A sheet is left out, since a record of it is not what was written."""

    which: int


class RecordDamaged(Coded):
    """One of no sheet is not."""


class NewBox(Coded):
    """The next sheet's paper is from a box that was not open before."""

    paper: str
    box: str


class NotCopied(Coded):
    """The book was not: why, in the copying process's words."""

    wrong: str


class CopiedDamaged(Coded):
    """It was, with what is damaged in it: the first of that, as the book's check tells it."""

    wrong: str


CopyTrouble = NotCopied | CopiedDamaged
Mind = SheetDamaged | RecordDamaged | NewBox | CopyTrouble

# -- why no light comes on ---------------------------------------------------------------------------------------------


class DiskSlow(Coded):
    """What must be on disk first is not yet."""


InkTrouble = NoInk | DiskSlow
