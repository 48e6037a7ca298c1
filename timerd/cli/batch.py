"""The commands that tell what was done to a bath: a new batch, its temperature."""

from __future__ import annotations

import argparse
import contextlib
import time
from pathlib import Path
from typing import Any

from timerd.book.store import Book
from timerd.cli.baths import MIND, most_counted, stock_of
from timerd.cli.files import read_file
from timerd.cli.parsing import Add
from timerd.cli.stacks import ask_trays
from timerd.control import NoDaemon
from timerd.daemon.trays import event_of
from timerd.places import find, home, names_of, read_bytes
from timerd.sheet.profile.bathfile import Bath
from timerd.sheet.profile.faults import ProfileError, did_you_mean
from timerd.sheet.record import Record
from timerd.sheet.trays.machine import Trays
from timerd.sheet.trays.stays import Stays
from timerd.wire.control import FillBath, HasTemperature, MoveBath, OfBaths, SentFile, checked


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    new = add("new", _new)
    new.add_argument("bath", metavar="BATH", help="its name in the bath line")
    new.add_argument("--line", metavar="LINE", help="the bath line, where several have a bath of that name")
    new.add_argument("--litres", type=float, metavar="L", help="how much of it (else as the line has it)")
    new.add_argument("--from", dest="came_from", metavar="BATH", help="this bath took its place; that one is fresh now")
    temperature = add("temperature", _temperature)
    temperature.add_argument("bath", metavar="BATH")
    temperature.add_argument("celsius", metavar="C", type=float)


def _new(args: argparse.Namespace) -> int:
    if args.came_from is not None:
        if args.line is not None or args.litres is not None:
            raise ValueError("bath new: --from takes the other bath as it is: leave --line and --litres out")
        _tell(args, MoveBath(args.bath, args.came_from))
        print(f"{args.bath}: {args.came_from} took its place, its count begins anew; {args.came_from} is fresh")
        return 0
    path, bath = _line_with(args.bath, args)
    sent = SentFile(path.name, read_bytes(path).decode("utf-8"))
    _tell(args, FillBath(args.bath, sent, args.litres))
    litres = bath.litres if args.litres is None else args.litres
    most = most_counted(bath, litres)
    print(f"{args.bath}: a new batch of {litres:g} l{f', for {most} of 8x10 in' if most else ''}")
    print(MIND)
    return 0


def _temperature(args: argparse.Namespace) -> int:
    _must_be_known(args.bath, args)
    _tell(args, HasTemperature(args.bath, args.celsius))
    print(f"{args.bath} has {args.celsius:g} C")
    return 0


def _tell(args: argparse.Namespace, request: OfBaths) -> None:
    """To the daemon that serves; where none does, into the book itself, which then nobody else writes."""
    try:
        ask_trays(args, request)
    except NoDaemon:
        _write(args, request)


def _write(args: argparse.Namespace, request: OfBaths) -> None:
    where, now = home(args.home), time.monotonic()
    event = event_of(checked(request), now)  # what is wrong with it is said before a book is begun for it
    wall = time.strftime("%Y-%m-%dT%H:%M:%S+00:00", time.gmtime())
    with contextlib.closing(Book(where, wall, time.monotonic_ns())) as book:
        actions = Trays(Stays({}, False), stock_of(where, now), now=now).handle(event, now)
        book.append([action for action in actions if isinstance(action, Record)], {})


def _line_with(name: str, args: argparse.Namespace) -> tuple[Path, Bath]:
    """The bath line that has a bath of that name: the one that is named, else the only one, or one of several that
    have it alike."""
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
    where, names = home(args.home), set[str]()
    for line in names_of("bath", where):
        with contextlib.suppress(ProfileError):
            names |= {bath.name for bath in read_file("bath", find("bath", line, None, where)).value.baths}
    if name not in names:
        raise LookupError(f"no bath line here has a bath '{name}'{did_you_mean(name, sorted(names))}")


def _kept(bath: Bath) -> tuple[Any, ...]:
    """What a batch keeps of its bath's file."""
    return bath.capacity, bath.litres, bath.keeps_h, bath.followed_by, bath.cycles
