"""The trays' machine: presses, times and temperatures in, records and cues out. It knows no light and starts none.

Sheets move by a press at the trays, or, where no pedal stands there, by the clock: then a move happens when it is told.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from timerd.printing.baths import seconds_by_emergence
from timerd.sheet import facts as fa
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.record import Record
from timerd.sheet.refusal import NoSheetAtTrays, Refusal, TooSoonAtTrays
from timerd.sheet.telling.trays import in_a_row
from timerd.sheet.trays.events import (
    Action,
    Event,
    Exposing,
    Fixed,
    NewBatch,
    Press,
    Start,
    TakeOut,
    Temperature,
    ToTrays,
    TrayCue,
    TrayWake,
)
from timerd.sheet.trays.needs import Together
from timerd.sheet.trays.stays import Stay, Stays
from timerd.sheet.trays.stock import Stock, filling_of
from timerd.sheet.trays.timeline import TrayDue, Visit

ON_TIME_S = 0.1
"""What is told within this time of being due counts as told when it was due; later, as told when it was."""
TOO_SOON_S = 0.7
"""A press so soon after one is the same foot once more."""
SHOWS_S = 2.0
"""No image shows sooner in a developer: a press before is not meant for it."""
FARTHEST_OFF = 3.0
"""Nor where the whole time would come to less than the bath's own time by this, or to more than so many times it."""
EARLY_S = 5.0
"""A press longer before the lifting than this moves nothing, unless another one follows within this time."""


