"""The steps as a table: what was planned and, of a sheet, what it was given; then what each area got in all."""

from __future__ import annotations

from collections.abc import Iterator

from timerd.desk.report.markup import Inside, Markup, foreign, joined, naming, table, tag
from timerd.desk.report.subject import Subject
from timerd.sheet.history import StepHistory
from timerd.sheet.plan.value import LIGHTS, PROMPTS, Step
from timerd.sheet.telling.endings import why_words
from timerd.sheet.words import area_words, cue_words, signed_stops, step_words

_NOTHING = 0.0005  # a difference in stops that is shown as none


def steps_section(subject: Subject) -> Markup:
    """Every step with its dose and, of a sheet, what was given and how far off that is, in stops."""
    given = subject.history is not None
    heads = ["", "step", "planned, s", *(["given, s", "dose off", "stops off"] if given else [])]
    said = "Doses in seconds of full light, after dry-down; a lamp's lag is not in them."
    if given:
        said += (
            " Dose off: the step's own, in stops. Stops off: what that took from the tone of its area, or added to it."
        )
    return tag(
        "section",
        tag("h2", "Planned against given" if given else "The plan"),
        table(heads, [_step(step, subject.of_step(step)) for step in subject.plan.steps], words=2, class_="steps"),
        tag("p", said, class_="small"),
        id="steps",
    )


def totals_section(subject: Subject) -> Markup | None:
    """What most of each area gets of each light in all, in stops over its base; None where no area is named."""
    history = subject.history
    heads = ["area", "light", "planned", *(["given"] if history is not None else []), "of it"]
    found: list[tuple[str, str, str | None, tuple[str, ...], float]]
    if history is not None:
        found = [
            (
                one.area, one.light, one.negative,
                (_stops(one.planned_stops, one.planned), _stops(one.given_stops, one.given if one.base else None)),
                one.reach,
            )
            for one in history.areas
        ]  # fmt: skip
    else:
        totals = subject.plan.totals
        found = [(one.area, one.light, one.negative, (_stops(one.stops, 0.0),), one.reach) for one in totals]
    if not found:
        return None
    rows = []
    for area, light, negative, stops, reach in found:
        of = [", ", foreign(negative)] if negative is not None else []
        cells = [tag("td", joined(foreign(area), *of)), tag("td", light)]
        cells += [tag("td", one, class_="number") for one in stops]
        cells.append(tag("td", f"{reach * 100:.0f} %", class_="number"))
        rows.append(tag("tr", *cells))
    return tag(
        "section",
        tag("h2", "Each area in all"),
        table(heads, [tag("tbody", *rows)], words=2, class_="totals"),
        tag(
            "p", "Stops over the base of the same light, and how much of the area they are told for: the outlines say "
            "what lies over it.", class_="small",
        ),
        id="totals",
    )  # fmt: skip


def _stops(stops: float | None, dose: float | None) -> str:
    """Stops over a base; nothing where no light came there, and a line where it is not known."""
    return signed_stops(stops) if stops is not None else "nothing" if dose == 0.0 else "-"


def _step(step: Step, given: StepHistory | None) -> Markup:
    """One step: its line, and below it what the hands do and how it was given."""
    light = step.kind in LIGHTS
    words = naming(step_words(step), area_words(step.area, step.mm)) if light else foreign(step_words(step))
    cells = [tag("td", str(step.n), class_="number"), tag("td", words)]
    cells.append(tag("td", _planned(step) if light else "", class_="number"))
    if given is not None:
        cells += [tag("td", text, class_="number") for text in (_given(given) if light else ("", "", ""))]
    told: list[Inside] = [*_details(step), *(_how_given(given) if given is not None and light else ())]
    more = None
    if told:
        lines = (tag("div", line) for line in told)
        more = tag("tr", tag("td"), tag("td", *lines, colspan=len(cells) - 1, class_="small"), class_="more")
    return tag("tbody", tag("tr", *cells), more, class_="light" if light else None)


def _planned(step: Step) -> str:
    return "free" if step.dose is None else f"{step.dose:.1f}"


def _given(step: StepHistory) -> tuple[str, str, str]:
    """What was given, and how far off its dose and the tone of its area are, in stops."""
    given = f"{step.given:.1f}" if step.exact else f"{step.given_lo:.1f} to {step.given:.1f}"
    return given, _off(step.dose_off), _off(step.stops_off)


def _off(stops: float | None) -> str:
    return "" if stops is None else f"{stops if abs(stops) >= _NOTHING else 0.0:+.3f}"


def _how_given(step: StepHistory) -> Iterator[str]:
    bursts = [f"{burst.seconds:.1f}" if burst.seconds is not None else "unseen" for burst in step.bursts]
    if len(bursts) > 1:
        yield f"bursts: {' + '.join(bursts)} s"
    cut = [why_words(burst.why) for burst in step.bursts if burst.why not in ("deadline", "pedal")]
    if cut:
        yield f"cut short: {', '.join(dict.fromkeys(cut))}"
    if step.ended_by not in (None, "dose"):
        yield "ended by the printer" if step.ended_by == "printer" else str(step.ended_by)


def _details(step: Step) -> Iterator[Markup]:
    if step.kind in PROMPTS and step.kind != "carry":
        said = step_words(step)
        yield from (foreign(asked) for asked in step.asks if asked != said)
    if step.threshold is not None:
        yield joined(f"{step.threshold * 100:.0f} % of the threshold")
    if step.dry_down is not None:
        yield joined(f"dry-down {step.dry_down * 100:g} % taken off")
    yield from (foreign(text) for text in (step.card, step.note) if text is not None)
    for cue in step.dodges:
        when = f"{', apart' if cue.apart else ''}: in {cue.start:.1f}, out {cue.stop:.1f}"
        hand = [", ", foreign(cue.card)] if cue.card is not None else []
        more = ["; ", foreign(cue.note)] if cue.note is not None else []
        yield joined(naming(cue_words(cue), area_words(cue.area, cue.mm)), when, *hand, *more)
