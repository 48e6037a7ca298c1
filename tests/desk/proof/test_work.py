"""What a proof shows of bases, dodges, burns and flash, against the paper's own curve and a slow reckoning."""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from itertools import groupby, pairwise
from pathlib import Path

import numpy as np
import pytest
from desk.proof_prints import (
    BASES,
    HIGH,
    LOW,
    bench_of,
    curve_of,
    even_negative,
    halves,
    negative_of,
    paper_of,
    plan_of,
    proof_of,
    random_negative,
    worked,
)
from golden import Golden
from PIL import Image

from timerd.bench.rehearsal import rehearse
from timerd.desk.proof.lights import Easel
from timerd.desk.proof.making import make_proof
from timerd.desk.proof.negative import read_scan
from timerd.desk.readings import read_readings
from timerd.places import shipped
from timerd.printing.flash import SEEN
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.reading import read

FLASHED = ("{flash: band, light: flash, threshold: 60 %}", "{carry: enlarger}")
EVERYTHING = (
    "{flash: left half, light: flash, threshold: 60 %}",
    "{carry: enlarger}",
    "{base: soft, light: green, seconds: 14, dodge: [{area: band, stops: 1/2, start: 0},"
    " {area: wedge, stops: 1/3, start: 2}, {area: left half, stops: 1/6, apart: true}]}",
    "{base: hard, light: blue, seconds: 9.5, dodge: [{area: wedge, stops: 1/2}]}",
    "{burn: band, light: green, stops: 1 1/4, leave: [{area: wedge, stops: 1/3}]}",
    "{burn: [blue], light: blue, stops: 1/3}".replace("[blue]", "left half"),
    "{burn: edges, mm: 8, light: blue, stops: 1/2}",
    "{burn: right, mm: 20, light: [green, blue], stops: 1/4}",
    "{burn: all, light: green, stops: 1/6}",
)


# -- the paper's own curve ------------------------------------------------------------------------------------


def test_a_step_wedge_gives_the_papers_curve_back(tmp_path: Path) -> None:
    """A wedge of 31 steps, saved as a scan of 16 bits and read again, in five mixes: within 0.01 of the curve."""
    steps = np.arange(31) * 0.05
    values = np.round(65535 * (1.5 - np.repeat(steps, 20)) / 1.5).astype(np.uint16)
    Image.fromarray(np.tile(values, (465, 1))).save(tmp_path / "wedge.png")
    curve = curve_of(paper_of())
    for green, blue in ((40, 0), (20, 4), (14, 9.5), (6, 16), (0, 30)):
        steps_of = [f"{{base: b, light: {c}, seconds: {s}}}" for c, s in (("green", green), ("blue", blue)) if s]
        plan = plan_of(*steps_of)
        scan = read_scan(tmp_path / "wedge.png", 0.0, 1.5, "density", 60 / 45)
        found = worked(make_proof(plan, bench_of(), paper_of(), scan))[200]
        for k, density in enumerate(steps):
            through = 10.0**-density
            assert found[20 * k + 10] == pytest.approx(curve.density(green * through, blue * through), abs=0.01)


def test_the_wedge_that_the_paper_was_read_from_comes_out_as_it_was_read() -> None:
    """All 105 readings of the shipped paper, a wedge a mix: within what the fit leaves (0.016, one deviation)."""
    rows = read_readings((shipped() / "papers" / "demo-fibre-glossy.readings.csv").read_bytes(), "r").rows
    plan = plan_of("{base: b, light: green, seconds: 1}", "{base: c, light: blue, seconds: 1}")
    off: list[float] = []
    for _, patches in groupby(rows, key=lambda row: round(row.blue / (row.green + row.blue), 4)):
        wedge = list(patches)
        most = max(wedge, key=lambda row: row.green + row.blue)
        densities = [math.log10((most.green + most.blue) / (row.green + row.blue)) for row in wedge]
        negative = negative_of(np.tile(densities, (16, 1)), 0.0, 4.0)
        found = worked(make_proof(plan, bench_of(), paper_of(), negative, easel=Easel(most.green, most.blue)))
        off += [float(tone) - row.density for tone, row in zip(found[8], wedge, strict=True)]
    assert len(off) == 105 and float(np.std(off)) < 0.02 and abs(float(np.mean(off))) < 0.005


