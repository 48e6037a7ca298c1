"""The command that speaks: how the bench stands, said once in the panel's own words and voice."""

from __future__ import annotations

import argparse
import json
import sys

from timerd.cli.parsing import Add
from timerd.cli.standing import stands
from timerd.control import ask
from timerd.panel.sound import say_once
from timerd.panel.words_to_say import present_words
from timerd.places import cache_folder, run_folder
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.safe import safe
from timerd.wire.control import AskBench, AskPlan, AskStatus, BenchTold, PlanTold


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    add("say", _say)


def _say(args: argparse.Namespace) -> int:
    where = run_folder(args.home)
    status = stands(args, AskStatus())
    told, served = ask(where, AskPlan()), ask(where, AskBench())
    plan = told.plan if isinstance(told, PlanTold) else None
    bench = Bench.model_validate(served.bench if isinstance(served, BenchTold) else {})
    words = present_words(status, None if plan is None else Plan.model_validate_json(json.dumps(plan)))
    print(safe(words))
    sys.stdout.flush()
    if (trouble := say_once(words, bench.sound, cache_folder())) is not None:
        print(safe(trouble), file=sys.stderr)
    return 0
