"""Where in a step's dose its areas are held back: cues for the hands, and bursts for what is done apart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from timerd.sheet.plan.value import Cue
from timerd.sheet.profile.faults import Place
from timerd.sheet.words import area_words

BETWEEN_S = 1.0
"""Dose between two cues that are packed one after the other: time for the hands."""
_SAME = 1e-9

Complain = Callable[[Place, str], None]


@dataclass(frozen=True, slots=True)
class Held:
    """An area held back, with the dose that it is not to get; `start` is None where it may be packed, `stops` where it
    is covered throughout."""

    place: Place
    area: str
    mm: float | None
    dose: float
    stops: float | None
    stops_written: str | None
    start: float | None
    apart: bool
    leave: bool
    card: str | None
    note: str | None


def arrange(
    held: Sequence[Held], step: Place, dose: float, kind: str, hands: int, complain: Complain
) -> tuple[tuple[Cue, ...], tuple[float, ...]]:
    """Cues in the order of the file, and the doses at which the step's bursts end.

    Without `apart` there is one burst. Else the areas that share the light come first, then each area held
    back apart has a burst of its own, as long as its dose. One that is covered throughout is so in every burst.
    """
    if not _enough_is_left(held, dose, kind, complain):
        return (), (dose,)
    apart = [item for item in held if item.apart]
    alone = sum(item.dose for item in apart)
    shared = dose - alone
    if shared < -_SAME * dose:
        found = f"{alone:.1f} s held back apart, of {dose:.1f} s in all"
        complain((*step, "dodge"), f"dodges apart must fit in the {kind} together, found {found}")
        return (), (dose,)
    parts = [] if shared <= _SAME * dose else [shared]
    cues = []
    free = 0.0
    for item in held:
        if item.stops is None:
            start, stop = 0.0, dose
        elif item.apart:
            start = parts[-1] if parts else 0.0
            stop = dose if item is apart[-1] else start + item.dose
            parts.append(stop)
        else:
            start = free if item.start is None else item.start
            stop = start + item.dose
            if abs(stop - shared) <= _SAME * dose:
                stop = shared
            free = max(free, stop + BETWEEN_S)
            if stop > shared:
                complain(item.place, _does_not_fit(item, start, stop, dose, shared, kind))
        cues.append(
            Cue(
                area=item.area, start=start, stop=stop, stops=item.stops, stops_written=item.stops_written,
                card=item.card, note=item.note, apart=item.apart, leave=item.leave, mm=item.mm,
            )
        )  # fmt: skip
    together = [(cue, item.place) for cue, item in zip(cues, held, strict=True) if not item.apart]
    _hands_are_enough(together, hands, complain)
    return tuple(cues), tuple(parts or [dose])


def _enough_is_left(held: Sequence[Held], dose: float, kind: str, complain: Complain) -> bool:
    """Of a base something must reach every area; of a burn it may be nothing, but not less."""
    sums: dict[tuple[str, float | None], float] = {}
    enough = True
    for item in held:
        if item.stops is None:  # nothing is to reach it
            continue
        total = sums[item.area, item.mm] = sums.get((item.area, item.mm), 0.0) + item.dose
        area = area_words(item.area, item.mm)
        if kind == "base" and total >= dose * (1 - _SAME):
            complain(item.place, f"'{area}' is held back to nothing: {total:.1f} s of the base's {dose:.1f} s")
        elif total > dose * (1 + _SAME):
            complain(item.place, f"'{area}' is held back for more than the burn gives: {total:.1f} s of {dose:.1f} s")
        else:
            continue
        enough = False
    return enough


def _does_not_fit(item: Held, start: float, stop: float, dose: float, shared: float, kind: str) -> str:
    area = area_words(item.area, item.mm)
    room = f"the {kind}'s {dose:.1f} s" if shared == dose else f"the {shared:.1f} s of the shared burst"
    ways = [
        "start it earlier" if item.start else "give it a start" if item.start is None and start > 0 else "",
        "" if item.leave else "do it apart",
    ]
    way = " or ".join(filter(None, ways))
    found = f"'{area}' is held back from {start:.1f} to {stop:.1f} s, which does not fit in {room}"
    return f"{found}: {way}" if way else found


def _hands_are_enough(cues: Sequence[tuple[Cue, Place]], hands: int, complain: Complain) -> None:
    begun: list[Cue] = []
    for cue, place in sorted(cues, key=lambda pair: pair[0].start):
        still = [other for other in begun if other.stop > cue.start + _SAME]
        begun.append(cue)
        if any((other.area, other.mm) == (cue.area, cue.mm) for other in still):
            complain(place, f"'{area_words(cue.area, cue.mm)}' is held back twice at once, at {cue.start:.1f} s")
        elif len(still) >= hands:
            names = ", ".join(area_words(other.area, other.mm) for other in (*still, cue))
            count = "is 1 hand" if hands == 1 else f"are {hands} hands"
            complain(place, f"needs {len(still) + 1} hands at once at {cue.start:.1f} s ({names}), there {count}")
