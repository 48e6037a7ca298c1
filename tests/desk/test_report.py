"""The report's parts: the timeline against the lines' own edges, tones against the curve's formula, one page alone."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise, product

import pytest
from desk.report_subjects import HOSTILE, demo, of_records, print_subject, sheet_subject, with_texts
from golden import Golden
from records import wrote

from timerd.desk.report.markup import Markup, lines, naming, tag
from timerd.desk.report.page import report_page
from timerd.desk.report.steps import steps_section, totals_section
from timerd.desk.report.subject import Subject
from timerd.desk.report.timeline import evening_of, timeline_section
from timerd.desk.report.tones import grey, tones_of, tones_section
from timerd.sheet.account import sheet_account
from timerd.sheet.history import Dated, history
from timerd.sheet.plan.value import Plan


class Page(HTMLParser):
    """The elements of a page with their attributes, and the texts of its cells and headings."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.rows: list[list[str]] = []
        self.headings: list[str] = []
        self._open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        self._open.append(tag)
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
        elif tag == "h2":
            self.headings.append("")

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "td" in self._open or "th" in self._open:
            self.rows[-1][-1] += data
        if "h2" in self._open:
            self.headings[-1] += data


# -- the page ----------------------------------------------------------------------------------------------------


def test_the_page_needs_nothing_else() -> None:
    for subject in (sheet_subject(), print_subject("breakwater"), with_texts(list(HOSTILE.values()))):
        page = Page(report_page(subject))
        assert {name for name, _ in page.elements} & {"script", "iframe", "object", "form", "a", "base"} == set()
        policy = next(at for name, at in page.elements if at.get("http-equiv") == "Content-Security-Policy")
        assert str(policy["content"]).startswith("default-src 'none';")
        for _, attributes in page.elements:
            assert not any(key.startswith("on") for key in attributes)
            assert all(str(attributes.get(key, "data:")).startswith("data:") for key in ("src", "href"))


def test_a_sheet_has_all_of_it_and_a_print_what_is_planned() -> None:
    whole = ["The map", "Planned against given", "Each area in all", "Notes", "The lights", "Curve and tones", "Mind"]
    assert Page(report_page(sheet_subject())).headings == whole
    planned = ["The map", "The plan", "Each area in all", "Curve and tones", "Mind"]
    assert Page(report_page(print_subject("breakwater"))).headings == planned
    bare = print_subject("breakwater")
    bare = replace(bare, plan=bare.plan.model_copy(update={"sheet": None, "totals": ()}))
    assert Page(report_page(bare)).headings == ["The plan", "Curve and tones", "Mind"]


def test_the_cautions_of_the_work_are_there() -> None:
    text = report_page(sheet_subject())
    for word in ("gloves", "safety data sheets", "air the room", "licensed electrician", "local code"):
        assert word in text


def test_text_is_escaped_whatever_it_is_put_into(golden: Golden) -> None:
    golden(str(tag("p", "<b>", title='"<')))
    assert tag("p", Markup("<b></b>"), None, ["&", Markup("&amp;")]) == "<p><b></b>&amp;&amp;</p>"
    assert lines("a\nb<") == "<bdi>a</bdi><br><bdi>b&lt;</bdi>" and lines("") == "<bdi></bdi>"
    golden(str(naming("burn <i>, green", "<i>")))
    assert naming("start prompt", "nowhere") == "start prompt"
    assert tag("p", "\x00\x1b\u202e\u2028\ud800a") == "<p>\\x00\\x1b\\u202e\\u2028\\ud800a</p>"


# -- planned against given ---------------------------------------------------------------------------------------


def test_every_step_is_told_with_what_it_was_given(golden: Golden) -> None:
    rows = Page(steps_section(sheet_subject())).rows
    golden([row for row in rows if len(row) == 6])
    assert ["", "60 % of the thresholdstraight edge below the horizonbursts: 0.6 + 0.4 s"] in rows


def cut_short() -> Subject:
    """The demo's first sheet as a power cut left it in the soft base, and given up."""
    records = [record for record in demo().records if record.sheet == 1 and record.at <= 23.16]
    records += [
        wrote("recovered", 5.0, 1, 4, 3, {"lit": 23.16, "dark": 27.16, "given": 4.0, "given_lo": 3.0, "why": "power"}),
        wrote("given up", 60.0, 1),
    ]
    told = of_records(print_subject("breakwater"), records)
    dated = [Dated(record, None) for record in records]
    return replace(told, history=history(told.plan, dated), dated=dated)


