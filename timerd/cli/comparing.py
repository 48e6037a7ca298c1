"""The commands that lay prints and sheets beside each other: compare, revise."""

from __future__ import annotations

import argparse
import json
import re
from pathlib import Path
from typing import Any

from timerd.cli import amounts
from timerd.cli.files import worked
from timerd.cli.parsing import Add
from timerd.cli.placing import changed_text, out_options, place_new, planned
from timerd.cli.sides import Side, differing_facts, differing_table, print_side, side
from timerd.desk.revise import Wish, revised, written_wish
from timerd.places import shipped
from timerd.sheet.safe import safe

_WISHES = ("base", "burn", "dodge", "flash")
_LESS = re.compile(r"^-[0-9]")
_VERSION = re.compile(r"(.*?)-([0-9]{1,6})", re.ASCII)


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    compare = add("compare", _compare)
    compare.add_argument("a", metavar="A", help="a print's name or file, or a sheet's number: what it was given")
    compare.add_argument("b", metavar="B", help="the other one")
    compare.add_argument("--json", action="store_true", help="all of it as JSON")

    revise = add("revise", _revise)
    revise.add_argument("print", metavar="PRINT", help="the print, by name or file")
    for kind, which in (
        ("base", "every base, or [NAME=], a base's name or a light's"), ("burn", "a burn, as in haze/green=+1/3"),
        ("dodge", "a dodge, as in soft/boat=-1/12"), ("flash", "a flash"),
    ):  # fmt: skip
        revise.add_argument(
            f"--{kind}", action="append", default=[], metavar="STOPS" if kind == "base" else "NAME=STOPS", help=which
        )
    # what begins like -1/6 is a value: no option of this command does
    revise._negative_number_matcher = _LESS
    out_options(revise, "where the new version goes (beside the print, with the next number)")
    revise.add_argument("--json", action="store_true", help="what changes, and the new print, as JSON")


def _compare(args: argparse.Namespace) -> int:
    a, b = side(args.a, args), side(args.b, args)
    facts = differing_facts(a, b)
    if args.json:
        print(json.dumps(facts, indent=2))
        return 0
    print(safe(f"A: {a.name}"))
    print(safe(f"B: {b.name}"))
    print()
    print("\n".join(differing_table(facts)))
    return 0


# -- revise ------------------------------------------------------------------------------------------------------


def _revise(args: argparse.Namespace) -> int:
    wishes = [wish for kind in _WISHES for text in getattr(args, kind) for wish in [_wish(kind, text)]]
    made = worked(args.print, args)
    path, bench, paper = made.path, made.bench, made.paper
    new = revised(made.print.value, path.stem, bench.value, paper.value, wishes)
    text = changed_text(path, new.changes)
    _, plan = planned(text, "the new version", bench, paper, "this print cannot be revised so")
    out = _next_version(path) if args.out is None else Path(args.out)
    file = place_new(text, "print", str(out), args.force and args.out is not None) if out is not None else None
    before = print_side(made)
    after = Side(before.name, plan, None, bench.value, paper.value)
    facts: dict[str, Any] = {
        "origin": path.stem, "wishes": [written_wish(wish) for wish in wishes], "file": file, "mind": new.mind,
        **differing_facts(before, after),
    }  # fmt: skip
    print(json.dumps(facts, indent=2) if args.json else _revised_table(before, facts))
    return 0


def _wish(kind: str, text: str) -> Wish:
    """`+1/6`, or `NAME=+1/6`."""
    name, equals, stops = text.rpartition("=")
    if not equals and kind != "base":
        raise ValueError(f"--{kind}: say which and how much, as in haze=+1/3; found '{text[:40]}'")
    return Wish(kind, name.strip() or None, amounts.stops(f"--{kind}", stops))  # type: ignore[arg-type]


def _next_version(path: Path) -> Path | None:
    """Where the next version goes: beside the print, with the next number that is free. None among the shipped ones."""
    if path.resolve().is_relative_to(shipped().resolve()):
        return None
    found = _VERSION.fullmatch(path.stem)
    stem, number = (found[1], int(found[2]) + 1) if found is not None else (path.stem, 2)
    while (there := path.with_name(f"{stem}-{number}{path.suffix}")).exists():
        number += 1
    return there


def _revised_table(before: Side, facts: dict[str, Any]) -> str:
    lines = [f"{before.name}: {'; '.join(facts['wishes'])}", "", *differing_table(facts, ("before", "after"))]
    if facts["mind"]:
        lines += ["", *(f"  - {said}" for said in facts["mind"])]
    nowhere = "nothing is written: the print lies among those that come with timerd: say --out FILE"
    lines += ["", f"written: {facts['file']}" if facts["file"] else nowhere]
    return "\n".join(safe(line) for line in lines)
