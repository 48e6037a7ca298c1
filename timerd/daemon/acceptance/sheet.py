"""The acceptance sheet: a file named by its date, written whole after every item, so that nothing seen is lost."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import yaml

from timerd import __version__
from timerd.daemon.acceptance.course import Item
from timerd.daemon.acceptance.kept import Kept
from timerd.inplace import made


def new_sheet(folder: Path, bench: str, now: datetime) -> Path:
    """A name that is not taken yet: the day, the bench, and a number from the second of that day on."""
    made(folder)
    name = f"{now:%Y-%m-%d}-{bench}"
    number = 1
    while (path := folder / f"{name}{f'-{number}' if number > 1 else ''}.yaml").exists():
        number += 1
    return path


def sheet(kept: Kept, now: datetime, items: Sequence[Item], ended: str) -> str:
    """The sheet's text. `ended` says how the course ended."""
    results = [item.result for item in items]
    told: dict[str, Any] = {
        "acceptance": kept.bench.bench, "date": now.isoformat(timespec="minutes"), "timerd": __version__,
        "lines": kept.factory, "keeper": kept.scheduling, "found down at the start": kept.found_down,
        "items": [item._asdict() for item in items],
        "result": f"{results.count('passed')} of {len(items)} passed, {results.count('failed')} failed, "
        f"{results.count('left out')} left out; {ended}",
        "built by": "", "mains by": "", "tested by": "",
    }  # fmt: skip
    head = "# Tried on 12 V lamps by timerd bench test. Fill the last three lines in by hand, and keep it.\n"
    return head + yaml.safe_dump(told, sort_keys=False, allow_unicode=True, width=110)
