"""What a sheet was given becomes a print's file: a new one from the book alone, or the print's own with that put in.

Dry-down is never applied twice. A new file is judged dry, since what was taken off is off already; in the print's own
`judged` stays as it is, and seconds are told as they were judged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from timerd.desk.keeping import GONE, edited, with_items, without, written
from timerd.desk.stepswritten import StepWritten, between_rounds, steps_written
from timerd.sheet.given import as_given
from timerd.sheet.plan.value import ASIDE, LIGHTS, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import Place, printable
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import LightStep, Print, kinds_of, lights_of
from timerd.sheet.progress import SheetProgress

_AMOUNTS = ("seconds", "stops", "percent", "threshold", "over")
_CARDS = ("dodge", "leave")
_OF_THE_FILE = ("carry", "safelight", "flash", "base", "burn", "develop", "box", "negative")


@dataclass(frozen=True)
class Adopted:
    """The text of the new print, and what is told of each of its steps that give light."""

    text: str
    steps: tuple[StepWritten, ...]


def adopted(plan: Plan, sheet: SheetProgress, bench: Bench, wet: bool = False) -> Adopted:
    """A new print from what the book has of a sheet. ValueError, in one line, where it cannot be made one.

    What a plan does not hold (the lens, magnification, the height of the head) is not in it. With `wet` it is judged
    wet, so that dry-down is taken off from now on: refused where it was taken off of this sheet already.
    """
    steps = list(enumerate(steps_written(plan, sheet, bench)))
    if plan.sheet is None:
        raise ValueError(f"the plan of sheet {sheet.sheet} does not say how large the sheet is: it has no print")
    dried = next((step for step in plan.steps if step.dry_down is not None), None)
    if wet and dried is not None:
        raise ValueError(
            f"sheet {sheet.sheet} had {(dried.dry_down or 0) * 100:g} % taken off for dry-down already: judged wet, it "
            "would be taken off twice"
        )
    head: dict[str, Any] = {"print": plan.print, "origin": f"sheet {sheet.sheet}"}
    if plan.negative is not None:
        head["negative"] = plan.negative
    head |= {"paper": plan.paper, "bench": plan.bench, "sheet": [plan.sheet.width, plan.sheet.height]}
    if plan.sheet.image_given:
        head["image_mm"] = dict(zip(("left", "top", "width", "height"), plan.sheet.image, strict=True))
    if (aperture := _aperture(plan)) is not None:
        head["aperture"] = aperture
    head["judged"] = "wet" if wet else "dry"
    if (hands := _hands(as_given(plan, sheet))) > 2:
        head["hands"] = hands
    areas = {area.name: [list(corner) for corner in area.corners] for area in plan.sheet.areas}
    head |= {"areas": areas} if areas else {}
    notes: dict[Place, str] = {_place_of_note(i, step): printable(step.note) for i, step in steps if step.note}
    if not wet and dried is not None:
        notes[("judged",)] = "what was taken off for dry-down is off already"
    title = printable(f"Adopted from sheet {sheet.sheet}: what it was given.")
    text = written(head | {"steps": [dict(step.keys) for _, step in steps]}, notes, title)
    return Adopted(text, tuple(step for _, step in steps))


def adopted_into(
    print_: Print, text: str, plan: Plan, sheet: SheetProgress, bench: Bench, paper: Paper
) -> Adopted:  # fmt: skip
    """The print's own file with what a sheet of it was given; comments and order stay, and what was run by plan.

    ValueError where the file's steps are not those of the sheet, or where it cannot be changed so.
    """
    written_ = steps_written(plan, sheet, bench)
    of_file = _places(print_, plan, sheet.sheet)
    apart = _mixes_apart(print_, written_, of_file)
    steps = [
        _as_judged(replace(step, as_planned=step.as_planned and of_file[step.gave.planned.n] not in apart),
                   print_, paper, bench)
        for step in written_
    ]  # fmt: skip
    changes: dict[Place, object] = {("origin",): f"sheet {sheet.sheet}"}
    notes = []
    kept: dict[int, list[StepWritten]] = {}
    for step in steps:
        i = of_file[step.gave.planned.n]
        kept.setdefault(i, []).append(step)
        if len(kept[i]) == 1 or i not in apart:
            changes |= _changes(print_.steps[i], ("steps", i), step)
        if step.note and not step.as_planned:
            notes.append(printable(f"# {step.words}: {step.note}"))
    changes |= {("steps", i, "light"): kept[i][0].gave.step.light for i in apart}
    changed = edited(text, changes)
    for i in reversed(range(len(print_.steps))):  # from the end, so that the places before stay
        if i not in kept:
            changed = without(changed, ("steps", i))
        elif i in apart and len(kept[i]) > 1:
            changed = with_items(changed, ("steps", i), [step.keys for step in kept[i][1:]])
    if notes:
        changed = "\n".join((changed.rstrip("\n"), f"# Adopted from sheet {sheet.sheet}:", *notes, ""))
    return Adopted(changed, tuple(steps))


def _aperture(plan: Plan) -> float | None:
    """The print's own, as the start prompt asks for it; the plan has it nowhere else."""
    mark = dict(plan.steps[0].puts).get("lens")
    return None if mark is None else float(mark)


