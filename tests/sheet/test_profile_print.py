"""What is wrong within a print, whole lists compared."""

from __future__ import annotations

import pytest
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
""",
        [
            "p.yaml:6: areas.edges: is a name of its own and needs no outline: call the area something else",
        ],
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
""",
        [
            "p.yaml:9: steps[0].flash: 'hase' is not outlined under areas: did you mean 'haze'?",
            ("p.yaml:14: steps[1].dodge[0].area: 'Small boat' is not outlined under areas: did you mean 'small boat'?"),
            (
                "p.yaml:15: steps[1].dodge[1].area: 'gull' is not outlined under areas (there: haze, "
                "small boat, all, edges, left, right, top, bottom)"
            ),
            (
                "p.yaml:16: steps[2].burn: 'sky' is not outlined under areas (there: haze, small boat, "
                "all, edges, left, right, top, bottom)"
            ),
            ("p.yaml:16: steps[2].leave[0].area: 'smallboat' is not outlined under areas: did you mean 'small boat'?"),
        ],
    ),
    "no areas at all": (
        HEAD
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {burn: sky, light: green, stops: 1}
""",
        [
            (
                "p.yaml:7: steps[1].burn: 'sky' is not outlined under areas (there: all, edges, left, "
                "right, top, bottom)"
            ),
        ],
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
        ),
        [
            "p.yaml:9: steps[0].dodge[0]: 'left' needs 'mm': how wide is the strip?",
            "p.yaml:9: steps[0].dodge[1].mm: is for edges, left, right, top, bottom only: 'haze' has an outline",
            "p.yaml:10: steps[1]: 'edges' needs 'mm': how wide is the strip?",
            "p.yaml:11: steps[2].mm: is for edges, left, right, top, bottom only: 'all' has an outline",
            "p.yaml:12: steps[3].leave[0]: 'right' needs 'mm': how wide is the strip?",
            "p.yaml:13: steps[4]: 'bottom' needs 'mm': how wide is the strip?",
        ],
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
""",
        [
            "p.yaml:9: steps[0]: needs 'threshold' or 'seconds': how much light?",
            "p.yaml:10: steps[1]: has 'threshold' and 'seconds': one of them says how much light",
            "p.yaml:11: steps[2].seconds: does not go with pedal: free, which plans no light: leave it out",
            "p.yaml:12: steps[3].threshold: must be above 0 %",
        ],
    ),
    "amounts of a base": (
        P
        + """\
steps:
  - {base: soft, light: green}
  - {base: hard, light: blue, pedal: free, seconds: 3}
  - {base: odd, light: blue, pedal: free, dodge: [{area: haze, stops: 1/2}]}
""",
        [
            "p.yaml:9: steps[0]: needs 'seconds': how much light?",
            "p.yaml:10: steps[1].seconds: does not go with pedal: free, which plans no light: leave it out",
            "p.yaml:11: steps[2].dodge: does not go with pedal: free, which plans no light: leave it out",
        ],
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
""",
        [
            "p.yaml:10: steps[1]: needs 'stops', 'seconds' or 'percent': how much light?",
            "p.yaml:11: steps[2]: has 'stops' and 'percent': one of them says how much light",
            "p.yaml:12: steps[3]: has 'stops', 'seconds' and 'percent': one of them says how much light",
            "p.yaml:13: steps[4].stops: does not go with pedal: free, which plans no light: leave it out",
        ],
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
        ),
        [
            "p.yaml:9: steps[0].dodge[0].stops: must be above 0, is 0",
            "p.yaml:9: steps[0].dodge[1].stops: must be above 0, is -1/3",
            "p.yaml:10: steps[1].stops: must be above 0, is -1/2",
            "p.yaml:11: steps[2].leave[0].stops: must be at least 0, is -1/4",
            "p.yaml:11: steps[2].leave[1].stops: must be below the burn's 1, is 1",
            "p.yaml:12: steps[3].stops: write stops as 1/3, 1 1/4 or 0.5, from -10 to 10; found 11",
        ],
    ),
    "two heights": (
        P
        + """\
magnification: 4
head_height_mm: 500
steps:
  - {base: soft, light: green, seconds: 12}
""",
        [
            "p.yaml:9: head_height_mm: says the same as magnification: leave one of them out",
        ],
    ),
    "image over the sheet": (
        P
        + """\
image_mm: {left: 30, top: 10, width: 180, height: 250}
steps:
  - {base: soft, light: green, seconds: 12}
""",
        [
            ("p.yaml:8: image_mm: reaches over the sheet: left + width is 30 + 180 = 210 mm, the sheet has 203.2 mm"),
            ("p.yaml:8: image_mm: reaches over the sheet: top + height is 10 + 250 = 260 mm, the sheet has 254 mm"),
        ],
    ),
    "develop in between": (
        P
        + """\
steps:
  - {develop: fibre}
  - {base: soft, light: green, seconds: 12}
""",
        [
            "p.yaml:9: steps[0]: develop must be the last step",
        ],
    ),
    "lead-in again": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, lead_in_again: true}
""",
        [
            ("p.yaml:9: steps[0].lead_in_again: is for hold and free: a press step has its whole lead-in again anyway"),
        ],
    ),
    "no light": (
        P
        + """\
steps:
  - {carry: enlarger}
  - {develop: fibre}
""",
        [
            "p.yaml:8: steps: no step gives light: write a base, a burn or a flash",
        ],
    ),
    "no steps": (
        P + "steps: []\n",
        [
            "p.yaml:8: steps: must have 1 or more, has 0",
        ],
    ),
    "same base twice": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12}
  - {base: soft, light: green, seconds: 12}
  - {base: soft, light: blue, seconds: 12}
