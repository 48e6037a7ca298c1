"""What pydantic found wrong, in the house's words: what must be, what was found, what to do."""

from __future__ import annotations

import re
from typing import Any

from pydantic_core import ErrorDetails

from timerd.sheet.profile.faults import did_you_mean, near, quoted, shown
from timerd.sheet.profile.fields import PATTERNS
from timerd.sheet.profile.printfile import STEP_KEYS, STEP_KINDS, kinds_of

_MUST = {
    "string_type": "must be text",
    "float_type": "must be a number",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "bool_type": "must be true or false",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "dict_type": "must be keys and values",
    "model_type": "must be keys and values",
    "model_attributes_type": "must be keys and values",
    "finite_number": "must be a number that ends",
}
_LIMITS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}
_UNIT = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?([A-Za-z%°\"']+)", re.ASCII)
_COMMA = re.compile(r"([0-9]+),([0-9]+)", re.ASCII)
_STOP = re.compile(r"[fF]/? ?([0-9]+(?:\.[0-9]+)?)", re.ASCII)
_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])", re.ASCII)


def worded(error: ErrorDetails) -> str:
    """One error as a message, for all kinds but unknown and missing keys."""
    what, found, about = error["type"], error["input"], error.get("ctx") or {}
    if what in _MUST:
        return f"{_MUST[what]}, is {shown(found)}{_advice(what, found)}"
    if what in _LIMITS:
        key, word = _LIMITS[what]
        return f"must be {word} {about[key]:g}, is {shown(found)}"
    match what:
        case "value_error":
            return str(about["error"])
        case "step_kind":
            return _not_one_kind(found)
        case "literal_error":
            return _wrong_choice(str(about["expected"]), found)
        case "string_pattern_mismatch":
            return _wrong_pattern(str(about["pattern"]), str(found))
        case "string_too_long":
            return f"must be at most {about['max_length']} characters, has {len(found)}"
        case "string_too_short":
            return "must not be empty"
        case "too_short":
            return f"must have {about['min_length']} or more, has {about['actual_length']}"
        case "too_long":
            return f"must have {about['max_length']} at most, has {len(found)}"
        case _:
            message = error["msg"]
            return f"{message[:1].lower()}{message[1:]}, is {shown(found)}"


def _advice(what: str, found: Any) -> str:
    if what == "string_type" and isinstance(found, bool | int | float):
        return ": put it in quotes"
    if what in ("float_type", "int_type") and isinstance(found, str):
        if (unit := _UNIT.fullmatch(found)) is not None:
            minutes = unit[2].lower().startswith("min")
            return f": write {float(unit[1]) * 60:g}, in seconds" if minutes else ": write it without a unit"
        if (mark := _STOP.fullmatch(found)) is not None:
            return f": write {mark[1]} alone"
        if (comma := _COMMA.fullmatch(found)) is not None:
            return f": write {comma[1]}.{comma[2]}"
        if (clock := _CLOCK.fullmatch(found)) is not None:
            return f": write {int(clock[1]) * 60 + int(clock[2])}, in seconds"
    if what == "bool_type" and isinstance(found, str):
        said = {"yes": "true", "on": "true", "no": "false", "off": "false"}.get(found.lower())
        return f": write {said}" if said else ""
    return ""


def _wrong_choice(expected: str, found: Any) -> str:
    choices = [text or number for text, number in re.findall(r"'([^']*)'|([0-9]+)", expected)]
    hint = did_you_mean(found, choices) if isinstance(found, str) and near(found, choices) else ""
    *first, last = choices
    return f"must be {', '.join(first)}{' or ' if first else ''}{last}, is {shown(found)}{hint}"


def _wrong_pattern(pattern: str, found: str) -> str:
    if not found.strip():
        return "must not be empty"
    must = f"must be {PATTERNS[pattern]}" if pattern in PATTERNS else "is not written as it should be"
    return f"{must}, is {shown(found)}"


def _not_one_kind(found: Any) -> str:
    if not isinstance(found, dict):
        return f"must be keys and values, as in 'base: soft', is {shown(found)}"
    if kinds := kinds_of(found):
        return f"is {quoted(kinds, 'and')} at once: make a step of each"
    for key in found:
        if key not in STEP_KEYS and (close := near(key, STEP_KINDS)) is not None:
            return f"unknown key {shown(key)}: did you mean '{close}'?"
    if "dodge" in found or "leave" in found:
        return "has no kind: dodge and leave stand inside a base or a burn"
    return f"has no kind: one of {', '.join(STEP_KINDS)} must be among its keys"
