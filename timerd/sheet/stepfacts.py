"""A step's progress as values that others read: in rehearsals, in exports and in `sheet --json`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from timerd.sheet.record import StepProgress


def step_facts(step: StepProgress) -> dict[str, Any]:
    """What was planned and given, in seconds of full light, its bursts in monotonic seconds, and who ended it."""
    facts: dict[str, Any] = {
        "n": step.n,
        "kind": step.kind,
        "planned": None if step.planned is None else round(step.planned, 9),
        "given": round(step.most, 9),
    }
    if not step.exact:
        facts |= {"given_lo": round(step.given_lo, 9), "given_hi": round(step.most, 9)}
    bursts = [[round(on, 6), round(off, 6)] for on, off in step.bursts]
    return facts | {"bursts": bursts, "ended_by": step.ended_by}
