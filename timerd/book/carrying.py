"""Sheets carried out of the book: as CSV, a line a step, and as JSON Lines, a line a sheet.

What is in them is documented here, name by name: `timerd book columns` prints it.
"""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from timerd.inplace import placed
from timerd.sheet.facts import PressRefused
from timerd.sheet.history import BurstHistory, Dated, History, StepHistory
from timerd.sheet.safe import safe
from timerd.sheet.telling.happened import exported_words

COLUMNS = {
    "sheet": "the sheet's number",
    "armed": "when it was armed: UTC, ISO 8601, to the second; empty where no clock was known",
    "print": "the print's name",
    "negative": "its negative",
    "paper": "its paper",
    "bench": "its bench",
    "outcome": "complete, unfinished, set aside, abandoned or fault",
    "rating": "the last rating, 1 to 5",
    "notes": "all notes, with | between",
    "step": "the step's number in the plan",
    "kind": "wait, filter, aperture, density, carry, safelight, box, negative, flash, base, burn or develop",
    "name": "the step's name: burn/haze/green",
    "area": "the area that it reaches",
    "light": "its light",
    "planned_s": "the dose planned, in seconds of full light; empty where none is: a prompt, or a free burn",
    "given_s": "the most that was given, in the same",
    "given_lo_s": "the least: it differs from given_s only where nobody saw the light go out",
    "dose_off": "given_s against planned_s, in stops",
    "stops_off": "what that took from the tone of its area, or added to it, in stops; empty where it is not known",
    "bursts": "how many bursts gave it",
    "on_s": "how long they burned in all, in seconds",
    "lit": "when the first of them was lit: UTC, ISO 8601, to the second",
    "ended_by": "dose, printer, skipped, abandoned or fault; empty where the sheet never came so far",
}
"""The header of the CSV, and what stands below it."""

KEYS = {
    "sheet": "the sheet's number",
    "outcome": "complete, unfinished, set aside, abandoned or fault",
    "steps": "every step: n, kind, planned, given (doses in seconds of full light; given_lo and given_hi"
    " where only known to lie between), bursts (monotonic seconds, on and off), ended_by, name, dose_off (given against"
    " planned, in stops), stops_off (what that took from the tone of its area, or added to it)",
    "print": "the print's name",
    "negative": "its negative, or null",
    "paper": "its paper",
    "box": "the box of paper it was from, or null",
    "batch": "the maker's batch of it, or null",
    "bench": "its bench",
    "armed": "when it was armed: UTC, ISO 8601, to the second; null where no clock was known",
    "rating": "the last rating, 1 to 5, or null",
    "notes": "every note: at (UTC), text",
    "areas": "every area and light: planned, given, given_lo, base (doses at the print's aperture), planned_stops,"
    " given_stops (over the base), stops_off, reach (how much of the area got that, 0 to 1), negative (where there are"
    " several)",
    "bursts": "every burst: burst, step, lit (UTC), seconds, given, given_lo, why it ended",
    "happened": "what else: what, at (UTC), step, pedal, words",
    "scheduling": "how the keeper was scheduled",
    "versions": "the versions of timerd that wrote the sheet's records",
    "unsure": "the steps of which nobody is sure what they were given, as long as no note or rating was written since",
}
"""What stands in each line of the JSON Lines; sheet --json prints the same."""

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠", "|", "%")
"""What a spreadsheet may take for the beginning of a formula."""


