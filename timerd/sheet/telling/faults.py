"""A fault in words: what has happened, and what the printer does now. For screen and speech alike."""

from __future__ import annotations

from typing import NamedTuple, assert_never

from timerd.sheet import reason as of
from timerd.sheet.reason import BenchFault
from timerd.sheet.telling.endings import why_words

LIGHT_MAY_BE_ON = "Light may still be on: cover the paper, switch the lamp off at the wall."
CLEAR = "Both pedals for 2 s clear the fault once every line reads low; the sheet is kept."
_SEE_DARK = "See that the lamp is dark. If it is not: cover the paper, switch the lamp off at the wall."


class FaultWords(NamedTuple):
    """What has happened, and what to do, the most urgent first."""

    what: str
    do: tuple[str, ...]


def fault_words(fault: BenchFault | str | None) -> FaultWords:
    """What a fault means. Text is told as it stands, and taken seriously.

    >>> fault_words(of.LineNotLow()).what
    'A lamp was switched off and its line does not read low'
    >>> fault_words("it rained in").do[0] == LIGHT_MAY_BE_ON
    True
    """
    if isinstance(fault, of.NoInk):
        return FaultWords(no_ink_words(fault), (_SEE_DARK, "Mend that, then start timerd anew: nothing is lit before."))
    dark = isinstance(fault, of.LightNotSeen | of.TwoLights | of.NotUnderstood | of.OverLimit)
    return FaultWords(_what(fault), (_SEE_DARK if dark else LIGHT_MAY_BE_ON, CLEAR))


def fault_in_short(fault: BenchFault | str) -> str:
    """A fault in a line among others: its code, where that says all.

    >>> fault_in_short(of.KeeperGone()), fault_in_short(of.NoInk("the disk is full"))
    ('keeper gone', 'no ink, no light: the disk is full')
    """
    match fault:
        case str():
            return fault
        case of.NoInk():
            return no_ink_words(fault)
        case of.LinesLost(wrong):
            return wrong
        case _:
            return fault.word


def no_ink_words(fault: of.NoInk) -> str:
    """That the book takes nothing, and why.

    >>> no_ink_words(of.NoInk("the disk is full"))
    'no ink, no light: the disk is full'
    """
    return f"no ink, no light: {fault.wrong}"


def _what(fault: BenchFault | str | None) -> str:
    match fault:
        case None:
            return "a fault without a reason"
        case str():
            return why_words(fault)
        case of.LineNotLow():
            return "A lamp was switched off and its line does not read low"
        case of.KeeperGone():
            return "The keeper of the lamps was lost"
        case of.KeeperStopped():
            return "The keeper of the lamps was stopped by another program"
        case of.WentOutLate():
            return "A light went out long after its end"
        case of.LightNotSeen():
            return "A lamp was switched on and no light was seen: it, its relay or the sense input has failed"
        case of.LightSeen():
            return "Light is seen that nobody asked for: the paper may have had more than is written"
        case of.TwoLights():
            return "Two lights were asked for at once; everything was darkened"
        case of.NotUnderstood():
            return "The keeper did not understand what it was told"
        case of.OverLimit():
            return "A light burned for longer than its lamp may, by a second clock"
        case of.NoInk():
            return no_ink_words(fault)
        case of.LinesLost(wrong):
            return wrong
        case _:
            assert_never(fault)
