"""What commands share that lay sheets and prints beside each other: each as a plan, and how two of them differ."""

from __future__ import annotations

import argparse
import contextlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from timerd.book.reading import Reader
from timerd.cli.files import Worked, read_profile, worked
from timerd.cli.oneline import one_line
from timerd.cli.selecting import no_sheet
from timerd.places import home
from timerd.printing.stops import format_stops
from timerd.sheet.columns import columns
from timerd.sheet.differing import Amount, RangeAt, areas_apart, areas_of, range_at, steps_apart
from timerd.sheet.given import as_given, gave, near_stops
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.progress import SheetProgress
from timerd.sheet.safe import safe
from timerd.sheet.words import part_words

_NUMBER = re.compile(r"[0-9]{1,9}", re.ASCII)


@dataclass(frozen=True)
class Side:
    """One of two that are compared: what it is called, what it gives, and the bench and paper where they are found.

    `sheet` is its number, None for a print; `mind` is what should be known of it.
    """

    name: str
    plan: Plan
    sheet: int | None
    bench: Bench | None
    paper: Paper | None
    mind: tuple[str, ...] = ()


def of_the_book(number: int, args: argparse.Namespace) -> tuple[Plan, SheetProgress]:
    """A sheet's plan, as it was when armed, and where it stands; LookupError where there is none of that number."""
    with contextlib.closing(Reader(home(args.home))) as reader:
        sheet, plan = reader.sheet(number), reader.plan(number)
        if sheet is None or plan is None:
            raise no_sheet(number, reader.sheets())
    return plan, sheet


def side(text: str, args: argparse.Namespace) -> Side:
    """What is meant: a sheet by its number, else a print by its name or file."""
    if _NUMBER.fullmatch(text):
        return _sheet_side(int(text), args)
    return print_side(worked(text, args))


def print_side(made: Worked) -> Side:
    """A print, as it is planned."""
    plan = made.plan
    free = [step.name for step in plan.steps if step.pedal == "free"]
    mind = (f"{', '.join(free)}: free, without a planned dose",) if free else ()
    return Side(f"{plan.print} (print {made.path.stem})", plan, None, made.bench.value, made.paper.value, mind)


def _sheet_side(number: int, args: argparse.Namespace) -> Side:
    plan, sheet = of_the_book(number, args)
    mind = [
        f"step {one.planned.n}: {one.lo:.1f} to {one.step.dose:.1f} s were given, the most is taken"
        for one in gave(plan, sheet) if one.lo is not None
    ]  # fmt: skip
    if sheet.outcome != "complete":
        mind.insert(0, f"was not finished ({sheet.outcome}, at step {sheet.at_hand}): what it got so far counts")
    found = {kind: _found(kind, getattr(plan, kind), args) for kind in ("bench", "paper")}
    return Side(
        f"{plan.print} (sheet {number})", as_given(plan, sheet), number, found["bench"], found["paper"], tuple(mind)
    )


def _found(kind: str, name: str, args: argparse.Namespace) -> Any:
    """A profile by the name in the book, or None where there is none by that name any more."""
    try:
        return read_profile(kind, name, args, folder=Path.cwd()).value
    except (LookupError, ValueError, OSError):
        return None


# -- what differs ------------------------------------------------------------------------------------------------


def differing_facts(a: Side, b: Side) -> dict[str, Any]:
    """What differs, for programs and for the table: steps, areas, and the ISO range R of each area's mix."""
    areas = dict.fromkeys((None, *areas_of(a.plan), *areas_of(b.plan)))
    ranges = [(area, _range(a, area), _range(b, area)) for area in areas]
    return {
        "a": {"name": a.name, "sheet": a.sheet, "paper": a.plan.paper, "mind": list(a.mind)},
        "b": {"name": b.name, "sheet": b.sheet, "paper": b.plan.paper, "mind": list(b.mind)},
        "steps": [
            {
                "name": row.name, "words": row.words, "card": row.card, "a": _amount(row.a), "b": _amount(row.b),
                "stops": row.stops,
            }
            for row in steps_apart(a.plan, b.plan)
        ],
        "areas": [row._asdict() for row in areas_apart(a.plan, b.plan)],
        "ranges": [
            {"area": area, "a": _number(mine), "b": _number(theirs), "reach": _reach(mine, theirs)}
            for area, mine, theirs in ranges
        ],
        "no_range": {"a": _why(ranges[0][1]), "b": _why(ranges[0][2])},
    }  # fmt: skip