def test_the_pictures_levels_are_the_densities(tmp_path: Path) -> None:
    proof = proof_of(plan_of(*EVERYTHING), random_negative())
    (tmp_path / "pair.png").write_bytes(proof.png())
    curve = curve_of(paper_of())
    through = 10.0 ** -proof.pair.negative.densities[proof.pair.negative.rows(0, 30, 1)].astype(float)
    straight = np.vectorize(lambda t: curve.density(14 * t, 9.5 * t))(through)
    for levels, densities in zip(halves(tmp_path / "pair.png", proof), (straight, worked(proof)), strict=True):
        light = np.where(levels <= 10, levels / 255 / 12.92, ((levels / 255 + 0.055) / 1.055) ** 2.4)
        half_a_level = 0.5 / (255 * 1.055 / 2.4 * math.log(10) * light ** (1 / 2.4))
        assert (np.abs(-np.log10(light) - densities) <= half_a_level + 2e-4).all()


# -- one thing at a time --------------------------------------------------------------------------------------


def test_without_burn_dodge_and_flash_the_halves_are_the_same(tmp_path: Path) -> None:
    proof = proof_of(plan_of(*BASES), random_negative())
    (tmp_path / "pair.png").write_bytes(proof.png())
    left, right = halves(tmp_path / "pair.png", proof)
    assert (left == right).all() and len(np.unique(left)) > 50
    # Reckoned pixel by pixel, a print that is burned elsewhere is the same too.
    burned = proof_of(plan_of(*BASES, "{burn: right, mm: 20, light: green, stops: 1}"), random_negative())
    (tmp_path / "burned.png").write_bytes(burned.png())
    same, other = halves(tmp_path / "burned.png", burned)
    assert (same == left).all() and (other[:, :24] == left[:, :24]).all() and (other[:, 32:] != left[:, 32:]).any()


@pytest.mark.parametrize(("light", "stops"), [("green", "1/3"), ("green", "1"), ("blue", "1 1/2"), ("blue", "3")])
def test_a_burn_of_so_many_stops_is_a_base_of_so_many_more_there(light: str, stops: str) -> None:
    whole, _, part = stops.partition(" ")
    exact = sum(float(a) / float(b or 1) for a, _, b in (x.partition("/") for x in (whole, part) if x))
    seconds = {"green": 10.0, "blue": 7.0}
    bases = [f"{{base: b, light: {name}, seconds: {s}}}" for name, s in seconds.items()]
    more = [
        f"{{base: b, light: {name}, seconds: {s * 2**exact if name == light else s}}}" for name, s in seconds.items()
    ]
    negative = random_negative()
    burned = worked(proof_of(plan_of(*bases, f"{{burn: left half, light: {light}, stops: {stops}}}"), negative))
    more_base, base = worked(proof_of(plan_of(*more), negative)), worked(proof_of(plan_of(*bases), negative))
    # The edge is 6 mm wide at 30 mm of 60: up to the 18th of 40 columns all is inside, from the 22nd on all outside.
    assert burned[:, :18] == pytest.approx(more_base[:, :18], abs=1e-5)
    assert burned[:, 22:] == pytest.approx(base[:, 22:], abs=1e-5)
    assert (burned[:, 18:22] > base[:, 18:22] - 1e-5).all() and (burned[:, 18:22] < more_base[:, 18:22] + 1e-5).all()


