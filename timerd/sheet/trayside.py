"""The trays beside the engine: trays, safelight sums and when white light is safe follow what the engine does.

Whoever feeds the engine (the daemon, the simulated bench) lets this see each event with what came of it. A
press at the trays goes to the trays alone: the engine does not know those pedals.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from timerd.sheet import facts as fa
from timerd.sheet.engine import events as ev
from timerd.sheet.engine.feet import tray_pedals
from timerd.sheet.engine.rows import EXPOSING, LEAD_IN, VIEWING
from timerd.sheet.engine.standing import Standing
from timerd.sheet.fixing import Fixing
from timerd.sheet.record import Progress, Record
from timerd.sheet.refusal import ViewingLightOn
from timerd.sheet.safelight import UnderSafelight
from timerd.sheet.status import CueTold, Rocking, SafelightSeen, StackStands, TraysStand
from timerd.sheet.telling import refusal_words
from timerd.sheet.trays import events as tr
from timerd.sheet.trays.machine import Trays
from timerd.sheet.trays.stays import Stay, Stays
from timerd.sheet.trays.stock import Stock
from timerd.sheet.trays.timeline import Visit

EVENING_S = 12 * 3600.0


class TraySide:
    """What one bench has beside its engine. What the book knows of it comes in order and on this machine's clock: the
    records of sheets `at_trays`, of the baths' `stock`, and all since the first of those went `out` that are out. It
    begins at `now`.
    """

    def __init__(
        self, standing: Standing, at_trays: Iterable[Record] = (), stock: Iterable[Record] = (),
        out: Iterable[Record] = (), now: float = 0.0,
    ) -> None:  # fmt: skip
        self._standing = standing
        bench = standing.bench
        self._pedals = tray_pedals(bench)
        there = set(self._pedals.values())
        stays = Stays(standing.plans, "go" in there, at_trays)
        self.trays = Trays(stays, Stock(stock), "end" in there, now, standing.unconfirmed)
        self._fixing = Fixing(standing.plans, standing.progress, now)
        paper_safe = frozenset(name for name, light in bench.lights.items() if light.paper_safe)
        self.safelight = UnderSafelight(standing.plans, standing.progress.sheets, paper_safe)
        progress = Progress()
        for record in out:
            progress.apply(record)
            self.safelight.take(record, progress.sheets_out)
        self._burning = False
        self._cautioned_at: float | None = None

    # -- what happens ----------------------------------------------------------------------------------------------

    def see(self, event: ev.Event, actions: Iterable[ev.Action], now: float) -> list[tr.Action]:
        """What the engine was given, and what it did: what follows from it here."""
        found: list[tr.Action] = []
        if isinstance(event, ev.Edge) and event.down and event.pedal in self._pedals:
            if self._looked_by:
                found.append(tr.TrayCue("nothing", event.at, why=ViewingLightOn()))
            else:
                found += self._handle(tr.Press(self._pedals[event.pedal], event.at), now)
        was_out = self.safelight.counted
        for action in actions:
            if isinstance(action, Record):
                found += self._took(action, was_out, now)
        burning = self._standing.state in (LEAD_IN, EXPOSING)
        if burning != self._burning:
            self._burning = burning
            found += self._handle(tr.Exposing(burning, now), now)
        return found + self._fixed(now) + self._warn(now)

    def do(self, event: tr.Event, now: float) -> list[tr.Action]:
        """A command, or a wake. Raises LookupError, in words, for what is not there; then nothing has changed."""
        if isinstance(event, tr.Start) and self._looked_by:
            raise LookupError(refusal_words(ViewingLightOn()))
        return self._handle(event, now) + self._fixed(now) + self._warn(now)

    @property
    def wake_at(self) -> float | None:
        """When `do(Wake)` is due, if nothing happens before."""
        times = [self.trays.wake_at, self._fixing.wake_at, None if self._burning else self.safelight.wake_at]
        return min((at for at in times if at is not None), default=None)

    @property
    def _looked_by(self) -> bool:
        """Whether the viewing light is lit, or about to be: no sheet comes out of its box then."""
        return self._standing.row == VIEWING

    def _took(self, record: Record, was_out: Collection[int], now: float) -> list[tr.Action]:
        """A record of the engine's, which it has applied itself."""
        found: list[tr.Action] = []
        self.safelight.take(record, self._standing.progress.sheets_out)
        self._fixing.take(record)
        if isinstance(record.fact, fa.SentToTrays):
            if self._cautioned_at is None or now - self._cautioned_at > EVENING_S:
                self._cautioned_at = now
                found.append(tr.TrayCue("caution", now))
            found += self._handle(tr.ToTrays(record), now)
        if isinstance(record.fact, fa.InTheFixer) and record.sheet in was_out:
            found.append(self._sum(record))
        return found

    def _handle(self, event: tr.Event, now: float) -> list[tr.Action]:
        """To the trays; what they write is applied to the sheets' progress too."""
        found: list[tr.Action] = []
        for action in self.trays.handle(event, now):
            found.append(action)
            if isinstance(action, Record):
                found += self._apply(action)
        return found

    def _apply(self, record: Record) -> list[tr.Action]:
        """A record of the trays' own. That white light is safe is told where it would spoil no other sheet."""
        progress, found = self._standing.progress, list[tr.Action]()
        was_out, was_sensitive = record.sheet in progress.sheets_out, bool(progress.sensitive)
        progress.apply(record)
        self.safelight.take(record, progress.sheets_out)
        self._fixing.take(record)
        if was_out and isinstance(record.fact, fa.InStopBath | fa.OutOfTheBaths):
            found.append(self._sum(record))
        if was_sensitive and not progress.sensitive:
            found.append(tr.TrayCue("safe", record.at, (record.sheet,)))
        return found

    def _fixed(self, now: float) -> list[tr.Action]:
        """The sheets that have lain in their fixer for long enough."""
        found: list[tr.Action] = []
        for number in self._fixing.over(now):
            record = Record(fa.SafeInWhiteLight(), now, number)
            found += [record, *self._apply(record), *self._handle(tr.Fixed(number, now), now)]
        return found

    def _sum(self, record: Record) -> Record:
        return Record(self.safelight.sum(record.sheet, record.at), record.at, record.sheet)

    def _warn(self, now: float) -> list[tr.Action]:
        """Warnings of the safelight never come while an exposure burns: it is over soon, and then they do."""
        if self._burning:
            return []
        return [tr.TrayCue(f"safelight {stands}", now, (sheet,)) for sheet, stands in self.safelight.warnings(now)]

    # -- how it stands ---------------------------------------------------------------------------------------------

    def status(self, now: float) -> TraysStand:
        """What a client is told, but for the cues: each stack with its bath and what is due, the next first; sums."""
        by_press, out = self.trays.stays.by_press, self._standing.progress.sheets_out
        return TraysStand(
            tuple(_stack(visit, by_press) for visit in self.trays.visits), by_press,
            tuple(SafelightSeen(n, **self.safelight.sum(n, now).written()) for n in out), self.safelight.lit,
        )  # fmt: skip


def _stack(visit: Visit, by_press: bool) -> StackStands:
    """A stack as it is told."""
    stay: Stay = visit.stay
    bath, to = (there.words if there is not None else None for there in (stay.bath, stay.following))
    drain = visit.drain_at
    if stay.boxed:
        what, at = "boxed", None
    elif stay.index is None:
        what, at = "into", stay.due if stay.due is not None else visit.late_from
    elif drain is not None and stay.drained_at is None:
        what, at = "drain", drain
    else:
        what, at = "move", visit.move_at
    agitate = stay.bath.agitate if stay.bath is not None and stay.drained_at is None else None
    return StackStands(
        tuple(visit.sheets), bath, to, stay.since, what, at, visit.move_at, stay.celsius if bath is not None else None,
        None if agitate is None else Rocking(agitate.every_s, agitate.for_s), by_press and visit.pending,
        stay.approximate,
    )  # fmt: skip


def cue_told(cue: tr.TrayCue, number: int) -> CueTold:
    """A cue as a client is told it."""
    return CueTold(number, cue.what, cue.at, cue.bath, cue.to, cue.seconds, cue.why, cue.soft, cue.sheets)
