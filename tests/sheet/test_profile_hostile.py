"""Whatever is in a file, reading ends within a second, in a profile or in faults that can be printed."""

from __future__ import annotations

import random
import time
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from timerd.places import shipped
from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.reading import read

SHIPPED = sorted(shipped().rglob("*.yaml"))
KINDS = (None, "print", "bench", "paper", "bath", "feet")
SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much]

PIECES = [
    *("print", "paper", "bench", "bath", "feet", "areas", "steps", "base", "burn", "flash", "light", "dodge", "lamps"),
    *("stops", "seconds", "threshold", "pedals", "go", "end", "pin", "usb", "at", "when", "pedal", "sheet", "leave"),
    *(
        ": ",
        ":",
        "- ",
        "-",
        "[",
        "]",
        "{",
        "}",
        ", ",
        ",",
        "\n",
        "\n  ",
        "\n    ",
        "\n- ",
        "? ",
        "|",
        ">",
        "|+2\n",
        "#",
        " ",
    ),
    *(
        "'",
        '"',
        "\\",
        "\\x1b",
        "\\u202e",
        "\\UFFFFFFFF",
        "&a ",
        "*a",
        "!t ",
        "!!int ",
        "!!python/object:os.system ",
        "<<",
    ),
    *("---", "...", "%YAML 1.1\n", "%TAG ! x\n", "true", "null", "~", ".inf", "-.nan", "1:30", "0x10", "1_0", "9" * 30),
    *(
        "1/3",
        "60 %",
        "8x10 in",
        "0",
        "-1",
        "1.5",
        "1e999",
        "\t",
        "\r",
        "\x00",
        "\x1b",
        "\u202e",
        "\u2028",
        "\ufeff",
        "\x85",
    ),
]


def outcome(raw: bytes, kind: str | None = None, file: str = "p.yaml") -> None:
    """Read, and be content with a value or with faults that are one printable line each."""
    try:
        read(raw, file, kind)
    except ProfileError as error:
        assert error.faults
        lines = str(error).split("\n")
        assert len(lines) == len(error.faults)
        last = raw.count(b"\n") + raw.count(b"\r") + 1
        for fault in error.faults:
            assert 1 <= fault.line <= last + 1
            assert not any(ord(c) < 32 or 127 <= ord(c) < 160 or c in "\u202e\u2028\ufeff" for c in str(fault))
            assert len(fault.message) < 700


@settings(max_examples=100, deadline=timedelta(seconds=20), suppress_health_check=SLOW)
@given(st.binary(max_size=300), st.sampled_from(KINDS))
def test_any_bytes(raw: bytes, kind: str | None) -> None:
    outcome(raw, kind)


@settings(max_examples=200, deadline=timedelta(seconds=20), suppress_health_check=SLOW)
@given(st.lists(st.sampled_from(PIECES), max_size=60), st.sampled_from(KINDS))
def test_any_pieces_of_yaml(pieces: list[str], kind: str | None) -> None:
    outcome("".join(pieces).encode(), kind)


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from(PIECES),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from(PIECES), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=80, deadline=timedelta(seconds=20), suppress_health_check=SLOW)
@given(VALUES, st.sampled_from(SHIPPED), st.randoms(use_true_random=False))
def test_any_value_in_any_place(value: object, path: Path, chance: random.Random) -> None:
    import json

    text = path.read_text()
    marks = [i for i, c in enumerate(text) if c in ":[{,"]
    at = chance.choice(marks)
    end = min((i for i in (text.find(c, at + 1) for c in ",}]\n") if i > 0), default=len(text))
    outcome((text[: at + 1] + " " + json.dumps(value) + text[end:]).encode())


@settings(max_examples=80, deadline=timedelta(seconds=20), suppress_health_check=SLOW)
@given(st.sampled_from(SHIPPED), st.randoms(use_true_random=False), st.lists(st.sampled_from(PIECES), max_size=3))
def test_any_slip_of_the_pen(path: Path, chance: random.Random, pieces: list[str]) -> None:
    text = path.read_text()
    at = chance.randrange(len(text))
    outcome((text[:at] + "".join(pieces) + text[at + chance.randrange(4) :]).encode())


