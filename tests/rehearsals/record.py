"""Write what a rehearsal gives: `python tests/rehearsals/record.py [NAME ...]`. Read all of it before it is kept.

The edges at the head of each feet file are worked out by hand and are not written here: the tests hold both together.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from timerd.bench.rehearsal import Rehearsed, rehearse
from timerd.places import find, home, read_bytes
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.feetfile import Feet
from timerd.sheet.profile.reading import Profile, read

HERE = Path(__file__).parent
NAMES = sorted(path.name.removesuffix(".feet.yaml") for path in HERE.glob("*.feet.yaml"))


def play(name: str) -> Rehearsed:
    """Play one rehearsal; its print is named by the first part of its name."""
    plan, bench, feet = planned(name)
    return rehearse(plan, bench.value, feet)


def planned(name: str) -> tuple[Plan, Profile[Bench], Profile[Feet]]:
    """What is played: the plan, the bench, the feet. Only a bath line that lies here is gone through."""
    print_path = HERE / "prints" / f"{name.split('.')[0]}.yaml"
    print_ = read(read_bytes(print_path), print_path.name, "print")
    parts = {}
    for kind in ("bench", "paper"):
        path = find(kind, getattr(print_.value, kind), print_path.parent, home(str(HERE)))
        parts[kind] = read(read_bytes(path), path.name, kind)
    feet_path = HERE / f"{name}.feet.yaml"
    feet = read(read_bytes(feet_path), feet_path.name, "feet")
    line = HERE / "baths" / f"{getattr(print_.value.steps[-1], 'develop', '')}.yaml"
    baths = read(read_bytes(line), line.name, "bath") if line.exists() else None
    return make_plan(print_, parts["bench"], parts["paper"], feet.value.by_step, baths), parts["bench"], feet


def as_text(facts: dict[str, Any]) -> str:
    """The whole result as JSON with a line for each edge, step and record, so that a person can read it."""
    lines = ["{", '"edges": [']
    lines.append(",\n".join(json.dumps(edge) for edge in facts["edges"]))
    lines += ["],", '"sheets": [']
    sheets = []
    for sheet in facts["sheets"]:
        steps = ",\n".join(json.dumps(step) for step in sheet["steps"])
        head = json.dumps({key: value for key, value in sheet.items() if key != "steps"})[:-1]
        sheets.append(f'{head}, "steps": [\n{steps}\n]}}')
    lines += [",\n".join(sheets), "],", '"said": [']
    lines.append(",\n".join(json.dumps(said) for said in facts["said"]))
    lines += ["],", '"records": [']
    lines.append(",\n".join(json.dumps(record) for record in facts["records"]))
    if "cues" in facts:
        lines += ["],", '"cues": [', ",\n".join(json.dumps(cue) for cue in facts["cues"])]
    return "\n".join([*lines, "]", "}"]) + "\n"


if __name__ == "__main__":
    for name in sys.argv[1:] or NAMES:
        (HERE / f"{name}.expected.json").write_text(as_text(play(name).as_json()))