def _amount(amount: Amount | None) -> dict[str, float | None] | None:
    return None if amount is None else {"dose": amount.dose, "stops": amount.stops}


def _range(one: Side, area: str | None) -> RangeAt | str:
    """R, or why there is none."""
    if one.bench is None:
        return f"bench '{one.plan.bench}' is not found"
    if one.paper is None:
        return f"paper '{one.plan.paper}' is not found"
    try:
        return range_at(one.plan, area, one.bench, one.paper)
    except ValueError as error:
        return one_line(error)


def _number(found: RangeAt | str) -> float | None:
    return found.r if not isinstance(found, str) else None


def _reach(mine: RangeAt | str, theirs: RangeAt | str) -> float | None:
    """How much of the area the mix of both, or of the one that is known, is told for."""
    return min((found.reach for found in (mine, theirs) if not isinstance(found, str)), default=None)


def _why(found: RangeAt | str) -> str | None:
    return found if isinstance(found, str) else None


def differing_table(facts: dict[str, Any], heads: tuple[str, str] = ("A", "B")) -> list[str]:
    """What differs, to read."""
    steps = [["step", heads[0], heads[1], "stops apart"]]
    for row in facts["steps"]:
        cells = [_amount_words(row[key], row["words"]) for key in ("a", "b")]
        steps.append(
            [
                f"  {row['words']}" if row["card"] else row["words"],
                *cells,
                _apart(row, row["a"] is None, row["b"] is None, heads),
            ]
        )
    areas = [["in all", "light", heads[0], heads[1], "stops apart"]]
    for row in facts["areas"]:
        cells = [_dose(row[key]) for key in ("a", "b")]
        areas.append([_area_words(row), row["light"], *cells, _apart(row, row["a"] == 0, row["b"] == 0, heads)])
    ranges = [["ISO range R", heads[0], heads[1]]]
    for row in facts["ranges"]:
        cells = ["-" if row[key] is None else f"{row[key]:.0f}" for key in ("a", "b")]
        ranges.append([_area_words(row), *cells])
    lines = [*columns(steps), "", *columns(areas, "<<>")]
    if any(row[key] is not None for row in facts["ranges"] for key in ("a", "b")):
        lines += ["", *columns(ranges)]
    whys = dict.fromkeys(why for why in facts["no_range"].values() if why is not None)
    said = [*(f"{head}: {text}" for head, key in zip(heads, "ab", strict=True) for text in facts[key]["mind"])]
    said += [f"no R: {why}" for why in whys]
    if facts["a"]["paper"] != facts["b"]["paper"]:
        said.append(
            f"paper: {facts['a']['paper']} and {facts['b']['paper']}, on which the same light does not do the same"
        )
    return [safe(line) for line in lines + (["", "mind:", *(f"  - {text}" for text in said)] if said else [])]


def _area_words(row: dict[str, Any]) -> str:
    """An area, the part of it that is meant, and the negative where there are several."""
    part = part_words(1.0 if row["reach"] is None else row["reach"])
    negative = f", {row['negative']}" if row.get("negative") else ""
    return f"{row['area'] or 'the rest'}{part}{negative}"


def stops_off(stops: float | None) -> str:
    """A difference: as a part of a stop where it is one to 1/400, else to three decimals.

    >>> stops_off(1 / 6), stops_off(-0.0785), stops_off(0.0001), stops_off(None)
    ('+1/6', '-0.078', 'same', '-')
    """
    if stops is None:
        return "-"
    near = near_stops(stops)
    return "same" if near == 0 else f"{'' if near < 0 else '+'}{format_stops(near)}"


def _amount_words(amount: dict[str, float | None] | None, words: str) -> str:
    if amount is None:
        return "-"
    if amount["dose"] is None:
        return "free"
    if amount["stops"] is None:
        return _dose(amount["dose"])
    return f"{format_stops(near_stops(amount['stops']))} ({amount['dose']:.2f} s)"


def _dose(dose: float | None) -> str:
    return "free" if dose is None else f"{dose:.2f} s"


def _apart(row: dict[str, Any], not_in_a: bool, not_in_b: bool, heads: tuple[str, str]) -> str:
    if not_in_a or not_in_b:
        return f"only {heads[1] if not_in_a else heads[0]}"
    return stops_off(row["stops"])