def test_with_reciprocity_a_burn_of_so_many_stops_does_what_they_say() -> None:
    text = (
        (shipped() / "papers" / "demo-fibre-glossy.yaml").read_bytes().replace(b"reciprocity: 1", b"reciprocity: 0.9")
    )
    plan = plan_of(BASES[0], "{burn: left half, light: green, stops: 1}", paper=text)
    curve = curve_of(paper_of())
    found = worked(proof_of(plan, even_negative(0.4)))
    assert found[15, 3] == pytest.approx(curve.density(28 * 10**-0.4, 0.0), abs=1e-4)
    assert found[15, 38] == pytest.approx(curve.density(14 * 10**-0.4, 0.0), abs=1e-4)


def test_a_flash_below_the_threshold_leaves_paper_white_and_one_above_does_not() -> None:
    curve = curve_of(paper_of())
    opaque = even_negative(6.0)

    def darkest(percent: int) -> float:
        steps = (f"{{flash: all, light: flash, threshold: {percent} %}}", "{carry: enlarger}", *BASES)
        return float(worked(proof_of(plan_of(*steps), opaque)).max())

    assert float(worked(proof_of(plan_of(*BASES), opaque)).max()) == pytest.approx(curve.dmin, abs=1e-6)
    assert darkest(60) < curve.dmin + SEEN / 4
    assert darkest(99) < curve.dmin + SEEN
    assert darkest(100) == pytest.approx(curve.dmin + SEEN, abs=2e-4)
    assert darkest(150) > curve.low_point


def test_a_flash_that_is_measured_itself_is_taken_as_it_is() -> None:
    plan = plan_of("{flash: all, light: flash, threshold: 50 %}", "{carry: enlarger}", *BASES)
    easel = Easel(flash=(0.7, 0.2))
    proof = make_proof(plan, bench_of(), paper_of(), even_negative(0.8), easel=easel)
    dose, through = 0.5 * 1.6, 10**-0.8
    wanted = curve_of(paper_of()).density(14 * through + 0.7 * dose, 9.5 * through + 0.2 * dose)
    assert worked(proof)[5, 5] == pytest.approx(wanted, abs=1e-4)
    assert not proof.said


def test_a_step_through_a_density_does_what_it_would_do_without() -> None:
    plain = plan_of(*BASES, "{burn: band, light: green, stops: 1}")
    through = plan_of(*BASES, "{burn: band, light: green, stops: 1, density: 0.3}")
    assert [s.scale for s in through.steps if s.kind == "burn"] != [1.0]
    one, other = (worked(proof_of(plan, random_negative())) for plan in (plain, through))
    assert other == pytest.approx(one, abs=1e-5)


# -- all at once, by a slow reckoning -------------------------------------------------------------------------


def test_all_light_is_added_before_the_logarithm_as_a_slow_reckoning_has_it() -> None:
    """Every pixel by itself, in plain numbers: distance to the outlines, light second by second of each step, the
    curve that takes one place at a time."""
    plan = plan_of(*EVERYTHING)
    negative = random_negative()
    found = worked(proof_of(plan, negative))
    by_hand = _slow(plan, negative.densities[negative.rows(0, 30, 1)], 6.0)
    # A sixteenth of the edge's width lies between two nodes of the grid, along its bend: 0.3 % of the light there.
    assert float(np.abs(found - by_hand).max()) < 0.006
    assert float(np.abs(found - by_hand).mean()) < 0.0005


def _slow(plan: Plan, densities: np.ndarray, penumbra: float) -> np.ndarray:
    curve = curve_of(paper_of())
    flash_rate = curve.multiple(curve.dmin + SEEN, 1.0, 0.0) / 1.6
    out = np.zeros(densities.shape)
    high, wide = densities.shape
    for row in range(high):
        for column in range(wide):
            at = ((column + 0.5) / wide * 60, (row + 0.5) / high * 45)
            light = {"green": 0.0, "blue": 0.0, "flash": 0.0}
            for step in plan.steps:
                if step.dose is not None and step.light is not None:
                    light[step.light] += _slow_dose(step, at, penumbra) / step.scale
            through = 10 ** -float(densities[row, column])
            green = light["green"] * through + light["flash"] * flash_rate
            out[row, column] = curve.density(green, light["blue"] * through)
    return out


