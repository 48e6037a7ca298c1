"""Two sheets that need a hand at once: found beforehand, and told once."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations, product
from typing import NamedTuple

from timerd.sheet.trays.timeline import HANDS, TrayDue, Visit

APART_S = 5.0
"""What two sheets need within this time is announced."""
AHEAD_S = 15.0
"""So long before the first of the two."""
AGAIN_S = 30.0
"""What was announced holds for so long, for what the same two stacks need hands for: a later need is announced anew.
That two stacks are rocked at once is said once."""


class Need(NamedTuple):
    """A stack, and what it needs."""

    visit: Visit
    due: TrayDue

    @property
    def hands(self) -> bool:
        return self.due.what in HANDS

    @property
    def key(self) -> tuple[int, bool]:
        """Whose it is, and whether it takes hands: lifting, draining and moving on are one thing to be ready for."""
        return id(self.visit), self.hands


class Together:
    """Remembers which needs of which pairs of visits have been announced."""

    def __init__(self) -> None:
        self._told: dict[frozenset[tuple[int, bool]], float] = {}

    def found(self, visits: Iterable[Visit], now: float) -> list[tuple[Visit, Visit]]:
        """The pairs to be announced now; they count as announced from here on."""
        until = now + AHEAD_S + APART_S
        needs = [[Need(visit, due) for due in visit.needs(now, until)] for visit in visits]
        pairs = []
        for ones, others in combinations(needs, 2):
            fresh = [pair for pair in product(ones, others) if self._is_fresh(*pair, now)]
            if any(_first(*pair) <= now + AHEAD_S for pair in fresh):
                self._told |= {
                    _key(*pair): now for pair in fresh if _first(*pair) <= until
                }  # with what comes right after
                pairs.append((ones[0].visit, others[0].visit))
        return pairs

    def _is_fresh(self, one: Need, other: Need, now: float) -> bool:
        """Whether two needs are near each other and still to come, and were not announced, or too long before."""
        a, b = one.due.at, other.due.at
        if abs(a - b) > APART_S or max(a, b) < now:
            return False
        told = self._told.get(_key(one, other))
        hands = [need for need in (one, other) if need.hands and not need.visit.pending]
        return told is None or (bool(hands) and min(a, b) > told + AGAIN_S)

    def forget(self, visit: Visit) -> None:
        """A visit is over."""
        self._told = {key: at for key, at in self._told.items() if all(id(visit) != who for who, _ in key)}

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


def _first(one: Need, other: Need) -> float:
    return min(one.due.at, other.due.at)


def _key(one: Need, other: Need) -> frozenset[tuple[int, bool]]:
    return frozenset((one.key, other.key))
