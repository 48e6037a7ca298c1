"""The commands about the baths: what each has taken, a new batch, a temperature, sheets into and out of the trays."""

from __future__ import annotations

import argparse
import contextlib
import json
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.wire.control import FillBath, HasTemperature, LeaveBaths, MoveBath, OfBaths, SentFile, StartBaths, checked

if TYPE_CHECKING:
    from timerd.sheet.profile.bathfile import Bath, BathLine
    from timerd.sheet.record import Record
    from timerd.sheet.status import Status
    from timerd.sheet.trays.stock import Batch, Stock

MIND = "mind: gloves or tongs, air, acid into water; the makers' sheets and local rules hold, not these numbers"


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    baths = add("baths", _baths, "say what is left of each bath, and what is to be renewed; or show a bath line")
    baths.add_argument("line", metavar="LINE", nargs="?", help="a bath line's name, or its file: its baths and times")
    baths.add_argument("--at", metavar="C", type=float, help="with a line: its times at this temperature")
    baths.add_argument("--json", action="store_true", help="as JSON")

    bath = add("bath", _none, "tell what was done to a bath: a new batch, its temperature; or move sheets by command")
    subs = bath.add_subparsers(metavar="WHAT", required=True)

    def sub(name: str, command: Callable[[argparse.Namespace], int], text: str) -> argparse.ArgumentParser:
        made = subs.add_parser(name, help=text, description=text[0].upper() + text[1:] + ".")
        made.set_defaults(command=command)
        return made

    new = sub("new", _new, "a bath was mixed anew: its count begins again")
    new.add_argument("bath", metavar="BATH", help="its name in the bath line")
    new.add_argument("--line", metavar="LINE", help="the bath line, where several have a bath of that name")
    new.add_argument("--litres", type=float, metavar="L", help="how much of it (else as the line has it)")
    new.add_argument("--from", dest="came_from", metavar="BATH", help="this bath took its place; that one is fresh now")
    temperature = sub("temperature", _temperature, "a bath's temperature, as you read it: its times follow")
    temperature.add_argument("bath", metavar="BATH")
    temperature.add_argument("celsius", metavar="C", type=float)
    sub("start", _start, "the sheets that wait in their box go into the first bath, as one stack")
    leave = sub("leave", _leave, "a sheet is taken out of the baths")
    leave.add_argument("sheet", metavar="N", type=int, help="its number")


def _none(args: argparse.Namespace) -> int:
    return 2


# -- telling ---------------------------------------------------------------------------------------------------------


def _new(args: argparse.Namespace) -> int:
    if args.came_from is not None:
        if args.line is not None or args.litres is not None:
            raise ValueError("bath new: --from takes the other bath as it is: leave --line and --litres out")
        _tell(args, MoveBath(args.bath, args.came_from))
        print(f"{args.bath}: {args.came_from} took its place, its count begins anew; {args.came_from} is fresh")
        return 0
    path, bath = _line_with(args.bath, args)
    from timerd.places import read_bytes

    sent = SentFile(path.name, read_bytes(path).decode("utf-8"))
    _tell(args, FillBath(args.bath, sent, args.litres))
    litres = bath.litres if args.litres is None else args.litres
    most = _most(bath, litres)
    print(f"{args.bath}: a new batch of {litres:g} l{f', for {most}' if most else ''}")
    print(MIND)
    return 0


def _most(bath: Bath, litres: float) -> str:
    per_litre = bath.capacity.per_litre if bath.capacity is not None else {}
    counted = [f"{most * litres:.0f} {base} sheets" for base, most in per_litre.items()]
    return f"{' or '.join(counted)} of 8x10 in" if counted else ""


def _temperature(args: argparse.Namespace) -> int:
    _must_be_known(args.bath, args)
    _tell(args, HasTemperature(args.bath, args.celsius))
    print(f"{args.bath} has {args.celsius:g} C")
    return 0


def _start(args: argparse.Namespace) -> int:
    _print_stacks(_ask(args, StartBaths()))
    return 0


def _leave(args: argparse.Namespace) -> int:
    _print_stacks(_ask(args, LeaveBaths(args.sheet)))
    return 0


def _print_stacks(status: Status) -> None:
    from timerd.sheet.refusal import NoSheetAtTrays
    from timerd.sheet.telling import refusal_words
    from timerd.sheet.telling.trays import stacks_words

    print("\n".join(stacks_words(status.trays, status.now)) or refusal_words(NoSheetAtTrays()))


