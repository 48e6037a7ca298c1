"""Benches, papers and prints of invented darkrooms, read from text, for the tests of the plan."""

from __future__ import annotations

from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.reading import read

TWO_STATION = """\
bench: two-station
stations: {flashing: {turn: 0}, enlarger: {turn: 0}}
lamps:
  head-green: {pin: 17, station: enlarger}
  head-blue: {pin: 27, station: enlarger}
  flasher: {pin: 23, station: flashing}
lights:
  green: {lamp: head-green, colour: green}
  blue: {lamp: head-blue, colour: blue}
  flash: {lamp: flasher, colour: white}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""

# One white lamp with filters put in by hand, one in a colour of another name, and a filterless flasher beside it.
HAND_FILTERED = """\
bench: hand-filtered
stations: {easel: {}}
lamps:
  head: {pin: 17, station: easel}
  spare: {pin: 27, station: easel}
  flasher: {pin: 23, station: easel}
lights:
  green: {lamp: head, colour: green, filter: by hand}
  hard: {lamp: head, colour: deep blue, filter: by hand}
  white: {lamp: head, colour: white}
  amber: {lamp: spare, colour: amber, filter: by hand}
  flash: {lamp: flasher, colour: white}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""

# A filament lamp of 120 ms rise and 60 ms fall, a lamp with a measured lag, and short limits.
SLOW_LAMPS = """\
bench: slow-lamps
stations: {easel: {}}
lamps:
  filament: {pin: 17, station: easel, rise_ms: 120, fall_ms: 60, longest_s: 20}
  lagging: {pin: 27, station: easel, lag_s: 0.1333, longest_s: 20}
lights:
  warm: {lamp: filament, colour: yellow}
  cold: {lamp: lagging, colour: blue}
pedals: {go: [{pin: 5}], end: [{pin: 6}]}
"""

PLAIN_PAPER = "paper: plain\n"

WET_PAPER = """\
paper: dries-down
threshold: {flash: 1.6}
dry_down: 8 %
"""

# The chimney stands in the sky; the wall is below.
HEAD = """\
print: Gasworks wall
paper: plain
bench: two-station
sheet: 8x10 in
{more}
areas: {{chimney: [[0.4, 0], [0.6, 0], [0.5, 0.2]], wall: [[0, 0.5], [1, 1], [0, 1]], sky: [[0, 0], [1, 0], [1, 0.4]]}}
steps:
"""
FIRST_LINE = 8
"""Where the first step stands in a print made of HEAD and a step a line."""


def print_of(*steps: str, more: str = "judged: dry") -> str:
    """A print's text: `more` is one line at its top, and each step is one line from FIRST_LINE on."""
    return HEAD.format(more=more) + "".join(f"  - {step}\n" for step in steps)


def plan_of(print_: str, bench: str = TWO_STATION, paper: str = PLAIN_PAPER) -> Plan:
    """The plan of three texts."""
    return make_plan(
        read(print_.encode(), "print.yaml", "print"),
        read(bench.encode(), "bench.yaml", "bench"),
        read(paper.encode(), "paper.yaml", "paper"),
    )


def faults_of(print_: str, bench: str = TWO_STATION, paper: str = PLAIN_PAPER) -> list[str]:
    """All that does not go together, a line each."""
    try:
        plan_of(print_, bench, paper)
    except ProfileError as error:
        return [str(fault) for fault in error.faults]
    return []


def read_or_none(print_: str, bench: str, paper: str) -> Plan | None:
    """The plan, or None where the files have faults."""
    try:
        return plan_of(print_, bench, paper)
    except ProfileError:
        return None
