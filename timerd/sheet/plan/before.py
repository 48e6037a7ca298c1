"""Steps of plans in books from before a step said what it puts in its place: their names and prompts have it as text.

This is the only place where such a text is taken apart.
"""

from __future__ import annotations

import re
from typing import Any

_LENS = re.compile(r"lens at f/([0-9.]+)")
_NEGATIVE = re.compile(r"box the sheet(?:,|; after the last one) put negative (.+) in and compose", re.S)
_BOX = re.compile(r"box the sheet: (.+)", re.S)


def puts_of(kind: str, name: str, asks: tuple[str, ...]) -> dict[str, Any]:
    """What a step of such a plan puts in its place, as `Step.puts` and `Step.says` have it."""
    word = (*name.split("/"), "")[1]
    match kind:
        case "filter" | "density":
            return {"puts": ((kind, None if word == "none" else word),)}
        case "aperture":
            return {"puts": (("lens", word),)}
        case "wait":
            return {"puts": tuple(("lens", found[1]) for ask in asks if (found := _LENS.fullmatch(ask)) is not None)}
        case "develop":
            return {"says": word}
        case "box" | "negative" if asks and (found := _NEGATIVE.fullmatch(asks[0])) is not None:
            return {"puts": (("negative", found[1]),)}
        case "box" if asks and (found := _BOX.fullmatch(asks[0])) is not None:
            return {"says": found[1]}
    return {}
