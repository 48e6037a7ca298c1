"""The trays as they are shown and heard: what is due next, the countdown, what is spoken of it. Pure."""

from __future__ import annotations

import math

from timerd.panel.beats import Heard
from timerd.panel.shown import ROWS, Shown, StepRow
from timerd.panel.words_to_say import goes_to
from timerd.sheet.refusal import NoSheetAtTrays
from timerd.sheet.status import CueTold, StackStands, Status
from timerd.sheet.telling import refusal_words
from timerd.sheet.telling.trays import CAUTION, cue_text, minutes, move_words, sheets_words, stacks_words, what_next

TOLD_S = 6.0
"""For so long a cue from the trays stands on the screen."""
CAUTION_S = 15.0
_BEATS = frozenset({"agitate", "rest"})


def stacks_of(status: Status) -> list[tuple[StackStands, float]]:
    """The stacks at the trays with when each is due, the next one first; those in their box are not."""
    stacks = status.trays.stacks if status.trays is not None else ()
    return [(stack, stack.at) for stack in stacks if stack.at is not None]


def at_the_trays(status: Status) -> bool:
    """Whether the sheet at hand is at the trays, or in its box until all go there."""
    return status.trays is not None and any(status.sheet in stack.sheets for stack in status.trays.stacks)


# -- seen ------------------------------------------------------------------------------------------------------------


def due_words(status: Status, now: float) -> str:
    """What is due next, short enough for the foot of every screen: `sheet 3: drain in 0:42`."""
    stacks = stacks_of(status)
    if not stacks:
        return ""
    first, at = stacks[0]
    left = at - now
    late = f", {minutes(-left)} late" if left <= -0.5 else f" in {'about ' if first.approximate else ''}{minutes(left)}"
    return f"{sheets_words(first.sheets)}: {what_next(first)}{late}"


def go_at_done(status: Status) -> tuple[str, ...]:
    """What a press of `go` at done says of the sheet at hand."""
    to = goes_to(status)
    return () if to is None else ("go: to the trays",) if to == "trays" else ("go: it is in the fixer",)


def go_in_idle(status: Status) -> tuple[str, ...]:
    """What a press of `go` in idle says of sheets that are at hand no more."""
    return tuple(
        f"go: sheet {told.sheet} {'to the trays' if told.where == 'trays' else 'is in the fixer'}"
        for told in status.goes_to
    )


def told_words(status: Status, now: float) -> str:
    """The last cue from the trays, while it is new."""
    cues = status.trays.cues if status.trays is not None else ()
    told = [cue_text(cue) for cue in cues if 0 <= now - cue.at < TOLD_S and cue.what != "caution"]
    return next((text for text in reversed(told) if text), "")


def caution(status: Status, now: float) -> Shown | None:
    """What to mind at the baths, while it is new: once an evening."""
    cues = status.trays.cues if status.trays is not None else ()
    if not any(cue.what == "caution" and 0 <= now - cue.at < CAUTION_S for cue in cues):
        return None
    lines = tuple(f"{sentence.strip()}." for sentence in CAUTION.split(".") if sentence.strip())
    return Shown("words", state="trays", heading="at the baths", lines=lines)


def screen(status: Status, now: float, hints: tuple[str, ...]) -> Shown:
    """The trays alone, where the enlarger asks for nothing: the countdown, all stacks, and what the pedals do."""
    stacks = stacks_of(status)
    first, at = stacks[0]
    left = at - now
    heading = f"{sheets_words(first.sheets)}: {what_next(first)}"
    if first.what == "drain":
        heading += f", then {move_words(first.bath or '', first.to or '')}"
    figure, unit = _figure(abs(left))
    lines = [f"{unit} late" if left <= -0.5 else f"{unit} to go"]
    if first.celsius is not None:
        lines[0] += f", {first.bath} at {first.celsius:g} °C"
    lines += _rocking(stacks, now)
    if status.trays is not None and status.trays.by_press:
        lines.append("a press at the trays: it has been moved")
        hints = ("; ".join(hints),) if hints else ()
    rows = tuple(
        StepRow(stack.sheets[0], False, i == 0, _row_words(stack), _left(due, now))
        for i, (stack, due) in enumerate(stacks[:ROWS])
    )
    return Shown("steps", state="trays", heading=heading, figure=figure, rows=rows, lines=(*lines, *hints))


def _figure(seconds: float) -> tuple[str, str]:
    """Whole seconds below a hundred, else whole minutes, both upwards."""
    whole = math.ceil(seconds - 1e-6)
    return (str(whole), "seconds") if whole < 100 else (str(math.ceil(whole / 60)), "minutes")


def _row_words(stack: StackStands) -> str:
    return f"on the way to {stack.to}" if stack.bath is None else str(stack.bath)


def _left(at: float, now: float) -> str:
    return f"{minutes(now - at)} late" if at - now <= -0.5 else minutes(at - now)


def _rocking(stacks: list[tuple[StackStands, float]], now: float) -> list[str]:
    """Which trays are to be rocked, and when next."""
    found: dict[str, float] = {}
    for stack, at in stacks:
        if stack.agitate is not None and stack.bath is not None and stack.what != "into":
            every = stack.agitate.every_s
            ahead = every - (now - stack.since) % every
            if now + ahead < at:
                found[stack.bath] = min(ahead, found.get(stack.bath, ahead))
    return [f"rock {', '.join(f'{bath} in {seconds:.0f} s' for bath, seconds in found.items())}"] if found else []


# -- heard -----------------------------------------------------------------------------------------------------------


def new_cues(before: Status | None, after: Status) -> list[CueTold]:
    """What was told at the trays since the status before; of a first one nothing is."""
    if after.trays is None or before is None or before.trays is None:
        return []
    last = before.trays.cues[-1].number if before.trays.cues else 0
    return [cue for cue in after.trays.cues if cue.number > last]


def tray_sounds(before: Status | None, after: Status) -> list[Heard]:
    """A sound for each new cue: a small one for a beat, a soft one where a light burns."""
    found = []
    for cue in new_cues(before, after):
        sound = "agitate" if cue.what in _BEATS else "tray_soft" if cue.soft else "tray"
        found.append(Heard(cue.at, sound, None, ("trays", cue.number)))
    return found


def tray_words(before: Status | None, after: Status) -> tuple[str | None, bool]:
    """What is spoken of the new cues, all in one breath, and whether softly."""
    cues = new_cues(before, after)
    said = [text for cue in cues if (text := cue_text(cue))]
    if any(cue.what == "again" for cue in cues):
        said += stacks_words(after.trays, after.now) or [refusal_words(NoSheetAtTrays())]
    return (". ".join(said) if said else None), any(cue.soft for cue in cues)
