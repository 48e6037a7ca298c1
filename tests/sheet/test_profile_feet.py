"""What is wrong within feet, papers and bath lines, and with files of no known kind."""

from __future__ import annotations

import pytest
from sheet.telling import told

FEET = {
    "when": (
        """\
feet:
  - {pedal: go}
  - {at: 1, when: idle, pedal: go}
  - {at: 1, after: 2, pedal: go}
""",
        [
            "p.yaml:2: feet[0]: needs 'at' (seconds from the start) or 'when' (a state)",
            "p.yaml:3: feet[1]: has 'at' and 'when': one of them says when",
            "p.yaml:4: feet[2].after: goes with 'when', not with 'at'",
        ],
    ),
    "what": (
        """\
feet:
  - {at: 1}
  - {at: 1, pedal: go, fault: pipe cut}
""",
        [
            "p.yaml:2: feet[0]: needs 'pedal', 'fault' or 'do'",
            "p.yaml:3: feet[1]: has 'pedal' and 'fault': make an entry of each",
        ],
    ),
    "keys of a pedal": (
        """\
feet:
  - {at: 1, fault: pipe cut, station: a, down: 1, bounce: 3, found_down: true}
""",
        [
            "p.yaml:2: feet[0].bounce: goes with 'pedal', not with 'fault'",
            "p.yaml:2: feet[0].down: goes with 'pedal', not with 'fault'",
            "p.yaml:2: feet[0].found_down: goes with 'pedal', not with 'fault'",
            "p.yaml:2: feet[0].station: goes with 'pedal', not with 'fault'",
        ],
    ),
    "keys of a fault": (
        """\
feet:
  - {at: 1, pedal: go, light: green, until: 5}
""",
        [
            "p.yaml:2: feet[0].light: goes with 'fault', not with 'pedal'",
            "p.yaml:2: feet[0].until: goes with 'fault', not with 'pedal'",
        ],
    ),
    "keys of other faults": (
        """\
feet:
  - {at: 1, fault: pipe cut, light: green, until: 5}
  - {at: 2, fault: daemon stopped, light: green, until: 5}
""",
        [
            "p.yaml:2: feet[0].light: does not go with fault: pipe cut",
            "p.yaml:2: feet[0].until: does not go with fault: pipe cut",
            "p.yaml:3: feet[1].light: does not go with fault: daemon stopped",
        ],
    ),
    "faults that end": (
        """\
feet:
  - {at: 1, fault: line stuck}
  - {at: 1, fault: line stuck, light: green}
  - {at: 1, fault: daemon stopped}
  - {at: 9, fault: daemon stopped, until: 3}
""",
        [
            "p.yaml:2: feet[0]: 'line stuck' needs 'light'",
            "p.yaml:2: feet[0]: 'line stuck' needs 'until'",
            "p.yaml:3: feet[1]: 'line stuck' needs 'until'",
            "p.yaml:4: feet[2]: 'daemon stopped' needs 'until'",
            "p.yaml:5: feet[3].until: must not be before at: 9, is 3",
        ],
    ),
    "found down": (
        """\
feet:
  - {at: 0, pedal: go, found_down: true}
  - {at: 1, pedal: go, found_down: true}
  - {when: idle, pedal: go, found_down: true}
""",
        [
            "p.yaml:3: feet[1].found_down: is for a pedal that is down at the start: write at: 0",
            "p.yaml:4: feet[2].found_down: is for a pedal that is down at the start: write at: 0",
        ],
    ),
    "backwards": (
        """\
feet:
  - {at: 5, pedal: go}
  - {when: ready, pedal: go}
  - {at: 4, pedal: go}
  - {at: 5, pedal: end}
  - {at: 4.5, pedal: end}
""",
        [
            "p.yaml:4: feet[2].at: is 4 s, before the 5 s on line 2: time runs on",
            "p.yaml:6: feet[4].at: is 4.5 s, before the 5 s on line 5: time runs on",
        ],
    ),
    "choices": (
        """\
feet:
  - {when: redy, pedal: stop}
  - {at: 0, fault: line stuk}
  - {at: -1, pedal: go, down: 0}
sheets: 0
""",
        [
            "p.yaml:2: feet[0].pedal: must be go, end or third, is 'stop'",
            (
                "p.yaml:2: feet[0].when: must be idle, prompt, ready, lead-in, exposing, paused, done, "
                "abandoned or fault, is 'redy': did you mean 'ready'?"
            ),
            (
                "p.yaml:3: feet[1].fault: must be line stuck, lamp dead, relay welded, pipe cut, keeper killed, "
                "daemon stopped or pedal unplugged, is 'line stuk': did you mean 'line stuck'?"
            ),
            "p.yaml:4: feet[2].at: must be at least 0, is -1",
            "p.yaml:4: feet[2].down: must be above 0, is 0",
            "p.yaml:5: sheets: must be at least 1, is 0",
        ],
    ),
    "a pedal unplugged": (
        """\
feet:
  - {at: 1, fault: pedal unplugged}
  - {at: 2, fault: pedal unplugged, pedal: end, down: 2, light: green}
  - {at: 3, fault: pedal unplugged, pedal: third, station: enlarger, until: 2}
  - {at: 4, fault: pedal unplugged, pedal: go}
  - {at: 5, fault: line stuck, pedal: go, light: green, until: 9}
""",
        [
            "p.yaml:2: feet[0]: 'pedal unplugged' needs 'pedal'",
            "p.yaml:3: feet[1].down: does not go with fault: pedal unplugged",
            "p.yaml:3: feet[1].light: does not go with fault: pedal unplugged",
            "p.yaml:4: feet[2].until: must not be before at: 3, is 2",
            "p.yaml:6: feet[4]: has 'pedal' and 'fault': make an entry of each",
        ],
    ),
    "unknown keys": (
        """\
feet:
  - {att: 1, pedal: go}
  - {at: 1, pedl: go}
""",
        [
            "p.yaml:2: feet[0]: unknown key 'att': did you mean 'at'?",
            "p.yaml:3: feet[1]: unknown key 'pedl': did you mean 'pedal'?",
        ],
    ),
}


