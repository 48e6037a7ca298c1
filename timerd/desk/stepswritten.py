"""Each step of a sheet as a print's file writes it: what it was given, in stops where there is a base to count over."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, assert_never

from timerd.desk.amounts import EXACT_STOPS, TIDY_STOPS, own_stops, stops_text, stops_value, tidy
from timerd.printing.light import Response
from timerd.printing.stops import burn_dose, dodge_dose, left_dose
from timerd.sheet.given import TWELFTH_WITHIN, Gave, counted_over, gave, near_stops, paper_dose
from timerd.sheet.plan.dodging import BETWEEN_S
from timerd.sheet.plan.making import LEAD_IN_S
from timerd.sheet.plan.names import position
from timerd.sheet.plan.value import LIGHTS, Cue, Plan, Step
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import printable
from timerd.sheet.progress import SheetProgress
from timerd.sheet.words import counted_stops, step_words

_SAME = 1e-9
_MOST = 10


@dataclass(frozen=True)
class StepWritten:
    """One step: its keys as they are to be in the file, and what a reader should know.

    `words` and `amount` tell the same to a printer; `as_planned` where nothing of it differs from the plan.
    """

    gave: Gave
    keys: Mapping[str, Any]
    amount: str
    note: str | None = None
    as_planned: bool = True

    @property
    def words(self) -> str:
        """The step without its amount."""
        return printable(step_words(self.gave.step.model_copy(update={"stops": None, "stops_written": None})))


@dataclass
class _Amount:
    """How much light a step's keys come to, as the file will be worked out; `over` where it is counted over a base."""

    keys: dict[str, Any]
    words: str
    dose: float
    over: float | None = None
    stops: Fraction | None = None
    notes: list[str] = field(default_factory=list)


def steps_written(plan: Plan, sheet: SheetProgress, bench: Bench) -> list[StepWritten]:
    """The steps of a finished sheet, prompts that the file does not have left out; ValueError for what no file can say.

    The plan's own stops where a step was run by its plan; else a twelfth where one is within 1/400 stop, else three
    decimals; a free burn is the nearest twelfth. Bases, and what is counted over no base, are in seconds of one burst
    on the bench as it is now. Whatever the plan took off for dry-down is off already: the file is to be judged dry.
    """
    return _Writing(plan, sheet, bench).steps()


