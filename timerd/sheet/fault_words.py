"""A fault in words: what has happened, and what the printer does now. For screen and speech alike."""

from __future__ import annotations

from typing import NamedTuple

from timerd.sheet.words import why_words

LIGHT_MAY_BE_ON = "Light may still be on: cover the paper, switch the lamp off at the wall."
CLEAR = "Both pedals for 2 s clear the fault once every line reads low; the sheet is kept."


class FaultWords(NamedTuple):
    """What has happened, and what to do, the most urgent first."""

    what: str
    do: tuple[str, ...]


def fault_words(why: str) -> FaultWords:
    """What a fault's reason means, short or already in words. One not known here is told as it came, and taken
    seriously.

    >>> fault_words("line not low").what
    'A lamp was switched off and its line does not read low'
    >>> fault_words("it rained in").do[0] == LIGHT_MAY_BE_ON
    True
    """
    if why.startswith("no ink"):
        return FaultWords(why, (_SEE_DARK, "Mend that, then start timerd anew: nothing is lit before."))
    known = next((words for short, words in _FAULTS.items() if why in (short, why_words(short))), None)
    return FaultWords(why, (LIGHT_MAY_BE_ON, CLEAR)) if known is None else known


_SEE_DARK = "See that the lamp is dark. If it is not: cover the paper, switch the lamp off at the wall."
_FAULTS = {
    "line not low": FaultWords("A lamp was switched off and its line does not read low", (LIGHT_MAY_BE_ON, CLEAR)),
    "keeper gone": FaultWords("The keeper of the lamps was lost", (LIGHT_MAY_BE_ON, CLEAR)),
    "keeper stopped": FaultWords("The keeper of the lamps was stopped by another program", (LIGHT_MAY_BE_ON, CLEAR)),
    "the light went out late": FaultWords("A light went out long after its end", (LIGHT_MAY_BE_ON, CLEAR)),
    "light not seen": FaultWords(
        "A lamp was switched on and no light was seen: it, its relay or the sense input has failed", (_SEE_DARK, CLEAR)
    ),
    "light seen": FaultWords(
        "Light is seen that nobody asked for: the paper may have had more than is written", (LIGHT_MAY_BE_ON, CLEAR)
    ),
    "two lights": FaultWords("Two lights were asked for at once; everything was darkened", (_SEE_DARK, CLEAR)),
    "bad message": FaultWords("The keeper did not understand what it was told", (_SEE_DARK, CLEAR)),
    "over the limit by a second clock": FaultWords(
        "A light burned for longer than its lamp may, by a second clock", (_SEE_DARK, CLEAR)
    ),
}
