"""The demo: two sheets of a print on the simulated bench, or by the newcomer's own feet."""

from __future__ import annotations

import argparse
from pathlib import Path

from timerd.bench.rehearsal import Rehearsed, rehearse
from timerd.cli.files import Worked, read_profile, worked
from timerd.cli.parsing import Add
from timerd.cli.report import proved, put
from timerd.desk.keeping import placed
from timerd.desk.report.subject import Subject
from timerd.sheet.account import sheet_table, timeline
from timerd.sheet.history import Dated, history
from timerd.sheet.safe import safe


def commands(add: Add) -> None:
    """Tell the parser of this module's command."""
    demo = add("demo", _demo)
    demo.add_argument("--out", metavar="DIR", default="timerd-demo", help="where the picture goes (%(default)s)")
    demo.add_argument("--panel", action="store_true", help="in a window instead, in real time, with your own presses")


def _demo(args: argparse.Namespace) -> int:
    if args.panel:
        from timerd.cli.trial import trial

        return trial(args, "breakwater", 2, None)

    made = worked("breakwater", args)
    plan = made.plan
    feet = read_profile("feet", "breakwater", args)
    rehearsed = rehearse(plan, made.bench.value, feet)
    minutes, seconds = divmod(rehearsed.seconds, 60)
    print(f"{plan.print}: {feet.value.sheets} sheets of {len(plan.steps)} steps on the simulated bench '{plan.bench}',")
    print(f"{minutes:.0f} min {seconds:.0f} s of darkroom in virtual time. No lamp is switched.")
    print()
    print(timeline(plan, rehearsed.records))
    for sheet in rehearsed.progress.sheets.values():
        print()
        print(sheet_table(plan, sheet))
    print()
    _demo_saved(rehearsed, made, args)
    return 0


def _demo_saved(rehearsed: Rehearsed, made: Worked, args: argparse.Namespace) -> None:
    """Save and name what the demo's sheets are told by: the timeline, and the proof and the report of the last one."""
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    last = max(rehearsed.progress.sheets)
    plan = made.plan
    dated = [Dated(record, None) for record in rehearsed.records if record.sheet == last]
    paper, bench = made.paper.value, made.bench.value
    subject = proved(Subject(plan, history(plan, dated), dated, paper=paper, bench=bench))
    named = []
    try:
        from timerd.desk.timeline import draw
    except ImportError as error:
        print(f"No pictures: {error.name} is not installed. To get them: pip install 'timerd[desk]'")
    else:
        draw(plan, rehearsed.edges, rehearsed.records, out / "timeline.png")
        named.append(("The timeline as a picture", out / "timeline.png"))
    if subject.proof is not None:
        with placed(out / "proof.png", force=True) as file:
            subject.proof.write(file)
        named.append((f"The proof of sheet {last}, straight print and worked print", out / "proof.png"))
    named.append((f"The report of sheet {last}, for any browser", put(subject, out, f"sheet-{last}", force=True)))
    for what, path in named:
        print(f"{what}: {safe(str(path))}")
