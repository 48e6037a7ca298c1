"""Whoever prints: follows how the bench stands, and presses as the plan's steps want it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from served import LIMIT_S, Served, Status, not_too_soon, stand_still
from served.asking import ask
from timerd.bench.pretended import PretendedFoot


class Feet(Protocol):
    """A pedal pressed for so long, from now; returns when the foot is up again."""

    def __call__(self, pedal: str, seconds: float) -> None: ...


def print_sheets(served: Served, press: Feet, sheets: int, longest_s: float = LIMIT_S) -> list[Status]:
    """Print all sheets that are loaded, from idle to the last one in the fixer, or at the trays where the print
    names its baths; every state on the way.

    At a held step the foot stays down for as long as the step is owed; each press waits until it is not too soon.
    """
    states: list[Status] = []

    def until(wanted: Callable[[Status], bool]) -> Status:
        states.append(served.until(wanted, longest_s))
        return states[-1]

    for _ in range(sheets):
        press("go", 1.1)
        status = until(lambda s: s["state"] == "prompt")
        plan = ask(served.run, {"do": "plan"}, LIMIT_S)["plan"]
        while status["state"] != "done":
            step = plan["steps"][status["step"] - 1]
            not_too_soon(status)
            number = status["since"]["number"]
            press("go", 0.1 if status["state"] == "prompt" or step["pedal"] == "press" else _held(status, step))
            status = until(
                lambda s, number=number: (
                    s["state"] in ("prompt", "ready", "paused", "done")
                    and s["since"]["number"] > number
                    and s["burst"] is None
                )
            )
        not_too_soon(status)
        number = status["sheet"]
        press("go", 0.1)
        status = until(lambda s, number=number: all(told["sheet"] != number for told in s["goes_to"]))
    return states


def _held(status: Status, step: dict[str, Any]) -> float:
    """How long a foot stays down for what is owed: the lead-in, the light, and a moment."""
    return float(step["lead_in"]) + float(status["owed"]) + 0.15


def by_foot(served: Served) -> Feet:
    """A foot in this process."""

    def press(pedal: str, seconds: float) -> None:
        foot = PretendedFoot(served.run)
        foot.put(pedal, True)
        stand_still(seconds)
        foot.put(pedal, False)
        foot.close()

    return press


def by_command(served: Served) -> Feet:
    """`timerd press`, as a script would."""

    def press(pedal: str, seconds: float) -> None:
        done = served.timerd("press", pedal, "--for", f"{seconds:.3f}")
        assert done.returncode == 0, done.stderr

    return press