class _Writing:
    def __init__(self, plan: Plan, sheet: SheetProgress, bench: Bench) -> None:
        self._plan, self._bench, self._sheet = plan, bench, sheet.sheet
        self._gave = gave(plan, sheet)
        self._bases = {one.planned.n: one for one in self._gave if one.step.kind == "base"}
        self._doses: dict[int, float] = {}  # of the bases, as the file has them

    def steps(self) -> list[StepWritten]:
        for n, one in self._bases.items():
            self._doses[n] = self._base(one).dose
        found: list[StepWritten] = []
        lit = False
        for one in self._gave:
            kind = one.step.kind
            lit = lit or kind in LIGHTS
            match kind:
                case "flash" | "base" | "burn":
                    found.append(self._light(one))
                case "carry":
                    found += _prompt(one, {"carry": one.step.station} if lit else None)
                case "box" | "negative":
                    found += _prompt(one, _aside(one.step) if lit else None)
                case "safelight":
                    found += _prompt(one, {"safelight": tidy(one.step.seconds or 0.0)})
                case "develop":
                    found += _prompt(one, {"develop": one.step.says})
                case "wait" | "filter" | "aperture" | "density":
                    pass  # what the plan puts between the file's steps
                case _:
                    assert_never(kind)
        if not lit:
            raise ValueError(f"sheet {self._sheet} was given no light: there is nothing to adopt")
        return found

    def _light(self, one: Gave) -> StepWritten:
        step = one.step
        make: Mapping[str, Callable[[Gave], _Amount]] = {"base": self._base, "burn": self._burn, "flash": self._flash}
        amount = make[step.kind](one)
        keys: dict[str, Any] = {step.kind: step.area}
        if step.mm is not None:
            keys["mm"] = tidy(step.mm)
        keys |= {"light": step.light, **amount.keys}
        if step.pedal != "press":
            keys["pedal"] = step.pedal
        if step.lead_in is not None and step.lead_in != LEAD_IN_S[step.pedal or "press"]:
            keys["lead_in"] = tidy(step.lead_in)
        if step.lead_in_again:
            keys["lead_in_again"] = True
        if step.then_next:
            keys["then"] = "next"
        if step.aperture is not None:
            keys["aperture"] = step.aperture
        if step.density is not None:
            keys["density"] = step.density
        keys |= _said(step) | self._cards(one, amount)
        if one.lo is not None:
            amount.notes.append(f"{one.lo:.1f} to {step.dose:.1f} s were given, nobody knows more: the most is taken")
        as_planned = one.by_plan and step.stops == one.planned.stops and one.lo is None
        return StepWritten(one, keys, amount.words, "; ".join(amount.notes) or None, as_planned)

    # -- how much light --------------------------------------------------------------------------------------

    def _response(self, one: Gave) -> Response:
        light = self._bench.lights.get(one.step.light or "")
        if light is None:
            raise ValueError(f"bench '{self._bench.bench}' has no light '{printable(str(one.step.light))}' any more")
        return self._bench.lamps[light.lamp].response

    def _seconds(self, one: Gave) -> _Amount:
        """Seconds of one burst that gives the dose, in as few figures as tell it."""
        response = self._response(one)
        dose = paper_dose(one.step)
        seconds = tidy(response.seconds(dose), EXACT_STOPS if one.by_plan else TIDY_STOPS)
        return _Amount({"seconds": seconds}, f"{seconds:g} s", response.dose(seconds))

    def _base(self, one: Gave) -> _Amount:
        amount = self._seconds(one)
        if one.by_plan and one.planned.dry_down is not None:
            amount.notes.append(f"with the dry-down of {one.planned.dry_down * 100:g} % taken off")
        elif one.planned.pedal == "free":
            amount.notes.append("given free")
        elif not one.by_plan:
            amount.notes.append(f"planned were {one.planned.seconds or 0.0:.2f} s")
        return amount

    def _flash(self, one: Gave) -> _Amount:
        share = one.step.threshold
        if one.by_plan and share is not None and 0 < share <= 2 and _same(round(share * 100, 3), share * 100):
            percent = f"{round(share * 100, 3):g} %"
            return _Amount({"threshold": percent}, f"{percent} of the threshold", paper_dose(one.step))
        return self._seconds(one)

    def _burn(self, one: Gave) -> _Amount:
        bases = [base for base in counted_over(self._plan, one.planned) if base.n in self._doses]
        stops = one.step.stops
        if not bases or stops is None or not _SAME < stops <= _MOST:
            return self._seconds(one)
        as_planned = one.by_plan and stops == one.planned.stops
        over = sum(self._doses[base.n] for base in bases)
        if as_planned and one.planned.stops_written is not None:
            written = own_stops(stops, one.planned.stops_written)
        elif as_planned:
            written = _near(stops, lambda near: self._told_apart(over, near, paper_dose(one.step)))
        elif one.planned.pedal == "free":
            written = Fraction(round(stops * 12), 12) or _over_0(stops)
        else:
            written = near_stops(stops) or _over_0(stops)
        keys: dict[str, Any] = {"stops": stops_value(written)}
        if (name := self._over_name(one, [base.n for base in bases])) is not None:
            keys["over"] = name
        dose = burn_dose(over, written, self._plan.reciprocity)
        amount = _Amount(keys, counted_stops(float(written), stops_text(written)), dose, over, written)
        if one.planned.pedal == "free":
            amount.notes.append(f"{stops:.3f} stops were given, free")
        elif not as_planned and one.planned.stops is not None:
            amount.notes.append(f"planned were {counted_stops(one.planned.stops, one.planned.stops_written)}")
        return amount

    def _told_apart(self, over: float, stops: Fraction, dose: float) -> bool:
        return abs(math.log2(burn_dose(over, stops, self._plan.reciprocity) / dose)) > TWELFTH_WITHIN

    def _over_name(self, one: Gave, over: list[int]) -> str | None:
        """How the file names the one base that the burn is counted over; None where that is all there are."""
        there = [n for n, base in self._bases.items() if base.step.light == one.step.light]
        if len(over) == len(there):
            return None
        base = self._bases[over[0]].step
        names = [other.step.name for other in self._bases.values()]
        for name in (base.area or "", f"{base.area}/{base.light}"):
            try:
                if names[position(names, name, "base")] == base.name:
                    return name
            except LookupError:
                continue
        return base.name

    # -- cards -----------------------------------------------------------------------------------------------

    def _cards(self, one: Gave, amount: _Amount) -> dict[str, Any]:
        """What is held back, in the file's order and way, with its start where it would not begin there anyway."""
        found: dict[str, list[dict[str, Any]]] = {}
        free = 0.0
        planned = {(cue.area, cue.mm, cue.start, cue.leave): cue for cue in one.planned.dodges}
        for cue in one.step.dodges:
            was = planned[cue.area, cue.mm, cue.start, cue.leave]
            if cue.leave and amount.over is None:
                cue = self._as_dodge(cue, one)  # a burn in seconds has nothing to leave stops of
            if cue.stops is None or cue.stops_written is None:
                found.setdefault("dodge", []).append(_covered(cue))
                continue
            stops = own_stops(cue.stops, cue.stops_written) if cue is was else self._card_stops(cue, cue.stops, one)
            if stops <= 0 and not cue.leave:
                continue
            held = self._held(cue, stops, amount, one.step.scale)
            if held <= 0:
                continue
            item: dict[str, Any] = {"area": cue.area}
            if cue.mm is not None:
                item["mm"] = tidy(cue.mm)
            item["stops"] = stops_value(stops)
            if cue.apart:
                item["apart"] = True
            elif abs(cue.start - free) > 1e-6:
                start = max(0.0, min(cue.start, amount.dose * one.step.scale - held))
                item["start"] = _tidy_start(start / one.step.scale)
            if not cue.apart:
                begun = item["start"] * one.step.scale if "start" in item else free
                free = max(free, begun + held + BETWEEN_S)
            item |= _said(cue) if not cue.leave else {key: cue.card for key in ("card",) if cue.card is not None}
            found.setdefault("leave" if cue.leave else "dodge", []).append(item)
        return dict(found)

    def _as_dodge(self, cue: Cue, one: Gave) -> Cue:
        dose = one.step.dose or 0.0
        left = (dose - cue.seconds) / dose
        stops = -math.log2(left) * self._plan.reciprocity if left > _SAME else None
        return cue.model_copy(update={"leave": False, "stops": stops})

    def _card_stops(self, cue: Cue, stops: float, one: Gave) -> Fraction:
        """Near what it was, and on the side of less held back where the card was in to the end."""
        near = near_stops(stops)
        if abs(cue.stop - (one.step.dose or 0.0)) > _SAME:
            return near
        thousandths = stops * 1000
        return Fraction(math.ceil(thousandths) if cue.leave else math.floor(thousandths), 1000)

    def _held(self, cue: Cue, stops: Fraction, amount: _Amount, scale: float) -> float:
        """The dose held back when the file is worked out, through the step's own lens and density."""
        p = self._plan.reciprocity
        if not cue.leave:
            return dodge_dose(amount.dose, stops, p) * scale
        if amount.over is None or amount.stops is None:
            return cue.seconds
        return left_dose(amount.over, amount.stops, min(stops, amount.stops), p) * scale


