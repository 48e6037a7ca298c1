"""Two sheets that need a hand at once: found beforehand, and told once."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from timerd.sheet.trays.timeline import HANDS, Visit

APART_S = 5.0
"""What two sheets need within this time is announced."""
AHEAD_S = 15.0
"""So long before the first of the two."""
AGAIN_S = 30.0
"""Hands needed at once are announced anew after so long; rocking beside something else once for each two baths."""


class Together:
    """Remembers which pairs of visits have been announced."""

    def __init__(self) -> None:
        self._told: dict[tuple[int, int, str], float] = {}

    def found(self, visits: Iterable[Visit], now: float) -> list[tuple[Visit, Visit]]:
        """The pairs to be announced now; they count as announced from here on."""
        until = now + AHEAD_S + APART_S
        needs = [(visit, visit.needs(now, until)) for visit in visits]
        pairs = []
        for (one, ones), (other, others) in combinations(needs, 2):
            new = False
            for a in ones:
                for b in others:
                    first = min(a.at, b.at)
                    if (
                        abs(a.at - b.at) <= APART_S
                        and now - APART_S <= first <= now + AHEAD_S
                        and max(a.at, b.at) >= now
                    ):
                        new |= self._tell(one, other, a.what in HANDS and b.what in HANDS, first, now)
            if new:
                pairs.append((one, other))
        return pairs

    def _tell(self, one: Visit, other: Visit, hands: bool, first: float, now: float) -> bool:
        key = (id(one), id(other), "hands" if hands else "rocking")
        last = self._told.get(key)
        if last is not None and (not hands or first <= last + AGAIN_S):
            return False
        self._told[key] = now
        return True

    def forget(self, visit: Visit) -> None:
        """A visit is over."""
        self._told = {key: at for key, at in self._told.items() if id(visit) not in key[:2]}

    def wake_at(self, visits: Iterable[Visit], now: float) -> float | None:
        """When the next pair may have to be announced: before each thing that is needed, where two are there."""
        visits = list(visits)
        if len(visits) < 2:
            return None
        times = [
            need.at - before
            for visit in visits for need in visit.needs(now, now + AHEAD_S + APART_S) for before in (AHEAD_S, APART_S)
        ]  # fmt: skip
        return min((at for at in times if at > now), default=None)
