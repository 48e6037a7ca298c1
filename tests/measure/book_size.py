"""What going on from a book costs: the present of one with 1,000 sheets and one with 20,000, in milliseconds of CPU.

Held to: the present at most in the ratio of the sheets (it looks along an index of them), one sheet read by itself at
most four times as long in the large book, and the present of the small book at most a fifth of its whole fold. Both
books are of the same sheets, each printed straight through and put in the stop bath but the last five, which are out.

python tests/measure/book_size.py [--short]
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from records import wrote
from walks.engine_walk import PLAN

from timerd.book.reading import Reader
from timerd.book.store import Book
from timerd.sheet.record import Record

TIMES_A_SHEET = 4.0
OUT = 5


def sheet(number: int, last: int) -> list[Record]:
    """What is written of a sheet that is printed straight through: four lights, and the light on its way each."""
    at, records = number * 300.0, []
    steps = [(s.n, s.kind, s.dose if s.light else 0.0, s.light is not None) for s in PLAN.steps]
    records.append(wrote("armed", at, number, facts={"print": PLAN.print, "steps": steps}))
    records.append(wrote("sheet out", at + 1, number, 1))
    records.append(wrote("passed", at + 1, number, 1))
    for k, step in enumerate(step for step in PLAN.steps if step.light is not None and step.dose is not None):
        burst, lit = 4 * number + k, at + 10 * k + 5
        assert step.dose is not None
        records.append(wrote("ready", lit - 3, number, step.n, facts={"owed": step.dose}))
        records.append(wrote("safelight", lit - 3, number, facts={"lit": False}))
        told = {"light": step.light, "lit": lit, "seconds": step.dose, "most": step.dose}
        records.append(wrote("lit", lit, number, step.n, burst, told))
        so_far = 0.5
        while so_far < step.dose:
            records.append(wrote("so far", lit + so_far, number, step.n, burst, {"seconds": so_far}))
            so_far *= 2 ** (1 / 6)
        dark = lit + step.response.seconds(step.dose)
        off = {"lit": lit, "dark": dark, "why": "deadline", "given": step.response.dose(dark - lit)}
        records.append(wrote("dark", dark, number, step.n, burst, off))
        records.append(wrote("ended", dark, number, step.n, facts={"by": "dose"}))
    records.append(wrote("done", at + 60, number))
    if number <= last - OUT:
        records.append(wrote("stop bath", at + 65, number))
    if number % 8 == 0:
        records += [wrote("stopped", at + 70), wrote("started", at + 80, facts={"version": "0"})]
    return records


def milliseconds(call: Callable[[], object], times: int) -> float:
    """The median of so many calls."""
    found = []
    for _ in range(times):
        start = time.process_time()
        call()
        found.append(1000 * (time.process_time() - start))
    return statistics.median(found)


def main() -> int:
    short = "--short" in sys.argv
    small, large = (100, 2_000) if short else (1_000, 20_000)
    told: dict[int, tuple[float, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        for sheets in (small, large):
            home = Path(folder) / str(sheets)
            book = Book(home, "then", 1)
            for first in range(1, sheets + 1, 500):
                numbers = range(first, min(first + 500, sheets + 1))
                book.append([r for n in numbers for r in sheet(n, sheets)], dict.fromkeys(numbers, PLAN))
            book.checkpoint()
            reader = Reader(home)
            count = reader._rows("SELECT count(*) FROM records")[0][0]
            start = time.process_time()
            Reader(home).present()
            opened = 1000 * (time.process_time() - start)
            present = milliseconds(reader.present, 15)
            one = milliseconds(lambda reader=reader, n=sheets // 2: reader.sheet(n), 50)
            told[sheets] = present, one
            if sheets == small:
                whole = milliseconds(lambda reader=reader: [reader.sheet(n) for n in reader.sheets()], 1)
            size = book.path.stat().st_size / 1e6
            print(
                f"{sheets:>6,} sheets, {count:>9,} records, {size:6.1f} MB: present {present:7.2f} ms (opened and "
                f"read the first time {opened:.2f} ms), one sheet {one:.3f} ms"
            )
            reader.close()
            book.close()
    (p1, s1), (p2, s2) = told[small], told[large]
    print(
        f"{large // small} times the sheets: present {p2 / p1:.1f} times, one sheet {s2 / s1:.2f} times as long; "
        f"{small:,} sheets whole: {whole / p1:.0f} times their present"
    )
    held = p2 / p1 <= large / small and s2 / s1 <= TIMES_A_SHEET and whole / p1 >= 5
    return 0 if held else 1


if __name__ == "__main__":
    sys.exit(main())
