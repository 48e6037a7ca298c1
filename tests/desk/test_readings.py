"""Readings from CSV: what is taken, and one clear line for each thing that is wrong."""

from __future__ import annotations

import random

import pytest
from golden import Golden

from timerd.desk.readings import MOST_BYTES, PatchReading, read_readings, read_unit
from timerd.sheet.profile.faults import ProfileError

HEAD = "green,blue,density\n"


def told(text: str | bytes, **more: str) -> list[str]:
    raw = text if isinstance(text, bytes) else text.encode()
    with pytest.raises(ProfileError) as error:
        read_readings(raw, "a.csv", **more)  # type: ignore[arg-type]
    return [str(fault) for fault in error.value.faults]


def test_columns_in_any_order_comments_blank_lines_and_a_wedge() -> None:
    text = "# my paper\n\nDensity, wedge ,green,blue\n0.50,1.0,10,0\n# half way\n1.20,0.3,0,20\r\n"
    found = read_readings(text.encode(), "a.csv")
    assert found.unit == "seconds"
    assert found.rows == (PatchReading(4, 1.0, 0.0, 0.5), PatchReading(6, 0.0, pytest.approx(20 * 10**-0.3), 1.2))


@pytest.mark.parametrize(
    "text", ["\ufeff" + HEAD + "1,2,0.5\n", "green;blue;density\n1;2;0.5\n", "green\tblue\tdensity\n1\t2\t.5"]
)
def test_marks_and_separators_of_other_programs(text: str) -> None:
    assert read_readings(text.encode(), "a.csv").rows == (PatchReading(2, 1.0, 2.0, 0.5),)


def test_one_unit_for_all(golden: Golden) -> None:
    text = "green,blue,density,unit\n1,0,0.5,lux s\n2,0,0.6,lux seconds\n"
    assert read_readings(text.encode(), "a.csv").unit == "lux seconds"
    assert read_readings((HEAD + "1,0,0.5\n").encode(), "a.csv", "relative").unit == "relative"
    golden(told(text.replace("lux seconds", "seconds")))
    golden(told(text, unit="seconds")[0])
    golden(told(text.replace("lux s\n", "candles\n")))
    with pytest.raises(ValueError, match="found 'candles'"):
        read_unit("candles")


BAD = {
    "text": ("1,0,dark", ["a.csv:2: density: must be a number, is 'dark'"]),
    "comma": ('"1,5",0,0.5', ["a.csv:2: green: must be a number, is '1,5': write 1.5"]),
    "empty": ("1,,0.5", ["a.csv:2: blue: must be a number, is empty"]),
    "negative": ("-1,0,0.5", ["a.csv:2: green: must be at least 0, is -1"]),
    "negative density": ("1,0,-0.01", ["a.csv:2: density: must be at least 0, is -0.01"]),
    "dense": ("1,0,6.1", ["a.csv:2: density: must be at most 6, is 6.1"]),
    "nan": ("nan,0,0.5", ["a.csv:2: green: must be a number, is 'nan'"]),
    "inf": ("1,inf,0.5", ["a.csv:2: blue: must be a number, is 'inf'"]),
    "huge": ("1e99,0,0.5", ["a.csv:2: green: must be at most 1e+09, is 1e99"]),
    "underscore": ("1_0,0,0.5", ["a.csv:2: green: must be a number, is '1_0'"]),
    "other digits": ("١,0,0.5", ["a.csv:2: green: must be a number, is '١'"]),
    "too few": ("1,0", ["a.csv:2: has 2 values, there are 3 columns"]),
    "too many": ("1,0,0.5,7", ["a.csv:2: has 4 values, there are 3 columns"]),
    "escape": ("1,0,\x1b[31m", ["a.csv:2: density: must be a number, is '\\x1b[31m'"]),
    "two": ("x,0,y\n1,0,0.5\n,0,1", [
        "a.csv:2: density: must be a number, is 'y'", "a.csv:2: green: must be a number, is 'x'",
        "a.csv:4: green: must be a number, is empty",
    ]),
}  # fmt: skip


@pytest.mark.parametrize("name", BAD)
def test_a_bad_row_is_told_at_its_line(name: str) -> None:
    row, lines = BAD[name]
    assert told(HEAD + row + "\n") == lines


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("", "a.csv:1: is empty: it must have a line of column names and readings under it"),
        ("# only a comment\n\n", "a.csv:1: is empty: it must have a line of column names and readings under it"),
        (HEAD, "a.csv:1: has column names and no readings under them"),
        ("green,density\n1,2\n", "a.csv:1: column 'blue' is missing: the first line names the columns"),
        ("green,bleu,density\n1,2,3\n", "a.csv:1: unknown column 'bleu': did you mean 'blue'?"),
        ("green,green,blue,density\n1,1,1,1\n", "a.csv:1: green: is there twice"),
        (b"green,blue,density\n1,0,\xff\n", "a.csv:1: is not UTF-8: save it as CSV in UTF-8"),
        (HEAD + "1,0,0.5\n" * 5001, "a.csv:1: has more than 5000 readings"),
        (b"1,0,0.5\n" * 1_400_000, "a.csv:1: is larger than 256 KiB: readings are a few hundred lines"),
    ],
    ids=["empty", "comments", "no rows", "no blue", "bleu", "twice", "bytes", "long", "10 MB"],
)
def test_a_bad_file_is_told_in_one_line(text: str | bytes, line: str) -> None:
    found = told(text)
    assert found[0] == line and len(set(found)) <= 2


def test_many_faults_are_told_20_at_a_time(golden: Golden) -> None:
    found = told(HEAD + "x,0,0.5\n" * 100)
    assert len(found) == 21
    golden(found[-1])


def test_any_bytes_give_readings_or_lines() -> None:
    chance = random.Random(12)
    for _ in range(400):
        raw = HEAD.encode() * chance.randint(0, 1) + bytes(
            chance.choice(b'0123456789.,;"\n\r\t -eE#\x00\xff\xc3nagreublds') for _ in range(chance.randint(0, 80))
        )
        try:
            found = read_readings(raw, "a.csv")
        except ProfileError as error:
            assert error.faults and all("\n" not in str(fault) for fault in error.faults)
        else:
            assert all(row.green >= 0 and row.blue >= 0 and 0 <= row.density <= 6 for row in found.rows)
    assert told(HEAD.encode() + b'"' + b"x" * (MOST_BYTES - 100))
