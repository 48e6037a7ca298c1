"""Small prints, papers and negatives for the proof's tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from papers_off import unsure_of_nothing
from PIL import Image

from timerd.desk.proof.making import Proof, make_proof
from timerd.desk.proof.negative import Negative, of_values
from timerd.desk.proof.picture import PicturePrint
from timerd.places import shipped
from timerd.printing.paper import Curve
from timerd.sheet.plan.making import make_plan
from timerd.sheet.plan.value import Plan
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.reading import read

LOW, HIGH = 0.1, 1.6
IMAGE_MM = (60.0, 45.0)
BASES = ("{base: soft, light: green, seconds: 14}", "{base: hard, light: blue, seconds: 9.5}")
AREAS = """
  left half: [[0, 0], [0.5, 0], [0.5, 1], [0, 1]]
  wedge: [[0.55, 0.1], [0.95, 0.3], [0.7, 0.9]]
  band: [[0, 0.35], [1, 0.45], [1, 0.75], [0, 0.6]]"""


def _read(kind: str, name: str, more: str = "") -> tuple[str, bytes]:
    folder = {"bench": "benches", "paper": "papers"}[kind]
    return name, (shipped() / folder / f"{name}.yaml").read_bytes() + more.encode()


def bench_of(name: str = "two-station") -> Bench:
    found: Bench = read(_read("bench", name)[1], "b", "bench").value
    return found


def paper_of(more: str = "", name: str = "demo-fibre-glossy") -> Paper:
    found: Paper = read(_read("paper", name, more)[1], "p", "paper").value
    return unsure_of_nothing(found)


def curve_of(paper: Paper) -> Curve:
    assert paper.curve is not None
    return paper.curve.curve


def plan_of(*steps: str, paper: bytes | None = None, image: str = "{left: 10, top: 12, width: 60, height: 45}") -> Plan:
    """The plan of a print judged dry, of these steps at the enlarger, or at the flashing station first."""
    text = "print: t\npaper: demo-fibre-glossy\nbench: two-station\nsheet: [90, 75]\njudged: dry\n"
    text += f"image_mm: {image}\nareas:{AREAS}\nsteps:\n" + "".join(f"  - {step}\n" for step in steps)
    print_ = read(text.encode(), "t.yaml", "print")
    bench = read(_read("bench", "two-station")[1], "b", "bench")
    return make_plan(print_, bench, read(paper or _read("paper", "demo-fibre-glossy")[1], "p", "paper"))


def negative_of(densities: NDArray[np.floating], low: float = LOW, high: float = HIGH) -> Negative:
    """A negative with these densities, as near as 16 bits come."""
    values = np.round(65535 * (high - densities) / (high - low)).astype(np.uint16)
    return of_values("test", values, low, high)


def random_negative(width: int = 40, height: int = 30, seed: int = 3) -> Negative:
    return negative_of(np.random.default_rng(seed).uniform(LOW, HIGH, (height, width)))


def even_negative(density: float, width: int = 40, height: int = 30) -> Negative:
    return negative_of(np.full((height, width), density), min(LOW, density / 2), max(HIGH, density))


def proof_of(plan: Plan, negative: Negative, penumbra_mm: float = 6.0) -> Proof:
    return make_proof(plan, bench_of(), paper_of(), negative, penumbra_mm=penumbra_mm)


def worked(proof: Proof) -> NDArray[np.float32]:
    pair, rows = proof.pair, (0, proof.pair.negative.height)
    return PicturePrint(pair.negative, pair.curve, pair.worked).densities(pair.negative.rows(*rows, 1), rows)


def halves(png: Path, proof: Proof) -> list[NDArray[np.uint8]]:
    """The two prints, cut out of the picture of a pair."""
    whole = np.asarray(Image.open(png))
    wide, high = proof.pair.negative.width, proof.pair.negative.height
    border, margin = max(2, wide // 40), max(6, wide // 25)
    top = margin + border
    lefts = (margin + border, 2 * margin + 3 * border + wide)
    return [whole[top : top + high, left : left + wide] for left in lefts]