""",
        [
            "p.yaml:10: steps[1].base: there is a base 'soft' in green on line 9: name it apart",
        ],
    ),
    "start and apart": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, dodge: [{area: haze, stops: 1/3, start: 2, apart: true}]}
""",
        [
            ("p.yaml:9: steps[0].dodge[0].start: does not go with apart: a dodge done apart has a burst of its own"),
        ],
    ),
    "aperture of a step": (
        P
        + """\
steps:
  - {base: soft, light: green, seconds: 12, aperture: 8}
""",
        [
            ("p.yaml:9: steps[0].aperture: needs the print's own aperture, at the top of the file, to change from"),
        ],
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
""",
        [
            "p.yaml:10: steps[1]: unknown key 'bsae': did you mean 'base'?",
            "p.yaml:11: steps[2]: is 'base' and 'burn' at once: make a step of each",
            (
                "p.yaml:12: steps[3]: has no kind: one of flash, base, burn, carry, safelight, develop, "
                "box, negative must be among its keys"
            ),
            "p.yaml:13: steps[4]: has no kind: dodge and leave stand inside a base or a burn",
            "p.yaml:14: steps[5]: must be keys and values, as in 'base: soft', is 7",
            "p.yaml:15: steps[6]: must be keys and values, as in 'base: soft', is ['burn', 'haze']",
            "p.yaml:16: steps[7]: must be keys and values, as in 'base: soft', is 'burn haze'",
        ],
    ),
    "strips that say too little, or what does not go together": (
        P + "strip: {finds: base}\nsteps:\n  - {safelight: 0}\n  - {base: a, light: green, seconds: 3}\n",
        [
            "p.yaml:8: strip: finds base: needs 'ladders', what did the patches get?",
            "p.yaml:8: strip: finds base: needs 'print', whose base?",
            "p.yaml:10: steps[0].safelight: must be at least 0.001, is 0",
        ],
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
""",
        [
            "p.yaml:11: strip.percent: does not go with finds: threshold",
            "p.yaml:12: strip.ladders: must be one, are 2",
            "p.yaml:14: strip.ladders[1].seconds: must have 2 or more, has 1",
        ],
    ),
    "strips of one patch, or without a base": (
        P
        + """\
strip: {finds: dry-down, percent: [4]}
steps:
  - {base: a, light: green, seconds: 3}
""",
        ["p.yaml:8: strip.percent: must have 2 or more, has 1"],
    ),
    "a ladder without its base": (
        P
        + """\
origin: low-tide
strip: {finds: base, print: low-tide, ladders: [{light: green, seconds: [1, 2]}]}
steps:
  - {base: a, light: green, seconds: 3}
""",
        ["p.yaml:9: strip.ladders[0]: needs 'base': which base does it find?"],
    ),
    "unknown and missing keys": (
        P
        + """\
negativ: 3
steps:
  - {base: hard, ligth: blue, secconds: 3}
  - {burn: haze, stops: 1}
  - {base: odd, light: green, seconds: 3, dodge: [{aera: haze, stops: 1/2}, {area: haze}], zzz: 1}
""",
        [
            "p.yaml:8: unknown key 'negativ': did you mean 'negative'?",
            "p.yaml:10: steps[0]: unknown key 'ligth': did you mean 'light'?",
            "p.yaml:10: steps[0]: unknown key 'secconds': did you mean 'seconds'?",
            "p.yaml:11: steps[1]: 'light' is missing",
            "p.yaml:12: steps[2]: unknown key 'zzz'",
            "p.yaml:12: steps[2].dodge[0]: unknown key 'aera': did you mean 'area'?",
            "p.yaml:12: steps[2].dodge[1]: needs 'stops' or 'hold_back: all': how much is held back?",
        ],
    ),
    "everything missing": (
        "print: x\n",
        [
            "p.yaml:1: 'bench' is missing",
            "p.yaml:1: 'paper' is missing",
            "p.yaml:1: 'sheet' is missing",
            "p.yaml:1: 'steps' is missing",
        ],
    ),
    "types": (
        """\
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
        [
            "p.yaml:1: print: must be text, is 1984: put it in quotes",
            "p.yaml:2: paper: must be text, is 400: put it in quotes",
            "p.yaml:3: bench: must be text, is ['two']",
            "p.yaml:4: sheet: write a size of 10 to 3000 mm as 8x10 in, 20x25 cm or [203, 254]; found 8",
            "p.yaml:5: lens_mm: must be a number, is 'eighty'",
            "p.yaml:6: aperture: must be a number, is 'f/8': write 8 alone",
            "p.yaml:7: magnification: must be a number, is true",
            "p.yaml:8: hands: must be a whole number, is 2.5",
            "p.yaml:9: judged: must be wet or dry, is 'damp'",
            "p.yaml:10: areas: must be keys and values, is ['haze']",
            "p.yaml:11: steps: must be a list, is 'none'",
        ],
    ),
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
""",
        [
            "p.yaml:9: steps[0].base: must be words of letters and digits, as in 'small boat', is 'soft!'",
            "p.yaml:9: steps[0].lead_in: must be at least 0.2, is 0.1",
            "p.yaml:9: steps[0].lead_in_again: must be true or false, is 'yes': write true",
            (
                "p.yaml:9: steps[0].light: must be small letters, digits and single hyphens, as in "
                "'low-tide-2', is 'Green'"
            ),
            "p.yaml:9: steps[0].pedal: must be press, hold or free, is 'hld': did you mean 'hold'?",
            "p.yaml:9: steps[0].seconds: must be a number, is '12 s': write it without a unit",
            "p.yaml:9: steps[0].then: must be next, is 'nxt': did you mean 'next'?",
            "p.yaml:10: steps[1].light: must be text, is 5: put it in quotes",
            "p.yaml:10: steps[1].stops: write stops as 1/3, 1 1/4 or 0.5; found 'one'",
            "p.yaml:11: steps[2].light: must have 2 or more, has 1",
            "p.yaml:11: steps[2].stops: write stops as 1/3, 1 1/4 or 0.5; found '1/0'",
            "p.yaml:12: steps[3].light[1]: must be text, is 3: put it in quotes",
            (
                "p.yaml:12: steps[3].light[2]: must be small letters, digits and single hyphens, as in "
                "'low-tide-2', is 'Blue'"
            ),
            "p.yaml:12: steps[3].stops: write stops as 1/3, 1 1/4 or 0.5; found [1]",
            "p.yaml:13: steps[4].card: must be text, is 5: put it in quotes",
            "p.yaml:13: steps[4].light: must be text, is {a: 'b'}",
            "p.yaml:13: steps[4].stops: write stops as 1/3, 1 1/4 or 0.5; found true",
            "p.yaml:14: steps[5].threshold: write a percentage up to 200 %, as in 8 %; found 60",
            "p.yaml:15: steps[6].threshold: write a percentage up to 200 %, as in 8 %; found '300 %'",
            "p.yaml:16: steps[7].seconds: must be a number, is '1:30': write 90, in seconds",
            "p.yaml:17: steps[8].seconds: must be a number, is '8,5': write 8.5",
            "p.yaml:18: steps[9].seconds: must be at least 0.001, is 0",
            "p.yaml:19: steps[10].seconds: must be at most 3600, is 3601",
        ],
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
""",
        [
            "p.yaml:6: areas.a: must have 3 or more, has 2",
            "p.yaml:7: areas.b[1][1]: must be at most 1, is 1.5",
            "p.yaml:7: areas.b[2]: must have 2 or more, has 1",
            "p.yaml:8: areas.c: must be a list, is 5",
            "p.yaml:9: areas: a key must be words of letters and digits, as in 'small boat', is 'd!'",
            "p.yaml:10: areas: a key must be at most 40 characters, has 43",
        ],
    ),
    "long texts": (
        HEAD.replace("Low tide", "x" * 81)
        + "steps:\n  - {base: soft, light: green, seconds: 1, card: ' ', note: "
        + "n" * 401
        + "}\n",
        [
            "p.yaml:1: print: must be at most 80 characters, has 81",
            "p.yaml:6: steps[0].card: must not be empty",
            "p.yaml:6: steps[0].note: must be at most 400 characters, has 401",
        ],
    ),
    "sheets": (
        """\
print: x
paper: demo
bench: b
sheet: 8x10
steps:
  - {base: soft, light: green, seconds: 12}
""",
        [
            "p.yaml:4: sheet: write a size of 10 to 3000 mm as 8x10 in, 20x25 cm or [203, 254]; found '8x10'",
        ],
    ),
    "sheet too small": (
        """\
print: x
paper: demo
bench: b
sheet: [5, 10]
steps:
  - {base: soft, light: green, seconds: 12}
""",
        [
            "p.yaml:4: sheet: write a size of 10 to 3000 mm as 8x10 in, 20x25 cm or [203, 254]; found [5, 10]",
        ],
    ),
    "sheet of words": (
        (
            "print: x\n"
            "paper: demo\n"
            "bench: b\n"
            "sheet: [a, "
            "bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb]\n"
            "steps:\n"
            "  - {base: soft, light: green, seconds: 12}\n"
        ),
        [
            (
                "p.yaml:4: sheet: write a size of 10 to 3000 mm as 8x10 in, 20x25 cm or [203, 254]; "
                "found ['a', 'bbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbbb…]"
            ),
        ],
    ),
    "all at once": (
        """\
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
        [
            "p.yaml:2: unknown key 'papr': did you mean 'paper'?",
            "p.yaml:5: judged: must be wet or dry, is 'wett': did you mean 'wet'?",
            "p.yaml:8: areas.rock: must have 3 or more, has 2",
            "p.yaml:10: steps[0].flash: 'hase' is not outlined under areas: did you mean 'haze'?",
            "p.yaml:11: steps[1]: key 'seconds' is written twice, first on line 11",
            "p.yaml:12: steps[2].note: has no value: write one, or leave the key out",
            "p.yaml:13: steps[3]: unknown key 'brun': did you mean 'burn'?",
            "p.yaml:14: steps[4].light: anchors ('&g') are not taken: write the value out each time",
            "p.yaml:14: steps[4].stops: must be above 0, is -1",
            "p.yaml:15: steps[5]: unknown key 'ligth': did you mean 'light'?",
            "p.yaml:16: steps[6]: develop must be the last step",
            "p.yaml:17: steps[7]: needs 'stops', 'seconds' or 'percent': how much light?",
        ],
    ),
}


@pytest.mark.parametrize(("text", "faults"), PRINTS.values(), ids=PRINTS)
def test_prints(text: str, faults: list[str]) -> None:
    assert told(text) == faults
    assert all(fault.isprintable() for fault in faults)
