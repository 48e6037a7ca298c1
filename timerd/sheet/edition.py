"""All sheets of one print beside its plan: how far each lies off it, how far they spread, how they drift in an evening.

What a sheet was given counts, not what was planned for it: a sheet of an older version of the print lies as far off the
plan as it was printed otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from timerd.sheet.differing import AreaApart, StepApart, areas_apart, steps_apart
from timerd.sheet.plan.value import Plan

EVENING_GAP_S = 6 * 3600.0
"""Sheets begun farther apart than this were printed on different evenings."""
DRIFT_FROM = 3
"""So many sheets an evening must have for a drift."""


class Printed(NamedTuple):
    """One finished sheet: its number, when it was armed (Unix seconds, None where no clock told), what it was given."""

    sheet: int
    wall: float | None
    given: Plan


class Spread(NamedTuple):
    """One step (or card), or one area in one light: each sheet's stops off the plan, in the order of the sheets.

    None where a sheet has nothing there to compare. `planned` is the plan's dose, None where it has none; `what` is
    None for the rest of the image, outside of all areas named. `card` for what is held back in the step before.
    `reach` is how much of the area is told, of that sheet of which it is the least; `negative` says of which one's
    image, where there are several.
    """

    what: str | None
    light: str | None
    planned: float | None
    off: tuple[float | None, ...]
    card: bool = False
    reach: float = 1.0
    negative: str | None = None

    @property
    def words(self) -> str:
        """What it is, in which light, and of which negative where there are several."""
        return ", ".join(filter(None, (self.what or "the rest", self.light, self.negative)))

    @property
    def known(self) -> list[float]:
        return [stops for stops in self.off if stops is not None]

    @property
    def mean(self) -> float | None:
        """The mean of the stops off; None without any."""
        return sum(self.known) / len(self.known) if self.known else None

    @property
    def stops(self) -> float | None:
        """From the least to the most, in stops; None without any."""
        return max(self.known) - min(self.known) if self.known else None


class Drift(NamedTuple):
    """What the rest of the image got in one light over one evening: a straight line by least squares.

    `sheets` are those of the evening; `stops` is how far the line climbs from the first of them to the last, `an_hour`
    how far in an hour; `negative` says of which one's image, where there are several.
    """

    light: str
    sheets: tuple[int, ...]
    hours: float
    stops: float
    an_hour: float
    negative: str | None = None


@dataclass(frozen=True)
class Edition:
    """The sheets of a print and how they lie off its plan. `steps` and `areas` have a row for each that any sheet, or
    the plan, has."""

    plan: Plan
    sheets: tuple[Printed, ...]
    steps: tuple[Spread, ...]
    areas: tuple[Spread, ...]
    drifts: tuple[Drift, ...]


def edition(plan: Plan, sheets: Sequence[Printed]) -> Edition:
    """The sheets beside the plan, in the order of their numbers; ValueError where there is none."""
    if not sheets:
        raise ValueError("there is no sheet to lay beside the plan")
    ordered = tuple(sorted(sheets, key=lambda printed: printed.sheet))
    areas = _areas(plan, ordered)
    return Edition(plan, ordered, _steps(plan, ordered), areas, tuple(_drifts(ordered, areas)))


def evenings(sheets: Sequence[Printed]) -> list[list[Printed]]:
    """The sheets whose time is known, an evening at a time."""
    found: list[list[Printed]] = []
    last = None
    for printed in sorted((one for one in sheets if one.wall is not None), key=lambda one: one.wall or 0.0):
        if last is None or (printed.wall or 0.0) - last > EVENING_GAP_S:
            found.append([])
        found[-1].append(printed)
        last = printed.wall
    return found


def _steps(plan: Plan, sheets: Sequence[Printed]) -> tuple[Spread, ...]:
    beside = [{row.name: row for row in steps_apart(plan, printed.given)} for printed in sheets]
    rows = {name: row for rows in beside for name, row in rows.items()}
    return tuple(
        Spread(
            row.words,
            None,
            row.a.dose if row.a is not None else None,
            tuple(_off(rows.get(name)) for rows in beside),
            row.card,
        )
        for name, row in rows.items()
    )


def _areas(plan: Plan, sheets: Sequence[Printed]) -> tuple[Spread, ...]:
    beside = [
        {(row.area, row.light, row.negative): row for row in areas_apart(plan, printed.given)} for printed in sheets
    ]
    found = {key: [row for rows in beside if (row := rows.get(key)) is not None] for rows in beside for key in rows}
    return tuple(
        Spread(
            area, light, of_it[0].a or None, tuple(_off(rows.get((area, light, negative))) for rows in beside),
            reach=min(row.reach for row in of_it), negative=negative,
        ) for (area, light, negative), of_it in found.items()
    )  # fmt: skip


def _off(row: StepApart | AreaApart | None) -> float | None:
    return None if row is None else row.stops


def _drifts(sheets: Sequence[Printed], areas: Sequence[Spread]) -> Iterator[Drift]:
    for evening in evenings(sheets):
        for row in (row for row in areas if row.what is None):
            off = {printed.sheet: stops for printed, stops in zip(sheets, row.off, strict=True) if stops is not None}
            points = [(one.wall or 0.0, off[one.sheet]) for one in evening if one.sheet in off]
            hours = (points[-1][0] - points[0][0]) / 3600 if points else 0.0
            if len(points) >= DRIFT_FROM and hours > 0:
                climb = _slope(points) * 3600
                yield Drift(
                    row.light or "", tuple(one.sheet for one in evening), hours, climb * hours, climb, row.negative
                )


def _slope(points: Sequence[tuple[float, float]]) -> float:
    """Of the straight line with the least squares, by its textbook formula."""
    across = sum(x for x, _ in points) / len(points)
    up = sum(y for _, y in points) / len(points)
    return sum((x - across) * (y - up) for x, y in points) / sum((x - across) ** 2 for x, _ in points)
