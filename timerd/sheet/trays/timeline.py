"""When a stack of sheets asks for what: rocking, a notice, lifting to drain, moving on.

A visit is a stack in one bath, or on its way to the first one. It remembers what it has been told, so that each thing
is told once; the times themselves come from the stay.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from timerd.sheet.trays.stays import Stay

SOON_S = 10.0
"""A sheet's lifting is told so long before, in a bath where it lies for more than twice as long."""
REMIND_S = 10.0
"""A sheet that should have been moved is told again every so many seconds."""
MOST_REMINDERS = 6
"""And no longer after so many times: whoever has not come by then is not there."""
HANDS = frozenset({"into", "drain", "move"})
"""What two hands are needed for; rocking is done beside other things, a notice asks for nothing."""


class TrayDue(NamedTuple):
    """Something due at a time: `into`, `agitate`, `rest`, `soon`, `drain`, `move` or `late`."""

    at: float
    what: str


class Visit:
    """One stack in one bath. `stays` are its sheets', alike but for the sheet; `key` tells this visit from others.

    `kept` once it was told to leave its last bath, and waits until somebody has said where it is.
    """

    def __init__(self, stays: list[Stay], by_press: bool, key: tuple[Any, ...]) -> None:
        self.stays = stays
        self.key = key
        self.kept = False
        self._by_press = by_press
        self._beats = 0
        self._rest_at: float | None = None
        self._told: set[str] = set()
        self._reminders = 0

    @property
    def stay(self) -> Stay:
        """The first sheet's: what all have in common."""
        return self.stays[0]

    @property
    def sheets(self) -> tuple[int, ...]:
        return tuple(stay.sheet for stay in self.stays)

    @property
    def move_at(self) -> float | None:
        """When it is to move on: as planned, or after its drain where the lifting was told late."""
        due, drain, drained = self.stay.due, self.drain_at, self.stay.drained_at
        return due if due is None or drain is None or drained is None else max(due, drained + (due - drain))

    @property
    def drain_at(self) -> float | None:
        """When it is to be lifted out, to drain; None where nothing drains."""
        due, bath = self.stay.due, self.stay.bath
        if due is None or bath is None or bath.drain_s <= 0:
            return None
        return max(self.stay.since, due - bath.drain_s)  # a warm bath may be over before

    @property
    def lift_at(self) -> float | None:
        """When it is to leave the liquid."""
        return self.stay.due if self.drain_at is None else self.drain_at

    @property
    def pending(self) -> bool:
        """Whether it was told to move, or waits for its first bath, and only a press can say that it has."""
        return self._by_press and not self.stay.boxed and ("move" in self._told or "into" in self._told)

    @property
    def late_from(self) -> float:
        """From when on it is late: the way to the first bath takes its time."""
        stay = self.stay
        return stay.since + stay.line.carry_s if stay.index is None else self.move_at or stay.since

    def dues(self, beats_until: float) -> list[TrayDue]:
        """All that is still to be told, the beats up to a time."""
        stay, told = self.stay, self._told
        if stay.boxed:
            return []
        if stay.index is None:
            at = stay.since if stay.due is None else stay.due
            found = [] if "into" in told else [TrayDue(at, "into")]
        else:
            lift, move, drain = self.lift_at, self.move_at, self.drain_at
            assert lift is not None and move is not None
            found = self._rocking(beats_until, lift)
            if "soon" not in told and lift - stay.since > 2 * SOON_S:
                found.append(TrayDue(lift - SOON_S, "soon"))
            if drain is not None and stay.drained_at is None:
                found.append(TrayDue(drain, "drain"))
            if "move" not in told:
                found.append(TrayDue(move, "move"))
        if self.pending and self._reminders < MOST_REMINDERS:
            found.append(TrayDue(self.late_from + (self._reminders + 1) * REMIND_S, "late"))
        return found

    def _rocking(self, until: float, lift: float) -> list[TrayDue]:
        bath = self.stay.bath
        if bath is None or bath.agitate is None:
            return []
        found = [TrayDue(self._rest_at, "rest")] if self._rest_at is not None and self._rest_at < lift else []
        beat = self._beats + 1
        while self.stay.drained_at is None and (at := self.stay.since + beat * bath.agitate.every_s) < lift:
            found.append(TrayDue(at, "agitate"))
            if at > until:  # one beyond, so that there is always a next one
                break
            beat += 1
        return found

    def needs(self, now: float, until: float) -> list[TrayDue]:
        """What hands were and will be needed for around now, told or not; one that only a press can end lasts."""
        stay = self.stay
        if stay.boxed:
            return []
        if self.pending:
            return [TrayDue(now, "into" if stay.index is None else "move")]
        if stay.index is None:
            return [TrayDue(stay.since if stay.due is None else max(stay.due, now), "into")]
        found = [TrayDue(max(self.move_at or now, now), "move")]
        if stay.drained_at is not None:
            found.append(TrayDue(stay.drained_at, "drain"))
        elif self.drain_at is not None:
            found.append(TrayDue(max(self.drain_at, now), "drain"))
        return found + [
            TrayDue(at, what) for at, what in self._rocking(until, self.lift_at or now) if what == "agitate"
        ]

    def take(self, what: str, at: float, now: float) -> None:
        """Something has been told, or, where beats are past, passed over."""
        bath = self.stay.bath
        if what == "agitate" and bath is not None and bath.agitate is not None:
            self._beats = max(self._beats + 1, int((now - self.stay.since) / bath.agitate.every_s + 1e-9))
            self._rest_at = at + bath.agitate.for_s if bath.agitate.for_s > 0 else None
        elif what == "rest":
            self._rest_at = None
        elif what == "late":
            self._reminders = max(self._reminders + 1, int((now - self.late_from) / REMIND_S + 1e-9))
        elif what == "drain":
            self._rest_at = None
        else:
            self._told.add(what)
            if what != "soon":  # a reminder comes after it, however late it is itself
                self._reminders = max(0, int((now - self.late_from) / REMIND_S + 1e-9))
