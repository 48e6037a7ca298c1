"""A plan as others read it: the facts for programs, the table for a printer with a torch."""

from __future__ import annotations

import math
import textwrap
from typing import Any

from timerd.sheet.plan.evening import checklist
from timerd.sheet.plan.summing import burst_seconds
from timerd.sheet.plan.value import LIGHTS, Cue, Plan, Step, Total
from timerd.sheet.words import cue_words, part_words, signed_stops, step_words

WIDTH = 80
_STEP = 56  # how wide a step's words may be beside its seconds


def plan_facts(plan: Plan) -> dict[str, Any]:
    """What `plan --json` prints. Doses and seconds are after dry-down; keys that do not apply are null."""
    return {
        "print": plan.print,
        "negative": plan.negative,
        "paper": plan.paper,
        "bench": plan.bench,
        "steps": [_step_facts(step) for step in plan.steps],
        "cautions": list(plan.cautions),
        "totals": [_total_facts(total) for total in plan.totals],
        "lamp_seconds": plan.lamp_seconds,
        "reciprocity": plan.reciprocity,
    }


def _step_facts(step: Step) -> dict[str, Any]:
    light = step.kind in LIGHTS
    return {
        "n": step.n, "kind": step.kind, "name": step.name, "light": step.light, "station": step.station,
        "dose": step.dose, "seconds": step.seconds, "stops": step.stops, "pedal": step.pedal,
        "lead_in": step.lead_in, "dry_down": step.dry_down,
        "dodges": [_cue_facts(cue) for cue in step.dodges] if light else None,
        "area": step.area, "mm": step.mm, "parts": list(step.parts) if light else None,
        "threshold": step.threshold, "then_next": step.then_next if light else None,
        "aperture": step.aperture, "density": step.density, "scale": step.scale if light else None,
        "asks": list(step.asks) if not light else None, "card": step.card, "note": step.note,
    }  # fmt: skip


def _total_facts(total: Total) -> dict[str, Any]:
    """A total; its negative is told where there are several."""
    facts = total.model_dump(exclude={"rest", "negative"})
    return facts if total.negative is None else facts | {"negative": total.negative}


def _cue_facts(cue: Cue) -> dict[str, Any]:
    return {
        "area": cue.area, "start": cue.start, "stop": cue.stop, "seconds": cue.seconds, "stops": cue.stops,
        "mm": cue.mm, "apart": cue.apart, "leave": cue.leave, "card": cue.card, "note": cue.note,
    }  # fmt: skip


def plan_table(plan: Plan) -> str:
    """The plan to read, 80 columns wide: a step a line with its seconds, and under it what the hands do."""
    negative = f"negative {plan.negative}, " if plan.negative is not None else ""
    lines = _wrapped(plan.print, 0) + _wrapped(f"{negative}paper {plan.paper}, bench {plan.bench}", 0)
    if plan.reciprocity != 1:
        lines.append(f"reciprocity {plan.reciprocity:g} of the paper counted in burns and dodges")
    lines += ["", f"     {'step':<{_STEP}}  {'seconds':>8}  pedal"]
    for step in plan.steps:
        lines += _step_lines(step, plan.reciprocity)
    if plan.totals:
        lines += ["", "in all, in stops over the base of the same light:"]
        before: str | None = None
        for total in plan.totals:
            if total.negative not in (None, before):
                lines.append(f"  {total.negative}:")
            before = total.negative
            stops = "nothing" if total.stops is None else signed_stops(total.stops)
            lines += _wrapped(_total_words(total), 2, stops.rjust(8))
    if len(plan.cautions) > 1:
        lines += ["", "mind:"]
    for caution in plan.cautions[:-1]:  # the time under the lamp is in the checklist
        lines += _wrapped(caution, 1, "  -")
    lines += ["", "to have at hand, for each sheet:"]
    for what, words in checklist(plan):
        lines += _wrapped(words, 2, f"  {what:<14}")
    return "\n".join(lines)


def _step_lines(step: Step, reciprocity: float) -> list[str]:
    if step.kind not in LIGHTS:
        words, details = step_words(step), []
        if step.kind == "wait":
            words, details = f"{words}, station {step.station}", [*step.asks]
        elif step.kind in ("filter", "aperture", "density", "box", "negative"):
            words = ", ".join(step.asks)
        lines = _wrapped(words, 2, f"{step.n:>3}")
    else:
        lines = textwrap.wrap(step_words(step), _STEP)
        seconds = "-" if step.seconds is None else f"{step.seconds:.1f}"
        lines[0] = f"{step.n:>3}  {lines[0]:<{_STEP}}  {seconds:>8}  {step.pedal}"
        lines[1:] = [f"     {line}" for line in lines[1:]]
        details = _light_details(step, reciprocity)
    details += [text for text in (step.card, step.note) if text is not None]
    return lines + [line for text in details for line in _wrapped(text, 7)] + _cues_lines(step, reciprocity)


