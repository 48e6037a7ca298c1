"""An installation killed before each of its commands: the next one makes it whole, an uninstall leaves nothing.

python tests/measure/interrupted_install.py            before every command
python tests/measure/interrupted_install.py --short    before every fortieth
"""

from __future__ import annotations

import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from firmware.interrupted import commands, killed_at


def main() -> int:
    with tempfile.TemporaryDirectory() as folder:
        total = commands(Path(folder) / "count")
        tried = range(1, total + 1, 40 if "--short" in sys.argv else 1)
        with ThreadPoolExecutor(4) as pool:
            found = pool.map(lambda at: killed_at(Path(folder) / str(at), at), tried)
            wrong = [line for lines in found for line in lines]
    print(f"an installation of {total} commands, killed before {len(tried)} of them, installed again and uninstalled")
    print(*wrong, sep="\n")
    print(f"not as it should be: {len(wrong)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
