"""What is wrong within a print, whole lists compared."""

from __future__ import annotations

import pytest
from golden import Golden
from sheet.telling import told

HEAD = """\
print: Low tide
paper: demo
bench: two-station
sheet: 8x10 in
"""
P = (
    HEAD
    + """\
areas:
  haze: [[0, 0], [1, 0], [1, 0.4]]
  small boat: [[0.6, 0.4], [0.7, 0.4], [0.7, 0.5]]
"""
)

PRINTS = {
    "reserved outline": (
        HEAD
        + """\
areas:
  edges: [[0, 0], [1, 0], [1, 1]]
  haze: [[0, 0], [1, 0], [1, 0.4]]
  small boat: [[0.6, 0.4], [0.7, 0.4], [0.7, 0.5]]
steps:
  - {base: soft, light: green, seconds: 12}
"""
    ),
    "areas unknown": (
        P
        + """\
steps:
  - {flash: hase, light: flash, seconds: 2}
  - base: soft
    light: green
    seconds: 12
    dodge:
      - {area: Small boat, stops: 1/3}
      - {area: gull, stops: 1/3}
  - {burn: sky, light: green, stops: 1, leave: [{area: smallboat, stops: 0}]}
"""
    ),
    "no areas at all": (
        HEAD
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {burn: sky, light: green, stops: 1}
"""
    ),
    "mm": (
        P
        + (
            "steps:\n"
            "  - {base: soft, light: green, seconds: 12, dodge: [{area: left, stops: 1/4}, {area: "
            "haze, mm: 4, stops: 1/4}]}\n"
            "  - {burn: edges, light: green, stops: 1}\n"
            "  - {burn: all, light: green, stops: 1, mm: 5}\n"
            "  - {burn: top, light: green, stops: 1, mm: 5, leave: [{area: right, stops: 1/2}]}\n"
            "  - {flash: bottom, light: flash, seconds: 3}\n"
        )
    ),
    "amounts of a flash": (
        P
        + """\
steps:
  - {flash: all, light: flash}
  - {flash: all, light: flash, seconds: 2, threshold: 50 %}
  - {flash: all, light: flash, pedal: free, seconds: 2}
  - {flash: all, light: flash, threshold: 0 %}
  - {flash: all, light: flash, pedal: free}
"""
    ),
    "amounts of a base": (
        P
        + """\
steps:
  - {base: soft, light: green}
  - {base: hard, light: blue, pedal: free, seconds: 3}
  - {base: odd, light: blue, pedal: free, dodge: [{area: haze, stops: 1/2}]}
"""
    ),
    "amounts of a burn": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {burn: haze, light: green}
  - {burn: haze, light: green, stops: 1, percent: 40}
  - {burn: haze, light: green, stops: 1, percent: 40, seconds: 2}
  - {burn: haze, light: green, stops: 1, pedal: free}
"""
    ),
    "stops out of range": (
        P
        + (
            "steps:\n"
            "  - {base: soft, light: green, seconds: 12, dodge: [{area: haze, stops: 0}, {area: "
            "small boat, stops: -1/3}]}\n"
            "  - {burn: haze, light: green, stops: -1/2}\n"
            "  - {burn: haze, light: green, stops: 1, leave: [{area: small boat, stops: -1/4}, "
            "{area: haze, stops: 1}, {area: haze, stops: 0}]}\n"
            "  - {burn: haze, light: green, stops: 11}\n"
        )
    ),
    "two heights": (
        P
        + """\
magnification: 4
head_height_mm: 500
steps:
  - {base: soft, light: green, seconds: 12}
"""
    ),
    "image over the sheet": (
        P
        + """\
image_mm: {left: 30, top: 10, width: 180, height: 250}
steps:
  - {base: soft, light: green, seconds: 12}
"""
    ),
    "develop in between": (
        P
        + """\
steps:
  - {develop: fibre}
  - {base: soft, light: green, seconds: 12}
"""
    ),
    "lead-in again": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, lead_in_again: true}
"""
    ),
    "no light": (
        P
        + """\
steps:
  - {carry: enlarger}
  - {develop: fibre}
"""
    ),
    "no steps": (P + "steps: []\n"),
    "same base twice": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {base: soft, light: green, seconds: 12}
  - {base: soft, light: blue, seconds: 12}
"""
    ),
    "start and apart": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, dodge: [{area: haze, stops: 1/3, start: 2, apart: true}]}
"""
    ),
    "aperture of a step": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, aperture: 8}
"""
    ),
    "kinds of steps": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {bsae: hard, light: blue, seconds: 3}
  - {base: hard, burn: haze, light: blue, seconds: 3}
  - {light: blue, seconds: 3}
  - {dodge: haze, stops: 1}
  - 7
  - [burn, haze]
  - burn haze
