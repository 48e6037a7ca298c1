"""What the writing of a file must be: each fault, with its line."""

from __future__ import annotations

import pytest
from sheet.telling import told

WRITING = {
    "empty": (
        "",
        [
            "p.yaml:1: is empty",
        ],
    ),
    "only comments": (
        """\
# nothing yet

""",
        [
            "p.yaml:1: is empty",
        ],
    ),
    "null document": (
        """\
---
~
""",
        [
            "p.yaml:1: is empty",
        ],
    ),
    "a list": (
        "- print: x\n",
        [
            "p.yaml:1: is not a list of keys and values: it must begin with a key, as in 'print: …'",
        ],
    ),
    "plain text": (
        "just words\n",
        [
            "p.yaml:1: is not a list of keys and values: it must begin with a key, as in 'print: …'",
        ],
    ),
    "key twice": (
        """\
paper: a
box: one
surface: glossy
box: two
""",
        [
            "p.yaml:4: key 'box' is written twice, first on line 2",
        ],
    ),
    "key twice in a step": (
        """\
print: x
steps:
  - {base: a, light: b,
     seconds: 3, seconds: 4}
""",
        [
            "p.yaml:1: 'bench' is missing",
            "p.yaml:1: 'paper' is missing",
            "p.yaml:1: 'sheet' is missing",
            "p.yaml:4: steps[0]: key 'seconds' is written twice, first on line 4",
        ],
    ),
    "key three times": (
        """\
paper: a
box: b
box: c
box: d
""",
        [
            "p.yaml:3: key 'box' is written twice, first on line 2",
            "p.yaml:4: key 'box' is written twice, first on line 2",
        ],
    ),
    "key that is a number": (
        """\
paper: a
7: b
""",
        [
            "p.yaml:2: a key must be text, is 7: put it in quotes",
        ],
    ),
    "key that is true": (
        """\
paper: a
true: b
""",
        [
            "p.yaml:2: a key must be text, is true: put it in quotes",
        ],
    ),
    "key without a text": (
        """\
paper: a
: b
""",
        [
            "p.yaml:2: cannot be read: a line is indented wrongly, or a bracket or quote is closed too often",
        ],
    ),
    "key that is a list": (
        """\
paper: a
? [b, c]
: d
""",
        [
            "p.yaml:2: a key must be plain text",
        ],
    ),
    "merge": (
        """\
paper: a
<<: {box: b}
""",
        [
            "p.yaml:2: the merge key '<<' is not taken: write the keys out",
        ],
    ),
    "anchor and alias": (
        """\
paper: &name a
box: *name
""",
        [
            "p.yaml:1: paper: anchors ('&name') are not taken: write the value out each time",
            "p.yaml:2: box: aliases (*) are not taken: write the value out",
        ],
    ),
    "alias as a key": (
        """\
paper: &a b
*a : c
""",
        [
            "p.yaml:1: paper: anchors ('&a') are not taken: write the value out each time",
            "p.yaml:2: a key must be plain text",
        ],
    ),
    "tag": (
        """\
paper: !!str a
box: !thing b
threshold: !!map {flash: 1}
""",
        [
            "p.yaml:1: paper: tags ('!!str') are not taken: write the value alone",
            "p.yaml:2: box: tags ('!thing') are not taken: write the value alone",
            "p.yaml:3: threshold: tags ('!!map') are not taken: write the value alone",
        ],
    ),
    "tag on a key": (
        """\
paper: a
!!str box: b
""",
        [
            "p.yaml:2: tags ('!!str') are not taken: write the value alone",
        ],
    ),
    "tag of the whole": (
        """\
!paper
paper: a
""",
        [
            "p.yaml:1: tags ('!paper') are not taken: write the value alone",
        ],
    ),
    "second document": (
        """\
paper: a
---
paper: b
""",
        [
            "p.yaml:2: has a second document: one file holds one profile",
        ],
    ),
    "directive of another version": (
        """\
%YAML 3.0
---
paper: a
""",
        [
            "p.yaml:1: cannot be read: found incompatible YAML document (version 1.* is required)",
        ],
    ),
    "no value": (
        """\
paper: a
box:
batch: ~
surface: null
""",
        [
            "p.yaml:2: box: has no value: write one, or leave the key out",
            "p.yaml:3: batch: has no value: write one, or leave the key out",
            "p.yaml:4: surface: has no value: write one, or leave the key out",
        ],
    ),
    "no blank after a colon": (
        """\
print: x
paper: demo
bench: b
sheet: 8x10 in
steps:
  - {base:soft, light: green, seconds: 3}
  - {base: hard, light:green, seconds: 3}
  - {note: , light: green}
""",
        [
            "p.yaml:6: steps[0]['base:soft']: has no value: put a blank after the ':'",
            "p.yaml:7: steps[1]['light:green']: has no value: put a blank after the ':'",
            (
                "p.yaml:8: steps[2]: has no kind: one of flash, base, burn, carry, safelight, develop, box, "
                "negative must be among its keys"
            ),
            "p.yaml:8: steps[2].note: has no value: write one, or leave the key out",
        ],
    ),
    "infinities": (
        """\
paper: a
reciprocity: .inf
safelight_s: -.INF
speed_ratio: {blue: .nan}
""",
        [
            "p.yaml:2: reciprocity: must be a number that ends, is .inf",
            "p.yaml:3: safelight_s: must be a number that ends, is -.INF",
            "p.yaml:4: speed_ratio.blue: must be a number that ends, is .nan",
        ],
    ),
    "huge numbers": (
        "paper: a\nreciprocity: " + "9" * 5000 + "\nsafelight_s: 1e999\n",
        [
            (
                "p.yaml:2: reciprocity: is too large a number: "
                "99999999999999999999999999999999999999999999999999999999999…"
            ),
            "p.yaml:3: safelight_s: is too large a number: 1e999",
        ],
    ),
    "hidden characters": (
        'paper: "a\\x1b[31m"\nbox: "a\u202eb"\nbatch: a\u200bb\nsurface: "tab\\there"\n"k\\u2066ey": 1\n',
        [
            "p.yaml:1: paper: has a character that cannot be seen (U+001B): take it out",
            "p.yaml:2: box: has a character that cannot be seen (U+202E): take it out",
            "p.yaml:3: batch: has a character that cannot be seen (U+200B): take it out",
            "p.yaml:4: surface: has a tab: take it out",
            "p.yaml:5: key 'k\\u2066ey' has a character that cannot be seen (U+2066): take it out",
        ],
    ),
    "hidden in comments": (
        "# \u202e\npaper: a # \x07\n#\u2028box: b\n",
        [
            "p.yaml:1: has a character that cannot be seen (U+202E): take it out",
            "p.yaml:2: has a character that cannot be seen (U+0007): take it out",
            "p.yaml:3: has a character that cannot be seen (U+2028): take it out",
        ],
    ),
    "line break": (
        """\
paper: a
box: |
  one
  two
""",
        [
            "p.yaml:2: box: has a line break: write it in one line, or fold it with >-",
        ],
    ),
    "tab indented": (
        "paper: a\nthreshold:\n\tflash: 1\n",
        [
            "p.yaml:3: cannot be read: a tab; indent with spaces",
        ],
    ),
    "colon": (
        """\
paper: a
box: one: two
""",
        [
            ("p.yaml:2: cannot be read: a ':' where no key can be: quote a text with ': ' in it, and indent alike"),
        ],
    ),
    "open bracket": (
        """\
paper: a
threshold: {flash: 1
""",
        [
            "p.yaml:2: cannot be read: a bracket that is opened here is never closed",
        ],
    ),
    "open quote": (
        """\
paper: a
box: 'never
surface: glossy
""",
        [
            "p.yaml:2: cannot be read: a quote that is opened here is never closed",
        ],
    ),
    "no colon": (
        """\
paper: a
box
surface: glossy
""",
        [
            "p.yaml:3: cannot be read: a ':' is missing after a key, or a line is indented wrongly",
        ],
    ),
    "indented wrongly": (
        """\
paper: a
  box: b
""",
        [
            ("p.yaml:2: cannot be read: a ':' where no key can be: quote a text with ': ' in it, and indent alike"),
        ],
    ),
    "bracket too many": (
        """\
paper: a
threshold: {flash: 1}}
""",
        [
            "p.yaml:2: cannot be read: a line is indented wrongly, or a bracket or quote is closed too often",
        ],
    ),
    "at sign": (
        """\
paper: a
box: @home
""",
        [
            "p.yaml:2: cannot be read: a text that begins with @ needs quotes",
        ],
    ),
    "escape": (
        'paper: a\nbox: "\\q"\n',
        [
            "p.yaml:2: cannot be read: found unknown escape character 'q'",
        ],
    ),
    "escape beyond": (
        'paper: a\nbox: "\\UFFFFFFFF"\n',
        [
            "p.yaml:2: cannot be read as YAML: look for an escape or a directive",
        ],
    ),
    "a step without its dash": (
        """\
print: x
steps:
  - base: a
  light: b
""",
        [
            "p.yaml:4: cannot be read: a line is indented wrongly, or a bracket or quote is closed too often",
        ],
    ),
}


@pytest.mark.parametrize(("text", "faults"), WRITING.values(), ids=WRITING)
def test_writing(text: str, faults: list[str]) -> None:
    assert told(text) == faults
    assert all(fault.isprintable() for fault in faults)
