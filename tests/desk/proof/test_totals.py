"""What the plan totals by outlines, against the proof's own grid and table: two reckonings that share no line.

The proof is given edges as sharp as its grid takes, and an even negative: then an area's mean density is that of what
its parts get, each by its share.
"""

from __future__ import annotations

import random
from collections.abc import Iterator

import numpy as np
import pytest
from desk.proof_prints import bench_of, curve_of, even_negative, paper_of, plan_of
from whole import first

from timerd.desk.papershow import area_figure
from timerd.desk.proof.ground import Ground
from timerd.desk.proof.lights import Easel, lit
from timerd.desk.proof.making import make_proof
from timerd.places import find, home, read_bytes, shipped
from timerd.printing.area import ways
from timerd.printing.exposure import exposure
from timerd.sheet.map import sheet_map
from timerd.sheet.places import Inside, named, parts, passed, places, reaches
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.reading import read

SHARP_MM = 0.4
NEGATIVE = 0.9
SMALL = 0.02
"""An area that is so small a part of the image has little in it but its soft edges."""
SHIPPED = sorted(path.stem for path in (shipped() / "prints").glob("*.yaml"))


def of_shipped(name: str) -> tuple[Plan, Bench]:
    """A shipped print on the paper that has a curve; the foot's free burns are given six seconds."""
    text = read_bytes(shipped() / "prints" / f"{name}.yaml").decode().replace("demo-resin-pearl", "demo-fibre-glossy")
    print_ = read(text.replace("pedal: free", "pedal: hold, seconds: 6").encode(), name, "print")
    files = {kind: find(kind, getattr(print_.value, kind), None, home("/nowhere")) for kind in ("bench", "paper")}
    bench, paper = (read(read_bytes(path), path.name, kind) for kind, path in files.items())
    return make_plan(print_, bench, paper), bench.value


def of_chance(seed: int) -> tuple[Plan, Bench]:
    """A print of a few areas, hollow and crossing ones too, with two bases and any steps that go together."""
    rng = random.Random(seed)
    while True:
        try:
            return _of_chance(rng, "0.9" if seed % 3 == 0 else "1"), bench_of()
        except ProfileError:
            continue


def _of_chance(rng: random.Random, reciprocity: str) -> Plan:
    names = ["sky", "boat", "pier", "sand"][: rng.randint(2, 4)]
    text = "print: t\npaper: demo-fibre-glossy\nbench: two-station\nsheet: [110, 90]\njudged: dry\nhands: 3\n"
    text += "image_mm: {left: 5, top: 5, width: 100, height: 80}\nareas:\n"
    for name in names:
        corners = [[round(rng.random(), 3), round(rng.random(), 3)] for _ in range(rng.randint(3, 6))]
        text += f"  {name}: {corners}\n"

    def spot() -> str:
        name = rng.choice([*names, *names, "all", "left", "edges"])
        return name if name in names or name == "all" else f"{name}, mm: {rng.randint(5, 30)}"

    def held(key: str, stops: list[str]) -> Iterator[str]:
        found = [f"{{area: {spot()}, stops: {rng.choice(stops)}}}" for _ in range(rng.randint(0, 2))]
        yield from ([f"{key}: [{', '.join(found)}]"] if found else [])

    steps = [f"{{flash: {spot()}, light: flash, threshold: {rng.randint(20, 60)} %}}"] * rng.randint(0, 1)
    steps += ["{carry: enlarger}"] * len(steps)
    for light, seconds in (("green", 14), ("blue", 9)):
        more = ", ".join(
            [f"base: of {light}, light: {light}, seconds: {seconds}", *held("dodge", ["1/4", "1/3", "1/2"])]
        )
        steps.append(f"{{{more}}}")
    for _ in range(rng.randint(1, 4)):
        light = rng.choice(["green", "blue", "[green, blue]"])
        burn = [f"burn: {spot()}, light: {light}, stops: {rng.choice(['1/3', '2/3', '1', '1 1/2'])}"]
        steps.append(f"{{{', '.join([*burn, *held('leave', ['0', '1/4']), *held('dodge', ['1/4', '1/2'])])}}}")
    text += "steps:\n" + "".join(f"  - {step}\n" for step in steps)
    paper = read_bytes(shipped() / "papers" / "demo-fibre-glossy.yaml").decode()
    paper = paper.replace("reciprocity: 1\n", f"reciprocity: {reciprocity}\n")
    bench = read_bytes(shipped() / "benches" / "two-station.yaml")
    return make_plan(
        read(text.encode(), "t.yaml", "print"), read(bench, "b", "bench"), read(paper.encode(), "p", "paper")
    )