def aliases() -> str:
    """Each list holds nine of the one before it: a thousand million words, were they written out."""
    names = "abcdefghij"
    lists = [f"{new}: &{new} [{', '.join([f'*{old}'] * 9)}]\n" for old, new in pairwise(names)]
    return "a: &a [x, x, x, x]\n" + "".join(lists)


BOMBS = {
    "values": "paper: [" + "a," * 130_000,
    "keys of no kind": "".join(f"k{i}: {i}\n" for i in range(19_000)),
    "keys": "paper: x\n" + "".join(f"k{i}: {i}\n" for i in range(3000)),
    "areas": "print: x\nareas:\n" + "".join(f"  a{i}: 5\n" for i in range(4000))
    + "steps:\n" + "".join(f"- {{burn: b{i}, light: g}}\n" for i in range(190)),
    "steps": "print: x\nsteps:\n" + "".join(f"- {{bse: b{i}, lght: g}}\n" for i in range(1000)),
    "dodges": "print: x\nsteps:\n- base: a\n  light: g\n  dodge:\n" + "  - {aera: b, stops: q}\n" * 1500,
    "corners": "print: x\nareas: {a: [" + "[0.1,0.2]," * 1000 + "]}\n",
    "no values": "paper: x\n" + "".join(f"k{i}:\n" for i in range(3000)),
    "the same key": "paper: x\n" + "box: 1\n" * 3000,
    "feet": "feet:\n" + "- {at: 1, pedal: go}\n" * 2100,
    "tags": "paper: x\n" + "".join(f"k{i}: !a b\n" for i in range(1000)),
    "control characters": "\x01\n" * 130_000,
    "nothing to see": "paper: " + "\u200d" * 80_000,
    "hidden in every other line": 'paper: "' + "\u200d\n\nx\n" * 40_000 + '"',
    "hidden, each another": 'paper: "' + "".join(map(chr, range(0x100000, 0x107000))) + "\n" * 130_000 + '"',
    "a key of them": "? " + "".join(map(chr, range(0x100000, 0x10F000))) + "\n: x\n",
    "escapes": 'paper: "' + "\\u202e" * 40_000 + '"',
    "all private characters": "".join(map(chr, range(0x100000, 0x10FFFE))) + "\x01\x02",
    "comments": "# x\n" * 65_000,
    "a long word": "paper: " + "a" * 262_000,
    "a long key": "paper: x\n" + "a" * 262_000 + ": 3\n",
    "open brackets": "[" * 262_000,
    "open brackets in a value": "paper: " + "[\n" * 130_000,
    "open braces in a value": "paper: " + "{a: " * 65_000,
    "keys of keys": "? " * 130_000,
    "lists of lists": "paper:\n - " + "- " * 130_000,
    "a long anchor": "&" + "a" * 260_000,
    "aliases": aliases(),
    "a long number": "paper: x\nreciprocity: " + "9" * 250_000,
    "a long fraction": "paper: x\nreciprocity: 7." + "9" * 250_000,
    "a version": "%YAML 1." + "9" * 5000 + "\n---\npaper: x\n",
    "stops": "print: x\nsteps:\n" + "- {burn: a, light: g, stops: 999999999999/999999999998}\n" * 200,
    "stops of many digits": "print: x\nsteps:\n- {burn: a, light: g, stops: " + "1" * 200_000 + "/3}\n",
    "a word of words": "bench: x\nlights: {a: {lamp: b, colour: " + "a " * 100_000 + "b}}\n",
    "names": "paper: " + "a-" * 100_000 + "\n",
}  # fmt: skip


@pytest.mark.parametrize("bomb", BOMBS.values(), ids=BOMBS)
def test_a_bomb_is_refused_soon(bomb: str) -> None:
    raw = bomb.encode()[: 256 * 1024].decode(errors="ignore").encode()
    began = time.process_time()
    outcome(raw)
    # A second is the aim on a desk computer, and half of it what is seen; a busy machine gets some more.
    assert time.process_time() - began < 2
