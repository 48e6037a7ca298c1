"""A cue at the trays as text, for screen and speech alike; and what is due next."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from timerd.sheet.trays.events import Cue

_ROUNDS = {
    "move": "; throw it away and move the second one into its place",
    "renew both": "; renew both",
}


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


def cue_text(cue: Cue) -> str:
    """What is said at the trays; nothing for what is only a sound.

    >>> cue_text(Cue("move", 0.0, (3,), "developer", "stop"))
    'sheet 3 into stop'
    """
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
            return f"nothing done: {cue.bath}"
        case "near":
            return f"{cue.bath} is nearly used up"
        case "over":
            return f"{cue.bath} is used up{_ROUNDS.get(cue.to, ': renew it')}"
        case "old":
            return f"{cue.bath} is older than it keeps"
        case "safelight near":
            return f"{who}, 70 percent of its safelight time is over"
        case "safelight over":
            return f"{who}, its safelight time is over"
        case "safelight none":
            return f"{who}, flashed beyond: no safelight margin left"
    return ""
