"""What is wrong within a paper's curve, whole lists compared; and what a sound one comes to."""

from __future__ import annotations

import math

import pytest
from golden import Golden
from sheet.telling import told

from timerd.printing.bend import Bend
from timerd.printing.paper import Curve, Emulsion, Mix
from timerd.sheet.profile.reading import read

P = """\
paper: mine
curve:
  unit: seconds
  readings: 42
  dmin: 0.06
  slope: 10
  blue: 1
  parts:
    - {density: 1.2, green: 0.5}
    - {density: 0.8, green: 0.1, within: {density: 0.02}}
  mixes:
    - {green: [0.1, 50], blue: [0, 0]}
    - {green: [0, 0], blue: [0.1, 50]}
"""


def changed(lines: dict[int, str]) -> str:
    """The paper above with some of its lines, counted from 1, written otherwise."""
    return "".join(lines.get(n, line) + "\n" for n, line in enumerate(P.splitlines(), start=1))


def test_a_sound_curve() -> None:
    assert told(P) == []
    value = read(P.encode(), "p.yaml", "paper").value
    assert value.curve is not None
    assert value.curve.curve == Curve(
        0.06, (Emulsion(1.2, 10.0, 0.5, 1.0), Emulsion(0.8, 10.0, 0.1, 1.0)),
        (Mix((0.1, 50.0), (0.0, 0.0)), Mix((0.0, 0.0), (0.1, 50.0))),
    )  # fmt: skip
    own = changed({6: "  by: patches", 7: "  scatter: 0.02", 9: "    - {density: 1.2, green: 0.5, slope: 9, blue: 1}",
                   10: "    - {density: 0.8, green: 0.1, slope: 11, blue: 0}"})  # fmt: skip
    assert told(own) == []
    parts = read(own.encode(), "p.yaml", "paper").value.curve
    assert parts is not None and parts.curve.parts == (Emulsion(1.2, 9.0, 0.5, 1.0), Emulsion(0.8, 11.0, 0.1, 0.0))


SURE = (
    P
    + """\
  bend: [0.8, 0.9, 1, 1.1, 1.2, 1.3]
  deviations:
    - [0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.07, 0.1, 0, 0, 0, 0, -0.1]
    - [-0.002, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0]
"""
)


def test_a_curve_with_a_bend_and_deviations() -> None:
    """Two parts: dmin, slope, blue, two densities, two greens, six of the bend."""
    assert told(SURE) == []
    curve = read(SURE.encode(), "p.yaml", "paper").value.curve
    assert curve is not None and curve.curve.bend == Bend((0.8, 0.9, 1.0, 1.1, 1.2, 1.3))
    (more, less), (_, whiter) = curve.pairs
    first, second = (
        Emulsion(density * math.exp(d), 10.0 * math.exp(0.02), green * math.exp(g), math.exp(0.03))
        for density, d, green, g in ((1.2, 0.04, 0.5, 0.06), (0.8, 0.05, 0.1, 0.07))
    )
    assert more.parts == (first, second) and more.dmin == pytest.approx(0.07) and more.mixes == curve.curve.mixes
    assert more.bend is not None and more.bend.times == pytest.approx(
        (0.8 * math.exp(0.1), 0.9, 1.0, 1.1, 1.2, 1.3 * math.exp(-0.1))
    )
    assert less.dmin == pytest.approx(0.05) and less.parts[0].slope == pytest.approx(10.0 * math.exp(-0.02))
    assert whiter.dmin == pytest.approx(0.062) and whiter.parts == curve.curve.parts
    own = SURE.replace("  slope: 10\n", "").replace("green: 0.5}", "green: 0.5, slope: 9}").replace(
        "green: 0.1, within", "green: 0.1, slope: 11, within").replace("[0.01, 0.02,", "[0.01, 0.02, 0.5,").replace(
        "[-0.002, 0,", "[-0.002, 0, 0,")  # fmt: skip
    assert told(own) == []
    own_curve = read(own.encode(), "p.yaml", "paper").value.curve
    assert own_curve is not None
    assert [part.slope for part in own_curve.pairs[0][0].parts] == pytest.approx(
        [9 * math.exp(0.02), 11 * math.exp(0.5)]
    )


def test_a_curve_without_them_is_read_as_before() -> None:
    curve = read(P.encode(), "p.yaml", "paper").value.curve
    assert curve is not None and curve.curve.bend is None and curve.pairs == ()


BAD = {
    "told twice": changed({9: "    - {density: 1.2, green: 0.5, slope: 9}"}),
    "not told": changed({7: "  by: readings"}),
    "misspelt": changed({7: "  bleu: 1"}),
    "no light": changed({7: "  blue: 0", 10: "    - {density: 0.8, green: 0}"}),
    "too black": changed({9: "    - {density: 3.4, green: 0.5}"}),
    "mix": changed({12: "    - {green: [50, 0.1], blue: [0, 0]}", 13: "    - {green: [0, 0], blue: [0, 0]}"}),
    "two ratios": changed({12: "    - {green: [0.1, 50], blue: [0.1, 5]}"}),
    "values": changed({3: "  unit: candles", 5: "  dmin: -0.1", 6: "  slope: 0", 9: "    - {density: 0, green: -1}"}),
    "nothing": "paper: mine\ncurve: {unit: seconds, readings: 9, dmin: 0.1, slope: 9, blue: 1, parts: [], mixes: []}\n",
    "bend": SURE.replace("[0.8, 0.9, 1, 1.1, 1.2, 1.3]", "[0, 0.9, 1, 1.1, 1.2, 1.3]"),
    "short bend": SURE.replace("[0.8, 0.9, 1, 1.1, 1.2, 1.3]", "[0.8, 0.9, 1, 1.1, 1.2]"),
    "deviations": SURE.replace(", -0.1]", "]").replace("[-0.002,", "[-3,"),
    "four parts": (
"paper: mine\ncurve:\n  unit: seconds\n  readings: 9\n  dmin: 0.1\n  slope: 9\n  blue: 1\n  parts:\n"
        + "    - {density: 0.2, green: 1}\n" * 4 + "  mixes: [{green: [0, 9], blue: [0, 0]}]\n"
),
}  # fmt: skip


@pytest.mark.parametrize("text", BAD.values(), ids=BAD)
def test_what_is_wrong_with_a_curve(golden: Golden, text: str) -> None:
    golden(told(text))