def _place_of_note(i: int, step: StepWritten) -> Place:
    """Behind the step's line or, where it has several, behind its amount."""
    if not any(key in step.keys for key in _CARDS):
        return ("steps", i)
    return ("steps", i, next(key for key in _AMOUNTS if key in step.keys))


def _hands(plan: Plan) -> int:
    """The most cards that are in at once; those that only just miss each other count."""
    most = 0
    for step in plan.steps:
        for cue in step.dodges:
            most = max(most, sum(other.start <= cue.start < other.stop + 0.05 for other in step.dodges))
    return most


# -- into the print's own file -----------------------------------------------------------------------------------


def _places(print_: Print, plan: Plan, sheet: int) -> Mapping[int, int]:
    """Which step of the file each step of the plan was made of, by its number; ValueError where they do not fit."""
    of_plan = [step for step in plan.steps if step.kind in _OF_THE_FILE and not between_rounds(step)]
    in_file = [
        (i, step, light) for i, step in enumerate(print_.steps)
        for light in (lights_of(step) if isinstance(step, LightStep) else (None,))
    ]  # fmt: skip
    if len(of_plan) != len(in_file) or not all(
        _alike(planned, step, light) for planned, (_, step, light) in zip(of_plan, in_file, strict=True)
    ):
        raise ValueError(
            f"its steps are not those that sheet {sheet} was made with: it was changed since, or is another print; "
            "without --from the new print is made from the book"
        )
    return {planned.n: i for planned, (i, _, _) in zip(of_plan, in_file, strict=True)}


def _alike(planned: Step, in_file: Any, light: str | None) -> bool:
    kinds = kinds_of(in_file)
    if planned.kind not in LIGHTS:
        return kinds == [planned.kind] or (planned.kind in ASIDE and kinds in (["box"], ["negative"]))
    return kinds == [planned.kind] and (getattr(in_file, planned.kind), light) == (planned.area, planned.light)


def _mixes_apart(print_: Print, steps: Sequence[StepWritten], of_file: Mapping[int, int]) -> set[int]:
    """Burns in several lights that were not given as planned in all of them: one step cannot say that, so that each
    light that was given becomes a step of its own."""
    apart = set()
    for i, in_file in enumerate(print_.steps):
        lights = lights_of(in_file) if isinstance(in_file, LightStep) else ()
        given = [step for step in steps if of_file[step.gave.planned.n] == i]
        if len(lights) > 1 and given and not (len(given) == len(lights) and all(step.as_planned for step in given)):
            apart.add(i)
    return apart


def _as_judged(step: StepWritten, print_: Print, paper: Paper, bench: Bench) -> StepWritten:
    """With its seconds as the file tells them: before dry-down, where they were judged wet."""
    if step.as_planned:
        return replace(step, amount="as in the file" if step.amount else "", note=None)
    off = paper.dry_down if print_.judged == "wet" else 0.0
    if not off or "seconds" not in step.keys or step.gave.step.kind == "flash":
        return step
    response = bench.lamp_of(step.gave.step.light or "").response
    seconds = round(response.seconds(response.dose(step.keys["seconds"]) / (1 - off)), 4)
    return replace(step, keys={**step.keys, "seconds": seconds}, amount=f"{seconds:g} s, judged wet")


def _changes(in_file: Any, place: Place, step: StepWritten) -> dict[Place, object]:
    """What is to be changed in one step of the file."""
    if step.gave.step.kind not in LIGHTS:
        return {}
    there = in_file.model_fields_set
    changes: dict[Place, object] = {}
    if "then" in there and not step.gave.step.then_next:
        changes[(*place, "then")] = GONE
    if step.as_planned:
        return changes
    for key in (*_AMOUNTS, *_CARDS):
        if key in _CARDS and key in step.keys and _same_cards(getattr(in_file, key), step.keys[key]):
            changes |= _card_changes((*place, key), getattr(in_file, key), step.keys[key])
        elif key in step.keys:
            changes[(*place, key)] = step.keys[key]
        elif key in there:
            changes[(*place, key)] = GONE
    if in_file.pedal != step.gave.step.pedal:
        changes[(*place, "pedal")] = step.gave.step.pedal
    return changes


def _same_cards(in_file: Any, items: Any) -> bool:
    return [(item.area, item.mm) for item in in_file] == [(item["area"], item.get("mm")) for item in items]


def _card_changes(place: Place, in_file: Any, items: Any) -> dict[Place, object]:
    """How much, and from when on, the cards in a list that is kept hold back."""
    changes: dict[Place, object] = {}
    for j, (card, item) in enumerate(zip(in_file, items, strict=True)):
        for key in ("stops", "hold_back", "start", "apart"):
            if key in item:
                changes[(*place, j, key)] = item[key]
            elif key in card.model_fields_set:
                changes[(*place, j, key)] = GONE
    return changes