def sheet_facts(history: History) -> dict[str, Any]:
    """One sheet as plain values, as KEYS says."""
    facts = history.progress.as_json()
    for told, step in zip(facts["steps"], history.steps, strict=True):
        told |= {
            "name": step.step.name, "dose_off": _rounded(step.dose_off), "stops_off": _rounded(step.stops_off),
        }  # fmt: skip
    plan = history.plan
    return facts | {
        "print": plan.print, "negative": plan.negative, "paper": plan.paper,
        "box": plan.box, "batch": plan.batch, "bench": plan.bench,
        "armed": utc(history.armed_wall), "rating": history.rating,
        "notes": [{"at": utc(note.wall), "text": note.text} for note in history.notes],
        "areas": [
            {key: _rounded(value) if isinstance(value, float) else value for key, value in area._asdict().items()}
            for area in history.areas
        ],
        "bursts": [_burst(burst) for burst in history.bursts],
        "happened": [_happening(one) for one in history.happened],
        "scheduling": history.scheduling, "versions": list(history.versions), "unsure": list(history.unsure),
    }  # fmt: skip


def _burst(burst: BurstHistory) -> dict[str, Any]:
    return {
        "burst": burst.number, "step": burst.step, "lit": utc(burst.lit_wall), "seconds": _rounded(burst.seconds),
        "given": _rounded(burst.given), "given_lo": _rounded(burst.given_lo), "why": burst.why,
    }  # fmt: skip


def _happening(one: Dated) -> dict[str, Any]:
    fact = one.record.fact
    return {
        "what": fact.word, "at": utc(one.wall), "step": one.record.step or None,
        "pedal": fact.pedal if isinstance(fact, PressRefused) else None, "words": exported_words(fact),
    }  # fmt: skip


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 9)


def utc(wall: float | None) -> str | None:
    """Unix seconds as ISO 8601, to the second.

    >>> utc(1772395200.9), utc(None)
    ('2026-03-01T20:00:00+00:00', None)
    """
    return None if wall is None else datetime.fromtimestamp(math.floor(wall), UTC).isoformat()


def json_lines(histories: Iterable[History]) -> Iterator[str]:
    """One line of JSON a sheet, plain ASCII."""
    for history in histories:
        yield json.dumps(sheet_facts(history)) + "\n"


def csv_lines(histories: Iterable[History]) -> Iterator[str]:
    """The header, then one line a step, as COLUMNS says: comma, quotes where needed, and a line is one row always."""
    yield ",".join(COLUMNS) + "\r\n"
    for history in histories:
        for step in history.steps:
            told = io.StringIO()
            csv.writer(told).writerow([_cell(value) for value in _step_row(history, step)])
            yield told.getvalue()


def _step_row(history: History, step: StepHistory) -> list[str | float | None]:
    plan, lights = history.plan, step.step.light is not None
    seconds = [burst.seconds for burst in step.bursts if burst.seconds is not None]
    return [
        history.sheet, utc(history.armed_wall), plan.print, plan.negative, plan.paper, plan.bench,
        history.progress.outcome, history.rating, " | ".join(note.text for note in history.notes) or None,
        step.step.n, step.step.kind, step.step.name, step.step.area, step.step.light,
        _rounded(step.planned), _rounded(step.given) if lights else None, _rounded(step.given_lo) if lights else None,
        _rounded(step.dose_off), _rounded(step.stops_off),
        len(step.bursts) if lights else None, _rounded(sum(seconds)) if lights else None,
        utc(step.bursts[0].lit_wall) if step.bursts else None, step.ended_by,
    ]  # fmt: skip


def _cell(value: str | float | None) -> str | float | None:
    """Text in which nothing is obeyed, by a terminal or a spreadsheet: what might be a formula gets a ' in front."""
    if not isinstance(value, str):
        return value
    text = safe(value)
    return f"'{text}" if text.lstrip().startswith(_FORMULA) else text


FORMS = {".csv": csv_lines, ".jsonl": json_lines}
"""How a file is written, by the end of its name."""


def export(histories: Iterable[History], path: Path) -> None:
    """Write sheets to a new file, put in place whole: CSV where its name ends in .csv, JSON Lines in .jsonl.

    Raises OSError where it is there already, or cannot be written.
    """
    form = FORMS[path.suffix]
    with placed(path) as beside, beside.open("w", encoding="utf-8", newline="") as file:
        file.writelines(form(histories))
