"""Random strips rehearsed, each patch's light held against its promise; random prints enlarged there and back.

python tests/measure/strips.py [--short]
"""

from __future__ import annotations

import math
import random
import sys
import time
from fractions import Fraction
from pathlib import Path
from typing import get_args

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.test_doses import LAMPS
from desk.test_strip import given, light, middle, played, setting

from timerd.desk.enlarge import Asked, enlarged
from timerd.desk.keeping import edited
from timerd.desk.strip import Exposure, Steps, base_strip, threshold_strip
from timerd.desk.stripcards import End
from timerd.places import shipped
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.reading import read

STEPS = [Fraction(text) for text in ("1/12", "1/6", "1/4", "1/3", "1/2", "2/3", "1")]


def strip_error(random_: random.Random) -> float | None:
    """The largest error of a random strip's patches, in stops; None where no strip can be made of what came up."""
    lamp, end = random_.choice(list(LAMPS)), random_.choice(get_args(End))
    on = setting(lamp, end=end, by=random_.choice(["patch", "uncover"]))
    count, first, flash = random_.randint(2, 12), math.exp(random_.uniform(-0.7, 3.5)), random_.random() < 0.3
    asked = Steps("flash" if flash else "green", round(first, 2), random_.choice(STEPS), count, "soft")
    try:
        over = [] if random_.random() < 0.5 else [Exposure("hard", "blue", 5.0)]
        made = threshold_strip(on, asked) if flash else base_strip(on, [asked], over, None)
    except (ValueError, ProfileError):
        return None
    done = played(made, on, pause=random_.random() < 0.5)
    worst = 0.0
    for k, patch in enumerate(made.facts["ladders"][0]["patches"], 1):
        got = given(*done, lamp, middle(k, count, end, white=int(flash)))[asked.light]
        worst = max(worst, abs(math.log2(got / light(patch["seconds"], lamp))))
    return worst


def doses(plan: Plan) -> list[float]:
    cues = [value for step in plan.steps for cue in step.dodges for value in (cue.start, cue.stop)]
    return [step.dose for step in plan.steps if step.dose is not None] + cues


def back_error(random_: random.Random) -> float | None:
    """The largest relative error of a shipped print's doses, enlarged there and back; None where it cannot be done."""
    path = random_.choice(sorted((shipped() / "prints").glob("*.yaml")))
    first = read(path.read_bytes(), path.name, "print")
    kinds = {"bench": "benches", "paper": "papers"}
    bench, paper = (
        read((shipped() / kinds[kind] / f"{getattr(first.value, kind)}.yaml").read_bytes(), kind) for kind in kinds
    )
    old, new = random_.uniform(1, 10), random_.uniform(1, 10)
    text, print_ = path.read_text(), first
    for a, b in ((old, new), (new, old)):
        made = enlarged(print_.value, "origin", bench.value, paper.value, Asked(magnification=(a, b)))
        text = edited(text, made.changes)
        try:
            print_ = read(text.encode(), path.name, "print")
            plan = make_plan(print_, bench, paper)
        except ProfileError:
            return None  # too long for a lamp, too short for the hands, or a sheet beyond 3 m
    pairs = zip(doses(make_plan(first, bench, paper)), doses(plan), strict=True)
    return max(abs(b - a) / a if a else abs(b) for a, b in pairs)


def main() -> None:
    wanted = 60 if "--short" in sys.argv else 2000
    for what, unit, measure, most in (
        ("strips", "stop, from the lines' edges", strip_error, 1 / 2000),
        ("prints there and back", "of a dose", back_error, 1e-9),
    ):
        random_, start = random.Random(6), time.perf_counter()
        found = [measure(random_) for _ in range(wanted)]
        errors = [error for error in found if error is not None]
        seconds = time.perf_counter() - start
        print(f"{len(errors)} {what} of {wanted} tried: at most {max(errors):.1e} {unit} ({seconds:.1f} s)")
        assert len(errors) > wanted / 3 and max(errors) < most, what


if __name__ == "__main__":
    main()
