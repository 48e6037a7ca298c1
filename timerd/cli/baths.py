"""The command that shows the baths: what each has taken, or a bath line with its times."""

from __future__ import annotations

import argparse
import json
import time
from pathlib import Path
from typing import Any

from timerd.book.reading import Reader
from timerd.book.store import NAME
from timerd.book.trays import TraysReader
from timerd.cli.files import read_profile
from timerd.cli.parsing import Add
from timerd.places import home
from timerd.sheet.columns import columns
from timerd.sheet.profile.bathfile import Bath, BathLine
from timerd.sheet.record import Record
from timerd.sheet.trays.stock import Batch, Stock

MIND = "mind: gloves or tongs, air, acid into water; the makers' sheets and local rules hold, not these numbers"


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    baths = add("baths", _baths)
    baths.add_argument("line", metavar="LINE", nargs="?", help="a bath line's name, or its file: its baths and times")
    baths.add_argument("--at", metavar="C", type=float, help="with a line: its times at this temperature")
    baths.add_argument("--json", action="store_true", help="as JSON")


def most_counted(bath: Bath, litres: float) -> str:
    """How many sheets of 8x10 in so much of a bath is for, of each base; nothing where it is not told."""
    per_litre = bath.capacity.per_litre if bath.capacity is not None else {}
    counted = [f"{most * litres:.0f} {base} sheets" for base, most in per_litre.items()]
    return " or ".join(counted)


def _baths(args: argparse.Namespace) -> int:
    if args.line is not None:
        return _show_line(args)
    if args.at is not None:
        raise ValueError("baths: --at needs a bath line, to tell its times")

    now = time.monotonic()
    stock = stock_of(home(args.home), now)
    if args.json:
        print(json.dumps([_batch_facts(batch, now) for batch in stock.batches.values()], indent=2))
        return 0
    if not stock.batches:
        print("no batch was told and no sheet developed yet: say  timerd bath new BATH  when you mix one")
        return 0
    rows: list[tuple[str, ...]] = [("bath", "batch", "litres", "used, 8x10 in", "share", "left", "age", "what to do")]
    rows += [_batch_row(batch, now) for batch in stock.batches.values()]
    print("\n".join(columns(rows, "<")))
    print()
    print(MIND)
    return 0


def stock_of(where: Path, now: float) -> Stock:
    records: list[Record] = []
    if (where / NAME).exists():
        reader = Reader(where)
        records = TraysReader(reader, now, time.time()).stock()
        reader.close()
    return Stock(records)


def _batch_row(batch: Batch, now: float) -> tuple[str, ...]:
    used = ", ".join(f"{count:.1f} {base}" for base, count in batch.used.items()) or "0"
    share = batch.share
    left = [f"{batch.left(base):.0f} {base}" for base in batch.filling.per_litre]
    age = "" if batch.mixed_at is None else _age(now - batch.mixed_at)
    percent = "" if share is None else f"{share * 100:.0f} %"
    number, litres = str(batch.number or "-"), f"{batch.filling.litres:g}"
    return batch.bath, number, litres, used, percent, " or ".join(left), age, _to_do(batch, now)


def _to_do(batch: Batch, now: float) -> str:
    """What is to be done with a bath; nothing where all is well."""
    share, rounds = batch.share or 0.0, batch.rounds
    if batch.old(now):
        return f"renew it: older than the {batch.filling.keeps_h:g} h it keeps"
    if rounds is not None:
        words = {
            "": "", "near": f"nearly used up, round {rounds.cycle} of {batch.filling.cycles}",
            "move": f"used up: throw it away, put {batch.filling.followed_by} in its place "
                    f"(timerd bath new {batch.bath} --from {batch.filling.followed_by})",
            "renew both": f"used up after {batch.filling.cycles} rounds: renew it and {batch.filling.followed_by}",
        }  # fmt: skip
        return words[rounds.due]
    if share >= 1.0 - 1e-9:
        return "used up: renew it"
    return "nearly used up" if batch.worn(0.0) else ""


def _age(seconds: float) -> str:
    return f"{seconds / 3600:.0f} h" if seconds < 48 * 3600 else f"{seconds / 86400:.0f} days"


def _batch_facts(batch: Batch, now: float) -> dict[str, Any]:
    of = batch.filling
    return {
        "bath": batch.bath, "batch": batch.number, "litres": of.litres, "per_litre": dict(of.per_litre),
        "used": batch.used, "share": batch.share, "left": {base: batch.left(base) for base in of.per_litre},
        "age_h": None if batch.mixed_at is None else (now - batch.mixed_at) / 3600, "keeps_h": of.keeps_h,
        "round": batch.rounds.cycle if batch.rounds is not None else None, "cycles": of.cycles,
        "due": _to_do(batch, now),
    }  # fmt: skip


def _show_line(args: argparse.Namespace) -> int:
    line: BathLine = read_profile("bath", args.line, args).value
    times = [bath.move_after(bath.at_c if args.at is None else args.at) for bath in line.baths]
    if args.json:
        facts = [{**bath.model_dump(), "move_after": time_} for bath, time_ in zip(line.baths, times, strict=True)]
        begins = line.white_from
        white = None if begins is None else {"bath": line.baths[begins.place].name, "after_s": begins.after_s}
        print(json.dumps({"bath": line.bath, "base": line.base, "white_light": white, "baths": facts}, indent=2))
        return 0
    rows: list[tuple[str, ...]] = [("bath", "seconds", "drain", "agitate", "litres", "for, in 8x10 in")]
    for bath, seconds in zip(line.baths, times, strict=True):
        drain = f"{'the last' if bath.drain == 'inside' else 'and'} {bath.drain_s:g}" if bath.drain_s else ""
        every = "" if bath.agitate is None else f"every {bath.agitate.every_s:g} s"
        whole = seconds if bath.drain == "inside" else seconds - bath.drain_s
        most = most_counted(bath, bath.litres)
        rows.append((bath.words, f"{whole:.0f}", drain, every, f"{bath.litres:g}" if most else "", most))
    degrees = "at their own temperatures" if args.at is None else f"at {args.at:g} C, where a bath goes by it"
    print(f"{line.bath}{f', {line.base} paper' if line.base else ''}, {degrees}")
    print("\n".join(columns(rows, "<")))
    print()
    print(_white_light(line))
    print("starting points: check each against its maker's sheet")
    print(MIND)
    return 0


def _white_light(line: BathLine) -> str:
    begins = line.white_from
    if begins is None:
        return "white light is safe when the sheet is out of the baths"
    return f"white light is safe when the sheet has been {begins.after_s:g} s in {line.baths[begins.place].words}"
