"""What prints, benches, papers and bath lines there are, and where each lies."""

from __future__ import annotations

import argparse
import json
from typing import Any

from timerd.cli.files import read_file, shown_path
from timerd.cli.parsing import Add
from timerd.places import FOLDERS, find, home, names_of, shipped
from timerd.sheet.columns import columns
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.safe import safe

KINDS = {FOLDERS[kind]: kind for kind in ("print", "bench", "paper", "bath")}


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    list_ = add("list", _list)
    list_.add_argument("kind", metavar="KIND", choices=KINDS, help=f"of what kind: {', '.join(KINDS)}")
    list_.add_argument("--json", action="store_true", help="as JSON")


def _list(args: argparse.Namespace) -> int:
    kind, own = KINDS[args.kind], home(args.home)
    found = [_one(kind, name, args) for name in names_of(kind, own)]
    if args.json:
        print(json.dumps(found, indent=2))
    else:
        rows = [("name", "", "where"), *((one["name"], one["says"], one["where"]) for one in found)]
        print("\n".join(columns([[safe(cell) for cell in row] for row in rows], "<<")))
        print(f"\nyour own lie in {safe(shown_path(own / 'profiles' / args.kind))}")
    return 0


def _one(kind: str, name: str, args: argparse.Namespace) -> dict[str, Any]:
    """A profile by name: what it says of itself, or that it has faults, and its file."""
    path = find(kind, name, None, home(args.home))
    try:
        value = read_file(kind, path).value
        says = _says(kind, value)
    except (ProfileError, OSError):
        says = f"has faults: timerd check {name}"
    where = "comes along" if path.is_relative_to(shipped()) else shown_path(path)
    return {"name": name, "says": says, "where": where, "file": str(path)}


def _says(kind: str, value: Any) -> str:
    match kind:
        case "print":
            return f"{value.print}; on {value.paper}, bench {value.bench}"
        case "bench":
            return ", ".join(value.lights)
        case "paper":
            return f"{value.base or 'base not told'}{', with a curve' if value.curve is not None else ''}"
        case _:
            return ", ".join(bath.words for bath in value.baths)
