"""What a sheet was to be given and what it was given, as values: for whoever tells, compares, repeats or reports it.

Doses are seconds of full light. A wall time is Unix seconds, right to the second; None where no clock was known.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.record import Progress, Record, SheetProgress
from timerd.sheet.trays.told import OF_A_SHEET, record_words
from timerd.sheet.words import area_words


class Dated(NamedTuple):
    """A record with the wall time at which what it tells of happened."""

    record: Record
    wall: float | None


class Burst(NamedTuple):
    """One burst of a sheet's light, as far as it is known.

    `lit` and `dark` are monotonic seconds, None after a power cut that left nothing written of them; `lit_wall` is the
    wall time of `lit`. `given` is the most that it gave, `given_lo` the least; `why` is what ended it.
    """

    number: int
    step: int
    lit: float | None
    dark: float | None
    lit_wall: float | None
    given: float
    given_lo: float
    why: str

    @property
    def seconds(self) -> float | None:
        """How long it burned."""
        return None if self.lit is None or self.dark is None else self.dark - self.lit


class Happening(NamedTuple):
    """Something else of a sheet, as it was written: a press that was refused, a step that was ended, a fault, a note.

    `what` is the record's kind; `pedal` is who did it, where that is known; `words` are its reason or its text.
    """

    what: str
    wall: float | None
    step: int
    pedal: str | None
    words: str


@dataclass(frozen=True)
class StepHistory:
    """One step: the dose planned (None where none is: `free`), the most and the least that was given, its bursts.

    `ended_by` is `dose`, `printer`, `skipped`, `abandoned` or `fault`; None where the sheet never came so far.
    """

    step: Step
    planned: float | None
    given: float
    given_lo: float
    ended_by: str | None
    bursts: tuple[Burst, ...]

    @property
    def exact(self) -> bool:
        """Whether the dose is known, or only lies between `given_lo` and `given`."""
        return math.isclose(self.given, self.given_lo, rel_tol=1e-9, abs_tol=1e-9)

    @property
    def stops_off(self) -> float | None:
        """Given against planned, in stops; None where no dose was planned, or none was given."""
        return stops_between(self.planned, self.given)


class AreaHistory(NamedTuple):
    """All of one light that an area got, bases included: doses as at the print's own aperture without a density, and
    how many stops over the base that is.

    Planned ones are None where a step without a planned dose (`free`) reached the area; what it gave is in `given`.
    `base` is the dose of the light's bases alone, as given.
    """

    area: str
    light: str
    planned: float | None
    planned_stops: float | None
    given: float
    given_lo: float
    given_stops: float | None
    base: float

    @property
    def stops_off(self) -> float | None:
        """Given against planned, in stops."""
        return stops_between(self.planned, self.given)


ENDS_A_PAUSE = frozenset({"lit", "ended", "went", "set aside", "taken up", "given up", "abandoned", "fault"})
"""Kinds of record up to which a step whose light was cut short is paused. In its box a sheet is not."""


class Pause(NamedTuple):
    """A burst of a step was cut short and another followed: after which, and for how long it was paused, from dark to
    what ended that; None where it is not known."""

    after: Burst
    seconds: float | None


@dataclass(frozen=True)
class History:
    """One sheet. `progress` is the fold of its records; `versions` are those of the timerd's that wrote them."""

    sheet: int
    plan: Plan
    progress: SheetProgress
    armed_wall: float | None
    scheduling: str | None
    versions: tuple[str, ...]
    steps: tuple[StepHistory, ...]
    areas: tuple[AreaHistory, ...]
    happened: tuple[Happening, ...]
    rating: int | None
    pauses: tuple[Pause, ...]
    """Where a step's light was cut short and went on later; what parts on purpose are apart is none."""

    @property
    def bursts(self) -> tuple[Burst, ...]:
        """All bursts, in order."""
        return tuple(sorted((burst for step in self.steps for burst in step.bursts), key=lambda burst: burst.number))

    def told(self, *kinds: str) -> list[Happening]:
        """What happened of these kinds, in order."""
        return [happening for happening in self.happened if happening.what in kinds]

    @property
    def notes(self) -> list[Happening]:
        """What the printer wrote about the sheet."""
        return self.told("note")


def _pauses(steps: Sequence[StepHistory], dated: Sequence[Dated]) -> Iterator[Pause]:
    ends = _ends_of_pauses(dated)
    for step in steps:
        for burst, after in zip(step.bursts, step.bursts[1:], strict=False):
            if burst.why != "deadline":
                lit = (after.lit, after.lit_wall)
                yield Pause(burst, _dark_until(burst, *ends.get(burst.number, lit)))


def _ends_of_pauses(dated: Sequence[Dated]) -> dict[int, tuple[float, float | None]]:
    """What came first after each burst that ends a pause: its monotonic and its wall time."""
    found: dict[int, tuple[float, float | None]] = {}
    waits: list[int] = []
    for record, wall in dated:
        if record.kind in ENDS_A_PAUSE and waits:
            lit: float = record.facts.get("lit", record.at) if record.kind == "lit" else record.at
            found |= dict.fromkeys(waits, (lit, None if wall is None else wall + lit - record.at))
            waits.clear()
        elif record.kind in ("dark", "recovered"):
            waits.append(record.burst)
    return found


def _dark_until(burst: Burst, at: float | None, wall: float | None) -> float | None:
    """From a burst's dark to that: by the wall clock where it is known, which no restart resets."""
    if burst.lit is None or burst.dark is None or at is None:
        return None
    if burst.lit_wall is not None and wall is not None:
        return max(0.0, wall - burst.lit_wall - (burst.dark - burst.lit))
    return at - burst.dark if at >= burst.dark else None


