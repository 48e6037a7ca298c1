"""The contacts under the feet: raw edges become presses and let-ups. Pure: the time is handed in.

The first edge counts at once, at its own time; a train of edges after it is bounce until the contact was still for the
lock-out, and then the level is read. A contact that is unplugged counts as up until it is plugged in again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

LOCK_OUT_S = 0.03
"""After an edge that counts nothing else does until the contact was still for this long; then the level is read."""
LONGEST_TRAIN_S = 0.5
"""A contact that has not rested for so long does not bounce: it is read every lock-out, so that it still darkens."""

Accepted = Callable[[str, bool, float, float], None]
"""An edge that counts: the contact's name, whether it closed, when, and the time now."""


@dataclass
class _Contact:
    down: bool = False
    raw: bool = False
    changed: float = -math.inf
    begun: float = -math.inf
    """When the train of edges began that is not over, or was the last one."""
    locked_until: float = -math.inf
    unread: bool = False
    unplugged: bool = False
    last_press: int = 0

    def moved(self, at: float) -> None:
        """It has moved within its lock-out, which begins anew, unless the train has gone on for too long."""
        self.locked_until = max(self.locked_until, min(at + LOCK_OUT_S, self.begun + LONGEST_TRAIN_S))


class Contacts:
    """All contacts of a bench. Each edge that counts is passed to `accepted` at once, with a number of its own."""

    def __init__(self, names: Iterable[str], accepted: Accepted) -> None:
        self._contacts = {name: _Contact() for name in names}
        self._accepted = accepted
        self._unread = False
        self.number = 0
        """How many edges have counted so far: the number of the last one."""

    # -- what is asked -------------------------------------------------------------------------------------------

    @property
    def names(self) -> frozenset[str]:
        """All contacts there are."""
        return frozenset(self._contacts)

    def down(self, name: str) -> bool:
        """The debounced level of a contact."""
        return self._contacts[name].down

    def stands_open(self, name: str | None) -> bool:
        """Whether a contact was opened by its last edge, be that bounce or not; None is none."""
        return name is not None and not self._contacts[name].raw

    def plugged_in(self, names: Iterable[str]) -> bool:
        """Whether one of these, at least, is there to be pressed."""
        return any(not self._contacts[name].unplugged for name in names)

    def pressed_since(self, names: Iterable[str], number: int) -> str | None:
        """One of these that was pressed after the edge of that number, if any was."""
        newer = sorted(name for name in names if self._contacts[name].last_press > number)
        return newer[0] if newer else None

    def to_read(self, now: float) -> list[str]:
        """The contacts whose lock-out is over and whose level was not read since."""
        if not self._unread:  # mostly: this is asked between a deadline and its edge
            return []
        self._unread = any(c.unread for c in self._contacts.values())
        return [name for name, c in self._contacts.items() if c.unread and now >= c.locked_until]

    @property
    def settling(self) -> bool:
        """Whether a contact's level differs from what counts: its lock-out has yet to end."""
        return any(c.raw != c.down for c in self._contacts.values())

    @property
    def next_wake(self) -> float | None:
        """When the next lock-out ends that matters."""
        times = [c.locked_until for c in self._contacts.values() if c.unread or c.raw != c.down]
        return min(times) if times else None

    # -- what happens --------------------------------------------------------------------------------------------

    def edge(self, name: str, down: bool, at: float, now: float) -> None:
        """A raw edge, with the time at which it happened."""
        contact = self._contacts[name]
        if contact.unplugged:
            return
        if contact.raw != contact.down and at >= contact.locked_until:
            self._accept(name, contact, contact.changed, now)
        if at - contact.changed >= LOCK_OUT_S:
            contact.begun = at
        contact.raw, contact.changed = down, at
        if at < contact.locked_until:
            contact.moved(at)
        elif down != contact.down:
            self._accept(name, contact, at, now)

    def level(self, name: str, down: bool, now: float) -> None:
        """What a contact reads now, at the end of its lock-out. If it has moved since its last edge, another one is on
        its way, or was lost: it was not still."""
        contact = self._contacts[name]
        if contact.raw != down and not contact.unplugged:
            contact.raw, contact.changed = down, now
            contact.moved(now)

    def wake(self, now: float) -> None:
        """Time has passed: lock-outs may be over."""
        for name, contact in self._contacts.items():
            if now >= contact.locked_until:
                contact.unread = False
                if contact.raw != contact.down:
                    self._accept(name, contact, contact.changed, now)

    def found_down(self, name: str) -> None:
        """A contact is down and was not seen to be pressed: that is no press."""
        contact = self._contacts[name]
        contact.down = contact.raw = True

    def unplug(self, name: str, now: float) -> bool:
        """A contact is there no more: it counts as up from now, whatever its lock-out says. Whether that is news."""
        contact = self._contacts[name]
        if contact.unplugged:
            return False
        contact.unplugged, contact.raw = True, False
        if contact.down:
            self._accept(name, contact, now, now)
        contact.unread, contact.locked_until = False, -math.inf
        return True

    def plug_in(self, name: str, down: bool) -> bool:
        """A contact is there again, down already or not: that is no press. Whether that is news."""
        contact = self._contacts[name]
        if not contact.unplugged:
            return False
        contact.unplugged = False
        contact.down = contact.raw = down
        return True

    def _accept(self, name: str, contact: _Contact, at: float, now: float) -> None:
        contact.down = contact.raw
        contact.locked_until = at + LOCK_OUT_S
        contact.unread = self._unread = True
        self.number += 1
        if contact.down:
            contact.last_press = self.number
        self._accepted(name, contact.down, at, now)