def _tell(args: argparse.Namespace, request: OfBaths) -> None:
    """To the daemon that serves; where none does, into the book itself, which then nobody else writes."""
    from timerd.control import NoDaemon

    try:
        _ask(args, request)
    except NoDaemon:
        _write(args, request)


def _ask(args: argparse.Namespace, request: OfBaths) -> Status:
    return stands(args, request)


def _write(args: argparse.Namespace, request: OfBaths) -> None:
    from timerd.book.store import Book
    from timerd.daemon.wetside import event_of
    from timerd.places import home
    from timerd.sheet.record import Record
    from timerd.sheet.trays.machine import Trays
    from timerd.sheet.trays.stays import Stays

    where, now = home(args.home), time.monotonic()
    event = event_of(checked(request), now)  # what is wrong with it is said before a book is begun for it
    book = Book(where, time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime()), time.monotonic_ns())
    try:
        actions = Trays(Stays({}, False), _stock(where, now), now=now).handle(event, now)
        book.append([action for action in actions if isinstance(action, Record)], {})
    finally:
        book.close()


# -- showing ---------------------------------------------------------------------------------------------------------


def _baths(args: argparse.Namespace) -> int:
    if args.line is not None:
        return _show_line(args)
    if args.at is not None:
        raise ValueError("baths: --at needs a bath line, to tell its times")
    from timerd.places import home

    now = time.monotonic()
    stock = _stock(home(args.home), now)
    if args.json:
        print(json.dumps([_batch_facts(batch, now) for batch in stock.batches.values()], indent=2))
        return 0
    if not stock.batches:
        print("no batch was told and no sheet developed yet: say  timerd bath new BATH  when you mix one")
        return 0
    rows: list[tuple[str, ...]] = [("bath", "batch", "litres", "used, 8x10 in", "share", "left", "age", "what to do")]
    rows += [_batch_row(batch, now) for batch in stock.batches.values()]
    print(_table(rows))
    print()
    print(MIND)
    return 0


def _stock(where: Path, now: float) -> Stock:
    from timerd.book.reading import Reader
    from timerd.book.store import NAME
    from timerd.book.wetside import WetReader
    from timerd.sheet.trays.stock import Stock

    records: list[Record] = []
    if (where / NAME).exists():
        reader = Reader(where)
        records = WetReader(reader, now, time.time()).stock()
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
    from timerd.cli.files import read_profile

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
        most = _most(bath, bath.litres).removesuffix(" of 8x10 in")
        rows.append((bath.words, f"{whole:.0f}", drain, every, f"{bath.litres:g}" if most else "", most))
    degrees = "at their own temperatures" if args.at is None else f"at {args.at:g} C, where a bath goes by it"
    print(f"{line.bath}{f', {line.base} paper' if line.base else ''}, {degrees}")
    print(_table(rows))
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


def _table(rows: Sequence[tuple[str, ...]]) -> str:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return "\n".join("  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows)


def _line_with(name: str, args: argparse.Namespace) -> tuple[Path, Bath]:
    """The bath line that has a bath of that name: the one that is named, else the only one, or one of several that
    have it alike."""
    from timerd.cli.files import read_file
    from timerd.places import find, home, names_of

    where = home(args.home)
    lines = [args.line] if args.line is not None else names_of("bath", where)
    found: list[tuple[Path, Bath]] = []
    for line in lines:
        path = find("bath", line, None, where)
        found += [(path, bath) for bath in read_file("bath", path).value.baths if bath.name == name]
    if not found:
        there = args.line if args.line is not None else ", ".join(lines)
        raise LookupError(f"no bath '{name}' is in {there}")
    if any(_kept(bath) != _kept(found[0][1]) for _, bath in found):
        raise LookupError(f"'{name}' is in {', '.join(path.stem for path, _ in found)}, not alike: say --line LINE")
    return found[0]


def _must_be_known(name: str, args: argparse.Namespace) -> None:
    """LookupError for the name of a bath that no bath line here has; a line that cannot be read counts for nothing."""
    from timerd.cli.files import read_file
    from timerd.places import find, home, names_of
    from timerd.sheet.profile.faults import ProfileError, did_you_mean

    where, names = home(args.home), set[str]()
    for line in names_of("bath", where):
        with contextlib.suppress(ProfileError):
            names |= {bath.name for bath in read_file("bath", find("bath", line, None, where)).value.baths}
    if name not in names:
        raise LookupError(f"no bath line here has a bath '{name}'{did_you_mean(name, sorted(names))}")


def _kept(bath: Bath) -> tuple[Any, ...]:
    """What a batch keeps of its bath's file."""
    return bath.capacity, bath.litres, bath.keeps_h, bath.followed_by, bath.cycles