class Trays:
    """All sheets at the trays. `handle` takes what happened and the time now, and returns what to do, in order.

    `stays` and `stock` are the accounts as the book has them. `end_there` says that an `end` stands at the trays: then
    that one tells when an image shows, else `go` does. `unconfirmed` are sheets that were there when nobody was, kept
    with whoever else goes by it: they are taken out here when a press moves them, or white light spoils them no more;
    the clock alone does not take them out of their last bath.
    """

    def __init__(
        self, stays: Stays, stock: Stock, end_there: bool = False, now: float = 0.0,
        unconfirmed: set[int] | None = None,
    ) -> None:  # fmt: skip
        self.stays, self.stock = stays, stock
        self._unconfirmed = set[int]() if unconfirmed is None else unconfirmed
        self._end_there = end_there
        self._visits: list[Visit] = []
        self._together = Together()
        self._burning = False
        self._held: list[TrayCue] = []
        self._rocked: dict[tuple[str, str], float] = {}
        self._pressed: dict[str, float] = {}
        self._asked: tuple[Visit, float] | None = None
        self._out: list[Action] = []
        self._now = now
        self._gather()

    def handle(self, event: Event, now: float) -> list[Action]:
        """Take in one event. What comes back is to be done in this order. Raises LookupError for a command that names
        what is not there; then nothing has changed."""
        self._out, self._now = [], max(now, self._now)
        _HANDLERS[type(event)](self, event)
        self._run()
        return self._out

    @property
    def wake_at(self) -> float | None:
        """When a `TrayWake` is due, if nothing happens before."""
        free = [visit for visit in self._visits if not self._is_held(visit)]
        times = [due.at for visit in free for due in visit.dues(self._now)]
        pair = self._together.wake_at(free, self._now)
        return min([*times, *([] if pair is None else [pair])], default=None)

    @property
    def visits(self) -> tuple[Visit, ...]:
        """The stacks at the trays, the one that is due next first; those in their box last."""
        return tuple(sorted(self._visits, key=_due_at))

    # -- events ----------------------------------------------------------------------------------------------------

    def _to_trays(self, event: ToTrays) -> None:
        self.stays.apply(event.record)
        self._gather()

    def _wake(self, event: TrayWake) -> None:
        """What is due is told by `handle`."""

    def _burns(self, event: Exposing) -> None:
        self._burning = event.burns
        if not event.burns:
            self._out += [cue._replace(at=self._now) for cue in self._held]
            self._held.clear()

    def _temperature(self, event: Temperature) -> None:
        self._write(fa.TemperatureRead(event.bath, event.celsius), event.at)
        for visit in self._visits:
            bath, due = visit.stay.bath, visit.stay.due
            if bath is None or bath.name != event.bath or due is None or visit.stay.emerged:
                continue
            end = due if bath.drain == "inside" else due - bath.drain_s
            if event.at < (visit.lift_at or due):
                left = (end - event.at) * math.exp(-bath.per_degree * (event.celsius - visit.stay.celsius))
                due = event.at + left + (due - end)
            for stay in visit.stays:
                self._write(fa.BathTime(due - stay.since, event.celsius), event.at, stay.sheet)

    def _new_batch(self, event: NewBatch) -> None:
        if event.came_from is not None:
            moved = self.stock.moved(event.bath, event.came_from, event.at)
            second = self.stock.batches[event.came_from]
            self._take(moved)
            self._take(self.stock.new_batch(event.came_from, second.filling, event.at))
        elif event.filling is not None:
            self._take(self.stock.new_batch(event.bath, event.filling, event.at))

    def _start(self, event: Start) -> None:
        boxed = [visit.stay for visit in self._visits if visit.stay.boxed]
        if not boxed:
            raise LookupError("no sheet waits in its box")
        alike = [stay for stay in boxed if stay.line == boxed[0].line]
        stack = tuple(stay.sheet for stay in alike)
        for stay in alike:
            self._write(fa.OutOfTheBox(stack), event.at, stay.sheet)
        self._gather()

    def _leave(self, event: TakeOut) -> None:
        stay = self.stays.of.get(event.sheet)
        if stay is None:
            raise LookupError(f"sheet {event.sheet} is not at the trays")
        if stay.bath is not None:
            self._out_of_bath(stay, stay.bath, event.at, "command")
        self._write(fa.OutOfTheBaths("command"), event.at, stay.sheet)
        self._gather()

    def _fixed(self, event: Fixed) -> None:
        """A sheet that was kept from leaving its last bath, until somebody had said where it is, leaves it now."""
        if event.sheet in self._unconfirmed:
            self._unconfirmed.discard(event.sheet)
            for visit in list(self._visits):
                if event.sheet in visit.sheets and visit.kept:
                    self._move_by_the_clock(visit, event.at)

    # -- a press ---------------------------------------------------------------------------------------------------

    def _press(self, event: Press) -> None:
        if event.at - self._pressed.get(event.pedal, -math.inf) < TOO_SOON_S:
            self._refuse(event, TooSoonAtTrays())
            return
        asked, self._asked = self._asked, None
        waiting = [visit for visit in self.visits if not visit.stay.boxed]
        showing = self._emerging(event.at)
        self._pressed[event.pedal] = event.at
        if event.pedal == "end" or not self.stays.by_press:
            if showing is not None and event.pedal == "end":
                self._emerged(showing, event.at)
            else:
                self._cue(TrayCue("again", event.at))
        elif not waiting:
            self._press_with_none(event)
        elif _near(waiting[0], event.at) or (asked is not None and asked[0] is waiting[0] and event.at <= asked[1]):
            self._move(waiting[0], event.at, "press")
        elif showing is not None and not self._end_there:
            self._emerged(showing, event.at)
        else:
            self._asked = waiting[0], event.at + EARLY_S
            lift = waiting[0].lift_at or event.at
            self._cue(_cue_of("early", waiting[0], event.at, seconds=lift - event.at))

    def _press_with_none(self, event: Press) -> None:
        if any(visit.stay.boxed for visit in self._visits):
            self._start(Start(event.at))
        else:
            self._refuse(event, NoSheetAtTrays())

    def _refuse(self, event: Press, why: Refusal) -> None:
        self._write(fa.PressRefused(f"{event.pedal}, trays", why), event.at)
        self._cue(TrayCue("nothing", event.at, why=why))

    def _emerging(self, at: float) -> Visit | None:
        """The stack whose image may be coming up: the last one put into a developer that goes by it. In the second
        half of its time a press can only mean the move; an `end` may say it anew."""
        found = []
        for visit in self._visits:
            stay, bath, due = visit.stay, visit.stay.bath, visit.stay.due
            if bath is None or bath.factor is None or due is None or (stay.emerged and not self._end_there):
                continue
            off = seconds_by_emergence(max(SHOWS_S, at - stay.since), bath.factor) / bath.seconds
            if stay.since + SHOWS_S <= at < (stay.since + due) / 2 and 1 / FARTHEST_OFF <= off <= FARTHEST_OFF:
                found.append(visit)
        return max(found, key=lambda visit: visit.stay.since, default=None)

    def _emerged(self, visit: Visit, at: float) -> None:
        bath = visit.stay.bath
        assert bath is not None and bath.factor is not None
        emerged_s = at - visit.stay.since
        planned_s = seconds_by_emergence(emerged_s, bath.factor) + (bath.drain_s if bath.drain == "outside" else 0.0)
        for stay in visit.stays:
            self._write(fa.BathTime(planned_s, stay.celsius, emerged_s), at, stay.sheet)
        self._cue(_cue_of("emerged", visit, at, seconds=planned_s))

    # -- moving on -------------------------------------------------------------------------------------------------

    def _move(self, visit: Visit, at: float, by: str) -> None:
        """The stack leaves where it is and goes into the bath that follows, or out."""
        if by == "press":
            self._unconfirmed.difference_update(visit.sheets)
        for stay in list(visit.stays):
            was_developing, following = stay.in_developer, stay.following
            if stay.bath is not None:
                self._out_of_bath(stay, stay.bath, at, by)
            if following is None:
                self._write(fa.OutOfTheBaths(by), at, stay.sheet)
            else:
                self._into_bath(stay, following, at)
                if was_developing and following.kind != "developer":
                    self._write(fa.InStopBath(), at, stay.sheet)
        self._gather()

    def _out_of_bath(self, stay: Stay, bath: Bath, at: float, by: str) -> None:
        assert stay.due is not None
        planned_s, actual_s, late_s = stay.due - stay.since, at - stay.since, at - stay.due
        left = fa.OutOfBath(bath.name, stay.batch, stay.celsius, planned_s, actual_s, late_s, by, stay.approximate)
        self._write(left, at, stay.sheet)

    def _into_bath(self, stay: Stay, bath: Bath, at: float) -> None:
        celsius = self.stock.celsius(bath, at)
        batch = self.stock.batches.get(bath.name)
        share = batch.share if batch is not None else 0.0
        number = batch.number if batch is not None else 0
        untold, confirmed = filling_of(bath) if number == 0 else None, stay.sheet not in self._unconfirmed
        planned_s = bath.move_after(celsius)
        told = (bath.name, number, celsius, planned_s, stay.stack, stay.base, stay.eights, untold, confirmed)
        self._write(fa.InBath(*told), at, stay.sheet)
        batch = self.stock.batches[bath.name]
        if worn := batch.worn(share):
            self._cue(TrayCue(worn, at, (stay.sheet,), bath.words, to=batch.rounds.due if batch.rounds else ""))
        if batch.old(at):
            self._cue(TrayCue("old", at, (stay.sheet,), bath.words))

    # -- what is due -----------------------------------------------------------------------------------------------

    def _run(self) -> None:
        """Tell all that is due by now, in order of time, what two need at once before either."""
        while True:
            free = [visit for visit in self._visits if not self._is_held(visit)]
            self._announce(free)
            dues = [(due, visit) for visit in free for due in visit.dues(self._now) if due.at <= self._now]
            if not dues:
                return
            due, visit = min(dues, key=lambda pair: pair[0].at)
            self._tell(visit, due)

    def _announce(self, free: list[Visit]) -> None:
        """Say beforehand which sheets will want something at once."""
        pairs = self._together.found(free, self._now)
        if pairs:
            visits = sorted({id(visit): visit for pair in pairs for visit in pair}.values(), key=lambda v: v.sheets)
            places = tuple(dict.fromkeys(_place(visit) for visit in visits))
            sheets = tuple(sheet for visit in visits for sheet in visit.sheets)
            self._cue(TrayCue("together", self._now, sheets, in_a_row(places)))

    def _tell(self, visit: Visit, due: TrayDue) -> None:
        late = self._now - due.at > ON_TIME_S
        at = self._now if late else due.at
        lift = visit.lift_at or at
        visit.take(due.what, at, self._now)
        if due.what in ("agitate", "rest"):
            if not late and self._rocks(visit, due):  # a beat that is late helps nobody
                self._cue(_cue_of(due.what, visit, at))
        elif due.what == "soon":
            if at < lift:
                self._cue(_cue_of("soon", visit, at, seconds=lift - at))
        elif due.what == "late":
            self._cue(_cue_of("late", visit, at, seconds=at - visit.late_from))
        else:
            self._cue(_cue_of(due.what, visit, at))
            if due.what == "drain":
                for stay in visit.stays:
                    self._write(fa.Draining(), at, stay.sheet)
            elif not self.stays.by_press:
                self._move_by_the_clock(visit, at)

    def _move_by_the_clock(self, visit: Visit, at: float) -> None:
        """What is told counts as done; but who says that a sheet is out of the baths has to know where it was."""
        visit.kept = visit.stay.following is None and not self._unconfirmed.isdisjoint(visit.sheets)
        if not visit.kept:
            self._move(visit, at, "clock")

    def _rocks(self, visit: Visit, due: TrayDue) -> bool:
        """Whether a beat is to be told: a tray is rocked once for all sheets in it."""
        bath = visit.stay.bath
        if bath is None or bath.agitate is None:
            return False
        key = (bath.name, due.what)
        if due.at - self._rocked.get(key, -math.inf) < bath.agitate.every_s / 2:
            return False
        self._rocked[key] = due.at
        return True

    def _is_held(self, visit: Visit) -> bool:
        return self._burning and visit.stay.line.cues == "wait"

    def _cue(self, cue: TrayCue) -> None:
        """A cue goes out; while a light burns it waits, or is soft, as the line of its sheets says."""
        lines = [self.stays.of[sheet].line for sheet in cue.sheets if sheet in self.stays.of]
        if self._burning and (not lines or any(line.cues == "wait" for line in lines)):
            self._held.append(cue)
        else:
            self._out.append(cue._replace(soft=self._burning))

    # -- small things ----------------------------------------------------------------------------------------------

    def _write(self, fact: fa.Fact, at: float, sheet: int = 0) -> None:
        self._take(Record(fact, at, sheet))

    def _take(self, record: Record) -> None:
        self.stays.apply(record)
        self.stock.apply(record)
        self._out.append(record)

    def _gather(self) -> None:
        """The visits that the stays make; one that goes on is the same visit."""
        groups: dict[tuple[Any, ...], list[Stay]] = {}
        for stay in self.stays.of.values():
            groups.setdefault((stay.stack, stay.index, stay.since, stay.boxed), []).append(stay)
        before, self._visits = self._visits, []
        for key, stays in groups.items():
            same = [visit for visit in before if visit.key == key[1:] and set(visit.sheets) >= {s.sheet for s in stays}]
            visit = same[0] if same else Visit(stays, self.stays.by_press, key[1:])
            visit.stays = stays
            self._visits.append(visit)
        for visit in before:
            if visit not in self._visits:
                self._together.forget(visit)


