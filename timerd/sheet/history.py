"""What a sheet was to be given and what it was given, as values: for whoever tells, compares, repeats or reports it.

Doses are seconds of full light. A wall time is Unix seconds, right to the second; None where no clock was known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import NamedTuple

from timerd.printing.exposure import stops_apart
from timerd.sheet import facts as fa
from timerd.sheet.losses import tones_off
from timerd.sheet.places import Amounts, AreaPart, Inside, named, negatives, parts, passed, places, reaches
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record
from timerd.sheet.unsure import unsure


class Dated(NamedTuple):
    """A record with the wall time at which what it tells of happened."""

    record: Record
    wall: float | None


class BurstHistory(NamedTuple):
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


class SheetNote(NamedTuple):
    """What the printer wrote about a sheet, and when."""

    wall: float | None
    text: str


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
    bursts: tuple[BurstHistory, ...]
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


_ENDS_A_PAUSE = (
    fa.BurstLit, fa.StepEnded, fa.StepGoneTo, fa.SetAside, fa.TakenUp, fa.GivenUp, fa.Abandoned, fa.FaultCame,
)  # fmt: skip
"""Up to one of these a step whose light was cut short is paused. In its box a sheet is not."""


def paused(records: Iterable[Record]) -> Iterator[tuple[int, int]]:
    """Each light that was cut short, and what ended its pause: where both stand among the records, from 0."""
    waits: list[int] = []
    for i, record in enumerate(records):
        match record.fact:
            case fa.BurstDark(why=why) | fa.BurstRecovered(why=why) if why != "deadline":
                waits.append(i)
            case fact if waits and isinstance(fact, _ENDS_A_PAUSE):
                yield from ((wait, i) for wait in waits)
                waits.clear()


class Pause(NamedTuple):
    """A burst of a step was cut short and another followed: after which, and for how long it was paused, from dark to
    what ended that; None where it is not known."""

    after: BurstHistory
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
    happened: tuple[Dated, ...]
    """What else was written: a press that was refused, a step that was ended, a fault, a bath."""
    notes: tuple[SheetNote, ...]
    rating: int | None
    pauses: tuple[Pause, ...]
    """Where a step's light was cut short and went on later; what parts on purpose are apart is none."""
    unsure: tuple[int, ...] = ()
    """The steps of which nobody can be sure what they were given, as long as nobody has looked."""

    @property
    def bursts(self) -> tuple[BurstHistory, ...]:
        """All bursts, in order."""
        return tuple(sorted((burst for step in self.steps for burst in step.bursts), key=lambda burst: burst.number))


def _pauses(steps: Sequence[StepHistory], dated: Sequence[Dated]) -> Iterator[Pause]:
    ends = _ends_of_pauses(dated)
    for step in steps:
        for burst, after in zip(step.bursts, step.bursts[1:], strict=False):
            if burst.why != "deadline":
                lit = (after.lit, after.lit_wall)
                yield Pause(burst, _dark_until(burst, *ends.get(burst.number, lit)))


def _ends_of_pauses(dated: Sequence[Dated]) -> dict[int, tuple[float, float | None]]:
    """What came first after each burst that ends a pause: its monotonic and its wall time."""
    found = {}
    for cut, end in paused(one.record for one in dated):
        record, wall = dated[end]
        at = record.fact.lit if isinstance(record.fact, fa.BurstLit) else record.at
        found[dated[cut].record.burst] = at, wall
    return found


def _dark_until(burst: BurstHistory, at: float | None, wall: float | None) -> float | None:
    """From a burst's dark to that: by the wall clock where it is known, which no restart resets."""
    if burst.lit is None or burst.dark is None or at is None:
        return None
    if burst.lit_wall is not None and wall is not None:
        return max(0.0, wall - burst.lit_wall - (burst.dark - burst.lit))
    return at - burst.dark if at >= burst.dark else None


def history(plan: Plan, dated: Sequence[Dated], served: Sequence[fa.DaemonStarted] = ()) -> History | None:
    """One sheet's history from its plan and its records; None where they do not tell of one being armed.

    `served` are the starts of each timerd that wrote of it, in order.
    """
    begun = ((one, one.record.fact) for one in dated)
    armed, fact = next(((one, fact) for one, fact in begun if isinstance(fact, fa.SheetArmed)), (None, None))
    if armed is None or fact is None:
        return None
    sheet = armed.record.sheet
    progress = Progress(one.record for one in dated).sheets[sheet]
    bursts = _bursts(dated)
    off = tones_off(plan, progress)
    steps = tuple(_step(step, progress, bursts, off.get(step.n)) for step in plan.steps)
    ratings = [fact.rating for fact in (one.record.fact for one in dated) if isinstance(fact, fa.SheetRated)]
    schedulings = [fact.scheduling, *(one.scheduling for one in served)]
    return History(
        sheet, plan, progress, armed.wall, next((one for one in schedulings if one is not None), None),
        tuple(dict.fromkeys(one.version for one in served if one.version is not None)), steps,
        _areas(plan, steps), tuple(one for one in dated if isinstance(one.record.fact, _HAPPENINGS)),
        tuple(_notes(dated)), ratings[-1] if ratings else None,
        tuple(_pauses(steps, dated)), unsure(one.record for one in dated),
    )  # fmt: skip


def _step(step: Step, progress: SheetProgress, bursts: Sequence[BurstHistory], off: float | None) -> StepHistory:
    of = progress.steps[step.n]
    own = tuple(burst for burst in bursts if burst.step == step.n)
    return StepHistory(step, of.planned if of.light else None, of.most, of.given_lo, of.ended_by, own, off)


def _bursts(dated: Sequence[Dated]) -> list[BurstHistory]:
    """Every burst that was ended, or found out about later; a line that went low late lengthens the last one."""
    lit_at = {one.record.burst: one.wall for one in dated if isinstance(one.record.fact, fa.BurstLit)}
    found: list[BurstHistory] = []
    for record, wall in dated:
        match record.fact:
            case fa.BurstDark(lit, dark, why) | fa.BurstRecovered(lit, dark, why=why) as burst:
                lit_wall = lit_at.get(record.burst)
                if lit_wall is None and wall is not None and lit is not None and why != "power":
                    lit_wall = wall + lit - record.at
                given = burst.given, burst.least, why
                found.append(BurstHistory(record.burst, record.step, lit, dark, lit_wall, *given))
            case fa.LineLow(more) if found:
                found[-1] = found[-1]._replace(dark=record.at, given=found[-1].given + more)
    return found


_HAPPENINGS = (
    fa.PressRefused, fa.StepEnded, fa.FaultCame, fa.FaultCleared, fa.Abandoned, fa.SetAside, fa.TakenUp, fa.GivenUp,
    fa.StepGoneTo, fa.StepOwedAgain, fa.SheetDone, fa.InStopBath, fa.InTheFixer, fa.SafeInWhiteLight, fa.SentToTrays,
    fa.OutOfTheBox, fa.OutOfBath, fa.BathTime, fa.OutOfTheBaths, fa.SafelightSum,
)  # fmt: skip


def _notes(dated: Sequence[Dated]) -> Iterator[SheetNote]:
    for record, wall in dated:
        if isinstance(record.fact, fa.NoteWritten):
            yield SheetNote(wall, record.fact.text)


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


def _area(found: Sequence[AreaPart], area: str, steps: Sequence[StepHistory], reciprocity: float) -> AreaHistory | None:
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
