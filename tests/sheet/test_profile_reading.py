"""One file to one value: what is taken, what the value knows of its file, and where reading gives up."""

from __future__ import annotations

from fractions import Fraction

import pytest
from golden import Golden

from timerd.sheet.profile.faults import FileFault, ProfileError, did_you_mean, near, shown, written_place
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printfile import BaseStep, BurnStep, FlashStep, Print
from timerd.sheet.profile.reading import Profile, read
from timerd.sheet.profile.text import MOST_BYTES, MOST_DEPTH, MOST_FAULTS, MOST_VALUES

PRINT = """\
# A print with most of what a print can have.
print: Low tide
negative: 24-117-08
paper: demo
bench: two-station
sheet: 8x10 in
image_mm: {left: 12, top: 12, width: 179, height: 230}
magnification: 4
judged: wet
areas:
  haze: [[0, 0.18], [1, 0.14], [1, 0.4]]
  Möwe 2: [[0, 0], [1, 0], [1, 1]]
steps:
  - {flash: haze, light: flash, threshold: 60 %, pedal: hold}
  - {carry: enlarger}
  - base: soft
    light: green
    seconds: 12
    dodge:
      - {area: Möwe 2, stops: 1 1/3, card: "small, round", start: 0}
      - {area: left, mm: 10, stops: 0.5, apart: true}
  - {burn: haze, light: green, stops: +5/6, leave: [{area: Möwe 2, stops: 0}], lead_in: 0.2, pedal: free2}
  - {burn: haze, light: [green, blue], percent: 40 %, over: soft}
  - {burn: all, light: green, pedal: free}
  - {develop: fibre}
""".replace(", pedal: free2", "")


def told(text: str | bytes, kind: str | None = None, file: str = "p.yaml") -> list[str]:
    """All that is wrong with a file, as it is printed."""
    try:
        read(text if isinstance(text, bytes) else text.encode(), file, kind)
    except ProfileError as error:
        return [str(fault) for fault in error.faults]
    return []


def test_a_good_print_is_read_whole() -> None:
    profile: Profile[Print] = read(PRINT.encode(), "prints/low-tide.yaml", "print")
    value = profile.value
    assert (profile.kind, profile.file) == ("print", "prints/low-tide.yaml")
    assert value.sheet == (8 * 25.4, 254.0)
    flash, _, base, burn, mixed, free, _ = value.steps
    assert isinstance(flash, FlashStep) and flash.threshold == 0.6 and flash.pedal == "hold"
    assert isinstance(base, BaseStep) and base.dodge[0].stops == Fraction(4, 3) and base.dodge[1].mm == 10
    assert isinstance(burn, BurnStep) and burn.stops == Fraction(5, 6) and burn.leave[0].stops == 0
    assert isinstance(mixed, BurnStep) and mixed.light == ["green", "blue"] and mixed.percent == 40
    assert isinstance(free, BurnStep) and free.stops is None


def test_a_profile_knows_the_lines_of_its_file() -> None:
    profile = read(PRINT.encode(), "p.yaml")
    assert profile.line_of(("steps", 2, "dodge", 1, "stops")) == 21
    assert profile.line_of(("steps", 2, "seconds")) == 18
    assert profile.line_of(("steps", 2, "pedal")) == 16, "what is not written is at the nearest thing around it"
    assert profile.line_of(("nowhere",)) == 2
    assert profile.fault(("steps", 3, "light"), "no\nsuch light \x1b") == FileFault(
        "p.yaml", 22, "steps[3].light", r"no\nsuch light \x1b"
    )


def test_other_beginnings_and_ends_of_lines_change_nothing() -> None:
    plain = read(PRINT.encode(), "p.yaml")
    for raw in (b"\xef\xbb\xbf" + PRINT.encode(), PRINT.replace("\n", "\r\n").encode(), PRINT.rstrip().encode()):
        other = read(raw, "p.yaml")
        assert other.value == plain.value and other.lines == plain.lines
    assert read(b"---\npaper: demo\n...\n", "p.yaml").value == Paper(paper="demo")


TRAPS = [
    *("on", "off", "yes", "no", "On", "NO", "y", "n", "True", "FALSE", "1:30", "190:20:30", "1:30.5", "2024-05-01"),
    *("2024-05-01 12:00:00", "0x1f", "0o17", "0b1", "017", "08", "1_000", "1e_3", "=", "inf", "nan", "+.5.", "12e03x"),
    *("1/3", "60 %", "--", "<", "a=b", "NULL?", "nUll", "1.2.3", "١٢"),
]


@pytest.mark.parametrize("trap", TRAPS)
def test_what_older_yaml_takes_for_something_else_is_text(trap: str) -> None:
    assert read(f"paper: demo\nbox: {trap}\n".encode(), "p.yaml").value.box == trap


def test_such_words_are_names_too() -> None:
    paper = read(b"paper: on\nthreshold: {on: 1, off: 2, yes: 3, no: 4}\n", "p.yaml").value
    assert paper.paper == "on" and paper.threshold == {"on": 1, "off": 2, "yes": 3, "no": 4}


@pytest.mark.parametrize(
    ("written", "value"), [("1", 1), ("+1.25", 1.25), ("1.", 1), (".75", 0.75), ("1e0", 1), ("5e-1", 0.5)]
)
def test_numbers_are_decimal(written: str, value: float) -> None:
    assert read(f"paper: demo\nreciprocity: {written}\n".encode(), "p.yaml").value.reciprocity == value


