"""The steps as a table: what was planned and, of a sheet, what it was given; then what each area got in all."""

from __future__ import annotations

import math
from collections.abc import Iterator

from timerd.desk.report.markup import Inside, Markup, foreign, joined, table, tag
from timerd.desk.report.subject import Subject
from timerd.sheet.plan.value import LIGHTS, Step, Total
from timerd.sheet.record import StepProgress
from timerd.sheet.words import cue_words, signed_stops, step_words

_NOTHING = 0.0005  # a difference in stops that is shown as none


def steps_section(subject: Subject) -> Markup:
    """Every step with its dose and, of a sheet, what was given and how far off that is, in stops."""
    given = subject.sheet is not None
    heads = ["", "step", "planned, s", *(["given, s", "off, stops"] if given else [])]
    rows = []
    for step in subject.plan.steps:
        progress = subject.sheet.steps.get(step.n) if subject.sheet is not None else None
        rows.append(_row(step, progress, given))
    return tag(
        "section",
        tag("h2", "Planned against given" if given else "The plan"),
        table(heads, rows, words=2, class_="steps"),
        tag("p", "Doses in seconds of full light, after dry-down; a lamp's lag is not in them.", class_="small"),
        id="steps",
    )


def totals_section(subject: Subject) -> Markup | None:
    """What each area gets of each light in all, in stops over its base; None where no area is named."""
    planned = {(total.area, total.light): total for total in subject.plan.totals}
    places = dict.fromkeys([*planned, *subject.totals])
    if not places:
        return None
    given = subject.sheet is not None
    heads = ["area", "light", "planned", *(["given"] if given else [])]
    rows = []
    for area, light in places:
        cells = [tag("td", foreign(area)), tag("td", light), _stops(planned.get((area, light)))]
        if given:
            cells.append(_stops(subject.totals.get((area, light))))
        rows.append(tag("tr", *cells))
    return tag(
        "section",
        tag("h2", "Each area in all"),
        table(heads, [tag("tbody", *rows)], words=2, class_="totals"),
        tag("p", "Stops over the base of the same light. Areas count by their names, not by outlines.", class_="small"),
        id="totals",
    )


def _stops(total: Total | None) -> Markup:
    return tag("td", signed_stops(total.stops) if total is not None else "-", class_="number")


def _row(step: Step, progress: StepProgress | None, given: bool) -> Markup:
    """One step: its line, and below it what the hands do and how it was given."""
    light = step.kind in LIGHTS
    cells = [tag("td", str(step.n), class_="number"), tag("td", foreign(step_words(step)))]
    cells.append(tag("td", _planned(step) if light else "", class_="number"))
    if given:
        cells += [tag("td", text, class_="number") for text in _given(progress)]
    told: list[Inside] = [*_details(step), *(_how_given(progress) if progress is not None else ())]
    more = None
    if told:
        lines = (tag("div", line) for line in told)
        more = tag("tr", tag("td"), tag("td", *lines, colspan=len(cells) - 1, class_="small"), class_="more")
    return tag("tbody", tag("tr", *cells), more, class_="light" if light else None)


def _planned(step: Step) -> str:
    return "free" if step.dose is None else f"{step.dose:.1f}"


def _given(progress: StepProgress | None) -> tuple[str, str]:
    """What was given, and how far off in stops; nothing where the step gives no light."""
    if progress is None or not progress.light:
        return "", ""
    given = f"{progress.given:.1f}" if progress.exact else f"{progress.given_lo:.1f} to {progress.given:.1f}"
    if progress.planned is None or progress.given <= 0:
        return given, ""
    off = math.log2(progress.given / progress.planned)
    return given, f"{off if abs(off) >= _NOTHING else 0.0:+.3f}"


def _how_given(progress: StepProgress) -> Iterator[str]:
    if len(progress.bursts) > 1:
        yield f"bursts: {' + '.join(f'{off - on:.1f}' for on, off in progress.bursts)} s"
    if progress.light and progress.ended_by not in (None, "dose"):
        yield {"printer": "ended by the printer"}.get(str(progress.ended_by), str(progress.ended_by))


def _details(step: Step) -> Iterator[Markup]:
    if step.kind == "wait":
        yield from (foreign(asked) for asked in step.asks)
    if step.threshold is not None:
        yield joined(f"{step.threshold * 100:.0f} % of the threshold")
    if step.dry_down is not None:
        yield joined(f"dry-down {step.dry_down * 100:g} % taken off")
    yield from (foreign(text) for text in (step.card, step.note) if text is not None)
    for cue in step.dodges:
        when = f"{', apart' if cue.apart else ''}: in {cue.start:.1f}, out {cue.stop:.1f}"
        hand = [", ", foreign(cue.card)] if cue.card is not None else []
        more = ["; ", foreign(cue.note)] if cue.note is not None else []
        yield joined(foreign(cue_words(cue)), when, *hand, *more)
