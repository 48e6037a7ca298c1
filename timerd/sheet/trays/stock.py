"""What the baths have taken, batch by batch, and how warm they are: a fold over the book's records."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from timerd.printing.baths import NEAR, TwoBath, sheets_left, two_bath, used_share
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.record import Record

TEMPERATURE_KEEPS_S = 12 * 3600.0
"""A temperature that was read longer ago than an evening is no longer believed."""


@dataclass(slots=True)
class Batch:
    """One filling of a bath. `used` are sheets of 8x10 in by the paper's base; `mixed_at` on this machine's clock.

    `number` counts all batches of a book, 0 where none was ever told. `moves` are how often it took the place of a bath
    before it; `per_litre` is empty where no capacity is known.
    """

    bath: str
    number: int
    mixed_at: float | None
    per_litre: Mapping[str, float]
    litres: float
    keeps_h: float | None
    followed_by: str | None
    cycles: int
    moves: int = 0
    used: dict[str, float] = field(default_factory=dict)

    @property
    def share(self) -> float | None:
        """Which share of its capacity is used; None where that is not known."""
        return used_share(self.used, self.per_litre, self.litres) if self.per_litre else None

    @property
    def rounds(self) -> TwoBath | None:
        """Where it stands with the bath that follows it; None for a bath that stands alone."""
        share = self.share
        return two_bath(share, self.moves, self.cycles) if share is not None and self.followed_by is not None else None

    def left(self, base: str | None) -> float | None:
        """How many more sheets of 8x10 in of one kind of paper it can take."""
        return sheets_left(self.used, self.per_litre, self.litres, base or "") if self.per_litre else None

    def old(self, now: float) -> bool:
        """Whether it has been in use for longer than it keeps."""
        known = self.keeps_h is not None and self.mixed_at is not None
        return known and now - (self.mixed_at or 0.0) > (self.keeps_h or 0.0) * 3600.0

    def worn(self, share_before: float | None) -> str:
        """What its last sheet did to it: `near` when it brought it there, `over` at the limit and beyond, else ''."""
        share = self.share
        if share is None or share < NEAR:
            return ""
        if share >= 1.0 - 1e-9:
            return "over"
        return "near" if (share_before or 0.0) < NEAR else ""


def batch_facts(bath: Bath, litres: float | None = None) -> dict[str, Any]:
    """The facts of a record `batch`, as the bath line's file has them."""
    return {
        "per_litre": bath.capacity.per_litre if bath.capacity is not None else {},
        "litres": bath.litres if litres is None else litres, "keeps_h": bath.keeps_h,
        "followed_by": bath.followed_by, "cycles": bath.cycles,
    }  # fmt: skip


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
        facts = record.facts
        if record.kind == "batch":
            self._batch(record)
        elif record.kind == "temperature":
            self.temperatures[facts["bath"]] = (facts["celsius"], record.at)
        elif record.kind == "in bath":
            batch = self.batches.get(facts["bath"])
            if batch is None:
                batch = self.batches[facts["bath"]] = _batch_of(facts["bath"], 0, None, facts["untold"], 0)
            if batch.number != facts["batch"]:
                return  # of a batch that is gone
            base = facts["base"] or "unknown"
            batch.used[base] = batch.used.get(base, 0.0) + facts["eights"]

    def _batch(self, record: Record) -> None:
        facts = record.facts
        mixed_at = record.at - facts.get("age_s", 0.0)
        self.batches[facts["bath"]] = _batch_of(facts["bath"], facts["batch"], mixed_at, facts, facts["moves"])
        self.last_number = max(self.last_number, facts["batch"])

    def new_batch(self, bath: str, facts: Mapping[str, object], at: float) -> Record:
        """The record of a bath that was mixed anew."""
        return Record("batch", at, facts={"bath": bath, "batch": self.last_number + 1, "moves": 0, **facts})

    def moved(self, bath: str, came_from: str, at: float) -> Record:
        """The record of a bath whose place another one has taken: with its age, and in its next round.

        What stood second has taken little: as published, the count of the first place begins anew with each round.
        Raises LookupError where no batch of either was told, or the one does not follow the other.
        """
        before, second = self.batches.get(bath), self.batches.get(came_from)
        if before is None or second is None:
            missing = bath if before is None else came_from
            raise LookupError(f"no batch of {missing} was told yet: say  timerd bath new {missing}")
        if before.followed_by != came_from:
            raise LookupError(f"{bath} is not followed by {came_from} in its bath line")
        facts = {
            "bath": bath, "batch": self.last_number + 1, "was": second.number, "moves": before.moves + 1,
            "per_litre": dict(before.per_litre),
            "litres": second.litres, "keeps_h": second.keeps_h, "followed_by": before.followed_by,
            "cycles": before.cycles, "came_from": came_from,
            "age_s": 0.0 if second.mixed_at is None else at - second.mixed_at,
        }  # fmt: skip
        return Record("batch", at, facts=facts)

    def celsius(self, bath: Bath, now: float) -> float:
        """A bath's temperature: as it was read this evening, else as its file has it."""
        read, at = self.temperatures.get(bath.name, (bath.at_c, now))
        return read if now - at <= TEMPERATURE_KEEPS_S else bath.at_c


def _batch_of(bath: str, number: int, mixed_at: float | None, facts: Mapping[str, Any], moves: int) -> Batch:
    return Batch(
        bath, number, mixed_at, dict(facts["per_litre"]), facts["litres"], facts["keeps_h"], facts["followed_by"],
        facts["cycles"], moves,
    )  # fmt: skip