PRINTS = first([*SHIPPED, *range(12)], len(SHIPPED) + 2)


def made(which: str | int) -> tuple[Plan, Bench]:
    return of_shipped(which) if isinstance(which, str) else of_chance(which)


@pytest.mark.parametrize("which", PRINTS)
def test_totals_are_what_lies_on_the_proofs_grid(which: str | int) -> None:
    """The share of an area's nodes that got the total's dose, and nothing else, is its reach."""
    plan, bench = made(which)
    map_ = sheet_map(plan)
    assert map_ is not None
    paper = paper_of()
    lights, _ = lit(plan, bench, paper, curve_of(paper), Easel())
    ground = Ground(map_, SHARP_MM)
    field = ground.light(lights, kinds=("base", "burn"))
    spots = named(plan.steps)
    assert plan.totals
    for total in plan.totals:
        got = field.green if bench.lights[total.light].colour == "green" else field.blue
        inside = ground.area(spots[total.area]) > 0.999 if total.area != "all" else np.ones_like(got, dtype=bool)
        dose = total.base + total.added - total.held_back
        alike = np.isclose(got[inside], dose, rtol=1e-6)
        if inside.mean() < SMALL:
            continue
        assert alike.mean() == pytest.approx(total.reach, abs=0.05), (total, alike.mean())
        if total.rest is not None:
            low, high = (total.base * 2 ** (stops / plan.reciprocity) for stops in total.rest)
            beyond = (got[inside] < 0.99 * min(low, dose)) | (got[inside] > 1.01 * max(high, dose))
            assert beyond.mean() < 0.03, "but for soft edges, and parts too small to tell"
            assert all(np.isclose(got[inside], end, rtol=1e-6).any() for end in (low, high))


@pytest.mark.parametrize("which", PRINTS)
def test_the_proofs_table_is_the_mean_of_an_areas_parts(which: str | int) -> None:
    plan, bench = made(which)
    paper = paper_of()
    curve = curve_of(paper)
    proof = make_proof(plan, bench, paper, even_negative(NEGATIVE, 500, 400), penumbra_mm=SHARP_MM)
    steps = [step for step in plan.steps if step.light is not None]
    colour = {step.n: bench.lights[step.light or ""].colour for step in steps}
    through = 10.0 ** -float(proof.pair.negative.densities[proof.pair.negative.rows(0, 1, 1)[0, 0]])
    rate = curve.multiple(curve.dmin + 0.02, 1.0, 0.0) / paper.threshold["flash"]

    def light(inside: Inside) -> tuple[float, float, float]:
        got = []
        for name in ("green", "blue"):
            own = [step for step in steps if step.kind != "flash" and colour[step.n] == name]
            base = sum((step.dose or 0.0) / step.scale for step in own if step.kind == "base")
            dose = sum(passed(step, inside, step.dose or 0.0) for step in own)
            got.append(exposure(dose, base, plan.reciprocity))
        flash = sum(step.dose or 0.0 for step in steps if step.kind == "flash" and reaches(step, inside))
        return got[0], got[1], flash * rate

    rows = {row.area: row for row in proof.table}
    where = places(plan.sheet, steps)
    for area in named(plan.steps):
        found = parts(area, where, light)
        shares = [place.share for place in where if area in place.inside]
        if sum(shares) < SMALL:
            continue
        mean = 0.0
        for part in found:
            green, blue, flash = (one or 0.0 for one in part.amounts)
            mean += part.reach * curve.density(through * green + flash, through * blue)
        worked = rows[area].worked
        assert worked is not None and worked[0] == pytest.approx(mean, abs=0.02), area


