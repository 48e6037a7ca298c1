"""What the baths have taken, batch by batch, and how warm they are: a fold over the book's records."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from timerd.printing.baths import NEAR, TwoBath, sheets_left, two_bath, used_share
from timerd.sheet.facts import BathMixed, Filling, InBath, TemperatureRead
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.record import Record

TEMPERATURE_KEEPS_S = 12 * 3600.0
"""A temperature that was read longer ago than an evening is no longer believed."""


@dataclass(slots=True)
class Batch:
    """One filling of a bath. `used` are sheets of 8x10 in by the paper's base; `mixed_at` on this machine's clock.

    `number` counts all batches of a book, 0 where none was ever told. `moves` are how often it took the place of a bath
    before it; the filling's `per_litre` is empty where no capacity is known.
    """

    bath: str
    number: int
    mixed_at: float | None
    filling: Filling
    moves: int = 0
    used: dict[str, float] = field(default_factory=dict)

    @property
    def share(self) -> float | None:
        """Which share of its capacity is used; None where that is not known."""
        of = self.filling
        return used_share(self.used, of.per_litre, of.litres) if of.per_litre else None

    @property
    def rounds(self) -> TwoBath | None:
        """Where it stands with the bath that follows it; None for a bath that stands alone."""
        share, of = self.share, self.filling
        return two_bath(share, self.moves, of.cycles) if share is not None and of.followed_by is not None else None

    def left(self, base: str | None) -> float | None:
        """How many more sheets of 8x10 in of one kind of paper it can take."""
        of = self.filling
        return sheets_left(self.used, of.per_litre, of.litres, base or "") if of.per_litre else None

    def old(self, now: float) -> bool:
        """Whether it has been in use for longer than it keeps."""
        keeps_h = self.filling.keeps_h
        return keeps_h is not None and self.mixed_at is not None and now - self.mixed_at > keeps_h * 3600.0

    def worn(self, share_before: float | None) -> str:
        """What its last sheet did to it: `near` when it brought it there, `over` at the limit and beyond, else ''."""
        share = self.share
        if share is None or share < NEAR:
            return ""
        if share >= 1.0 - 1e-9:
            return "over"
        return "near" if (share_before or 0.0) < NEAR else ""


def filling_of(bath: Bath, litres: float | None = None) -> Filling:
    """What is in a bath that is mixed as the bath line's file has it; `litres` of it, if that is another number."""
    per_litre = bath.capacity.per_litre if bath.capacity is not None else {}
    return Filling(per_litre, bath.litres if litres is None else litres, bath.keeps_h, bath.followed_by, bath.cycles)


class Stock:
    """All baths' present batches, and the temperatures that were read."""

    def __init__(self, records: Iterable[Record] = ()) -> None:
        self.batches: dict[str, Batch] = {}
        self.temperatures: dict[str, tuple[float, float]] = {}
        self.last_number = 0
        for record in records:
            self.apply(record)

    def apply(self, record: Record) -> None:
        """Take in one more fact; a kind that is not about a bath's stock changes nothing."""
        match record.fact:
            case BathMixed() as mixed:
                mixed_at = record.at - mixed.age_s
                self.batches[mixed.bath] = Batch(mixed.bath, mixed.batch, mixed_at, mixed.filling, mixed.moves)
                self.last_number = max(self.last_number, mixed.batch)
            case TemperatureRead(bath, celsius):
                self.temperatures[bath] = (celsius, record.at)
            case InBath() as sheet:
                batch = self.batches.get(sheet.bath)
                if batch is None:
                    assert sheet.untold is not None, "the bath's filling was told nowhere"
                    batch = self.batches[sheet.bath] = Batch(sheet.bath, 0, None, sheet.untold)
                if batch.number == sheet.batch:  # else of a batch that is gone
                    base = sheet.base or "unknown"
                    batch.used[base] = batch.used.get(base, 0.0) + sheet.eights

    def new_batch(self, bath: str, filling: Filling, at: float) -> Record:
        """The record of a bath that was mixed anew."""
        return Record(BathMixed(bath=bath, batch=self.last_number + 1, moves=0, filling=filling), at)

    def moved(self, bath: str, came_from: str, at: float) -> Record:
        """The record of a bath whose place another one has taken: with its age, and in its next round.

        What stood second has taken little: as published, the count of the first place begins anew with each round.
        Raises LookupError where no batch of either was told, or the one does not follow the other.
        """
        before, second = self.batches.get(bath), self.batches.get(came_from)
        if before is None or second is None:
            missing = bath if before is None else came_from
            raise LookupError(f"no batch of {missing} was told yet: say  timerd bath new {missing}")
        if before.filling.followed_by != came_from:
            raise LookupError(f"{bath} is not followed by {came_from} in its bath line")
        filling = replace(before.filling, litres=second.filling.litres, keeps_h=second.filling.keeps_h)
        age_s = 0.0 if second.mixed_at is None else at - second.mixed_at
        mixed = BathMixed(
            bath=bath, batch=self.last_number + 1, was=second.number, moves=before.moves + 1, filling=filling,
            came_from=came_from, age_s=age_s,
        )  # fmt: skip
        return Record(mixed, at)

    def celsius(self, bath: Bath, now: float) -> float:
        """A bath's temperature: as it was read this evening, else as its file has it."""
        read, at = self.temperatures.get(bath.name, (bath.at_c, now))
        return read if now - at <= TEMPERATURE_KEEPS_S else bath.at_c