def _due_at(visit: Visit) -> float:
    """When it asks for a hand; a stack in its box never does."""
    return math.inf if visit.stay.boxed else visit.late_from if visit.move_at is None else visit.move_at


def _near(visit: Visit, at: float) -> bool:
    """Whether a press can only mean that it moves on now: not one that has just put it where it is."""
    if visit.stay.index is None or visit.lift_at is None:
        return True
    whole = visit.lift_at - visit.stay.since
    return visit.lift_at - at <= EARLY_S and at - visit.stay.since >= min(EARLY_S, whole) / 2


def _cue_of(what: str, visit: Visit, at: float, seconds: float = 0.0) -> TrayCue:
    bath, to = (there.words if there is not None else "" for there in (visit.stay.bath, visit.stay.following))
    return TrayCue(what, at, visit.sheets, bath, to, seconds)


def _place(visit: Visit) -> str:
    bath = visit.stay.bath or visit.stay.following
    return bath.words if bath is not None else ""


_HANDLERS: dict[type, Callable[[Trays, Any], None]] = {
    ToTrays: Trays._to_trays, Press: Trays._press, Exposing: Trays._burns, Temperature: Trays._temperature,
    NewBatch: Trays._new_batch, Start: Trays._start, TakeOut: Trays._leave, Fixed: Trays._fixed,
    TrayWake: Trays._wake,
}  # fmt: skip
