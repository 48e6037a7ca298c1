"""What happened, as text: the timeline of a rehearsal or an evening, and what a sheet was given against its plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

from timerd.sheet.columns import columns
from timerd.sheet.history import AreaHistory, BurstHistory, History
from timerd.sheet.losses import tones_off
from timerd.sheet.plan.boxes import box_words
from timerd.sheet.plan.value import Plan
from timerd.sheet.progress import SheetProgress, StepProgress
from timerd.sheet.record import Record
from timerd.sheet.safe import safe
from timerd.sheet.telling.endings import why_words
from timerd.sheet.telling.happened import account_words, timeline_words
from timerd.sheet.words import dose_span, part_words, step_words

Clock = Callable[[float | None, float | None], str]
"""A wall time (Unix seconds; None: not known) as it is shown, without the day where the second time has the same."""


def clock(seconds: float) -> str:
    """Minutes and seconds to a tenth.

    >>> clock(83.26)
    '1:23.3'
    """
    tenths = round(seconds * 10)
    return f"{tenths // 600}:{tenths % 600 / 10:04.1f}"


def timeline(plan: Plan, records: Iterable[Record]) -> str:
    """Every record that a printer would want told, a line each, with its time from the start."""
    lines = ["  time   sheet"]
    for record in records:
        words = timeline_words(plan, record)
        if words is not None:
            lines.append(f"{clock(record.at):>7}  {record.sheet or '':>4}  {words}")
    return "\n".join(lines)


def sheet_table(plan: Plan, sheet: SheetProgress) -> str:
    """What a sheet was given, step by step, against its plan: doses in seconds of full light, differences in stops.

    `dose off` is the step's own dose, `stops off` what that took from the tone of its area, or added to it.
    """
    rows = [("", "step", "planned", "given", "dose off", "stops off", "bursts, s", "ended by")]
    off = tones_off(plan, sheet)
    for step in plan.steps:
        progress = sheet.steps[step.n]
        tone = f"{_tidy(off[step.n]):+.3f}" if step.n in off else ""
        rows.append(
            (str(step.n), step_words(step), *_doses(progress), tone, _bursts(progress), progress.ended_by or "")
        )
    return "\n".join([f"Sheet {sheet.sheet}: {sheet.outcome}", *columns(rows, "><>>>><")])


def sheet_account(history: History, clock: Clock) -> str:
    """All that the book knows of a sheet: its table, the areas, every burst, what else happened, notes and rating.

    Nothing in it can make a terminal do anything, wherever it came from.
    """
    plan = history.plan
    made = [f"paper {box_words(plan)}", f"bench {plan.bench}"]
    made += [f"negative {plan.negative}"] if plan.negative is not None else []
    wrote = [f"timerd {version}" for version in history.versions]
    wrote += [f"the keeper {history.scheduling}"] if history.scheduling is not None else []
    lines = [
        plan.print,
        f"armed {clock(history.armed_wall, None)}, {', '.join(made)}",
        *[", ".join(wrote)] * bool(wrote),
    ]
    parts = [
        [safe(line) for line in lines],
        [safe(line) for line in sheet_table(plan, history.progress).split("\n")],
        _part("areas, in stops over the base of the same light", _areas(history)),
        _part("bursts", _burst_rows(history, clock)),
        _part("beside the light", _happenings(history, clock)),
        _part("notes", [(clock(note.wall, None), note.text) for note in history.notes]),
    ]
    parts.append([_look_words(history)] if history.unsure else [])
    text = "\n\n".join("\n".join(part) for part in parts if part)
    return text if history.rating is None else f"{text}\n\nrated {history.rating} of 5"


def _look_words(history: History) -> str:
    """What is to be looked at, and how to say that it was."""
    steps = {one.step.n: one for one in history.steps}
    given = ", ".join(f"step {n} was given {dose_span(steps[n].given_lo, steps[n].given)}" for n in history.unsure)
    return (
        f"look at it: {given}, and nobody saw when its light went out. Then say so: "
        f"timerd note {history.sheet} TEXT, or timerd rate {history.sheet} 1..5"
    )


def _part(heading: str, rows: Sequence[Sequence[str]]) -> list[str]:
    """A heading and rows in columns, the last one as long as it is; nothing where there are no rows."""
    if not rows:
        return []
    shown = columns([[safe(cell) for cell in row] for row in rows], "<")
    return [heading, *(f"  {line}" for line in shown)]


def _areas(history: History) -> list[tuple[str, ...]]:
    def stops(found: float | None) -> str:
        return "" if found is None else f"{_tidy(found):+.3f}"

    rows = [
        (_area_words(area), stops(area.planned_stops) or ("nothing" if area.planned == 0.0 else "free"),
         stops(area.given_stops) or ("nothing" if area.base and not area.given else ""), stops(area.stops_off))
        for area in history.areas
    ]  # fmt: skip
    return [("", "planned", "given", "stops off"), *rows] if rows else []


def _area_words(area: AreaHistory) -> str:
    """An area, the part of it that is meant, and the negative where there are several."""
    negative = f", {area.negative}" if area.negative is not None else ""
    return f"{area.area}, {area.light}{part_words(area.reach)}{negative}"


def _burst_rows(history: History, clock: Clock) -> list[tuple[str, ...]]:
    pauses = {pause.after.number: pause for pause in history.pauses}
    steps = {one.step.n: one.step for one in history.steps}

    def row(burst: BurstHistory) -> tuple[str, ...]:
        on = "unseen" if burst.seconds is None else f"{burst.seconds:.1f} s"
        end = why_words(burst.why)
        if burst.number in pauses:
            dark = pauses[burst.number].seconds
            end += "; paused" + ("" if dark is None else f" for {clock_span(dark)}")
        given = f"{dose_span(burst.given_lo, burst.given)} given"
        return clock(burst.lit_wall, history.armed_wall), str(burst.step), steps[burst.step].light or "", on, given, end

    return [row(burst) for burst in history.bursts]


def clock_span(seconds: float) -> str:
    """A time that passed: to a tenth of a second up to a minute, then in minutes and hours.

    >>> clock_span(8.04), clock_span(83.3), clock_span(7265)
    ('8.0 s', '1 min 23 s', '2 h 1 min')
    """
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min {rest} s" if minutes < 60 else f"{minutes // 60} h {minutes % 60} min"


def _happenings(history: History, clock: Clock) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for record, wall in history.happened:
        words = account_words(record.fact)
        if words is not None:
            rows.append((clock(wall, history.armed_wall), str(record.step or ""), words))
    return rows


def _doses(step: StepProgress) -> tuple[str, str, str]:
    if not step.light:
        return "", "", ""
    given = f"{step.given:.1f}" if step.exact else f"{step.given_lo:.1f} to {step.given:.1f}"
    if step.planned is None:
        return "free", given, ""
    if step.given <= 0:
        return f"{step.planned:.1f}", given, ""
    return f"{step.planned:.1f}", given, f"{_tidy(math.log2(step.given / step.planned)):+.3f}"


def _tidy(stops: float) -> float:
    """Without the minus sign of a difference that is nothing."""
    return stops if abs(stops) >= 0.0005 else 0.0


def _bursts(step: StepProgress) -> str:
    return " + ".join(f"{off - on:.1f}" for on, off in step.bursts)