def _covered(cue: Cue) -> dict[str, Any]:
    """An area that a card covered throughout: it was meant, or the step ended before the card came out."""
    strip = {} if cue.mm is None else {"mm": tidy(cue.mm)}
    return {"area": cue.area, **strip, "hold_back": "all", **_said(cue)}


def _prompt(one: Gave, keys: Mapping[str, Any] | None) -> list[StepWritten]:
    """A step without light; none where the file has none of it."""
    return [] if keys is None else [StepWritten(one, {**keys, **_said(one.step)}, "")]


# -- values as they are written ----------------------------------------------------------------------------------


def _aside(step: Step) -> dict[str, Any] | None:
    """How the file sets the sheet aside; None for a box that no file asked for."""
    if between_rounds(step):
        return None
    return {"box": step.says} if step.says is not None else {"negative": dict(step.puts)["negative"]}


def between_rounds(step: Step) -> bool:
    """Whether a step boxes the sheet only because sheets go step by step: no file asked for that."""
    return step.kind == "box" and step.says is None and not step.puts


def _said(part: Any) -> dict[str, str]:
    return {key: text for key in ("card", "note") if (text := getattr(part, key)) is not None}


def _same(a: float, b: float) -> bool:
    return math.isclose(a, b, rel_tol=1e-9)


def _tidy_start(start: float) -> float:
    """Rounded down: what begins a moment earlier still ends in time."""
    exact = float(f"{start:.12g}")
    return exact if exact == round(start, 4) else math.floor(start * 10000) / 10000


def _near(stops: float, told_apart: Callable[[Fraction], bool]) -> Fraction:
    """A twelfth, three decimals or, for a small burn, more: the first that comes to the same dose."""
    tries: Sequence[Fraction] = (
        Fraction(round(stops * 12), 12), *(Fraction(f"{stops:.{decimals}f}") for decimals in range(3, 10)),
    )  # fmt: skip
    return next((near for near in tries if near > 0 and not told_apart(near)), tries[-1])


def _over_0(stops: float) -> Fraction:
    """Decimals that are not nothing yet."""
    return _near(stops, lambda near: abs(float(near) / stops - 1) > 0.01)