def stops_between(planned: float | None, given: float) -> float | None:
    """How many stops more was given than planned; None where there is nothing to compare.

    >>> stops_between(8.0, 16.0), stops_between(8.0, 0.0), stops_between(None, 3.0)
    (1.0, None, None)
    """
    return math.log2(given / planned) if planned and given > 0 else None


def history(plan: Plan, dated: Sequence[Dated], served: Sequence[Mapping[str, Any]] = ()) -> History | None:
    """One sheet's history from its plan and its records; None where they do not tell of one being armed.

    `served` are the facts of the starts of each timerd that wrote of it, in order.
    """
    armed = next((one for one in dated if one.record.kind == "armed"), None)
    if armed is None:
        return None
    sheet = armed.record.sheet
    progress = Progress(one.record for one in dated).sheets[sheet]
    bursts = _bursts(dated)
    steps = tuple(_step(step, progress, bursts) for step in plan.steps)
    ratings = [one.record.facts["rating"] for one in dated if one.record.kind == "rated"]
    schedulings = [facts.get("scheduling") for facts in (armed.record.facts, *served)]
    return History(
        sheet, plan, progress, armed.wall, next((one for one in schedulings if one is not None), None),
        tuple(dict.fromkeys(str(facts["version"]) for facts in served if "version" in facts)), steps,
        _areas(plan, steps), tuple(_happened(dated)), ratings[-1] if ratings else None, tuple(_pauses(steps, dated)),
    )  # fmt: skip


def _step(step: Step, progress: SheetProgress, bursts: Sequence[Burst]) -> StepHistory:
    of = progress.steps[step.n]
    own = tuple(burst for burst in bursts if burst.step == step.n)
    return StepHistory(step, of.planned if of.light else None, of.most, of.given_lo, of.ended_by, own)


def _bursts(dated: Sequence[Dated]) -> list[Burst]:
    """Every burst that was ended, or found out about later; a line that went low late lengthens the last one."""
    lit_at = {one.record.burst: one.wall for one in dated if one.record.kind == "lit"}
    found: list[Burst] = []
    for (kind, at, _, step, number, facts), wall in dated:
        if kind in ("dark", "recovered"):
            lit, dark = facts["lit"], facts["dark"]
            lit_wall = lit_at.get(number)
            if lit_wall is None and wall is not None and lit is not None and facts["why"] != "power":
                lit_wall = wall + lit - at
            given = facts["given"]
            found.append(Burst(number, step, lit, dark, lit_wall, given, facts.get("given_lo", given), facts["why"]))
        elif kind == "line low" and found:
            found[-1] = found[-1]._replace(dark=at, given=found[-1].given + facts["more"])
    return found


_HAPPENINGS = {
    "refused", "ended", "fault", "cleared", "abandoned", "set aside", "taken up", "given up", "went", "owed again",
    "done", "stop bath", "note", "rated", *OF_A_SHEET,
}  # fmt: skip


def _happened(dated: Sequence[Dated]) -> Iterable[Happening]:
    for (kind, _, _, step, _, facts), wall in dated:
        if kind in _HAPPENINGS:
            words = (
                record_words(kind, facts)
                or facts.get("why")
                or facts.get("by")
                or facts.get("text")
                or facts.get("rating")
                or ""
            )
            yield Happening(kind, wall, step, facts.get("pedal"), str(words))


# -- areas -------------------------------------------------------------------------------------------------------


def _areas(plan: Plan, steps: Sequence[StepHistory]) -> tuple[AreaHistory, ...]:
    """Per area and light, as the plan totals them: an area lies in every burn that names or holds it back, and in every
    burn of `all`. What a card held back follows from the dose that the step was given: cards go by dose."""
    rows = []
    for light in dict.fromkeys(one.step.light for one in steps if one.step.kind == "base"):
        bases = [one for one in steps if one.step.kind == "base" and one.step.light == light]
        burns = [one for one in steps if one.step.kind == "burn" and one.step.light == light]
        for area in dict.fromkeys(name for one in (*bases, *burns) for name in _names(one.step)):
            reached = [*bases, *(one for one in burns if one.step.area == "all" or area in _names(one.step))]
            rows.append(_area(area, light or "", bases, reached, plan.reciprocity))
    return tuple(rows)


def _area(
    area: str, light: str, bases: Sequence[StepHistory], reached: Sequence[StepHistory], reciprocity: float
) -> AreaHistory:
    base = sum(one.given / one.step.scale for one in bases)
    given = sum(_reaches(one.step, area, one.given) for one in reached)
    planned = planned_stops = None
    doses = [(one.step, one.planned) for one in reached]
    if all(dose is not None for _, dose in doses):
        planned = sum(_reaches(step, area, dose or 0.0) for step, dose in doses)
        planned_stops = stops_between(sum((one.planned or 0.0) / one.step.scale for one in bases), planned)
    stops = stops_between(base, given)
    return AreaHistory(
        area, light, planned, None if planned_stops is None else planned_stops * reciprocity, given,
        sum(_reaches(one.step, area, one.given_lo) for one in reached), None if stops is None else stops * reciprocity,
        base,
    )  # fmt: skip


def _reaches(step: Step, area: str, dose: float) -> float:
    """How much of a step's dose reaches an area past the cards, as at the print's own aperture without a density."""
    cards = [cue for cue in step.dodges if area_words(cue.area, cue.mm) == area]
    return (dose - sum(max(0.0, min(cue.stop, dose) - cue.start) for cue in cards)) / step.scale


def _names(step: Step) -> list[str]:
    own = [area_words(step.area, step.mm)] if step.kind == "burn" else []
    return own + [area_words(cue.area, cue.mm) for cue in step.dodges]
