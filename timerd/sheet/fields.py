"""What JSON says, taken as the fields of a dataclass: each by the check of its type. Nothing is guessed or changed."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from functools import cache
from typing import Any, NamedTuple

from timerd.sheet.codes import facts_of

Check = Callable[[str, Any], Any]
"""A field's name and what is written of it: the value. Raises Unfit."""


class Unfit(ValueError):
    """What is written does not fit; the words say what is missing, or is not what it should be."""


class _Field(NamedTuple):
    name: str
    default: Any


def fields_of(cls: Any) -> tuple[_Field, ...]:
    """A class's fields with their defaults, MISSING where there is none."""
    return _fields(cls)


@cache
def _fields(cls: Any) -> tuple[_Field, ...]:
    return tuple(_Field(field.name, field.default) for field in fields(cls))


@cache
def _checks(cls: Any) -> tuple[tuple[str, Any, Check], ...]:
    return tuple((field.name, field.default, _CHECKS[str(field.type)]) for field in fields(cls))


def taken(cls: Any, told: dict[str, Any]) -> dict[str, Any]:
    """The fields of a class, taken out of what is written. Raises Unfit."""
    found = {}
    for name, default, check in _checks(cls):
        value = told.pop(name, default)
        if value is MISSING:
            raise Unfit(f"'{name}' is missing in it")
        found[name] = value if value is default else check(name, value)
    return found


def coded(told: dict[str, Any], read: Callable[[Mapping[str, Any]], Any]) -> Any:
    """A code with its own fields, as `read` understands it, taken out of what is written. Raises Unfit."""
    if "why" not in told:
        raise Unfit("'why' is missing in it")
    why = read(told)
    for key in facts_of(why):
        told.pop(key, None)
    return why


def a_check(kind: str) -> Callable[[Check], Check]:
    """The check of one more type, as it stands at a field; and of the same, or None."""

    def known(check: Check) -> Check:
        _CHECKS[kind] = check
        _CHECKS[f"{kind} | None"] = lambda name, value: None if value is None else check(name, value)
        return check

    return known


_CHECKS: dict[str, Check] = {}


@a_check("float")
def _number(name: str, value: Any) -> Any:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise Unfit(f"'{name}' in it is no number")
    return value


def _is(kind: type, what: str) -> None:
    def check(name: str, value: Any) -> Any:
        if type(value) is not kind:
            raise Unfit(f"'{name}' in it is no {what}")
        return value

    a_check(kind.__name__)(check)


_is(int, "whole number")
_is(bool, "yes or no")
_is(str, "text")


@a_check("tuple[int, ...]")
def _numbers(name: str, value: Any) -> tuple[int, ...]:
    if not isinstance(value, list | tuple) or any(type(one) is not int for one in value):
        raise Unfit(f"'{name}' in it is no list of whole numbers")
    return tuple(value)


@a_check("Mapping[str, float]")
def _by_name(name: str, value: Any) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise Unfit(f"'{name}' in it is no table of numbers")
    return {key: _number(key, one) for key, one in value.items()}
