"""What to have at hand for a plan, before the lights go out: a checklist, counted for one sheet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from timerd.sheet.plan.value import LIGHTS, PROMPTS, Plan, Step
from timerd.sheet.words import seconds_words, step_words


def checklist(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Each thing with its words, in the order of the hands; what the print does not need is left out."""
    steps = plan.steps
    lights = [step for step in steps if step.kind in LIGHTS]
    free = sum(step.dose is None for step in lights)
    not_counted = f", and {free} as long as the foot is down" if free else ""
    under = f"{seconds_words(plan.lamp_seconds)} in {_count(len(lights) - free, 'light')}{not_counted}"
    told = {
        "under the lamp": under,
        "negatives": ", then ".join(_negatives(plan)),
        "stations": ", then ".join(_in_order(step.station for step in steps)) if _moves(steps) else "",
        "lens": _lens(steps),
        "densities": _densities(steps),
        "filters": _filters(steps),
        "cards": "; ".join(_often(_cards(steps))),
        "prompts": _prompts(steps),
    }
    return tuple((what, words) for what, words in told.items() if words)


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _in_order(names: Iterable[str | None]) -> list[str]:
    return list(dict.fromkeys(name for name in names if name is not None))


def _moves(steps: Iterable[Step]) -> bool:
    return any(step.kind == "carry" for step in steps)


def _negatives(plan: Plan) -> list[str]:
    """Only where there is more than the print's own."""
    named = _put(plan.steps, "negative")
    return named if len(named) > 1 else []


def _put(steps: Iterable[Step], thing: str) -> list[str]:
    """What is put in one thing's place as the sheet goes on, each once."""
    return _in_order(dict(step.puts).get(thing) for step in steps)


def _lens(steps: Sequence[Step]) -> str:
    """The apertures, where there is more than one, each with what is given through it."""
    marks = _put(steps, "lens")
    used = {mark: [step.name for step in steps if step.aperture and f"{step.aperture:g}" == mark] for mark in marks}
    told = [f"f/{mark} for {' and '.join(names)}" if names else f"f/{mark}" for mark, names in used.items()]
    return ", ".join(told) if len(told) > 1 else ""


def _densities(steps: Sequence[Step]) -> str:
    used = Counter(f"{step.density:g}" for step in steps if step.density)
    return ", ".join(f"{density} ({_count(times, 'step')})" for density, times in used.items())


def _filters(steps: Sequence[Step]) -> str:
    """The filters put in by hand, and how often they change."""
    colours = {put["filter"]: put.get("colour") for put in (dict(step.puts) for step in steps) if "filter" in put}
    changes = sum(step.kind == "filter" for step in steps)
    often = f", changed {_count(changes, 'time')}" if changes else ""
    put = [name if colours[name] is None else f"{name} ({colours[name]})" for name in _put(steps, "filter")]
    return f"{', '.join(put)}{often}" if put else ""


def _cards(steps: Iterable[Step]) -> Iterable[str]:
    for step in steps:
        yield from (card for card in (step.card, *(cue.card for cue in step.dodges)) if card is not None)


def _often(cards: Iterable[str]) -> list[str]:
    return [card if times == 1 else f"{card} ({times} times)" for card, times in Counter(cards).items()]


def _prompts(steps: Iterable[Step]) -> str:
    asked = [step_words(step) for step in steps if step.kind in PROMPTS]
    return f"{len(asked)}: {', '.join(asked)}"
