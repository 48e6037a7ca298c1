"""Paper from a box that was not open before: what is asked for, and what should be tried again with it."""

from __future__ import annotations

from timerd.sheet.plan.prompts import PAPER_OUT
from timerd.sheet.plan.value import Plan


def opened(plan: Plan, last: Plan | None) -> str | None:
    """What a plan's paper is from, where that differs from what the last sheet on this paper was from; else None.

    Only what both plans tell is compared: of a paper whose file said nothing until now nothing is known.
    """
    if last is None:
        return None
    for what, now, before in (("box", plan.box, last.box), ("batch", plan.batch, last.batch)):
        if now is not None and before is not None and now != before:
            return f"the new {what}: {now}"
    return None


def from_box(plan: Plan, new: str | None) -> Plan:
    """The plan with a start prompt that asks for the paper from there; None: from the box that is open."""
    if new == plan.new_box:
        return plan
    before, asked = _asked(plan.new_box), _asked(new)
    steps = tuple(
        step.model_copy(update={"asks": tuple(asked if ask == before else ask for ask in step.asks)})
        if step.kind == "wait" else step
        for step in plan.steps
    )  # fmt: skip
    return plan.model_copy(update={"steps": steps, "new_box": new})


def _asked(new: str | None) -> str:
    return PAPER_OUT if new is None else f"{PAPER_OUT}, from {new}"


def box_words(plan: Plan) -> str:
    """The paper with its box and batch, as a sheet's account tells them."""
    told = [plan.paper]
    told += [f"box {plan.box}"] if plan.box is not None else []
    told += [f"batch {plan.batch}"] if plan.batch is not None else []
    return ", ".join(told) + (" (new)" if plan.new_box is not None else "")
