"""The map of a sheet, for paper."""

from __future__ import annotations

import argparse
from pathlib import Path

from timerd.cli.files import worked
from timerd.cli.parsing import Add
from timerd.desk.keeping import write_new
from timerd.sheet.map_svg import map_svg
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    drawn = add("map", _map)
    drawn.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    drawn.add_argument("--out", metavar="FILE.svg", required=True, help="where the map goes")
    drawn.add_argument("--back", action="store_true", help="mirrored, for pencil marks on the back of the sheet")
    drawn.add_argument("--force", action="store_true", help="write over a file that is there")


def _map(args: argparse.Namespace) -> int:
    plan = worked(args.print, args).plan
    out = Path(args.out)
    if out.suffix.lower() != ".svg":
        raise ValueError(f"--out: the map is an SVG: name it so, as in {safe(out.stem or 'map')}.svg")
    write_new(out, map_svg(plan, back=args.back), args.force)
    side = "the back, mirrored" if args.back else "the front, face up"
    print(f"{safe(str(out))}: {safe(plan.print)}, {side}. Print it at 100 %.")
    return 0
