"""The command that lays all sheets of a print beside its plan: edition."""

from __future__ import annotations

import argparse
import contextlib
import json
from typing import Any

from timerd.book.reading import Reader, unix_seconds
from timerd.cli.files import worked
from timerd.cli.parsing import Add
from timerd.cli.sides import print_side, stops_off
from timerd.cli.values import draw, picture_path
from timerd.places import home
from timerd.sheet.columns import columns
from timerd.sheet.edition import Edition, Printed, Spread, edition
from timerd.sheet.facts import SheetArmed
from timerd.sheet.given import as_given, gave
from timerd.sheet.plan.value import LIGHTS
from timerd.sheet.safe import safe
from timerd.sheet.words import part_words

MOST_COLUMNS = 8
"""So many sheets have a column each in the table; of more there are the least, the mean and the most."""


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    edition = add("edition", _edition)
    edition.add_argument("print", metavar="PRINT", help="the print, by name or file; its sheets go by its title")
    edition.add_argument("--json", action="store_true", help="all of it as JSON")
    edition.add_argument("--picture", metavar="FILE", help="draw it too, as .png or .svg")
    edition.add_argument("--force", action="store_true", help="write over a file that is there")


def _edition(args: argparse.Namespace) -> int:
    path = picture_path(args)
    side = print_side(worked(args.print, args))
    sheets, left_out = _sheets_of(side.plan.print, args)
    if not sheets:
        raise LookupError(f"there is no finished sheet of '{side.plan.print}' in the book" + _why_none(left_out))
    found = edition(side.plan, sheets)
    print(json.dumps(_facts(found, left_out), indent=2) if args.json else "\n".join(_table(found, left_out)))

    if path is not None:
        from timerd.desk.editionshow import edition_figure

        draw(args, path, edition_figure(found))
    return 0


def _sheets_of(title: str, args: argparse.Namespace) -> tuple[list[Printed], dict[int, str]]:
    """The finished sheets of prints of this title as they were given; those left out, each with its reason."""
    sheets, left_out = [], {}
    with contextlib.closing(Reader(home(args.home))) as reader:
        for number in reader.sheets():
            armed = next(
                one for one in (record.fact for record in reader.records(number)) if isinstance(one, SheetArmed)
            )
            if armed.print != title:
                continue
            sheet, plan = reader.sheet(number), reader.plan(number)
            if sheet is None or plan is None:
                continue
            given = as_given(plan, sheet)
            if sheet.outcome != "complete":
                left_out[number] = f"not finished ({sheet.outcome})"
            elif not any(step.kind in LIGHTS for step in given.steps):
                left_out[number] = "was given no light"
            elif any(one.lo is not None for one in gave(plan, sheet)):
                left_out[number] = "a dose is not known exactly"
            else:
                sheets.append(Printed(number, unix_seconds(armed.wall), given))
    return sheets, left_out


def _why_none(left_out: dict[int, str]) -> str:
    return "".join(f"; sheet {number}: {why}" for number, why in list(left_out.items())[:5])


def _facts(edition: Edition, left_out: dict[int, str]) -> dict[str, Any]:
    return {
        "print": edition.plan.print,
        "sheets": [{"sheet": one.sheet, "armed": one.wall} for one in edition.sheets],
        "left_out": [{"sheet": number, "why": why} for number, why in left_out.items()],
        "steps": [_spread_facts(row) for row in edition.steps],
        "areas": [_spread_facts(row) for row in edition.areas],
        "drifts": [{**drift._asdict(), "sheets": list(drift.sheets)} for drift in edition.drifts],
    }


def _spread_facts(row: Spread) -> dict[str, Any]:
    return {
        "what": row.what, "card": row.card, "light": row.light, "planned": row.planned, "off": list(row.off),
        "mean": row.mean, "spread": row.stops, "reach": row.reach, "negative": row.negative,
    }  # fmt: skip


def _table(edition: Edition, left_out: dict[int, str]) -> list[str]:
    count = len(edition.sheets)
    lines = [f"{edition.plan.print}: {count} sheet{'s' if count != 1 else ''} beside the plan, in stops off it", ""]
    lines += [*_rows("step", edition.steps, edition), ""]
    lines += [*_rows("in all", edition.areas, edition), ""]
    for drift in edition.drifts:
        of = drift.light + (f" of {drift.negative}" if drift.negative else "")
        lines.append(
            f"drift in {of}, sheets {drift.sheets[0]} to {drift.sheets[-1]} ({drift.hours:.1f} h): "
            f"{drift.stops:+.3f} stop in all, {drift.an_hour:+.3f} an hour"
        )
    if not edition.drifts:
        lines.append("drift: takes three sheets or more in one evening, and a clock that told their times")
    lines += [f"left out: sheet {number}, {why}" for number, why in left_out.items()]
    return [safe(line) for line in lines]


def _rows(head: str, spreads: tuple[Spread, ...], edition: Edition) -> list[str]:
    few = len(edition.sheets) <= MOST_COLUMNS
    heads = [f"sheet {one.sheet}" for one in edition.sheets] if few else ["least", "most"]
    cells = [[head, "planned", *heads, "mean", "spread"]]
    for row in spreads:
        what = ("  " if row.card else "") + row.words + part_words(row.reach)
        off = [stops_off(stops) for stops in row.off] if few else [stops_off(end) for end in _ends(row)]
        planned = "-" if row.planned is None else f"{row.planned:.2f} s"
        spread = "-" if row.stops is None else f"{row.stops:.3f}"
        cells.append([what, planned, *off, stops_off(row.mean), spread])
    return columns(cells)


def _ends(row: Spread) -> tuple[float | None, float | None]:
    return (min(row.known), max(row.known)) if row.known else (None, None)