"""
    ),
    "strips that say too little, or what does not go together": (
        P + "strip: {finds: base}\nsteps:\n  - {safelight: 0}\n  - {base: a, light: green, seconds: 3}\n"
    ),
    "strips with the wrong table": (
        P
        + """\
strip:
  finds: threshold
  print: low-tide
  percent: [4, 0]
  ladders:
    - {light: green, seconds: [1, 2]}
    - {light: blue, seconds: [1]}
steps:
  - {base: a, light: green, seconds: 3}
"""
    ),
    "strips of one patch, or without a base": (
        P
        + """\
strip: {finds: dry-down, percent: [4]}
steps:
  - {base: a, light: green, seconds: 3}
"""
    ),
    "a ladder without its base": (
        P
        + """\
origin: low-tide
strip: {finds: base, print: low-tide, ladders: [{light: green, seconds: [1, 2]}]}
steps:
  - {base: a, light: green, seconds: 3}
"""
    ),
    "unknown and missing keys": (
        P
        + """\
negativ: 3
steps:
  - {base: hard, ligth: blue, secconds: 3}
  - {burn: haze, stops: 1}
  - {base: odd, light: green, seconds: 3, dodge: [{aera: haze, stops: 1/2}, {area: haze}], zzz: 1}
"""
    ),
    "everything missing": "print: x\n",
    "types": """\
print: 1984
paper: 400
bench: [two]
sheet: 8
lens_mm: eighty
aperture: f/8
magnification: true
hands: 2.5
judged: damp
areas: [haze]
steps: none
""",
    "types in steps": (
        P
        + """\
steps:
  - {base: soft!, light: Green, seconds: 12 s, pedal: hld, lead_in: 0.1, then: nxt, lead_in_again: yes}
  - {burn: haze, light: 5, stops: one}
  - {burn: haze, light: [green], stops: 1/0}
  - {burn: haze, light: [green, 3, Blue], stops: [1]}
  - {burn: haze, light: {a: b}, stops: true, card: 5}
  - {flash: haze, light: flash, threshold: 60}
  - {flash: haze, light: flash, threshold: 300 %}
  - {flash: haze, light: flash, seconds: 1:30}
  - {flash: haze, light: flash, seconds: '8,5'}
  - {flash: haze, light: flash, seconds: 0}
  - {flash: haze, light: flash, seconds: 3601}
"""
    ),
    "outlines": (
        HEAD
        + """\
areas:
  a: [[0, 0], [1, 1]]
  b: [[0, 0], [1, 1.5], [0.5]]
  c: 5
  d!: [[0, 0], [1, 0], [1, 1]]
  eeeeeeeeee-eeeeeeeeee-eeeeeeeeee-eeeeeeeeee: [[0, 0], [1, 0], [1, 1]]
steps:
  - {base: soft, light: green, seconds: 12}
"""
    ),
    "long texts": (
        HEAD.replace("Low tide", "x" * 81)
        + "steps:\n  - {base: soft, light: green, seconds: 1, card: ' ', note: "
        + "n" * 401
        + "}\n"
    ),
    "sheets": """\
print: x
paper: demo
bench: b
sheet: 8x10
steps:
  - {base: soft, light: green, seconds: 12}
""",
    "sheet too small": """\
print: x
paper: demo
bench: b
sheet: [5, 10]
steps:
  - {base: soft, light: green, seconds: 12}
""",
    "sheet of words": (
        "print: x\n"
        "paper: demo\n"
        "bench: b\n"
        "sheet: [a, "
        "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb]\n"
        "steps:\n"
        "  - {base: soft, light: green, seconds: 12}\n"
    ),
    "all at once": """\
print: Low tide
papr: demo
bench: two-station
sheet: 8x10 in
judged: wett
areas:
  haze: [[0, 0], [1, 0], [1, 0.4]]
  rock: [[0, 0], [1, 0]]
steps:
  - {flash: hase, light: flash, threshold: 60 %}
  - {base: soft, light: green, seconds: 12, seconds: 13}
  - {burn: rock, light: green, stops: 1, note:}
  - {brun: haze, light: green, stops: 1}
  - {burn: haze, light: &g green, stops: -1}
  - {burn: edges, ligth: green, stops: 1}
  - {develop: x}
  - {burn: haze, light: green}
""",
}


@pytest.mark.parametrize("text", PRINTS.values(), ids=PRINTS)
def test_prints(golden: Golden, text: str) -> None:
    faults = told(text)
    golden(faults)
    assert faults and all(fault.isprintable() for fault in faults)