def _slow_dose(step: Step, at: tuple[float, float], penumbra: float) -> float:
    assert step.dose is not None
    place = 1.0 if step.kind == "base" else _slow_cover(step.area or "all", step.mm, at, penumbra)
    marks = sorted({0.0, step.dose, *(c.start for c in step.dodges), *(c.stop for c in step.dodges)})
    passed = 0.0
    for begin, end in pairwise(marks):
        open_ = 1.0
        for cue in step.dodges:
            if cue.start <= begin and end <= cue.stop:
                open_ *= 1 - _slow_cover(cue.area, cue.mm, at, penumbra)
        passed += open_ * (end - begin)
    return place * passed


OUTLINES = {
    "left half": [(30.0, 0.0, 30.0, 45.0)],
    "wedge": [(33, 4.5, 57, 13.5), (57, 13.5, 42, 40.5), (42, 40.5, 33, 4.5)],
    "band": [(0, 15.75, 60, 20.25), (60, 33.75, 0, 27)],
    "edges": [(8, 8, 52, 8), (52, 8, 52, 37), (52, 37, 8, 37), (8, 37, 8, 8)],
    "right": [(40, 0, 40, 45)],
}
"""The soft edges of each area, in mm from the image's top left."""


def _slow_cover(name: str, mm: float | None, at: tuple[float, float], penumbra: float) -> float:
    if name == "all":
        return 1.0
    x, y = at
    inside = {
        "left half": x < 30, "wedge": _in_triangle(at), "right": x > 40,
        "band": 15.75 + 4.5 * x / 60 < y < 27 + 6.75 * x / 60, "edges": not (8 < x < 52 and 8 < y < 37),
    }[name]  # fmt: skip
    away = min(_distance(edge, at) for edge in OUTLINES[name])
    u = 0.5 + (1 if inside else -1) * min(away, penumbra / 2) / penumbra
    return u * u * (3 - 2 * u)


def _in_triangle(at: tuple[float, float]) -> bool:
    sides = [(x1 - x0) * (at[1] - y0) - (y1 - y0) * (at[0] - x0) for x0, y0, x1, y1 in OUTLINES["wedge"]]
    return all(side > 0 for side in sides) or all(side < 0 for side in sides)


def _distance(edge: Sequence[float], at: tuple[float, float]) -> float:
    x0, y0, x1, y1 = edge
    along = ((at[0] - x0) * (x1 - x0) + (at[1] - y0) * (y1 - y0)) / ((x1 - x0) ** 2 + (y1 - y0) ** 2)
    along = min(1.0, max(0.0, along))
    return math.hypot(at[0] - x0 - along * (x1 - x0), at[1] - y0 - along * (y1 - y0))


# -- what was given -------------------------------------------------------------------------------------------


def _given(plan: Plan):  # type: ignore[no-untyped-def]
    """A sheet that got all that was planned, by rehearsed feet."""
    lights = sum(step.dose is not None for step in plan.steps)
    prompts = sum(step.kind == "carry" for step in plan.steps)
    bursts = sum(len(step.parts) for step in plan.steps if step.dose is not None)
    assert lights
    feet = "feet:\n  - {when: idle, after: 1, pedal: go, down: 1.2}\n  - {when: prompt, after: 1, pedal: go}\n"
    feet += "  - {when: ready, after: 2, pedal: go}\n  - {when: prompt, after: 1, pedal: go}\n" * bool(prompts)
    feet += "  - {when: ready, after: 2, pedal: go}\n" * (bursts - bool(prompts))
    rehearsed = rehearse(plan, bench_of(), read(feet.encode(), "f", "feet"))
    return rehearsed.progress.sheets[1]