def test_a_dose_that_is_not_known_is_told_as_between_two() -> None:
    rows = Page(steps_section(cut_short())).rows
    assert ["4", "base soft, green", "12.9", "3.0 to 4.0", "-1.687", "-1.687"] in rows, math.log2(4.0 / 12.88)
    assert ["5", "base hard, blue", "8.7", "0.0", "", ""] in rows
    assert any("cut short: the power" in cell for row in rows for cell in row)


def test_each_area_in_all_planned_and_given() -> None:
    section = totals_section(sheet_subject())
    assert section is not None
    rows = Page(section).rows
    assert rows[:3] == [
        ["area", "light", "planned", "given", "of it"], ["breakwater", "green", "-1/3", "-1/3", "99 %"],
        ["boat", "green", "+0.33", "+0.33", "100 %"],
    ]  # fmt: skip
    # As the plan has it: 14 s and 9.5 s, 8 % dry-down; 0.33: 2^(5/4) + 2^(-1/4) - 1 over 2^(1/2), in doses.
    assert len(rows) == 11
    plain = totals_section(print_subject("breakwater"))
    assert plain is not None and Page(plain).rows[1] == ["breakwater", "green", "-1/3", "99 %"]


# -- the lights --------------------------------------------------------------------------------------------------


def spans(line: str, begin: float, end: float, lit: bool) -> list[tuple[float, float]]:
    """From when to when a line of the demo was on between two times, as its edges have it; `lit` at the beginning."""
    found, since = [], begin if lit else None
    for edge in (edge for edge in demo().edges if edge.line == line and begin <= edge.at <= end):
        if edge.lit and since is None:
            since = edge.at
        elif not edge.lit and since is not None:
            found.append((since, edge.at))
            since = None
    return found + ([(since, end)] if since is not None and since < end else [])


def rounded(found: list[tuple[float, float]], begin: float = 0.0) -> list[tuple[float, float]]:
    return [(round(on - begin, 6), round(off - begin, 6)) for on, off in found]


def test_the_timeline_is_what_the_lines_did() -> None:
    """Edges of the lines and records are found each without the other."""
    for number in (1, 2):
        subject = sheet_subject(number, notes=())
        records = [record for record in demo().records if record.sheet == number]
        begin, end = records[0].at, max(record.at for record in records if record.kind == "done")
        evening = evening_of(subject.plan, [Dated(record, None) for record in records])
        for light in ("flash", "green", "blue"):
            found = [(burst.on, burst.off) for burst in evening.bursts if burst.light == light]
            assert rounded(found) == rounded(spans(light, begin, end, False), begin), light
        assert rounded(evening.safelight) == rounded(spans("safelight", begin, end, True), begin)


def test_pauses_last_from_dark_to_what_ends_them() -> None:
    evening = evening_of(sheet_subject().plan, sheet_subject().dated)
    # The feet: a lift in the flash at 9.1, a knock in the soft base at 27.66, a shift in the held burn at 86.78.
    assert [(round(on + 2.3, 3), round(off + 2.3, 3)) for on, off in evening.pauses] == [
        (9.1, 10.8), (27.66, 39.66), (86.78, 88.98),
    ]  # fmt: skip


def test_a_restart_is_told_by_the_wall_clock_or_as_a_short_gap(golden: Golden) -> None:
    records = [
        wrote("armed", 100.0, 1), wrote("lit", 110.0, 1, 2, 1, {"light": "flash", "lit": 110.0}),
        wrote("recovered", 3.0, 1, 2, 1, {"lit": 110.0, "dark": 111.0, "given": 1.0, "given_lo": 0.5, "why": "power"}),
        wrote("lit", 20.0, 1, 4, 2, {"light": "green", "lit": 20.0}),
        wrote("dark", 25.0, 1, 4, 2, {"lit": 20.0, "dark": 25.0, "given": 5.0, "why": "deadline"}),
    ]  # fmt: skip
    plan = print_subject("breakwater").plan
    evening = evening_of(plan, [Dated(record, None) for record in records])
    assert [(burst.light, burst.on, burst.off) for burst in evening.bursts] == [("flash", 10, 11), ("green", 28, 33)]
    golden(evening.bursts[0].words)
    walls = [1000.0, 1010.0, 1300.0, 1317.0, 1322.0]
    evening = evening_of(plan, [Dated(record, wall) for record, wall in zip(records, walls, strict=True)])
    assert [(burst.light, burst.on, burst.off) for burst in evening.bursts] == [("flash", 10, 11), ("green", 317, 322)]
    section = timeline_section(
        replace(print_subject("breakwater"), dated=[Dated(r, w) for r, w in zip(records, walls, strict=True)])
    )
    assert section is not None and "1:00 to 5:00: no light on this sheet" in section
    assert section.count('class="strip"') == 2


