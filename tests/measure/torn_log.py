"""A log cut off at every single byte, and with all bytes from there on zero: read to its last whole transaction.

python tests/measure/torn_log.py [--short]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from book.test_store import RECORDS_OF_1, commits, logged

from timerd.book.reading import Reader


def main() -> int:
    every = 211 if "--short" in sys.argv else 1
    start = time.perf_counter()
    wrong = tried = 0
    with tempfile.TemporaryDirectory() as folder:
        main_file, log = logged(Path(folder) / "whole", 3)
        home = Path(folder) / "cut"
        home.mkdir()
        path = home / "book.sqlite"
        path.write_bytes(main_file)
        ends = commits(log)
        for zeros in (False, True):
            for cut in range(len(log), -1, -every):
                Path(f"{path}-shm").unlink(missing_ok=True)
                Path(f"{path}-wal").write_bytes(log[:cut] + bytes(len(log) - cut) * zeros)
                reader = Reader(home)
                whole = sum(end <= cut for end in ends)
                # a tail of zeros is whole as soon as all that is missing was zero anyway
                whole = max(whole, sum(not any(log[cut:end]) for end in ends)) if zeros else whole
                wrong += len(reader.records(1)) != len(RECORDS_OF_1) + max(0, whole - 1)
                reader.close()
                tried += 1
        wrong += path.read_bytes() != main_file
        size = os.path.getsize(f"{path}-wal")
    print(
        f"{tried:,} logs of {size:,} bytes and {len(ends)} transactions, cut off or zeroed every {every} bytes, "
        f"{time.perf_counter() - start:.1f} s: {wrong} not read to the last whole transaction"
    )
    return wrong > 0


if __name__ == "__main__":
    sys.exit(main())