@pytest.mark.parametrize("yes", ["yes", "on", "True", "TRUE", "y", "1", "'true'"])
def test_only_true_is_true(golden: Golden, yes: str) -> None:
    bench = "bench: b\nstations: {s: {}}\nlamps: {l: {pin: 17, station: s}}\nlights: {w: {lamp: l, colour: white}}\n"
    bench += "pedals: {go: [{pin: 5}], end: [{pin: 6}]}\nsafelight: {pin: 22, on_when_paused: %s}\n"
    assert told(bench % "true") == []
    (fault,) = told(bench % yes)
    golden(fault)


# -- which kind of file -------------------------------------------------------------------------------------------


def test_the_kind_is_told_by_the_keys_and_may_be_wanted(golden: Golden) -> None:
    assert read(b"paper: demo\nsurface: glossy\n", "p.yaml").kind == "paper"
    assert told("paper: demo\nsurface: glossy\n", "paper") == []
    golden(told("# mine\npaper: demo\nsurface: glossy\n", "bench"))
    golden(told("papr: demo\nsurface: glossy\n", "paper"))
    golden(told("bath: b\npaper: demo\n", "paper"))


# -- limits -------------------------------------------------------------------------------------------------------


def test_a_file_may_have_256_kib_and_no_more(golden: Golden) -> None:
    text = "paper: demo\n"
    assert told(text + "#" * (MOST_BYTES - len(text))) == []
    golden(told(text + "#" * (MOST_BYTES - len(text) + 1)))


def test_a_file_may_be_20_deep_and_no_more(golden: Golden) -> None:
    fault = f"p.yaml:2: box{'[0]' * (MOST_DEPTH - 1)}: is nested more than {MOST_DEPTH} deep"
    for open_, close in ("[]", ("[\n", "]")):
        deep = "paper: demo\nbox: " + open_ * MOST_DEPTH + close * MOST_DEPTH
        assert [f.split(": ", 1)[1] for f in told(deep)] == [fault.split(": ", 1)[1]]
        assert "must be text" in told("paper: demo\nbox: " + open_ * (MOST_DEPTH - 1) + close * (MOST_DEPTH - 1))[0]
    assert told("paper: demo\nbox: " + "[" * 100_000) == [fault]
    golden(told("paper: demo\n? " + "[" * 100_000)[-1])


def test_a_file_may_have_20000_values_and_no_more(golden: Golden) -> None:
    most = "paper: demo\nbox: [" + "1," * (MOST_VALUES - 3) + "]\n"
    golden(told(most)[0])
    golden(told(most.replace("]", "1]")))


def test_not_utf8_is_told_by_line(golden: Golden) -> None:
    golden(told("paper: demo\nbox: Möwe\nbatch: é\n".encode("latin-1")))
    golden(told("paper: demo\n".encode("utf-16"))[0])


def test_what_nobody_would_read_is_cut(golden: Golden) -> None:
    faults = told("paper: demo\n" + "".join(f"key-{i}: 1\n" for i in range(1000)))
    assert len(faults) == MOST_FAULTS + 1
    assert faults[0] == "p.yaml:2: unknown key 'key-0'"
    golden(faults[-1])


# -- what is echoed -----------------------------------------------------------------------------------------------


def test_a_found_value_is_shown_in_60_characters(golden: Golden) -> None:
    (fault,) = told(
        "print: x\npaper: demo\nbench: b\nsheet: " + "9" * 70 + "x\nsteps: [{base: a, light: b, seconds: 1}]\n"
    )
    golden(fault)
    for value in ("x" * 500, ["y" * 50] * 50, {"k" * 500: 1}, {str(i): i for i in range(99)}, [[["z"] * 30] * 30]):
        assert len(shown(value)) <= 60 and "…" in shown(value)
    assert shown("x" * 58) == repr("x" * 58)


def test_an_overlong_key_is_cut_too() -> None:
    (fault,) = told("paper: demo\n? " + "k" * 3000 + "\n: 1\n")
    assert fault == "p.yaml:2: unknown key '" + "k" * 57 + "…'"
    (fault,) = told("paper: demo\nthreshold: {" + "Q" * 900 + ": 1}\n")
    assert len(fault) < 200


def test_nothing_found_reaches_the_terminal_raw() -> None:
    faults = told('paper: demo\n"\\e[31m": 1\nbase: "\\e[0m"\nbox: "\\u202e"\n', file="a\x1b[31m\u202e.yaml")
    assert len(faults) == 3
    assert all(fault.startswith(r"a\x1b[31m\u202e.yaml:") and fault.isprintable() for fault in faults)


def test_places_and_names_as_they_are_written() -> None:
    assert written_place(("steps", 2, "dodge", 0, "stops")) == "steps[2].dodge[0].stops"
    assert written_place(("areas", "small boat", 1)) == "areas.small boat[1]"
    assert written_place(("areas", "a.b", "x[0]")) == "areas['a.b']['x[0]']"
    assert written_place(()) == ""
    assert near("HAZE", ["haze", "sky"]) == "haze" and near("qqq", ["haze"]) is None
    assert did_you_mean("qqq", [f"a{i}" for i in range(14)]).endswith("a11 and 2 more)")
    assert did_you_mean("x", []) == ""


def test_faults_come_in_the_order_of_lines_and_once() -> None:
    faults = [
        FileFault("b", 1, "", "x"),
        FileFault("a", 10, "", "x"),
        FileFault("a", 9, "z", "x"),
        FileFault("a", 9, "z", "x"),
    ]
    error = ProfileError(faults)
    assert str(error) == "a:9: z: x\na:10: x\nb:1: x"
    assert isinstance(error, ValueError)
