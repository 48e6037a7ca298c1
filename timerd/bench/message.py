"""The form of the daemon's messages to the keeper: one JSON object a datagram, taken whole or not at all."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any, Literal

from timerd.bench.cueing import MOST_PULSES, Pulses

LONGEST_MESSAGE = 4096


class BadMessage(ValueError):
    """A datagram that is not one of the messages."""


@dataclass(frozen=True, slots=True)
class Expose:
    """A burst asked for: which light, from when, for how long, and what cuts it.

    `at` and `safelight_from` are monotonic seconds; `safelight_from` None leaves the safelight as it is, and after
    an end named in `safelight_stays` it is not put on. `seen` is the last press that the engine knew. `view` is for
    a light to look at, with its own limit. `cues` are the pulses of the cue line, where there is one.
    """

    burst: int
    light: str
    at: float
    seconds: float
    cut_on: frozenset[str]
    while_down: str | None
    safelight_from: float | None
    safelight_stays: frozenset[str]
    seen: int
    view: bool
    cues: tuple[Pulses, ...] = ()


@dataclass(frozen=True, slots=True)
class Renew:
    """The daemon is alive; a light may burn on, but not past `until` (monotonic seconds) where that is said."""

    until: float | None


@dataclass(frozen=True, slots=True)
class Stay:
    """Exactly these stay lines are to be on: the lamps behind shutters."""

    on: frozenset[str]


_KEYS = {"do", "burst", "light", "at", "seconds", "cut_on", "while_down", "safelight", "seen", "view"}


def parse(datagram: bytes) -> Expose | Renew | Stay | Literal["cut", "clear"]:
    """A burst, a renewal, lamps that stay on, or one of the words `cut` and `clear`. BadMessage for anything else."""
    message = _object(datagram)
    do = message.get("do")
    if do in ("cut", "clear") and len(message) == 1:
        return "clear" if do == "clear" else "cut"
    if do == "renew" and message.keys() <= {"do", "until"}:
        until = message.get("until")
        if until is not None and not _number(until):
            raise BadMessage
        return Renew(until)
    if do == "stay" and message.keys() == {"do", "on"}:
        return Stay(_words(message["on"]))
    if do != "expose" or message.keys() - {"cues"} != _KEYS:
        raise BadMessage
    light, while_down, view = message["light"], message["while_down"], message["view"]
    if not (isinstance(light, str) and isinstance(view, bool) and (while_down is None or isinstance(while_down, str))):
        raise BadMessage
    if not (_number(message["at"]) and _number(message["seconds"])):
        raise BadMessage
    if not (_whole(message["burst"]) and _whole(message["seen"])):
        raise BadMessage
    dark_from, stays = _safelight(message["safelight"])
    return Expose(
        message["burst"], light, float(message["at"]), float(message["seconds"]), _words(message["cut_on"]),
        while_down, dark_from, stays, message["seen"], view, _pulses(message.get("cues", [])),
    )  # fmt: skip


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    if len({key for key, _ in pairs}) != len(pairs):
        raise BadMessage
    return dict(pairs)


def _not_a_number(text: str) -> float:
    raise BadMessage


_DECODER = json.JSONDecoder(object_pairs_hook=_once, parse_constant=_not_a_number)


def _object(datagram: bytes) -> dict[str, Any]:
    if len(datagram) > LONGEST_MESSAGE:
        raise BadMessage
    try:
        message = _DECODER.decode(datagram.decode("utf-8"))
    except (ValueError, RecursionError):
        raise BadMessage from None
    if not isinstance(message, dict):
        raise BadMessage
    return message


def _number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < 1e15


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < 1 << 53


def _words(value: Any) -> frozenset[str]:
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        raise BadMessage
    return frozenset(value)


def _safelight(value: Any) -> tuple[float | None, frozenset[str]]:
    """From when the safelight is dark, and after which whys it stays so; None leaves it as it is."""
    if value is None:
        return None, frozenset()
    if not isinstance(value, dict) or value.keys() != {"dark", "stays"} or not _number(value["dark"]):
        raise BadMessage
    return float(value["dark"]), _words(value["stays"])


def _pulses(value: Any) -> tuple[Pulses, ...]:
    """The cue line's pulses: lists of four numbers. No more than a person could count."""
    if not isinstance(value, list) or not all(isinstance(row, list) and len(row) == 4 for row in value):
        raise BadMessage
    for at, every, times, seconds in value:
        if not (_number(at) and _number(every) and _whole(times) and _number(seconds)):
            raise BadMessage
        if every < 0 or not 0 < seconds < 1e4:
            raise BadMessage
    if sum(row[2] for row in value) > MOST_PULSES:
        raise BadMessage
    return tuple(Pulses(float(at), float(every), times, float(seconds)) for at, every, times, seconds in value)