def test_a_sheet_shows_what_it_was_given(golden: Golden) -> None:
    plan = plan_of(*FLASHED, BASES[0][:-1] + ", dodge: [{area: wedge, stops: 1/2}]}", BASES[1],
                   "{burn: left half, light: green, stops: 1}")  # fmt: skip
    sheet = _given(plan)
    assert sheet.outcome == "complete"
    negative = random_negative()
    planned = worked(make_proof(plan, bench_of(), paper_of(), negative, penumbra_mm=6))
    whole = make_proof(plan, bench_of(), paper_of(), negative, sheet, penumbra_mm=6)
    assert worked(whole) == pytest.approx(planned, abs=1e-4)
    golden(whole.pair.captions)

    burn = next(step for step in plan.steps if step.kind == "burn")
    sheet.steps[burn.n].given = sheet.steps[burn.n].given_lo = 0.0
    without = plan_of(*FLASHED, BASES[0][:-1] + ", dodge: [{area: wedge, stops: 1/2}]}", BASES[1])
    skipped = worked(make_proof(plan, bench_of(), paper_of(), negative, sheet, penumbra_mm=6))
    assert skipped == pytest.approx(worked(proof_of(without, negative)), abs=1e-4)


def test_a_dodge_in_a_step_that_was_cut_short_held_back_what_had_burned_meanwhile() -> None:
    plan = plan_of("{base: soft, light: green, seconds: 14, dodge: [{area: left half, stops: 1, start: 4}]}")
    sheet = _given(plan)
    step = sheet.steps[2]
    step.given = step.given_lo = 6.0  # the card went in at 4 and was to come out at 11
    found = worked(make_proof(plan, bench_of(), paper_of(), even_negative(0.3), sheet, penumbra_mm=6))
    curve, through = curve_of(paper_of()), 10**-0.3
    assert found[10, 2] == pytest.approx(curve.density(4 * through, 0), abs=1e-4)
    assert found[10, 38] == pytest.approx(curve.density(6 * through, 0), abs=1e-4)


def test_a_dose_that_is_not_known_is_shown_as_the_most_and_said(golden: Golden) -> None:
    plan = plan_of(*BASES)
    sheet = _given(plan)
    sheet.steps[3].given_lo = 7.0
    proof = make_proof(plan, bench_of(), paper_of(), even_negative(0.3), sheet)
    golden(proof.said)
    through = 10**-0.3
    assert worked(proof)[5, 5] == pytest.approx(curve_of(paper_of()).density(14 * through, 9.5 * through), abs=1e-4)


# -- the table ------------------------------------------------------------------------------------------------


def test_the_table_adds_up_and_says_what_each_did() -> None:
    proof = proof_of(plan_of(*EVERYTHING), random_negative(200, 150))
    rows = {row.area: row for row in proof.table}
    assert list(rows) == ["left half", "wedge", "band", "edges 8 mm", "right 20 mm", "all"]
    for row in rows.values():
        assert row.straight and row.worked and row.dodges and row.burns and row.flash
        for i in (0, 1):
            parts = row.straight[i] + row.dodges[i] + row.burns[i] + row.flash[i]
            assert parts == pytest.approx(row.worked[i], abs=1e-9)
    everywhere = rows["all"]
    assert everywhere.worked is not None
    assert everywhere.worked[0] == pytest.approx(float(worked(proof).mean()), abs=1e-4)
    assert rows["left half"].flash is not None and rows["wedge"].flash is not None
    assert rows["left half"].flash[0] > 0.02 and rows["right 20 mm"].flash == pytest.approx((0.0, 0.0), abs=1e-6)
    assert rows["wedge"].dodges is not None and rows["wedge"].dodges[0] < -0.1


