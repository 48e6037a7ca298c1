"""400 seeded single bits of a real book flipped, half of them in a record, half anywhere in the file; in a book with
checksums, and in one from before there were any.

After each the daemon's start and every command that reads the book are run, and each outcome is judged: served as it
was written, or refused in one line that names the book, and for a record's bit its sheet and its number. `--short`: 40
of each.

python tests/measure/flipped_bits.py [--short] [--seed N]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from walks.flips import flips, judged, write


def main() -> int:
    count = 40 if "--short" in sys.argv else 400
    seed = int(sys.argv[sys.argv.index("--seed") + 1]) if "--seed" in sys.argv else 15
    bad = 0
    for old in (False, True):
        start = time.perf_counter()
        outcomes: Counter[str] = Counter()
        with tempfile.TemporaryDirectory() as folder:
            whole, home = Path(folder) / "whole", Path(folder) / "flipped"
            whole.mkdir()
            truth = write(whole, old)
            for flip in flips(truth, seed, count):
                told = judged(home, truth, flip, old)
                outcomes[told.start] += 1
                bad += bool(told.wrong)
                for words in told.wrong:
                    print(f"{flip}: {words}")
        named = ", ".join(f"{count} {what}" for what, count in outcomes.most_common())
        print(
            f"{count} bits of {len(truth.raw):,} bytes, {len(truth.cells)} records "
            f"{'without' if old else 'with'} checksums: the start {named}; {time.perf_counter() - start:.0f} s"
        )
    print(f"{bad} flips with an outcome that is not as it should be")
    return bad > 0


if __name__ == "__main__":
    sys.exit(main())
