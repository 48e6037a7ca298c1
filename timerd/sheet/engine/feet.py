"""A pedal's edges become what the foot meant: pressed, let up, held, both held.

A hold counts only in the visit of the state in which its press began; a press that has acted leaves its pedal deaf
until it is let up; both pedals down together for two seconds act at two seconds, whatever states they passed through.
A second press that comes too soon after the first is the same foot, or its contact bouncing, and is not taken.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from timerd.sheet.profile.benchfile import Bench

HOLD_S = 1.0
BOTH_S = 2.0
TRAYS = "trays"
THIRD = "third"
TAP_S = 0.02
"""A let-up stamped sooner after its press than this was no press."""
WORN_TAPS = 3
"""After so many of them a contact is told to be worn."""
TOO_SOON_S = 0.7
"""So soon after a light went out, or a prompt was passed, a press was meant for what is over, and starts nothing."""
BOUNCES_S = 0.35
"""For so long after a let-up a worn contact may close again though no foot is on it."""


@dataclass(slots=True)
class Contact:
    """One contact under a foot: which pedal it is, and which station it serves (None: all)."""

    name: str
    pedal: str
    station: str | None
    down: bool = False
    at: float = 0.0
    visit: int = -1
    deaf: bool = False
    both: bool = False
    found_down: bool = False
    spent: bool = False
    let_up_at: float = -math.inf
    spent_until: float = -math.inf
    taps: int = 0


class AllContacts:
    """All contacts of a bench but those at the trays, which neither start nor darken anything."""

    def __init__(self, bench: Bench) -> None:
        self.contacts = {c.name: c for c in contacts(bench) if c.station != TRAYS}
        self.both_at: float | None = None
        self.go_from = -math.inf
        """Before this no `go` is taken: a foot made a `press` step dark, or passed a prompt."""

    def found_down(self, name: str, at: float) -> None:
        """A contact that was down before anybody looked."""
        if (contact := self.contacts.get(name)) is not None:
            contact.down = contact.deaf = contact.found_down = True
            contact.at = at

    def press(self, contact: Contact, at: float, visit: int) -> None:
        """The contact goes down."""
        contact.down, contact.at, contact.visit = True, at, visit
        contact.deaf = contact.both = contact.found_down = False
        if contact.pedal == THIRD:
            return
        for other in self.contacts.values():
            if other.down and other.pedal not in (contact.pedal, THIRD) and not (other.found_down or other.spent):
                contact.both = other.both = True
                self.both_at = at + BOTH_S

    def made_dark(self, contact: Contact, at: float, of_a_step: bool) -> None:
        """A press put a light out, or called it off; `of_a_step` that of a `press` step, which no `go` starts again so
        soon. A held step's goes on following the foot."""
        contact.spent_until = at + TOO_SOON_S
        if of_a_step:
            self.go_from = at + TOO_SOON_S

    def too_soon(self, contact: Contact, at: float, quick: bool) -> bool:
        """Whether a press is the foot of the press before it, or bounce. `quick` where a `go` may follow its own let-up
        as quickly as a foot moves: a held step, or where nothing comes of its press alone."""
        if at < contact.spent_until:
            return True
        if contact.pedal != "go":
            return False
        return at < self.go_from or (not quick and at < contact.let_up_at + BOUNCES_S)

    def let_up(self, contact: Contact, at: float) -> bool:
        """The contact comes up; whether it is told to be worn now: it has closed too often for no more than a tap."""
        tapped = at - contact.at < TAP_S and not contact.found_down
        if contact.deaf:  # its press has acted: nothing may come of how it comes up
            contact.spent_until = max(contact.spent_until, at + BOUNCES_S)
        if not tapped:  # after a tap the press is still to come
            contact.let_up_at = at
        contact.taps += tapped
        contact.down = contact.deaf = contact.found_down = contact.spent = False
        if self.both_at is not None and len({c.pedal for c in self.contacts.values() if c.down} - {THIRD}) < 2:
            self.both_at = None
        return tapped and contact.taps % WORN_TAPS == 0

    def both_acted(self) -> None:
        """Both have been held for long enough and have acted: both are deaf until let up."""
        self.both_at = None
        for contact in self.contacts.values():
            contact.deaf = contact.spent = contact.down

    def other_down(self, name: str | None) -> Contact | None:
        """A contact that is down and is not this one."""
        for contact in self.contacts.values():
            if contact.down and contact.name != name:
                return contact
        return None


def tray_pedals(bench: Bench) -> dict[str, str]:
    """The contacts at the trays, each with what it does there: `go` moves a sheet on, `end` says when an image shows.
    A third pedal is one or the other, as its bench says."""
    third = "go" if bench.third == "tray" else "end"
    there = [contact for contact in contacts(bench) if contact.station == TRAYS]
    return {contact.name: third if contact.pedal == THIRD else contact.pedal for contact in there}


def contacts(bench: Bench) -> list[Contact]:
    """The contacts of a bench, each with a name that tells it from the others: `go`, or `go 2, enlarger`."""
    found = []
    for pedal, group in bench.pedals.named():
        for i, contact in enumerate(group, start=1):
            name = pedal if len(group) == 1 else f"{pedal} {i}, {contact.station or 'everywhere'}"
            found.append(Contact(name, pedal, contact.station))
    return found
