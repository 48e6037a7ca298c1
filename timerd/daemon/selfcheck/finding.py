"""A finding, and what a machine's answers are made into."""

from __future__ import annotations

from typing import Literal, NamedTuple

Level = Literal["right", "mind", "wrong"]


class Finding(NamedTuple):
    """What was found of a subject, how that stands, and what to do about it (empty where it is right)."""

    subject: str
    level: Level
    found: str
    do: str = ""


def right(subject: str, found: str) -> Finding:
    return Finding(subject, "right", found)


def mind(subject: str, found: str, do: str) -> Finding:
    return Finding(subject, "mind", found, do)


def wrong(subject: str, found: str, do: str) -> Finding:
    return Finding(subject, "wrong", found, do)
