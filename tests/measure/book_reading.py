"""What reading a large book costs: 100,000 sheets, 8 million records, 1.7 GB, as function calls and as whole processes.

Held to, as function calls in seconds of wall clock on a machine that does nothing else: the last 50 sheets 0.2, one
sheet 0.05, all sheets 1.5, the check 60; and what a start of the daemon reads 0.2. With --short they are printed and
compared with a book of a tenth of the sheets, in the same run: the last 50, and one sheet, at most 4 times as long.
A checksum is held to a quarter of the CPU's time that writing a record costs where no disk is waited for.
A process is heavier than a call by Python's own start: both are printed, and which is which.

python tests/measure/book_reading.py [--short] [--keep DIR]
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from book_size import sheet
from records import wrote
from walks.engine_walk import PLAN

from timerd.book.checking import check
from timerd.book.listing import Selection, listing
from timerd.book.reading import Reader
from timerd.book.rows import row_of
from timerd.book.store import Book
from timerd.sheet.record import Record

FULL, SHORT = 100_000, 2_000
EDITION = 8
"""So many sheets have one plan."""
BEGUN = datetime(2020, 1, 1, 18, tzinfo=UTC)
LIMITS_S = {"the last 50": 0.2, "one sheet": 0.05, "all": 1.5, "check": 60.0, "what a start reads": 0.2}
TIMES = 4.0
SHARE = 0.25


def build(home: Path, sheets: int) -> None:
    """A book of so many sheets; every fourth is rated, every tenth has a note."""
    book = Book(home, BEGUN.isoformat(), 1)
    for first in range(1, sheets + 1, 500):
        records: list[Record] = []
        plans = {}
        for n in range(first, min(first + 500, sheets + 1)):
            plans[n] = PLAN.model_copy(update={"print": f"Print {n // EDITION}, low tide"})
            armed, *rest = sheet(n, sheets)
            wall = (BEGUN + timedelta(seconds=300 * n)).isoformat()
            more = {"wall": wall, "scheduling": "real time, memory locked"}
            records += [armed._replace(fact=replace(armed.fact, print=plans[n].print, **more)), *rest]
            if n % 4 == 0:
                records.append(wrote("rated", 300.0 * n, n, facts={"rating": n // 4 % 5 + 1, "wall": wall}))
            if n % 10 == 0:
                records.append(wrote("note", 300.0 * n, n, facts={"text": "the wall wants more", "wall": wall}))
        book.append(records, plans)
        if first % 5000 == 1:
            book.checkpoint()
    book.checkpoint()
    book.close()


def seconds(call: Callable[[], object], times: int) -> tuple[float, float]:
    """The least of so many calls: wall clock, and the CPU's."""
    walls, cpus = [], []
    for _ in range(times):
        wall, cpu = time.perf_counter(), time.process_time()
        call()
        walls.append(time.perf_counter() - wall)
        cpus.append(time.process_time() - cpu)
    return min(walls), min(cpus)


def calls(home: Path, sheets: int) -> dict[str, tuple[float, float]]:
    """Each call, measured."""
    reader = Reader(home)
    found = {
        "the last 50": seconds(lambda: listing(reader, last=51), 9),
        "one print's last 50": seconds(lambda: listing(reader, Selection("print 7,"), last=51), 3),
        "one sheet": seconds(lambda: reader.history(sheets // 2), 9),
        "all": seconds(lambda: listing(reader), 3),
        "what a start reads": seconds(reader.present, 5),
    }
    reader.close()
    wrong: list[str] = []
    found["check"] = seconds(lambda: wrong.extend(check(home).faults), 1)
    assert not wrong, wrong
    return found


def checksum(folder: Path) -> tuple[float, float]:
    """Microseconds of the CPU: a record written in a transaction of its own, and what its checksum is of that."""
    records = [wrote("so far", float(n), 1 + n // 40, 2, n, {"seconds": float(n)}) for n in range(2000)]
    book = Book(folder, BEGUN.isoformat(), 1)
    written = seconds(lambda: [book.append([record], {}) for record in records], 5)[1]
    book.close()
    with_one = seconds(lambda: [row_of(7, 6, 1, record, None) for record in records], 5)[1]
    without = seconds(lambda: [(round(record.at * 1e9), json.dumps(dict(record.facts))) for record in records], 5)[1]
    return written / len(records) * 1e6, (with_one - without) / len(records) * 1e6


def process(home: Path, *argv: str) -> float:
    """A whole process, from its start to its end: the least of three."""
    env = {**os.environ, "TIMERD_HOME": str(home)}

    def run() -> None:
        subprocess.run([sys.executable, "-m", "timerd", *argv], env=env, stdout=subprocess.DEVNULL, check=True)

    return seconds(run, 3)[0]


def main() -> int:
    short = "--short" in sys.argv
    sheets = SHORT if short else FULL
    held = True
    with tempfile.TemporaryDirectory() as folder:
        keep = Path(sys.argv[sys.argv.index("--keep") + 1]) if "--keep" in sys.argv else Path(folder)
        told = {}
        for count in (sheets // 10, sheets):
            home = keep / str(count)
            if not (home / "book.sqlite").exists():
                build(home, count)
            told[count] = calls(home, count)
            size = (home / "book.sqlite").stat().st_size / 1e6
            print(f"{count:,} sheets, {size:,.0f} MB; calls, wall clock (CPU) in ms:")
            for name, (wall, cpu) in told[count].items():
                print(f"  {name:<20} {1000 * wall:10.1f} ({1000 * cpu:.1f})")
        print("whole processes, wall clock in ms:")
        print(f"  {'timerd --version':<20} {1000 * process(home, '--version'):10.1f}")
        for argv in (("sheets",), ("sheet", str(sheets // 2)), ("sheets", "--all")):
            print(f"  {'timerd ' + ' '.join(argv):<20} {1000 * process(home, *argv):10.1f}")
        (keep / "written").mkdir(exist_ok=True)
        written, of_it = checksum(keep / "written")
        print(f"a record written: {written:.1f} us of the CPU and a sync; its checksum is {of_it:.1f} us of that")
        held = held and of_it <= SHARE * written
    for name in ("the last 50", "one sheet"):
        ratio = told[sheets][name][1] / told[sheets // 10][name][1]
        print(f"{name}: {ratio:.2f} times as long with ten times the sheets")
        held = held and ratio <= TIMES
    if not short:
        for name, limit in LIMITS_S.items():
            wall = told[sheets][name][0]
            print(f"{name}: {wall:.3f} s of {limit:g} s" + ("" if wall <= limit else ": TOO LONG"))
            held = held and wall <= limit
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