def test_a_sheet_set_aside_is_neither_paused_nor_under_the_safelight() -> None:
    records = [
        wrote("armed", 0.0, 1), wrote("safelight", 8.0, 1, facts={"lit": False}),
        wrote("lit", 10.0, 1, 4, 1, {"light": "green", "lit": 10.0}),
        wrote("dark", 15.0, 1, 4, 1, {"lit": 10.0, "dark": 15.0, "given": 5.0, "why": "pedal"}),
        wrote("safelight", 15.0, 1, facts={"lit": True}), wrote("set aside", 20.0, 1), wrote("taken up", 80.0, 1),
        wrote("safelight", 90.0, 1, facts={"lit": False}), wrote("done", 100.0, 1),
    ]  # fmt: skip
    evening = evening_of(print_subject("breakwater").plan, [Dated(record, None) for record in records])
    assert evening.pauses == [(15, 20)] and evening.safelight == [(0, 8), (15, 20), (80, 90)]


def test_a_pause_that_a_box_ends_is_as_long_here_as_in_the_account_of_the_sheet() -> None:
    """Cut short at 15, into its box at 20, out again, lit at 73: 5 s, not 58."""
    plan = print_subject("breakwater").plan
    steps = [(s.n, s.kind, s.dose, s.light is not None) for s in plan.steps]
    green = next(s.n for s in plan.steps if s.light == "green")
    records = [
        wrote("armed", 0.0, 1, facts={"steps": steps}),
        wrote("lit", 10.0, 1, green, 1, {"light": "green", "lit": 10.0, "seconds": 9.0, "most": 9.0}),
        wrote("dark", 15.0, 1, green, 1, {"lit": 10.0, "dark": 15.0, "given": 5.0, "why": "pedal"}),
        wrote("set aside", 20.0, 1, green, facts={"why": "asked"}), wrote("taken up", 60.0, 1, green),
        wrote("sheet out", 66.0, 1, green),
        wrote("lit", 73.0, 1, green, 2, {"light": "green", "lit": 73.0, "seconds": 4.0, "most": 4.0}),
        wrote("dark", 77.0, 1, green, 2, {"lit": 73.0, "dark": 77.0, "given": 4.0, "why": "deadline"}),
    ]  # fmt: skip
    for walls in (None, 1000.0):
        dated = [Dated(record, None if walls is None else walls + record.at) for record in records]
        found = history(plan, dated)
        assert found is not None and [pause.seconds for pause in found.pauses] == [5.0]
        assert evening_of(plan, dated).pauses == [(15, 20)]
        assert "by a pedal; paused for 5.0 s" in sheet_account(found, lambda wall, of: "")


def test_a_sheet_that_lay_in_its_box_for_years_is_told_in_no_time() -> None:
    """As after an evening on a machine that had no clock, taken up when it had one."""
    dark = {"lit": 50.0, "dark": 70.0, "given": 20.0, "why": "deadline"}
    records = [
        wrote("armed", 0.0, 1), wrote("lit", 50.0, 1, 4, 1, {"light": "green", "lit": 50.0}),
        wrote("dark", 70.0, 1, 4, 1, dark), wrote("lit", 50.0, 1, 5, 2, {"light": "blue", "lit": 50.0}),
        wrote("dark", 110.0, 1, 5, 2, {**dark, "dark": 110.0}),
    ]  # fmt: skip
    walls = [0.0, 50.0, 70.0, 1.8e9 + 20, 1.8e9 + 80]
    dated = [Dated(record, wall) for record, wall in zip(records, walls, strict=True)]
    section = timeline_section(replace(print_subject("breakwater"), dated=dated))
    assert section is not None and "2:00 to 30000000:00: no light on this sheet" in section
    assert section.count('class="strip"') == 4, "two minutes each; one that ends on the minute is not in the next"


