"""Attacks on timerd, each on its own ground: what somebody at the socket, in its folders, at its lines or in its book
could do once. Prints what each did; ends with 1 if anything came of one that must not.

python tests/measure/attacks.py [--short] [WORD ...]      only those in whose number or name every WORD is
"""

from __future__ import annotations

import sys
import tempfile
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from attacks import Ground, attacks


def main() -> int:
    words = [word for word in sys.argv[1:] if word != "--short"]
    short = "--short" in sys.argv
    failed = 0
    for one in attacks():
        if not all(word in f"{one.number} {one.what}" for word in words):
            continue
        begun = time.monotonic()
        with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
            try:
                came = one.do(Ground(Path(folder), short))
            except Exception as error:  # noqa: BLE001 (the others are done all the same)
                failed += 1
                came = f"WRONG: {error}"
                traceback.print_exc()
        print(f"{one.number}  {one.what}\n      {came}  ({time.monotonic() - begun:.1f} s)", flush=True)
    print(f"{failed} of them came through" if failed else "none came through")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
