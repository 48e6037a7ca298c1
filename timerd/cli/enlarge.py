"""The command that works a print out anew for another size, aperture or height."""

from __future__ import annotations

import argparse
import json
import math
from typing import Any

from timerd.cli import amounts
from timerd.cli.files import worked
from timerd.cli.parsing import Add
from timerd.cli.placing import changed_text, out_options, place_new, planned
from timerd.cli.sheetsize import sheet_size
from timerd.desk.enlarge import Asked, enlarged
from timerd.sheet.profile.faults import written_place
from timerd.sheet.profile.printfile import lights_of
from timerd.sheet.words import signed_stops


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    enlarge = add("enlarge", _enlarge)
    enlarge.add_argument("print", metavar="PRINT", help="the print, by name or file")
    for name, what in (
        ("magnification", "print by negative, linear"),
        ("distance", "lens to paper; in mm without the old one"),
        ("reading", "of a meter on the easel, same spot, in light such as lux"),
        ("aperture", "the mark on the lens"),
    ):
        ours = " (if the print does not say)" if name != "reading" else ""
        enlarge.add_argument(f"--from-{name}", metavar="OLD", help=f"the old {name}{ours}")
        enlarge.add_argument(f"--{name}", metavar="NEW", help=f"the new {name}: {what}")
    enlarge.add_argument("--sheet", metavar="SIZE", help="the new sheet, as in 11x14 in or 30x40 cm")
    out_options(enlarge, "where the new print's file goes; without it nothing is written")
    enlarge.add_argument("--json", action="store_true", help="the factor and the new print as JSON")


def _enlarge(args: argparse.Namespace) -> int:
    asked = _asked(args)
    before = worked(args.print, args)
    path, print_, bench, paper = before.path, before.print.value, before.bench, before.paper
    new = enlarged(print_, path.stem, bench.value, paper.value, asked)
    text = changed_text(path, new.changes)
    made, _ = planned(text, "the new print", bench, paper, "this print cannot be enlarged so")
    file = place_new(text, "print", args.out, args.force) if args.out is not None else None
    facts: dict[str, Any] = {
        "factor": new.factor,
        "stops": math.log2(new.factor),
        "size": new.size,
        "seconds": [
            {"place": written_place(place), "step": _words(print_, place), "was": was, "is": now}
            for place, was, now in new.seconds
        ],
        "print": made.value.model_dump(mode="json", exclude_unset=True),
        "file": file,
        "mind": new.mind,
    }
    print(json.dumps(facts, indent=2) if args.json else _table(facts))
    return 0


def _asked(args: argparse.Namespace) -> Any:
    def pair(name: str, most: float) -> tuple[float | None, float | None]:
        old, new = (
            amounts.given(f"--{given}", getattr(args, given.replace("-", "_")), "a number, as in 4 or 4.5", most)
            for given in (f"from-{name}", name)
        )
        return old, new

    def both(name: str, most: float) -> tuple[float, float] | None:
        old, new = pair(name, most)
        if (old is None) != (new is None):
            raise ValueError(f"--from-{name} and --{name} go together: say both")
        return None if old is None or new is None else (old, new)

    def to(name: str, most: float) -> tuple[float | None, float] | None:
        old, new = pair(name, most)
        if old is not None and new is None:
            raise ValueError(f"--from-{name} and --{name} go together: say both")
        return None if new is None else (old, new)

    return Asked(
        magnification=pair("magnification", 100),
        distance=to("distance", 1e5),
        reading=both("reading", 1e6),
        aperture=pair("aperture", 128),
        sheet=None if args.sheet is None else sheet_size("--sheet", args.sheet),
    )


def _words(print_: Any, place: tuple[str | int, ...]) -> str:
    step = print_.steps[place[1]]
    kind = next(kind for kind in ("base", "burn", "flash") if hasattr(step, kind))
    return f"{kind} {getattr(step, kind)}, {' and '.join(lights_of(step))}"


def _table(facts: dict[str, Any]) -> str:
    lines = [f"factor {facts['factor']:.4f}, {signed_stops(facts['stops'])} stop", ""]
    for one in facts["seconds"]:
        lines.append(f"{one['step']:<40} {one['was']:>8.2f} s becomes {one['is']:>8.2f} s")
    lines += ["all that is counted in stops or percent stays as it is written", ""]
    lines += ["mind:", *(f"  - {said}" for said in facts["mind"]), ""]
    lines.append(f"written: {facts['file']}" if facts["file"] else "nothing is written: say --out FILE")
    return "\n".join(lines)