def test_an_even_area_has_the_density_and_contrast_of_its_one_tone() -> None:
    plan = plan_of(*FLASHED, *BASES, "{burn: band, light: green, stops: 1}")
    proof = make_proof(plan, bench_of(), paper_of(), even_negative(0.9, 200, 150), penumbra_mm=2)
    curve = curve_of(paper_of())
    through = 10**-0.9
    flash = 0.6 * curve.multiple(curve.dmin + SEEN, 1.0, 0.0)
    band = next(row for row in proof.table if row.area == "band")
    half = next(row for row in proof.table if row.area == "left half")
    assert band.straight and band.worked and band.flash and half.straight
    straight = (14 * through, 9.5 * through)
    assert band.straight == pytest.approx((curve.density(*straight), curve.contrast(*straight)), abs=1e-5)
    assert half.straight == pytest.approx(band.straight, abs=1e-6)
    burned = (28 * through, 9.5 * through)
    wanted = (curve.density(burned[0] + flash, burned[1]), curve.contrast(*burned, flash, 0.0))
    assert band.worked == pytest.approx(wanted, abs=0.03)  # the edge of 2 mm is in the mean
    assert band.flash[0] > 0.0


# -- what cannot be shown -------------------------------------------------------------------------------------


def test_what_cannot_be_shown_is_said_in_one_line(golden: Golden) -> None:
    plan = plan_of(*BASES)
    plain = paper_of().model_copy(update={"curve": None})
    with golden.raises(LookupError):
        make_proof(plan, bench_of(), plain)
    white = plan_of("{base: all of it, light: flash, seconds: 3}")
    with golden.raises(ValueError):
        make_proof(white, bench_of(), paper_of())
    only_flash = plan_of("{flash: all, light: flash, threshold: 50 %}")
    with golden.raises(ValueError):
        make_proof(only_flash, bench_of(), paper_of())
    strip = plan_of("{base: left half, light: green, seconds: 3}", "{base: band, light: green, seconds: 3}")
    with pytest.raises(ValueError, match="is a test strip"):
        make_proof(strip, bench_of(), paper_of())
    with golden.raises(ValueError):
        make_proof(plan.model_copy(update={"sheet": None}), bench_of(), paper_of())
    flashed = plan_of("{flash: all, light: flash, seconds: 2}", "{carry: enlarger}", *BASES)
    unknown = paper_of().model_copy(update={"threshold": {}})
    with golden.raises(ValueError):
        make_proof(flashed, bench_of(), unknown)


def test_the_picture_has_borders_of_paper_white_and_a_scale(tmp_path: Path) -> None:
    proof = proof_of(plan_of(*BASES), random_negative(200, 150))
    whole = np.asarray(Image.open(io.BytesIO(proof.png())))
    assert whole.ndim == 2 and set(np.unique(whole[0])) == {whole[0, 0]}
    curve = curve_of(paper_of())
    white = round(255 * (1.055 * (10**-curve.dmin) ** (1 / 2.4) - 0.055))
    assert whole[8 + 2, 8 + 2] == white  # inside the margin of 8
    assert Image.open(io.BytesIO(proof.png())).info["srgb"] == 0


def test_the_progress_goes_from_little_to_all() -> None:
    told: list[float] = []
    proof_of(plan_of(*BASES), random_negative(40, 400)).write(io.BytesIO(), told.append)
    assert told == sorted(told) and told[-1] == 1.0 and len(told) > 5


def test_a_narrower_negative_is_the_mean_of_its_pixels() -> None:
    negative = negative_of(np.tile([[0.2, 0.4], [0.6, 0.8]], (30, 40)))
    narrow = negative.narrowed(41)
    assert (narrow.width, narrow.height) == (40, 30)
    assert narrow.densities[narrow.rows(0, 30, 1)] == pytest.approx(np.full((30, 40), 0.5), abs=1e-4)
    assert negative.narrowed(80) is negative
    assert LOW < 0.2 and HIGH > 0.8
