"""What is wrong within feet, papers and bath lines, and with files of no known kind."""

from __future__ import annotations

import pytest
from golden import Golden
from sheet.telling import told

FEET = {
    "when": """\
feet:
  - {pedal: go}
  - {at: 1, when: idle, pedal: go}
  - {at: 1, after: 2, pedal: go}
""",
    "what": """\
feet:
  - {at: 1}
  - {at: 1, pedal: go, fault: pipe cut}
""",
    "keys of a pedal": """\
feet:
  - {at: 1, fault: pipe cut, station: a, down: 1, bounce: 3, found_down: true}
""",
    "keys of a fault": """\
feet:
  - {at: 1, pedal: go, light: green, until: 5}
""",
    "keys of other faults": """\
feet:
  - {at: 1, fault: pipe cut, light: green, until: 5}
  - {at: 2, fault: daemon stopped, light: green, until: 5}
""",
    "faults that end": """\
feet:
  - {at: 1, fault: line stuck}
  - {at: 1, fault: line stuck, light: green}
  - {at: 1, fault: daemon stopped}
  - {at: 9, fault: daemon stopped, until: 3}
""",
    "found down": """\
feet:
  - {at: 0, pedal: go, found_down: true}
  - {at: 1, pedal: go, found_down: true}
  - {when: idle, pedal: go, found_down: true}
""",
    "backwards": """\
feet:
  - {at: 5, pedal: go}
  - {when: ready, pedal: go}
  - {at: 4, pedal: go}
  - {at: 5, pedal: end}
  - {at: 4.5, pedal: end}
""",
    "choices": """\
feet:
  - {when: redy, pedal: stop}
  - {at: 0, fault: line stuk}
  - {at: -1, pedal: go, down: 0}
sheets: 0
""",
    "a pedal unplugged": """\
feet:
  - {at: 1, fault: pedal unplugged}
  - {at: 2, fault: pedal unplugged, pedal: end, down: 2, light: green}
  - {at: 3, fault: pedal unplugged, pedal: third, station: enlarger, until: 2}
  - {at: 4, fault: pedal unplugged, pedal: go}
  - {at: 5, fault: line stuck, pedal: go, light: green, until: 9}
""",
    "unknown keys": """\
feet:
  - {att: 1, pedal: go}
  - {at: 1, pedl: go}
""",
}


OTHERS = {
    "paper": """\
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
    "paper, dry-down": """\
paper: demo
dry_down: 60 %
""",
    "bath": """\
bath: line
baths:
  - {name: dev, kind: developper, seconds: 2 min}
  - {name: fix, kind: fixer}
""",
    "bath, none": """\
bath: line
baths: []
""",
    "nearly a kind": "bensch: x\n",
    "no kind": "colour: x\n",
    "print without its key": """\
paper: a
bench: b
sheet: 8x10 in
steps:
  - {base: a, light: b, seconds: 3}
""",
}


@pytest.mark.parametrize("text", FEET.values(), ids=FEET)
def test_feet(golden: Golden, text: str) -> None:
    faults = told(text)
    golden(faults)
    assert faults and all(fault.isprintable() for fault in faults)


@pytest.mark.parametrize("text", OTHERS.values(), ids=OTHERS)
def test_others(golden: Golden, text: str) -> None:
    faults = told(text)
    golden(faults)
    assert faults and all(fault.isprintable() for fault in faults)
