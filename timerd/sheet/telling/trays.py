"""A cue at the trays as text, for screen and speech alike; and what is due next."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from timerd.sheet.status import CueTold, StackStands, TraysStand
from timerd.sheet.telling import refusal_words

if TYPE_CHECKING:  # who only asks how the bench stands waits for no machine of the trays, and no record
    from timerd.sheet.trays.events import TrayCue

CAUTION = (
    "Gloves or tongs. Air the room. Acid into water, never water into acid. Nothing into the eyes. No toner with acid. "
    "Wet hands off the mains. The safety data sheets and local rules hold."
)
"""Told once an evening, when the first sheet goes to the baths; the whole of it is in the makers' sheets."""

_ROUNDS = {"move": "; throw it away and move the second one into its place", "renew both": "; renew both"}


def sheets_words(sheets: Iterable[int]) -> str:
    """Sheets by number.

    >>> sheets_words((3,)), sheets_words((3, 4, 5))
    ('sheet 3', 'sheets 3, 4 and 5')
    """
    numbers = [str(sheet) for sheet in sheets]
    return f"sheet{'s' if len(numbers) > 1 else ''} {in_a_row(numbers)}"


def in_a_row(names: Sequence[str]) -> str:
    """Names as they are said: one, two and three.

    >>> in_a_row(("stop", "fixer 1"))
    'stop and fixer 1'
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def move_words(bath: str, to: str) -> str:
    """Where a sheet goes: `into stop`, or `out of wash` after the last bath."""
    return f"into {to}" if to else f"out of {bath}"


def stacks_words(trays: TraysStand | None, now: float) -> list[str]:
    """What is due next for each stack."""
    return [stack_words(stack, now) for stack in trays.stacks] if trays is not None else []


def stack_words(stack: StackStands, now: float) -> str:
    """What is due next for a stack, as a status tells it: `sheet 3, developer: drain in 0:42`."""
    who = sheets_words(stack.sheets)
    if stack.at is None:
        return f"{who} in the box"
    left = stack.at - now
    about = "about " if stack.approximate else ""
    when = f"in {about}{minutes(left)}" if left > -0.5 else f"{about}{minutes(-left)} late"
    return f"{who}{f', {stack.bath}' if stack.bath else ''}: {what_next(stack)} {when}"


def what_next(stack: StackStands) -> str:
    """What is to be done with a stack next: `drain`, `into stop`."""
    return "drain" if stack.what == "drain" else move_words(stack.bath or "", stack.to or "")


def minutes(seconds: float) -> str:
    """Minutes and seconds, upwards: a countdown is over at 0:00.

    >>> minutes(102.2)
    '1:43'
    """
    whole = max(0, math.ceil(seconds - 1e-6))
    return f"{whole // 60}:{whole % 60:02d}"


def cue_text(cue: TrayCue | CueTold) -> str:
    """What is said at the trays; nothing for what is only a sound.

    >>> from timerd.sheet.trays.events import TrayCue
    >>> cue_text(TrayCue("move", 0.0, (3,), "developer", "stop"))
    'sheet 3 into stop'
    """
    if isinstance(cue, CueTold) and cue.text is not None:
        return cue.text
    who = sheets_words(cue.sheets) if cue.sheets else ""
    match cue.what:
        case "into" | "move":
            return f"{who} {move_words(cue.bath, cue.to)}"
        case "soon":
            return f"{who}, {cue.bath}, {cue.seconds:.0f} seconds"
        case "drain":
            return f"{who}, drain, then {move_words(cue.bath, cue.to)}"
        case "late":
            return f"{who} {move_words(cue.bath, cue.to)}, {cue.seconds:.0f} seconds late"
        case "together":
            return f"at once: {who}, in {cue.bath}"
        case "emerged":
            return f"{who}, image shows, {cue.bath} {cue.seconds:.0f} seconds in all"
        case "early":
            return f"{who}, {cue.bath} has {cue.seconds:.0f} seconds to go: press again to move it all the same"
        case "nothing":
            return f"nothing done: {refusal_words(cue.why or '')}"
        case "near":
            return f"{cue.bath} is nearly used up"
        case "over":
            return f"{cue.bath} is used up{_ROUNDS.get(cue.to, ': renew it')}"
        case "old":
            return f"{cue.bath} is older than it keeps"
        case "safe":
            return "white light is safe"
        case "caution":
            return CAUTION
        case "safelight near":
            return f"{who}, 70 percent of its safelight time is over"
        case "safelight over":
            return f"{who}, its safelight time is over"
        case "safelight none":
            return f"{who}, flashed beyond: no safelight margin left"
    return ""
