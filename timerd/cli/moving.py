"""The command that moves a print to another paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from timerd.cli.files import shown_path, worked
from timerd.cli.parsing import Add
from timerd.cli.values import LEVEL, add_telling, decimals, exposure, not_there, paper_of, plus_or_minus, tell
from timerd.desk.keeping import edited, write_new
from timerd.desk.moving import move
from timerd.places import read_bytes
from timerd.sheet.columns import columns
from timerd.sheet.profile.reading import read


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    move = add("move", _move)
    move.add_argument("print", metavar="PRINT", help="a print's name, or its file")
    move.add_argument("--paper", metavar="NEW", required=True, help="the other paper: its name, or its file")
    move.add_argument(
        "--green-light", metavar="X", default="1", help="what a second of green gives, in the papers' unit"
    )
    move.add_argument("--blue-light", metavar="X", default="1", help="what a second of blue gives; their ratio counts")
    move.add_argument("--out", metavar="FILE", help="where the moved print goes; comments and order are kept")
    move.add_argument("--force", action="store_true", help="write over a file that is there")
    add_telling(move, picture=False)


def _move(args: argparse.Namespace) -> int:
    out = Path(args.out) if args.out is not None else None
    if out is not None:
        not_there(out, args.force)
    lights = [
        exposure(getattr(args, key), f"--{key.replace('_', '-')}", above=True) for key in ("green_light", "blue_light")
    ]
    made = worked(args.print, args)
    path, print_, bench, old = made.path, made.print.value, made.bench.value, made.paper.value
    new = paper_of(args.paper, args)
    moved = move(print_, bench, old, new, *lights)
    if out is not None:
        _write(path, out, {change.place: change.value for change in moved.changes}, args.force)
    facts = {
        "print": print_.print, "from": old.paper, "to": new.paper, "R_before": moved.r_before, "R_after": moved.r_after,
        "R_before_within": moved.within["r_before"], "R_after_within": moved.within["r_after"],
        "green_s": list(moved.doses["green"]), "blue_s": list(moved.doses["blue"]),
        "green_s_within": moved.within["green"], "blue_s_within": moved.within["blue"], "level": "one deviation",
        "changes": [
            {"place": list(change.place), "what": change.what, "was": change.was, "now": change.now}
            for change in moved.changes
        ],
        "unmatched": moved.unmatched,
    }  # fmt: skip

    def table() -> list[str]:
        off = {key: plus_or_minus(value, 0) for key, value in moved.within.items()}
        after = decimals(moved.r_after, 0) + off["r_after"]
        ranges = f"R {moved.r_before:.0f}{off['r_before']} before, {after} after"
        lines = [f"{print_.print}: from {old.paper} to {new.paper}; {ranges}", ""]
        cells = [["", "was", "now"], *([change.what, change.was, change.now] for change in moved.changes)]
        lines += columns(cells) if moved.changes else ["nothing changes"]
        seconds = [
            f"{moved.doses[colour][1]:.2f}{plus_or_minus(moved.within[colour], 2)} s of {colour}"
            for colour in ("green", "blue") if moved.within[colour]
        ]  # fmt: skip
        if seconds:
            lines += ["", f"in all bases, by what the papers' curves leave open: {', '.join(seconds)}", LEVEL]
        if moved.unmatched:
            lines += ["", "does not match:", *(f"  - {one}" for one in moved.unmatched)]
        lines += ["", "assumes: both papers were read in the same lights, at the same light on the easel;"]
        return [*lines, "held: the first tone and 90 % of the black; make a strip before the first sheet"]

    tell(args, facts, table)
    if out is not None and not args.json:
        print(f"written: {out}")
    return 0


def _write(path: Path, out: Path, changes: dict[Any, object], force: bool) -> None:
    text = read_bytes(path).decode()
    if changes:
        text = edited(text, changes)
    read(text.encode(), shown_path(out), "print")
    write_new(out, text, force)