def _light_details(step: Step, reciprocity: float) -> list[str]:
    said = []
    if step.threshold is not None:
        said.append(f"{step.threshold * 100:.0f} % of the threshold")
    if step.scale != 1 and step.dose is not None:
        said.append(f"{_through(step)}: {step.dose / step.scale:.1f} s become {step.dose:.1f} s")
    if step.dry_down is not None and step.dose is not None:
        judged = step.dose / (1 - step.dry_down)
        said.append(f"dry-down {step.dry_down * 100:g} %: {judged - step.dose:.1f} s taken off {judged:.1f} s")
    if step.dose is not None and step.kind == "burn" and step.stops_written is not None:
        said += _stretched(step.dose, _over(step, reciprocity) * (math.exp2(step.stops or 0.0) - 1.0), reciprocity)
    if step.dose is not None and step.seconds is not None and f"{step.dose:.1f}" != f"{step.seconds:.1f}":
        said.append(f"gives {step.dose:.1f} s of full light")
    if len(step.parts) > 1:
        bursts = " + ".join(f"{seconds:.1f}" for seconds in burst_seconds(step))
        said.append(f"in {len(step.parts)} bursts, each with its own press: {bursts} s")
    if step.lead_in is not None and not math.isclose(step.lead_in, 3.0 if step.pedal == "press" else 0.2):
        said.append(f"lead-in {step.lead_in:g} s")
    if step.lead_in_again:
        said.append("the lead-in comes again after each lift")
    if step.then_next:
        said.append("then the next step by itself")
    return said


def _through(step: Step) -> str:
    """The lens and the density of a step of its own."""
    lens = f"at f/{step.aperture:g}" if step.aperture is not None else ""
    density = f"with density {step.density:g}" if step.density is not None else ""
    return " ".join(filter(None, (lens, density)))


def _over(step: Step, reciprocity: float) -> float:
    """The base's dose that a burn in stops was counted over."""
    return (step.dose or 0.0) / (math.exp2((step.stops or 0.0) / reciprocity) - 1.0)


def _stretched(dose: float, plain: float, reciprocity: float) -> list[str]:
    """What the paper's reciprocity did to a dose counted in stops, as a line of its own."""
    if reciprocity == 1:
        return []
    more = "added to" if dose >= plain else "taken off"
    return [f"reciprocity {reciprocity:g}: {abs(dose - plain):.1f} s {more} {plain:.1f} s"]


def _plain_cue(step: Step, cue: Cue, reciprocity: float) -> float | None:
    """What a cue would hold back without reciprocity; None where its burn was not counted in stops, or it holds all."""
    if cue.stops is None:
        return None
    if not cue.leave:
        return (step.dose or 0.0) * (1.0 - math.exp2(-cue.stops))
    if step.stops_written is None:
        return None
    return _over(step, reciprocity) * (math.exp2(step.stops or 0.0) - math.exp2(cue.stops))


def _cues_lines(step: Step, reciprocity: float) -> list[str]:
    lines = []
    for cue in step.dodges:
        words = cue_words(cue)
        when = f"in {cue.start:.1f}, out {cue.stop:.1f} ({cue.seconds:.1f} s)"
        lines += _wrapped(f"{words}: {'apart, ' if cue.apart else ''}{when}", 2, "       ")
        plain = _plain_cue(step, cue, reciprocity)
        said = _stretched(cue.seconds, plain, reciprocity) if plain is not None else []
        said += [text for text in (cue.card, cue.note) if text is not None]
        lines += [line for text in said for line in _wrapped(text, 11)]
    return lines


def _total_words(total: Total) -> str:
    added = f" + {total.added:.1f}" if total.added else ""
    held = f" - {total.held_back:.1f}" if total.held_back else ""
    words = f"{total.area}, {total.light}: {total.base:.1f}{added}{held} s{part_words(total.reach)}"
    if total.rest is not None:
        least, most = (signed_stops(stops) for stops in total.rest)
        words += f", else {least}" + (f" to {most}" if least != most else "")
    return words


def _wrapped(text: str, gap: int, first: str = "") -> list[str]:
    """The text in lines no longer than the table is wide, each indented; the first begins with `first`."""
    indent = " " * (len(first) + gap)
    return textwrap.wrap(text, WIDTH, initial_indent=(first + " " * gap) if first else indent, subsequent_indent=indent)
