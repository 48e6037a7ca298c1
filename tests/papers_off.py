"""A paper's file that is off by one of its deviations, changed as the format says and not by the code that reads it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import yaml

from timerd.sheet.profile.paperfile import Paper


def unsure_of_nothing(paper: Paper) -> Paper:
    """The paper without deviations, where what is worked out matters and not how sure it is: that costs most of it."""
    assert paper.curve is not None
    return paper.model_copy(update={"curve": paper.curve.model_copy(update={"deviations": []})})


def without_deviations(text: str) -> str:
    """The file as it was before deviations were kept."""
    paper = yaml.safe_load(text)
    paper["curve"].pop("deviations", None)
    for mix in paper["curve"]["mixes"]:
        mix.pop("range", None)
        mix.pop("within", None)
    return yaml.safe_dump(paper)


def with_few_deviations(text: str, many: int = 2) -> str:
    """The file with one or two of its deviations, so that a command need not be run for all of them."""
    paper = yaml.safe_load(text)
    paper["curve"]["deviations"] = paper["curve"]["deviations"][1:10:8][:many]
    return yaml.safe_dump(paper)


def off_by_each(text: str) -> Iterator[tuple[str, str]]:
    """For each deviation the file with it and the one with its opposite, both without deviations of their own.

    In the order of the format: dmin; slope and blue, shared by all parts; each part's density; each part's green; the
    six of the bend.
    """
    for changes in yaml.safe_load(text)["curve"]["deviations"]:
        yield tuple(_off(text, changes, sign) for sign in (1.0, -1.0))  # type: ignore[misc]


def _off(text: str, changes: list[float], sign: float) -> str:
    paper: dict[str, Any] = yaml.safe_load(text)
    curve = paper["curve"]
    many = len(curve["parts"])
    assert len(changes) == 3 + 2 * many + 6
    times = [math.exp(sign * change) for change in changes]
    curve["dmin"] = max(0.0, curve["dmin"] + sign * changes[0])
    curve["slope"] *= times[1]
    curve["blue"] *= times[2]
    for i, part in enumerate(curve["parts"]):
        part["density"] *= times[3 + i]
        part["green"] *= times[3 + many + i]
    bend = curve.get("bend", [1.0] * 6)
    curve["bend"] = [one * change for one, change in zip(bend, times[-6:], strict=True)]
    return without_deviations(yaml.safe_dump(paper))


def spread(paper: Path, worked_out: Callable[[], list[float]]) -> list[float]:
    """One deviation of each number that comes out of a command, by running it with each of the files in turn."""
    text = paper.read_text()
    squares: list[float] = []
    for more, less in off_by_each(text):
        found = []
        for changed in (more, less):
            paper.write_text(changed)
            found.append(worked_out())
        squares = squares or [0.0] * len(found[0])
        squares = [total + ((a - b) / 2.0) ** 2 for total, a, b in zip(squares, *found, strict=True)]
    paper.write_text(text)
    return [math.sqrt(total) for total in squares]
