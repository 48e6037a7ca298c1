"""The keeper's own program with feet that are lost: `python lost_feet.py FD RUN`.

Of LOST in the environment: `ends`, their pipe ends when the last foot is taken away; `babbles`, from the first edge on
there is always something to be read, and nothing in it; `unreadable`, edges come and levels cannot be read.
"""

from __future__ import annotations

import errno
import os
import sys
from collections.abc import Iterable
from pathlib import Path

from timerd.bench import loop
from timerd.bench.pretended import FEET, PretendedPedals


class Ends(PretendedPedals):
    def __init__(self, contacts: Iterable[str], folder: Path) -> None:
        super().__init__(contacts, folder)
        os.close(self._pipe)
        self._pipe = os.open(folder / FEET, os.O_RDONLY | os.O_NONBLOCK)


class Babbles(PretendedPedals):
    def heard(self) -> list[tuple[str, bool, float]]:
        return []


class Unreadable(PretendedPedals):
    begun = False

    def heard(self) -> list[tuple[str, bool, float]]:
        self.begun = True
        return super().heard()

    def down(self, contact: str) -> bool:
        if self.begun:
            raise OSError(errno.ENODEV, os.strerror(errno.ENODEV))
        return super().down(contact)


PROGRAM = (__file__,)
_WAYS = {"ends": Ends, "babbles": Babbles, "unreadable": Unreadable}

if __name__ == "__main__":
    loop.PretendedPedals = _WAYS[os.environ["LOST"]]  # type: ignore[misc]
    sys.exit(loop.main(int(sys.argv[1]), Path(sys.argv[2]).resolve()))