def test_a_light_of_which_nobody_knows_when_is_left_out_of_the_strips() -> None:
    unknown = wrote(
        "recovered", 3.0, 1, 2, 1, {"lit": None, "dark": None, "given": 0.5, "given_lo": 0.0, "why": "power"}
    )
    subject = replace(print_subject("breakwater"), dated=[Dated(wrote("armed", 0.0, 1), None), Dated(unknown, None)])
    assert evening_of(subject.plan, subject.dated).bursts == [] and timeline_section(subject) is None


def test_every_bar_lies_in_its_strip() -> None:
    section = timeline_section(sheet_subject())
    bars = [at for name, at in Page(section or "").elements if name == "rect"]
    assert len(bars) > 30
    for bar in bars:
        left, wide = (float(str(bar[key]).removesuffix("%")) for key in ("x", "width"))
        assert left >= 0 and wide > 0 and left + wide <= 100.001


# -- curve and tones ---------------------------------------------------------------------------------------------


def test_tones_are_those_of_the_formula() -> None:
    """Density by the formula in the paper's file, from doses worked out by hand from the print's file."""
    subject = print_subject("breakwater")
    tones = tones_of(subject)
    green, blue = 14 * 0.92, 9.5 * 0.92
    written = subject.paper.curve if subject.paper is not None else None
    assert written is not None and written.slope is not None and written.blue is not None

    def density(g: float, b: float) -> float:
        return written.dmin + sum(
            part.density / (1 + (g * part.green + b * written.blue) ** (-written.slope / math.log(10)))
            for part in written.parts
        )

    def times(wanted: float) -> float:
        low, high = 1e-6, 1e6
        for _ in range(200):
            middle = math.sqrt(low * high)
            low, high = (middle, high) if density(middle * green, middle * blue) < wanted else (low, middle)
        return low

    low, high = 1e-6, 1e6
    for _ in range(200):  # the flash that an eye just sees, in green alone
        middle = math.sqrt(low * high)
        low, high = (middle, high) if density(middle, 0) < written.dmin + 0.02 else (low, middle)
    shares = most_of_each_area(subject.plan)
    assert tones.lights.keys() == {"straight print", *shares}
    for area, (over, share) in {"straight print": (set(), 1.0), **shares}.items():
        lit = {name: name in over for name in shares}
        g = green * (
            1 - (1 - 2 ** (-1 / 3)) * lit["breakwater"] - (1 - 2**-0.25) * (lit["boat"] + lit["wet sand"])
            + (2**0.75 - 1) * lit["sky"] + (2**0.25 - 1) * lit["edges 15 mm"]
            + (2**0.5 - 1 if lit["boat"] else 2**1.25 - 1) * lit["haze"]
        )  # fmt: skip
        b = blue * (
            1 - (1 - 2**-0.5) * lit["breakwater"] + (2**0.5 - 1) * lit["wet sand"]
            + (2 ** (1 / 3) - 1) * (lit["sky"] + lit["left 30 mm"])
        )  # fmt: skip
        flash = 0.6 * low * lit["haze"]
        light = tones.lights[area]
        assert (light.green, light.blue, light.flash) == pytest.approx((g, b, flash), rel=1e-9), area
        assert tones.reach[area] == pytest.approx(share, abs=0.02), area
        for wanted in (0.15, 0.6, 1.2, 1.9):
            found = light.density(tones.curve, tones.times(wanted))
            assert found == pytest.approx(density(times(wanted) * g + flash, times(wanted) * b), abs=1e-6), area


def most_of_each_area(plan: Plan) -> dict[str, tuple[set[str], float]]:
    """Which areas lie over the most of each area, and over how much of it, by looking at every millimetre."""
    assert plan.sheet is not None
    _, _, wide, high = plan.sheet.image
    found: dict[str, Counter[frozenset[str]]] = defaultdict(Counter)
    for x, y in product(range(int(wide)), range(int(high))):
        x_mm, y_mm = x + 0.5, y + 0.5
        over = {area.name for area in plan.sheet.areas if inside(area.corners, x_mm / wide, y_mm / high)}
        over |= {"left 30 mm"} if x_mm < 30 else set()
        over |= {"edges 15 mm"} if min(x_mm, y_mm, wide - x_mm, high - y_mm) < 15 else set()
        for area in over:
            found[area][frozenset(over)] += 1
    most = {area: count.most_common(1)[0] for area, count in found.items()}
    return {area: (set(over), n / found[area].total()) for area, (over, n) in most.items()}


