"""The commands that measure a lamp: its lag, and how far it has drifted."""

from __future__ import annotations

import argparse
import json
import math
from typing import Any

from timerd.cli import amounts
from timerd.cli.files import read_file, read_profile
from timerd.cli.parsing import Add
from timerd.cli.placing import change, out_options
from timerd.desk.keeping import GONE
from timerd.places import find, home
from timerd.printing.enlarging import new_dose, reading_factor
from timerd.printing.light import Response, measured_lag
from timerd.printing.strips import lag_error
from timerd.sheet.profile.benchfile import Lamp
from timerd.sheet.profile.faults import did_you_mean
from timerd.sheet.words import counted_stops

SHORTEST_S = 2.0
ENOUGH_STOPS = 1 / 12
"""A lag is precise enough where its error changes the shortest burst that hands can do by no more than this.

A twelfth of a stop is the finest change that is said to be just visible, on a hard paper (from memory of Lambrecht and
Woodhouse); 2 s is where `plan` begins to call a burn too short for hands.
"""

_IN_THE_LAG = ("rise_ms", "fall_ms", "relay_on_ms", "relay_off_ms")


def commands(add: Add) -> None:
    """Tell the parser of this module's commands."""
    lag = add("lag", _lag)
    lag.add_argument("--long", metavar="SECONDS", required=True, help="the one long burst")
    lag.add_argument("--short", metavar="SECONDS", required=True, help="each of the short ones that matched it")
    lag.add_argument("--bursts", metavar="N", required=True, help="how many short ones")
    lag.add_argument("--match", metavar="STOPS", default="1/12",
        help="how finely the two densities were told apart (%(default)s, by eye)")  # fmt: skip
    lag.add_argument("--bench", metavar="FILE", help="the bench's file, or its name: the lag is written into it")
    lag.add_argument("--lamp", metavar="NAME", help="which of its lamps")
    out_options(lag, "write a new bench file and leave the old one as it is")
    lag.add_argument("--json", action="store_true", help="the lag as JSON")

    drift = add("drift", _drift)
    drift.add_argument("--before", metavar="READING", required=True, help="the light then, in any unit such as lux")
    drift.add_argument("--now", metavar="READING", required=True, help="the light now, in the same unit")
    drift.add_argument("--seconds", metavar="SECONDS", help="a time to correct")
    drift.add_argument("--bench", metavar="BENCH", help="the bench, by name or file, where its lamp has a lag")
    drift.add_argument("--lamp", metavar="NAME", help="which of its lamps")
    drift.add_argument("--paper", metavar="PAPER", help="the paper, by name or file, for its reciprocity")
    drift.add_argument("--json", action="store_true", help="the drift as JSON")


def _lag(args: argparse.Namespace) -> int:
    long_s, short_s = amounts.seconds("--long", args.long), amounts.seconds("--short", args.short)
    bursts = amounts.whole("--bursts", args.bursts, 2, 1000)
    match = float(amounts.stops("--match", args.match))
    if match <= 0:
        raise ValueError(f"--match: must be over 0 stops; found {args.match!r}")
    if short_s >= long_s:
        raise ValueError(f"--short: must be shorter than the long burst's {long_s:g} s; found {short_s:g} s")
    lag = measured_lag(long_s, short_s, bursts)
    error = lag_error(long_s, short_s, bursts, match)
    error_stops = math.log2(1 + error / SHORTEST_S)
    enough = error_stops <= ENOUGH_STOPS * (1 + 1e-9)
    file = _lag_written(lag, args)
    mind = []
    if lag < 0:
        mind.append("below 0: the after-glow outweighs the rise; give this lamp rise_ms and fall_ms, and no lag_s")
    if error >= abs(lag):
        mind.append("the error is as large as the lag itself: this test cannot tell it from none")
    if not enough:
        within = SHORTEST_S * (2**ENOUGH_STOPS - 1)
        needed = math.ceil(2**match + (long_s - lag) * (2**match - 1) / within - 1e-9)
        mind.append(f"not precise enough: match the {long_s:g} s with {needed} short bursts or more")
    facts = {
        "lag_s": lag, "error_s": error, "error_stops": error_stops, "precise_enough": enough, "file": file,
        "mind": mind,
    }  # fmt: skip
    if args.json:
        print(json.dumps(facts, indent=2))
        return 0

    print(f"lag {lag:.3f} s, to within {error:.3f} s where the densities match to {counted_stops(match)}")
    print(
        f"on a burst of {SHORTEST_S:g} s that is {error_stops:.3f} stop: {'precise enough' if enough else 'too much'}"
    )
    for said in mind:
        print(f"  - {said}")
    print(f"written: {file}" if file else "nothing is written: say --bench FILE --lamp NAME")
    return 0


def _lag_written(lag: float, args: argparse.Namespace) -> str | None:
    """Put the lag into the bench's file. It has rise and fall and the relay's delays in it, so those go."""
    if args.bench is None and args.lamp is None:
        if args.out is not None:
            raise ValueError("--out: goes with --bench and --lamp: which bench is to be written anew?")
        return None
    _, lamp = _lamp(args)
    if lag < 0:
        raise ValueError(
            f"lag {lag:.3f} s: below 0 the after-glow outweighs the rise: write rise_ms and fall_ms instead"
        )

    path = find("bench", args.bench, None, home(args.home))
    read_file("bench", path)
    here = ("lamps", args.lamp)
    changes: dict[Any, object] = {(*here, "lag_s"): round(lag, 4)}
    changes |= {(*here, key): GONE for key in _IN_THE_LAG if key in lamp.model_fields_set}
    return change(path, "bench", changes, args.out, args.force)


def _lamp(args: argparse.Namespace) -> tuple[str, Lamp]:
    if args.bench is None or args.lamp is None:
        raise ValueError("--bench and --lamp go together: say both, or neither")
    bench = read_profile("bench", args.bench, args).value
    if args.lamp not in bench.lamps:
        raise LookupError(f"bench '{bench.bench}' has no lamp '{args.lamp}'{did_you_mean(args.lamp, bench.lamps)}")
    return args.lamp, bench.lamps[args.lamp]


def _drift(args: argparse.Namespace) -> int:
    before, now = (amounts.number(f"--{k}", getattr(args, k), "a reading", 1e6) for k in ("before", "now"))
    factor = reading_factor(before, now)
    stops = -math.log2(factor)
    response = Response() if args.bench is None and args.lamp is None else _lamp(args)[1].response
    seconds = None if args.seconds is None else amounts.seconds("--seconds", args.seconds)
    paper = None if args.paper is None else read_profile("paper", args.paper, args).value
    reciprocity = 1.0 if paper is None else paper.reciprocity
    factor = new_dose(1.0, factor, reciprocity)
    corrected = None if seconds is None else response.seconds(response.dose(seconds) * factor)
    if args.json:
        print(json.dumps({"stops": stops, "factor": factor, "seconds": corrected}, indent=2))
        return 0
    print(f"the light is {stops:+.3f} stop from what it was: times are multiplied by {factor:.4f}")
    if reciprocity != 1:
        print(f"reciprocity {reciprocity:g} of the paper counted")
    if corrected is not None:
        print(f"{seconds:g} s become {corrected:.2f} s")
    return 0
