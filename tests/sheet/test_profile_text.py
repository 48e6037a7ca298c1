"""What the writing of a file must be: each fault, with its line."""

from __future__ import annotations

import pytest
from golden import Golden
from sheet.telling import told

WRITING = {
    "empty": "",
    "only comments": """\
# nothing yet

""",
    "null document": """\
---
~
""",
    "a list": "- print: x\n",
    "plain text": "just words\n",
    "key twice": """\
paper: a
box: one
surface: glossy
box: two
""",
    "key twice in a step": """\
print: x
steps:
  - {base: a, light: b,
     seconds: 3, seconds: 4}
""",
    "key three times": """\
paper: a
box: b
box: c
box: d
""",
    "key that is a number": """\
paper: a
7: b
""",
    "key that is true": """\
paper: a
true: b
""",
    "key without a text": """\
paper: a
: b
""",
    "key that is a list": """\
paper: a
? [b, c]
: d
""",
    "merge": """\
paper: a
<<: {box: b}
""",
    "anchor and alias": """\
paper: &name a
box: *name
""",
    "alias as a key": """\
paper: &a b
*a : c
""",
    "tag": """\
paper: !!str a
box: !thing b
threshold: !!map {flash: 1}
""",
    "tag on a key": """\
paper: a
!!str box: b
""",
    "tag of the whole": """\
!paper
paper: a
""",
    "second document": """\
paper: a
---
paper: b
""",
    "directive of another version": """\
%YAML 3.0
---
paper: a
""",
    "no value": """\
paper: a
box:
batch: ~
surface: null
""",
    "no blank after a colon": """\
print: x
paper: demo
bench: b
sheet: 8x10 in
steps:
  - {base:soft, light: green, seconds: 3}
  - {base: hard, light:green, seconds: 3}
  - {note: , light: green}
""",
    "infinities": """\
paper: a
reciprocity: .inf
safelight_s: -.INF
speed_ratio: {blue: .nan}
""",
    "huge numbers": ("paper: a\nreciprocity: " + "9" * 5000 + "\nsafelight_s: 1e999\n"),
    "hidden characters": (
        'paper: "a\\x1b[31m"\nbox: "a\u202eb"\nbatch: a\u200bb\nsurface: "tab\\there"\n"k\\u2066ey": 1\n'
    ),
    "hidden in comments": "# \u202e\npaper: a # \x07\n#\u2028box: b\n",
    "line break": """\
paper: a
box: |
  one
  two
""",
    "tab indented": "paper: a\nthreshold:\n\tflash: 1\n",
    "colon": """\
paper: a
box: one: two
""",
    "open bracket": """\
paper: a
threshold: {flash: 1
""",
    "open quote": """\
paper: a
box: 'never
surface: glossy
""",
    "no colon": """\
paper: a
box
surface: glossy
""",
    "indented wrongly": """\
paper: a
  box: b
""",
    "bracket too many": """\
paper: a
threshold: {flash: 1}}
""",
    "at sign": """\
paper: a
box: @home
""",
    "escape": 'paper: a\nbox: "\\q"\n',
    "escape beyond": 'paper: a\nbox: "\\UFFFFFFFF"\n',
    "a step without its dash": """\
print: x
steps:
  - base: a
  light: b
""",
}


@pytest.mark.parametrize("text", WRITING.values(), ids=WRITING)
def test_writing(golden: Golden, text: str) -> None:
    faults = told(text)
    golden(faults)
    assert faults and all(fault.isprintable() for fault in faults)
