"""What a proof costs: a scan of 24 million pixels, a print of eight areas with soft edges, from file to file.

Each in a process of its own, three times, the best one: reading, computing and writing in all (under 4 s and 1 GB on
two cores), the computing alone (under 1 s), and how many times the processor time of a bare pass of exp and log in 64
bits over as many pixels that is. Seconds are judged only where nothing else runs. `--short`: 1.5 million pixels, only
the room is judged.

python tests/measure/proof_cost.py [--short]
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from PIL import Image

WIDTH, SHORT_WIDTH = 4320, 1080
MOST_S, MOST_COMPUTING_S, MOST_GB = 4.0, 1.0, 1.0
MOST_RATIO = 24.0
"""Processor time of computing against one bare pass: an emulsion of three parts takes three exp and three log. It was
12 where computing took 0.43 s, so twice that is still inside the goal of 1 s."""
PRINT = """print: Eight areas
paper: demo-fibre-glossy
bench: two-station
sheet: 8x10 in
image_mm: {left: 12, top: 12, width: 179, height: 230}
areas:
  a: [[0, 0.2], [1, 0.1], [1, 0.45], [0, 0.4]]
  b: [[0.1, 0.5], [0.5, 0.5], [0.5, 0.8], [0.1, 0.85]]
  c: [[0.4, 0.8], [1, 0.75], [1, 1], [0.35, 1]]
  d: [[0.6, 0.3], [0.8, 0.3], [0.8, 0.4], [0.6, 0.4]]
  e: [[0, 0], [1, 0], [1, 0.15], [0, 0.2]]
  f: [[0.55, 0.45], [0.95, 0.5], [0.9, 0.75], [0.6, 0.7]]
steps:
  - {flash: a, light: flash, threshold: 60 %}
  - {carry: enlarger}
  - {base: soft, light: green, seconds: 14, dodge: [{area: b, stops: 1/3}, {area: d, stops: 1/4}]}
  - {base: hard, light: blue, seconds: 9.5, dodge: [{area: b, stops: 1/2}]}
  - {burn: a, light: green, stops: 1 1/4}
  - {burn: c, light: blue, stops: 1/2}
  - {burn: e, light: green, stops: 3/4}
  - {burn: f, light: blue, stops: 1/3}
  - {burn: edges, mm: 15, light: green, stops: 1/4}
  - {burn: left, mm: 30, light: blue, stops: 1/3}
"""


def make_scan(path: Path, width: int) -> int:
    """A picture of 8 bits with grain; how many pixels it has."""
    height = round(width * 230 / 179)
    rng = np.random.default_rng(1)
    down, across = np.mgrid[0:height, 0:width].astype(np.float32) * (4320 / width)
    tones = 128 + 70 * np.sin(across / 300) * np.cos(down / 400) + rng.normal(0, 3, (height, width))
    Image.fromarray(np.clip(tones, 0, 255).astype(np.uint8)).save(path, compress_level=1)
    return width * height


def one(folder: Path) -> None:
    """One proof, in this process: its seconds and its room, as JSON."""
    from timerd.cli import parser
    from timerd.cli.files import worked_file
    from timerd.desk.proof import picture
    from timerd.desk.proof.making import image_shape, make_proof
    from timerd.desk.proof.negative import read_scan

    args = parser().parse_args(["plan", "x"])
    made = worked_file(folder / "print.yaml", args)
    plan, bench, paper = made.plan, made.bench.value, made.paper.value
    start, worked = time.perf_counter(), time.process_time()
    negative = read_scan(folder / "scan.png", 0.1, 1.4, "density", image_shape(plan))
    read = time.perf_counter()
    proof = make_proof(plan, bench, paper, negative)
    with (folder / "pair.png").open("wb") as file:
        proof.write(file)
    written, all_work = time.perf_counter(), time.process_time() - worked
    room = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024**2  # before what only this measuring needs

    bands = [(rows, negative.rows(*rows, 1)) for rows in picture.bands(negative.height)]
    begun, work = time.perf_counter(), time.process_time()
    again = make_proof(plan, bench, paper, negative).pair
    prints = [picture.PicturePrint(negative, again.curve, light) for light in (again.straight, again.worked)]
    with ThreadPoolExecutor(len(os.sched_getaffinity(0))) as pool:
        list(pool.map(lambda band: [printed.levels(band[1], band[0]) for printed in prints], bands))
    computed, work = time.perf_counter(), time.process_time() - work
    bare = np.random.default_rng(1).uniform(0.1, 1.0, negative.width * negative.height)
    bare_work = time.process_time()
    np.exp(np.log(bare, out=bare), out=bare)
    bare_work = time.process_time() - bare_work
    ended = time.perf_counter()
    areas = len(proof.table)
    assert areas == 9, areas
    print(json.dumps({
        "reading": read - start, "all": written - start, "computing": computed - begun, "bare": bare_work,
        "all_work": all_work, "work": work, "ratio": work / bare_work,
        "table": time.perf_counter() - ended, "room": room,
        "megabytes": (folder / "pair.png").stat().st_size / 1e6,
    }))  # fmt: skip


def main() -> None:
    short = "--short" in sys.argv
    if "--one" in sys.argv:
        one(Path(sys.argv[-1]))
        return
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        pixels = make_scan(folder / "scan.png", SHORT_WIDTH if short else WIDTH)
        (folder / "print.yaml").write_text(PRINT)
        runs = []
        for _ in range(3):
            done = subprocess.run(
                [sys.executable, __file__, "--one", name], capture_output=True, text=True, check=True
            )  # fmt: skip
            runs.append(json.loads(done.stdout))
    best = {key: min(run[key] for run in runs) for key in runs[0]}
    busy = os.getloadavg()[0]
    cores = len(os.sched_getaffinity(0))
    print(f"{pixels / 1e6:.1f} million pixels, 8 areas with soft edges, {cores} cores, load {busy:.1f}; best of 3:")
    print(f"  file to file       {best['all']:6.2f} s, of which reading {best['reading']:.2f} s", end="")
    print(f"; {best['all_work']:.2f} s of processor time")
    print(f"  computing alone    {best['computing']:6.2f} s, both prints; {best['work']:.2f} s of processor time")
    print(f"  bare exp and log   {best['bare']:6.2f} s of processor time, in 64 bits: computing is", end="")
    print(f" {best['ratio']:.1f} times that")
    print(f"  table of areas     {best['table']:6.2f} s, when it is asked for")
    print(f"  room               {best['room']:6.2f} GB; picture {best['megabytes']:.1f} MB")
    bad = best["room"] > MOST_GB or (not short and best["ratio"] > MOST_RATIO)
    if not short and busy <= cores:
        bad = bad or best["all"] > MOST_S or best["computing"] > MOST_COMPUTING_S
    elif not short:
        print("  seconds not judged: other work runs on this machine")
    if bad:
        sys.exit(1)


if __name__ == "__main__":
    main()
