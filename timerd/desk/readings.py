"""Readings of a paper from a CSV file: exposures in green and blue, the wedge over them, the density that came out."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args

from timerd.sheet.profile.curvefile import Unit
from timerd.sheet.profile.faults import FileFault, ProfileError, did_you_mean, printable, shown

MOST_BYTES = 256 * 1024
MOST_ROWS = 5000
_MOST_FAULTS = 20
_NEEDED = ("green", "blue", "density")
_MAY = ("wedge", "unit")
_MOST = {"green": 1e9, "blue": 1e9, "density": 6.0, "wedge": 6.0}
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,20}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})(?:[eE][+-]?[0-9]{1,2})?", re.ASCII)
_UNITS: dict[str, Unit] = {
    "lux seconds": "lux seconds", "lux s": "lux seconds", "lx s": "lux seconds", "lux-seconds": "lux seconds",
    "seconds": "seconds", "s": "seconds", "relative": "relative",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class PatchReading:
    """One patch: exposure in each light behind the wedge, the density read, and its line in the file."""

    line: int
    green: float
    blue: float
    density: float


@dataclass(frozen=True, slots=True)
class Readings:
    """All readings of a file, and the one unit of their exposures."""

    unit: Unit
    rows: tuple[PatchReading, ...]


def read_unit(text: str) -> Unit:
    """The unit of exposures by its name; ValueError, in one line, for any other.

    >>> read_unit("lux s")
    'lux seconds'
    """
    try:
        return _UNITS[" ".join(text.lower().split())]
    except KeyError:
        raise ValueError(f"the unit of exposures is {_unit_names()}; found {shown(text)}") from None


def read_readings(raw: bytes, file: str, unit: Unit | None = None) -> Readings:
    """The readings in a CSV file's bytes: columns green, blue and density, and wedge and unit where there are.

    `unit` is the one told beside the file; a `unit` column must say the same in every row; seconds where neither
    says. A wedge column is the density of the wedge over that exposure: 10^-wedge of it gets through. Lines that
    begin with # and empty lines are passed over. ProfileError with a line for each thing that is wrong, 20 at most.

    >>> found = read_readings(b"green,blue,density,wedge\\n10,0,0.5,1\\n", "a.csv")
    >>> found.unit, found.rows[0]
    ('seconds', PatchReading(line=2, green=1.0, blue=0.0, density=0.5))
    """
    return _Reader(printable(file), unit).read(raw)


class _Reader:
    def __init__(self, file: str, unit: Unit | None) -> None:
        self._file = file
        self._unit = unit
        self._faults: list[FileFault] = []

    def _complain(self, line: int, place: str, message: str) -> None:
        self._faults.append(FileFault(self._file, line, place, message))

    def read(self, raw: bytes) -> Readings:
        rows = list(self._rows(raw))
        if self._faults:
            more = len(self._faults) - _MOST_FAULTS
            told = self._faults[:_MOST_FAULTS]
            if more > 0:
                told.append(FileFault(self._file, told[-1].line + 1, "", f"and {more} more: mend these first"))
            raise ProfileError(told)
        return Readings(self._unit or "seconds", tuple(rows))

    def _rows(self, raw: bytes) -> Iterator[PatchReading]:
        if len(raw) > MOST_BYTES:
            self._complain(1, "", f"is larger than {MOST_BYTES // 1024} KiB: readings are a few hundred lines")
            return
        try:
            text = raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
        except UnicodeDecodeError:
            self._complain(1, "", "is not UTF-8: save it as CSV in UTF-8")
            return
        lines = [(n, line) for n, line in enumerate(io.StringIO(text, newline=None), start=1)]
        kept = [(n, line) for n, line in lines if line.strip() and not line.lstrip().startswith("#")]
        if not kept:
            self._complain(1, "", "is empty: it must have a line of column names and readings under it")
            return
        delimiter = next((sign for sign in ";\t" if sign in kept[0][1] and "," not in kept[0][1]), ",")
        names = self._names(kept[0][0], _cells(kept[0][1], delimiter))
        if names is None:
            return
        if len(kept) - 1 > MOST_ROWS:
            self._complain(kept[0][0], "", f"has more than {MOST_ROWS} readings")
            return
        if len(kept) == 1:
            self._complain(kept[0][0], "", "has column names and no readings under them")
        for line, written in kept[1:]:
            if (reading := self._row(line, names, _cells(written, delimiter))) is not None:
                yield reading

    def _names(self, line: int, cells: list[str]) -> list[str] | None:
        names = [cell.lower() for cell in cells]
        before = len(self._faults)
        for name in names:
            if name not in (*_NEEDED, *_MAY):
                free = [known for known in (*_NEEDED, *_MAY) if known not in names]
                self._complain(line, "", f"unknown column {shown(name)}{did_you_mean(name, free)}")
            elif names.count(name) > 1:
                self._complain(line, name, "is there twice")
        for name in _NEEDED:
            if name not in names and len(self._faults) == before:
                self._complain(line, "", f"column '{name}' is missing: the first line names the columns")
        return names if len(self._faults) == before else None

    def _row(self, line: int, names: list[str], cells: list[str]) -> PatchReading | None:
        if len(cells) != len(names):
            self._complain(line, "", f"has {len(cells)} values, there are {len(names)} columns")
            return None
        row = dict(zip(names, cells, strict=True))
        if "unit" in row:
            self._one_unit(line, row["unit"])
        values = {name: self._number(line, name, text) for name, text in row.items() if name != "unit"}
        if any(value is None for value in values.values()):
            return None
        green, blue, density, wedge = (values.get(name) or 0.0 for name in (*_NEEDED, "wedge"))
        through = math.pow(10.0, -wedge)
        return PatchReading(line, green * through, blue * through, density)

    def _one_unit(self, line: int, text: str) -> None:
        try:
            unit = read_unit(text)
        except ValueError as error:
            self._complain(line, "unit", str(error))
            return
        if self._unit is not None and unit != self._unit:
            self._complain(line, "unit", f"all exposures are in one unit: '{self._unit}' so far, '{unit}' here")
        self._unit = self._unit or unit

    def _number(self, line: int, name: str, text: str) -> float | None:
        if _NUMBER.fullmatch(text) is None:
            hint = f": write {text.replace(',', '.')}" if _NUMBER.fullmatch(text.replace(",", ".")) else ""
            self._complain(line, name, f"must be a number, is {shown(text) if text else 'empty'}{hint}")
            return None
        value = float(text)
        if not 0.0 <= value <= _MOST[name]:
            bound = "at least 0" if value < 0.0 else f"at most {_MOST[name]:g}"
            self._complain(line, name, f"must be {bound}, is {text}")
            return None
        return value


def _cells(line: str, delimiter: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line.rstrip("\n")], delimiter=delimiter), [])]
    except csv.Error:  # a cell of 128 KiB
        return []


def _unit_names() -> str:
    *first, last = get_args(Unit)
    return f"{', '.join(first)} or {last}"