@pytest.mark.parametrize("light", ["green", "blue"])
def test_what_area_says_is_what_the_plan_calls_it_and_what_the_proof_shows(light: str) -> None:
    """On a paper with a reciprocity of 0.9: seconds for density 0.30, written into a print, planned and proved."""
    paper = paper_of().model_copy(update={"reciprocity": 0.9})
    curve = curve_of(paper)
    negative = even_negative(NEGATIVE, 60, 50)
    through = 10.0 ** -float(negative.densities[negative.rows(0, 1, 1)[0, 0]])
    found = ways(curve, 8.0 * through, 5.0 * through, 0.30, reciprocity=0.9)
    (way,) = [way for way in found if way.by == light]
    added = (way.green if light == "green" else way.blue) or 0.0
    assert way.reached and added > 0.0
    text = (
        (shipped() / "papers" / "demo-fibre-glossy.yaml").read_text().replace("reciprocity: 1\n", "reciprocity: 0.9\n")
    )
    bases = ("{base: soft, light: green, seconds: 8}", "{base: hard, light: blue, seconds: 5}")
    plan = plan_of(*bases, f"{{burn: all, light: {light}, seconds: {added / through!r}}}", paper=text.encode())
    assert plan.reciprocity == 0.9
    assert plan.steps[3].stops == pytest.approx(way.stops)
    (row,) = [row for row in make_proof(plan, bench_of(), paper, negative).table if row.area == "all"]
    assert row.worked is not None and row.worked[0] == pytest.approx(0.30, abs=1e-4)


def test_the_picture_of_an_areas_ways_goes_through_what_is_wanted() -> None:
    """Each way's line has the wanted density at the area's own light, on a paper with a reciprocity too."""
    curve = curve_of(paper_of())
    found = ways(curve, 0.9, 0.6, 0.7, reciprocity=0.8)
    (axis,) = area_figure("t", curve, (0.9, 0.6), 0.7, found, (1.0, 0.0), 0.8).axes
    lines = {str(line.get_label()).split(":")[0]: line for line in axis.lines}
    for way in found:
        if way.reached:
            x, y = (np.asarray(values, dtype=float) for values in lines[way.by].get_data())
            assert float(np.interp(0.0, x, y)) == pytest.approx(0.7, abs=0.002), way.by
    assert {way.by for way in found if way.reached} >= {"green", "both"}


@pytest.mark.parametrize("by_step", [False, True])
def test_a_print_of_two_negatives_is_not_proved_however_it_goes_through_the_bench(by_step: bool) -> None:
    """By steps the second negative comes with a box's prompt: it had been taken for one image."""
    text = (
        "print: t\npaper: demo-fibre-glossy\nbench: two-station\nsheet: 8x10 in\nnegative: one\nsteps:\n"
        "  - {base: soft, light: green, seconds: 8}\n  - {negative: two}\n  - {base: hard, light: blue, seconds: 5}\n"
    )
    files = [read(read_bytes(shipped() / f"{name}.yaml"), name, kind) for kind, name in (
        ("bench", "benches/two-station"), ("paper", "papers/demo-fibre-glossy"),
    )]  # fmt: skip
    plan = make_plan(read(text.encode(), "t.yaml", "print"), *files, by_step=by_step)
    with pytest.raises(ValueError, match="more negatives than one"):
        make_proof(plan, bench_of(), paper_of(), even_negative(NEGATIVE, 60, 50))
