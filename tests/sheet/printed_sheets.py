"""Records of a sheet that got what a test says, as the engine would have written them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from records import wrote

from timerd.sheet.plan.value import LIGHTS, PROMPTS, Plan
from timerd.sheet.progress import SheetProgress
from timerd.sheet.record import Progress, Record

Bursts = float | Sequence[float]


def records_of(
    plan: Plan, given: Mapping[int, Bursts] | None = None, sheet: int = 1, at: float = 0.0, wall: str | None = None,
    last: str = "done", least: Mapping[int, float] | None = None,
) -> list[Record]:  # fmt: skip
    """A sheet's records: each step got what the plan says, or else the bursts in `given` by its n (0: skipped).

    A step that got its dose (to 1e-7) ended by it, any other by the printer. `least` is the dose of a step that may
    have been given less; `last` the record that ends the sheet, after the last step that `given` names if not `done`.
    """
    given = dict(given or {})
    steps = [(s.n, s.kind, s.dose if s.kind in LIGHTS else 0.0, s.kind in LIGHTS) for s in plan.steps]
    facts: dict[str, object] = {"print": plan.print, "steps": steps} | ({"wall": wall} if wall else {})
    records = [wrote("armed", at, sheet, facts=facts)]
    stops_after = len(plan.steps) if last == "done" else max(given, default=0)
    burst = sheet * 1000
    for step in plan.steps[:stops_after]:
        at += 5.0
        if step.kind in PROMPTS:
            if step.kind == "wait":
                records.append(wrote("sheet out", at, sheet, step.n))
            records.append(wrote("passed", at, sheet, step.n))
            continue
        if step.kind not in LIGHTS:
            continue
        got = given.get(step.n, step.dose if step.dose is not None else 0.0)
        bursts = [got] if isinstance(got, float | int) else list(got)
        for dose in (dose for dose in bursts if dose > 0):
            burst += 1
            seconds = step.response.seconds(dose)
            why = "deadline" if step.n not in given else "pedal"
            told = {"lit": at, "dark": at + seconds, "why": why, "given": dose}
            if least and step.n in least:
                told["given_lo"] = least[step.n]
            records.append(wrote("dark", at + seconds, sheet, step.n, burst, told))
            at += seconds + 1.0
        by = "skipped" if not sum(bursts) else "dose" if _whole(sum(bursts), step.dose) else "printer"
        records.append(wrote("ended", at, sheet, step.n, facts={"by": by}))
    records.append(wrote(last, at, sheet, facts={"why": "a fault"} if last == "fault" else {}))
    return records


def _whole(given: float, dose: float | None) -> bool:
    return dose is not None and math.isclose(given, dose, rel_tol=1e-7)


def sheet_of(plan: Plan, given: Mapping[int, Bursts] | None = None, **more: object) -> SheetProgress:
    """Where that sheet stands."""
    records = records_of(plan, given, **more)  # type: ignore[arg-type]
    return Progress(records).sheets[records[0].sheet]
