"""Which sheet is in which bath since when: a fold over the book's records, and nothing beside it is kept of that."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from timerd.printing.baths import eight_by_tens
from timerd.sheet import facts as fa
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.bathfile import Bath, BathLine
from timerd.sheet.record import Record, fold_of

_8X10 = (203.2, 254.0)


@dataclass(slots=True)
class Stay:
    """One sheet at the trays. `index` is its bath's place in the line, None on the way to the first one.

    `stack` are the sheets that move together, itself among them. `due` is when it is to move on (or, on its way, to be
    put into the first bath); None where only a press tells. `batch` is the number of its bath's filling when it went
    in; `drained_at` is when it was lifted to drain; `approximate` is set where its time comes from before the machine
    itself was restarted.
    """

    sheet: int
    line: BathLine
    base: str | None
    eights: float
    stack: tuple[int, ...]
    since: float
    due: float | None
    index: int | None = None
    batch: int = 0
    celsius: float = 20.0
    emerged: bool = False
    boxed: bool = False
    drained_at: float | None = None
    approximate: bool = False

    @property
    def bath(self) -> Bath | None:
        """The bath that it is in."""
        return None if self.index is None else self.line.baths[self.index]

    @property
    def following(self) -> Bath | None:
        """The bath that comes next; None after the last one."""
        after = 0 if self.index is None else self.index + 1
        return self.line.baths[after] if after < len(self.line.baths) else None

    @property
    def in_developer(self) -> bool:
        """Whether white light would spoil it: not yet in the bath that ends the development."""
        bath = self.bath
        return bath is None or bath.kind == "developer"


class Stays:
    """All sheets at the trays. `plans` are those of the sheets, as they were when armed; `by_press` says that a pedal
    stands at the trays, so that sheets move by it and not by the clock."""

    def __init__(self, plans: Mapping[int, Plan], by_press: bool, records: Iterable[Record] = ()) -> None:
        self.of: dict[int, Stay] = {}
        self.by_press = by_press
        self._plans = plans
        for record in records:
            self.apply(record)

    def apply(self, record: Record) -> None:
        """Take in one more fact; a kind that is not about the trays changes nothing."""
        act = _FOLD.get(type(record.fact))
        if act is not None:
            act(self, record, record.fact)

    def _to_trays(self, record: Record, fact: fa.SentToTrays) -> None:
        plan = self._plans.get(record.sheet)
        if plan is None or plan.baths is None:
            return
        line = plan.baths
        size = (plan.sheet.width, plan.sheet.height) if plan.sheet is not None else _8X10
        boxed = fact.boxed
        due = None if self.by_press or boxed else record.at + line.carry_s
        here = (None, record.at, False)
        mates = [s for s in self.of.values() if (s.index, s.since, s.boxed) == here and s.line == line and not boxed]
        stack = (*(mate.sheet for mate in mates), record.sheet)  # those sent by one press move together
        for mate in mates:
            mate.stack = stack
        base, eights = plan.base or line.base, eight_by_tens(*size)
        approximate = record.approximate
        self.of[record.sheet] = Stay(
            record.sheet, line, base, eights, stack, record.at, due, boxed=boxed, approximate=approximate
        )

    def _out_of_the_box(self, record: Record, fact: fa.OutOfTheBox) -> None:
        if (stay := self.of.get(record.sheet)) is not None:
            stay.boxed, stay.stack, stay.since = False, fact.stack, record.at
            stay.due = None if self.by_press else record.at + stay.line.carry_s
            stay.approximate = record.approximate

    def _in_bath(self, record: Record, fact: fa.InBath) -> None:
        stay = self.of.get(record.sheet)
        if stay is None:
            return
        index = stay.line.baths.index(next(bath for bath in stay.line.baths if bath.name == fact.bath))
        stay.index, stay.since, stay.due = index, record.at, record.at + fact.planned_s
        stay.celsius, stay.emerged, stay.boxed, stay.drained_at = fact.celsius, False, False, None
        stay.stack, stay.batch = fact.stack, fact.batch
        stay.approximate = record.approximate

    def _bath_time(self, record: Record, fact: fa.BathTime) -> None:
        if (stay := self.of.get(record.sheet)) is not None:
            stay.due = stay.since + fact.planned_s
            stay.celsius = fact.celsius
            stay.emerged = stay.emerged or fact.emerged_s is not None

    def _draining(self, record: Record, fact: fa.Draining) -> None:
        if (stay := self.of.get(record.sheet)) is not None:
            stay.drained_at = record.at

    def _left(self, record: Record, fact: fa.OutOfTheBaths | fa.GivenUp) -> None:
        self.of.pop(record.sheet, None)
        for stay in self.of.values():
            if record.sheet in stay.stack:
                stay.stack = tuple(sheet for sheet in stay.stack if sheet != record.sheet)


_FOLD = fold_of(Stays)
KINDS = tuple(_FOLD)
"""The facts that tell where sheets are at the trays."""
