"""The page itself: one HTML file with its style in it, no script and nothing from elsewhere."""

from __future__ import annotations

from importlib import resources
from typing import Literal

from timerd import __version__
from timerd.desk.report.markup import Markup, drawing, foreign, joined, lines, tag
from timerd.desk.report.proofs import proof_section
from timerd.desk.report.steps import steps_section, totals_section
from timerd.desk.report.subject import Subject
from timerd.desk.report.timeline import timeline_section
from timerd.desk.report.tones import tones_section
from timerd.sheet.history import History
from timerd.sheet.map_svg import map_figure
from timerd.sheet.plan.boxes import box_words

Style = Literal["light", "red"]
_NOTHING_FROM_ELSEWHERE = "default-src 'none'; style-src 'unsafe-inline'; img-src data:"
_SAFETY = (
    "Developer, stop bath, fixer and toner have safety data sheets: what those say holds, not this page. Wear gloves "
    "or use tongs, protect your eyes when mixing, pour acid into water, air the room.",
    "Lamps are hot, and on the mains: a licensed electrician, your local code. A dark lamp is not a dead one.",
    "This page is white light. Its red style shines too, and so does the program around it: in the darkroom only as "
    "far as your own safelight test allows.",
)


def report_page(subject: Subject, style: Style = "light") -> str:
    """The report as HTML: it opens in the style named, can be switched, and is always printed in the light one."""
    plan = subject.plan
    title = f"{plan.print}, sheet {subject.history.sheet}" if subject.history is not None else plan.print
    head = tag(
        "head",
        tag("meta", charset="utf-8"),
        tag("meta", http_equiv="Content-Security-Policy", content=_NOTHING_FROM_ELSEWHERE),
        tag("meta", name="viewport", content="width=device-width, initial-scale=1"),
        tag("meta", name="color-scheme", content="dark" if style == "red" else "light dark"),
        tag("title", title),
        tag("link", rel="icon", href="data:,"),
        tag("style", Markup(resources.files(__package__).joinpath("page.css").read_text(encoding="utf-8"))),
    )
    body = tag("body", _switch(style), tag("main", _header(subject), *_sections(subject)), _footer())
    return f"<!DOCTYPE html>\n{tag('html', head, body, lang='en')}\n"


def _switch(style: Style) -> Markup:
    box = tag("input", type="checkbox", id="red", checked="" if style == "red" else None)
    return tag("label", box, " red on black", class_="switch")


def _sections(subject: Subject) -> list[Markup | None]:
    return [
        tag("div", _map(subject), steps_section(subject), class_="pair"),
        proof_section(subject),
        totals_section(subject),
        _notes(subject),
        timeline_section(subject),
        tones_section(subject),
        _cautions(subject),
    ]


def _header(subject: Subject) -> Markup:
    plan, history = subject.plan, subject.history
    facts: list[tuple[str, str | None]] = [
        ("armed", subject.armed),
        ("negative", plan.negative),
        ("paper", box_words(plan)),
        ("sheet", f"{plan.sheet.width:g} x {plan.sheet.height:g} mm" if plan.sheet is not None else None),
        ("bench", plan.bench),
    ]
    if history is not None:
        facts += [
            ("rated", f"{history.rating} of 5" if history.rating is not None else None),
            ("timing", f"the keeper {history.scheduling}" if history.scheduling is not None else None),
            ("written by", ", ".join(f"timerd {version}" for version in history.versions) or None),
        ]
    rows = [joined(tag("dt", name), tag("dd", foreign(told))) for name, told in facts if told is not None]
    return tag("header", tag("h1", foreign(plan.print)), tag("p", _outcome(history)), tag("dl", *rows))


def _outcome(history: History | None) -> str:
    if history is None:
        return "As planned; nothing is given yet"
    given_up = ", given up" if history.progress.given_up else ""
    return f"Sheet {history.sheet}: {history.progress.outcome}{given_up}"


def _notes(subject: Subject) -> Markup | None:
    """What the printer wrote about the sheet; None where there is nothing."""
    notes = subject.history.notes if subject.history is not None else []
    if not notes:
        return None
    times = [*subject.noted, *[""] * len(notes)]
    rows = [
        tag("div", tag("p", time, class_="small") if time else None, tag("p", lines(note.text)), class_="note")
        for note, time in zip(notes, times, strict=False)
    ]
    return tag("section", tag("h2", "Notes"), *rows, id="notes")


def _map(subject: Subject) -> Markup:
    if subject.plan.sheet is None:
        return tag("section")
    ticked = any(step.kind == "flash" for step in subject.plan.steps)
    words = "Face up. Ticks: mm from the top left corner, borders counted, where no image shows the way."
    return tag(
        "section",
        tag("h2", "The map"),
        tag("figure", drawing(map_figure(subject.plan)), class_="sheet"),
        tag("p", words if ticked else "Face up.", class_="small"),
        id="map",
    )


def _cautions(subject: Subject) -> Markup:
    return tag(
        "section",
        tag("h2", "Mind"),
        tag("ul", *(tag("li", foreign(caution)) for caution in subject.plan.cautions)),
        tag("ul", *(tag("li", words) for words in _SAFETY), class_="safety"),
        id="mind",
    )


def _footer() -> Markup:
    return tag("footer", tag("p", f"timerd {__version__}. Doses are seconds of full light.", class_="small"))
