"""Why a light went out, in words."""

from __future__ import annotations


def why_words(why: str) -> str:
    """Why a light went out, in words for the printer; anything else as it is.

    >>> why_words("lease"), why_words("go is down")
    ('the program did not answer', 'go is down')
    """
    return _WHY.get(why, why)


_WHY = {
    "deadline": "dose complete",
    "pedal": "by a pedal",
    "unplugged": "a pedal was unplugged",
    "tap": "a tap too short to be a press",
    "lease": "the program did not answer",
    "asked": "by command",
    "disk": "the disk did not keep up",
    "pipe closed": "the program was lost",
    "keeper stopped": "the keeper was stopped",
    "keeper failed": "the keeper failed",
    "last off": "by the last off",
    "power": "the power was cut",
    "refused": "the keeper refused it",
    "keeper gone": "the keeper was lost",
    "light not seen": "the lamp gave no light",
    "light seen": "light was seen that was not asked for",
}