OTHERS = {
    "paper": (
        """\
paper: Demo
surface: Glossy
base: fiber
threshold: {flash: 0, Green: 1}
speed_ratio: {blue: fast}
dry_down: 8
reciprocity: 2
batch: 4711
boks: a
""",
        [
            "p.yaml:1: paper: must be small letters, digits and single hyphens, as in 'low-tide-2', is 'Demo'",
            "p.yaml:2: surface: must be words in small letters, as in 'glossy', is 'Glossy'",
            "p.yaml:3: base: must be fibre or resin, is 'fiber': did you mean 'fibre'?",
            (
                "p.yaml:4: threshold: a key must be small letters, digits and single hyphens, as in "
                "'low-tide-2', is 'Green'"
            ),
            "p.yaml:4: threshold.flash: must be at least 0.001, is 0",
            "p.yaml:5: speed_ratio.blue: must be a number, is 'fast'",
            "p.yaml:6: dry_down: write a percentage up to 50 %, as in 8 %; found 8",
            "p.yaml:7: reciprocity: must be at most 1.5, is 2",
            "p.yaml:8: batch: must be text, is 4711: put it in quotes",
            "p.yaml:9: unknown key 'boks'",
        ],
    ),
    "paper, dry-down": (
        """\
paper: demo
dry_down: 60 %
""",
        [
            "p.yaml:2: dry_down: write a percentage up to 50 %, as in 8 %; found '60 %'",
        ],
    ),
    "bath": (
        """\
bath: line
baths:
  - {name: dev, kind: developper, seconds: 2 min}
  - {name: fix, kind: fixer}
""",
        [
            (
                "p.yaml:3: baths[0].kind: must be developer, stop bath, fixer, rinse, hypo clear, wash "
                "or toner, is 'developper': did you mean 'developer'?"
            ),
            "p.yaml:3: baths[0].seconds: must be a number, is '2 min': write 120, in seconds",
            "p.yaml:4: baths[1]: 'seconds' is missing",
        ],
    ),
    "bath, none": (
        """\
bath: line
baths: []
""",
        [
            "p.yaml:2: baths: must have 1 or more, has 0",
        ],
    ),
    "nearly a kind": (
        "bensch: x\n",
        [
            "p.yaml:1: unknown key 'bensch': did you mean 'bench'?",
        ],
    ),
    "no kind": (
        "colour: x\n",
        [
            ("p.yaml:1: cannot tell what this file is: one of the keys print, bench, paper, bath, feet must be in it"),
        ],
    ),
    "print without its key": (
        """\
paper: a
bench: b
sheet: 8x10 in
steps:
  - {base: a, light: b, seconds: 3}
""",
        [
            "p.yaml:1: 'print' is missing",
        ],
    ),
}


@pytest.mark.parametrize(("text", "faults"), FEET.values(), ids=FEET)
def test_feet(text: str, faults: list[str]) -> None:
    assert told(text) == faults
    assert all(fault.isprintable() for fault in faults)


@pytest.mark.parametrize(("text", "faults"), OTHERS.values(), ids=OTHERS)
def test_others(text: str, faults: list[str]) -> None:
    assert told(text) == faults
    assert all(fault.isprintable() for fault in faults)
