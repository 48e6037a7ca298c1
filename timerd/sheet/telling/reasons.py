"""Why the bench stands as it does, what there is to mind, and which pedals are out, in words."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import assert_never

from timerd.sheet import reason as of
from timerd.sheet.reason import InkTrouble, Mind, Reason
from timerd.sheet.refusal import LampWarmsUp
from timerd.sheet.status import Warming
from timerd.sheet.telling.endings import why_words
from timerd.sheet.telling.faults import fault_in_short
from timerd.sheet.telling.refusals import refusal_words


def reason_words(why: Reason | str, unplugged: Mapping[str, str]) -> str:
    """Why the bench stands as it does, in few words, with the pedals that are unplugged.

    >>> reason_words(of.WentDark("lease"), {}), reason_words("late", {})
    ('the program did not answer', 'late')
    >>> reason_words(of.PedalsOut(), {"go": "is unplugged"}), reason_words(of.KeeperGone(), {})
    ('pedal go is unplugged', 'the keeper was lost')
    """
    match why:
        case str():
            return why_words(why)
        case of.WentDark(how):
            return why_words(how)
        case of.PedalsOut():
            return "; ".join(unplugged_words(unplugged))
        case (
            of.LineNotLow() | of.KeeperGone() | of.KeeperStopped() | of.WentOutLate() | of.LightNotSeen()
            | of.LightSeen() | of.TwoLights() | of.NotUnderstood() | of.OverLimit() | of.NoInk() | of.LinesLost()
        ):  # fmt: skip
            return why_words(fault_in_short(why))
        case _:
            return refusal_words(why)


def ink_words(trouble: InkTrouble | str) -> str:
    """Why no light comes on for want of ink.

    >>> ink_words(of.DiskSlow()), ink_words(of.NoInk("the book's disk is full"))
    ('waiting for the disk', "the book's disk is full")
    """
    match trouble:
        case str():
            return trouble
        case of.NoInk(wrong):
            return wrong
        case of.DiskSlow():
            return "waiting for the disk"
        case _:
            assert_never(trouble)


def mind_words(mind: Mind | str) -> str:
    """What there is to mind, as it is shown and spoken.

    >>> mind_words(of.SheetDamaged(3))
    'sheet 3 is damaged in the book: it is not offered. see book check'
    """
    match mind:
        case str():
            return mind
        case of.SheetDamaged(which):
            return f"sheet {which} is damaged in the book: it is not offered. see book check"
        case of.RecordDamaged():
            return "a record of no sheet is damaged. see book check"
        case of.NewBox(paper, box):  # common practice, no source
            return f"{paper} is from {box}. make a test strip first, and check it by drift"
        case of.NotCopied(wrong):
            return f"the book is not copied: {wrong}"
        case of.CopiedDamaged(wrong):
            return f"the copy has what is damaged. {wrong}"
        case _:
            assert_never(mind)


def warming_words(warming: Warming | None, now: float) -> str:
    """That a lamp is not warm yet, and for how long; nothing where none is.

    >>> warming_words(Warming("head", 140.0), 100.2), warming_words(Warming("head", 140.0), 140.0)
    ('the lamp warms up, 40 s', '')
    """
    left = 0 if warming is None else math.ceil(warming.until - now)
    return refusal_words(LampWarmsUp(left)) if left > 0 else ""


def unplugged_words(unplugged: Mapping[str, str]) -> list[str]:
    """What is to be said of pedals that are there no more: one text for all of which the same is true.

    >>> unplugged_words({"go": "is unplugged", "end": "is unplugged", "third": "can no longer be read: no such device"})
    ['pedals go and end are unplugged', 'pedal third can no longer be read: no such device']
    """
    told = []
    for why in dict.fromkeys(unplugged.values()):
        *first, last = [pedal for pedal, other in unplugged.items() if other == why]
        if not first:
            told.append(f"pedal {last} {why}")
            continue
        several = f"are {why[3:]}" if why.startswith("is ") else why
        told.append(f"pedals {', '.join(first)} and {last} {several}")
    return told


def worn_words(pedal: str) -> str:
    """What is told of a contact that has closed three times for no longer than a tap.

    >>> worn_words("go")
    'pedal go: its contact is worn'
    """
    return f"pedal {pedal}: its contact is worn"
