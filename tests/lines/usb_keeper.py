"""The keeper's own program on lines in a file and foot switches in pipes: `python usb_keeper.py FD RUN`.

The switches lie in the folder `input` of the run folder. With LOOK_EVERY_S in the environment the keeper looks round
for what was plugged in that often, so that a measurement of a thousand plugs does not take half an hour.
"""

from __future__ import annotations

import os
import sys
import types
from functools import partial
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from lines.foot_switch import answering
from timerd.bench import loop, usb
from timerd.bench.pretended import PretendedLines


def main(descriptor: int, run: Path) -> int:
    folder = run / "input"
    usb.fcntl = types.SimpleNamespace(ioctl=answering(folder))  # type: ignore[assignment]
    loop.LOOK_EVERY_S = float(os.environ.get("LOOK_EVERY_S", loop.LOOK_EVERY_S))
    loop.open_factory = lambda _: "pipes"
    loop.GpioLines = partial(PretendedLines, folder=run)  # type: ignore[misc, assignment]
    loop.UsbPedals = partial(usb.UsbPedals, folder=folder)  # type: ignore[misc, assignment]
    return loop.main(descriptor, run)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]), Path(sys.argv[2]).resolve()))