def inside(corners: tuple[tuple[float, float], ...], x: float, y: float) -> bool:
    """Whether a place is in an outline without hollows: on the same side of each edge."""
    sides = [
        (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) > 0
        for (x0, y0), (x1, y1) in pairwise((*corners, corners[0]))
    ]  # fmt: skip
    return all(sides) or not any(sides)


def test_a_sheets_tones_are_of_what_it_was_given() -> None:
    plain = print_subject("breakwater")
    doubled = [
        record._replace(fact=replace(record.fact, given=record.fact.given * (2 if record.step == 5 else 1)))
        if record.kind == "dark" else record for record in demo().records if record.sheet == 1
    ]  # fmt: skip
    tones, planned = tones_of(of_records(plain, doubled)), tones_of(plain)
    for area, light in tones.lights.items():
        assert light.green == pytest.approx(planned.lights[area].green)
        assert light.flash == pytest.approx(planned.lights[area].flash)
    assert tones.lights["straight print"].blue == pytest.approx(2 * planned.lights["straight print"].blue)


def test_a_dose_through_a_smaller_aperture_counts_as_at_the_prints_own() -> None:
    plain = print_subject("breakwater")
    slower = tuple(
        step.model_copy(update={
            "dose": 4 * (step.dose or 0), "scale": 4.0,
            "dodges": tuple(
                cue.model_copy(update={"start": 4 * cue.start, "stop": 4 * cue.stop}) for cue in step.dodges
            ),
        }) if step.n in (2, 5) else step
        for step in plain.plan.steps
    )  # fmt: skip
    plan = plain.plan.model_copy(update={"steps": slower})
    assert tones_of(replace(plain, plan=plan)).lights == tones_of(plain).lights


def test_tones_count_by_the_papers_reciprocity() -> None:
    """Exposures over a base: the boat's green is 0.9 times as many decades off the base as its dose is."""
    plain = print_subject("breakwater")
    slow = replace(plain, plan=plain.plan.model_copy(update={"reciprocity": 0.9}))
    before, after = tones_of(plain).lights, tones_of(slow).lights
    straight = before["straight print"]
    assert after["straight print"] == straight
    for area, light in before.items():
        assert after[area].green == pytest.approx(straight.green * (light.green / straight.green) ** 0.9)
        assert after[area].blue == pytest.approx(straight.blue * (light.blue / straight.blue) ** 0.9)
        assert after[area].flash == light.flash


def test_tones_of_two_negatives_are_not_told() -> None:
    plain = print_subject("breakwater")
    steps = tuple(
        step.model_copy(update={"set_up": (("negative", "negative 2"),)}) if step.n == 5 else step
        for step in plain.plan.steps
    )
    said = tones_section(replace(plain, plan=plain.plan.model_copy(update={"steps": steps})))
    assert "Not known: the print is of more negatives than one, and their light adds up." in said


def without(subject: Subject, **facts: object) -> str:
    return tones_section(replace(subject, **facts))


def test_why_tones_are_not_known_is_said() -> None:
    subject = print_subject("breakwater")
    paper = subject.paper
    assert paper is not None and paper.curve is not None
    lux = paper.curve.model_copy(update={"unit": "lux seconds"})
    assert "no file of paper" in without(subject, paper=None)
    assert "no file of bench" in without(subject, bench=None)
    assert "has no curve" in without(subject, paper=paper.model_copy(update={"curve": None}))
    assert "in lux seconds" in without(subject, paper=paper.model_copy(update={"curve": lux}))
    free = tuple(step.model_copy(update={"dose": None}) if step.n == 4 else step for step in subject.plan.steps)
    assert "has no planned dose" in without(subject, plan=subject.plan.model_copy(update={"steps": free}))
    some = paper.curve.model_copy(update={"mixes": paper.curve.mixes[:1]})
    assert "green alone only" in without(subject, paper=paper.model_copy(update={"curve": some}))
    assert "no base was given" in tones_section(replace(cut_short(), history=_nothing_given()))


def _nothing_given() -> object:
    records = [record for record in demo().records if record.sheet == 1 and record.at <= 6.3]
    return history(print_subject("breakwater").plan, [Dated(record, None) for record in records])


def test_greys_are_those_of_the_proof() -> None:
    numpy = pytest.importorskip("numpy")
    from timerd.desk.proof.tones import levels

    densities = [k / 100 for k in range(300)]
    assert [grey(density) for density in densities] == levels(numpy.array(densities)).tolist()
