"""What a sheet was to be given and what it was given, as values: for whoever tells, compares, repeats or reports it.

Doses are seconds of full light. A wall time is Unix seconds, right to the second; None where no clock was known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from timerd.printing.exposure import stops_apart
from timerd.sheet.losses import tones_off
from timerd.sheet.places import Amounts, Inside, Part, named, negatives, parts, passed, places, reaches
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record
from timerd.sheet.refusal import refusal_of
from timerd.sheet.telling import refusal_words
from timerd.sheet.trays.told import OF_A_SHEET, record_words
from timerd.sheet.unsure import unsure


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
    `stops_off` is what that took from the tone of its area, or added to it (`tones_off`), None where it is not known.
    """

    step: Step
    planned: float | None
    given: float
    given_lo: float
    ended_by: str | None
    bursts: tuple[Burst, ...]
    stops_off: float | None = None

    @property
    def exact(self) -> bool:
        """Whether the dose is known, or only lies between `given_lo` and `given`."""
        return math.isclose(self.given, self.given_lo, rel_tol=1e-9, abs_tol=1e-9)

    @property
    def dose_off(self) -> float | None:
        """The step's own dose, given against planned, in stops; None where none was planned, or none was given."""
        return stops_apart(self.planned, self.given)


class AreaHistory(NamedTuple):
    """All of one light that most of an area got, bases included: doses as at the print's own aperture without a
    density, and how many stops over the base that is.

    Planned ones are None where a step without a planned dose (`free`) reached the area; what it gave is in `given`.
    `base` is the dose of the light's bases alone, as given. `reach` is how much of the area that is, over 0 to 1;
    `negative` says of which one's image, where there are several. `stops_off` is given against planned, in stops.
    """

    area: str
    light: str
    planned: float | None
    planned_stops: float | None
    given: float
    given_lo: float
    given_stops: float | None
    base: float
    stops_off: float | None = None
    reach: float = 1.0
    negative: str | None = None


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
    unsure: tuple[int, ...] = ()
    """The steps of which nobody can be sure what they were given, as long as nobody has looked."""

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
            found |= dict.fromkeys(waits, (lit, wall))
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
    off = tones_off(plan, progress)
    steps = tuple(_step(step, progress, bursts, off.get(step.n)) for step in plan.steps)
    ratings = [one.record.facts["rating"] for one in dated if one.record.kind == "rated"]
    schedulings = [facts.get("scheduling") for facts in (armed.record.facts, *served)]
    return History(
        sheet, plan, progress, armed.wall, next((one for one in schedulings if one is not None), None),
        tuple(dict.fromkeys(str(facts["version"]) for facts in served if "version" in facts)), steps,
        _areas(plan, steps), tuple(_happened(dated)), ratings[-1] if ratings else None,
        tuple(_pauses(steps, dated)), unsure(one.record for one in dated),
    )  # fmt: skip


def _step(step: Step, progress: SheetProgress, bursts: Sequence[Burst], off: float | None) -> StepHistory:
    of = progress.steps[step.n]
    own = tuple(burst for burst in bursts if burst.step == step.n)
    return StepHistory(step, of.planned if of.light else None, of.most, of.given_lo, of.ended_by, own, off)


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
    "done", "stop bath", "in the fixer", "safe in white light", "note", "rated", *OF_A_SHEET,
}  # fmt: skip


def _happened(dated: Sequence[Dated]) -> Iterable[Happening]:
    for (kind, _, _, step, _, facts), wall in dated:
        if kind in _HAPPENINGS:
            words = (
                refusal_words(refusal_of(facts))
                if kind == "refused"
                else record_words(kind, facts)
                or facts.get("why")
                or facts.get("by")
                or facts.get("text")
                or facts.get("rating")
                or ""
            )
            yield Happening(kind, wall, step, facts.get("pedal"), str(words))


# -- areas -------------------------------------------------------------------------------------------------------


def _areas(plan: Plan, steps: Sequence[StepHistory]) -> tuple[AreaHistory, ...]:
    """Per negative, area and light, as the plan totals them: the outlines say what reached an area, and how much of it.

    What a card held back follows from the dose that the step was given: cards go by dose.
    """
    found = {one.step.n: one for one in steps}
    where = places(plan.sheet, plan.steps)
    rows = []
    for negative, lit in negatives(plan.steps):
        for light in dict.fromkeys(step.light for step in lit if step.kind == "base"):
            of_light = [found[step.n] for step in lit if step.light == light]
            own, got = named(one.step for one in of_light), _got(of_light)
            for area in own | named(plan.steps):
                row = _area(parts(area, where, got), area, of_light, plan.reciprocity)
                if row is not None and (row.area in own or _not_the_base(row)):
                    rows.append(row._replace(negative=negative))
    return tuple(rows)


def _not_the_base(row: AreaHistory) -> bool:
    return row.reach >= 0.5 and any(
        stops is None or abs(stops) > 1e-9 for stops in (row.planned_stops, row.given_stops)
    )


def _got(steps: Sequence[StepHistory]) -> Callable[[Inside], Amounts]:
    """What a place was to get, and got, of the steps in one light: planned, most, least."""

    @cache
    def amounts(inside: Inside) -> Amounts:
        there = [one for one in steps if reaches(one.step, inside)]
        given, least = (
            sum(passed(one.step, inside, dose) for one, dose in doses)
            for doses in ([(one, one.given) for one in there], [(one, one.given_lo) for one in there])
        )
        if any(one.planned is None for one in there):
            return None, given, least
        return sum(passed(one.step, inside, one.planned or 0.0) for one in there), given, least

    return amounts


def _area(found: Sequence[Part], area: str, steps: Sequence[StepHistory], reciprocity: float) -> AreaHistory | None:
    """What most of an area was to get, and got, from its parts; None where none of it is known."""
    if not found:
        return None
    (planned, given, least), reach, _ = found[0]
    bases = [one for one in steps if one.step.kind == "base"]
    base = sum(one.given / one.step.scale for one in bases)
    planned_stops, given_stops, off = (
        stops_apart(first, second, reciprocity)
        for first, second in (
            (sum((one.planned or 0.0) / one.step.scale for one in bases), planned), (base, given), (planned, given)
        )
    )  # fmt: skip
    return AreaHistory(
        area, steps[0].step.light or "", planned, planned_stops, given or 0.0, least or 0.0, given_stops, base, off,
        reach,
    )  # fmt: skip
