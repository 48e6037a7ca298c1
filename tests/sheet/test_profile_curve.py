"""What is wrong within a paper's curve, whole lists compared; and what a sound one comes to."""

from __future__ import annotations

import math

import pytest
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
    "told twice": (
        changed({9: "    - {density: 1.2, green: 0.5, slope: 9}"}),
        ["p.yaml:9: curve.parts[0].slope: is told for the whole curve too, on line 6: leave one out"],
    ),
    "not told": (
        changed({7: "  by: readings"}),
        [
            "p.yaml:9: curve.parts[0]: needs 'blue', here or for the whole curve",
            "p.yaml:10: curve.parts[1]: needs 'blue', here or for the whole curve",
        ],
    ),
    "misspelt": (
        changed({7: "  bleu: 1"}),
        ["p.yaml:7: curve: unknown key 'bleu': did you mean 'blue'?"],
    ),
    "no light": (
        changed({7: "  blue: 0", 10: "    - {density: 0.8, green: 0}"}),
        ["p.yaml:10: curve.parts[1]: answers no light: green and blue are both 0"],
    ),
    "too black": (
        changed({9: "    - {density: 3.4, green: 0.5}"}),
        ["p.yaml:8: curve.parts: come to density 4.26 with dmin: no paper has more than 4"],
    ),
    "mix": (
        changed({12: "    - {green: [50, 0.1], blue: [0, 0]}", 13: "    - {green: [0, 0], blue: [0, 0]}"}),
        [
            "p.yaml:12: curve.mixes[0].green: must be the least exposure, then the most; found 50, 0.1",
            "p.yaml:13: curve.mixes[1]: has no exposure in either light",
        ],
    ),
    "two ratios": (
        changed({12: "    - {green: [0.1, 50], blue: [0.1, 5]}"}),
        ["p.yaml:12: curve.mixes[0]: least and most are not in one ratio of green to blue: write each mix by itself"],
    ),
    "values": (
        changed({3: "  unit: candles", 5: "  dmin: -0.1", 6: "  slope: 0", 9: "    - {density: 0, green: -1}"}),
        [
            "p.yaml:3: curve.unit: must be lux seconds, seconds or relative, is 'candles'",
            "p.yaml:5: curve.dmin: must be at least 0, is -0.1",
            "p.yaml:6: curve.slope: must be above 0, is 0",
            "p.yaml:9: curve.parts[0].density: must be above 0, is 0",
            "p.yaml:9: curve.parts[0].green: must be at least 0, is -1",
        ],
    ),
    "nothing": (
        "paper: mine\ncurve: {unit: seconds, readings: 9, dmin: 0.1, slope: 9, blue: 1, parts: [], mixes: []}\n",
        [
            "p.yaml:2: curve.mixes: must have 1 or more, has 0",
            "p.yaml:2: curve.parts: must have 1 or more, has 0",
        ],
    ),
    "bend": (
        SURE.replace("[0.8, 0.9, 1, 1.1, 1.2, 1.3]", "[0, 0.9, 1, 1.1, 1.2, 1.3]"),
        ["p.yaml:14: curve.bend[0]: must be above 0, is 0"],
    ),
    "short bend": (
        SURE.replace("[0.8, 0.9, 1, 1.1, 1.2, 1.3]", "[0.8, 0.9, 1, 1.1, 1.2]"),
        ["p.yaml:14: curve.bend: must have 6 or more, has 5"],
    ),
    "deviations": (
        SURE.replace(", -0.1]", "]").replace("[-0.002,", "[-3,"),
        [
            "p.yaml:16: curve.deviations[0]: has 12 numbers, 13 are wanted: "
            "1 of dmin, 1 of slope, 1 of blue, 2 of density, 2 of green, 6 of bend",
        ],
    ),
    "four parts": (
        "paper: mine\ncurve:\n  unit: seconds\n  readings: 9\n  dmin: 0.1\n  slope: 9\n  blue: 1\n  parts:\n"
        + "    - {density: 0.2, green: 1}\n" * 4 + "  mixes: [{green: [0, 9], blue: [0, 0]}]\n",
        ["p.yaml:8: curve.parts: must have 3 at most, has 4"],
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_what_is_wrong_with_a_curve(name: str) -> None:
    text, lines = BAD[name]
    assert told(text) == lines
