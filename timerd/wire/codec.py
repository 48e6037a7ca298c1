"""Frozen dataclasses to one JSON object and back: strictly, by the types of their fields. Pure."""

from __future__ import annotations

import json
import types
from collections.abc import Callable, Mapping
from dataclasses import MISSING, field, fields, is_dataclass
from typing import Any, Generic, NamedTuple, TypeVar, cast, get_args, get_origin, get_type_hints

T = TypeVar("T")
Reader = Callable[[Any], Any]
_LEFT_OUT = "left out"
_WHOLE_BELOW = 1 << 53
_NUMBER_BELOW = 1e15


class Malformed(ValueError):
    """What is not one of the messages: not JSON, a key too many or too few, a value of another type."""


def left_out(usual: Any) -> Any:
    """A field that is left out of the JSON where it has its usual value, and may be missing in what is read."""
    return field(default=usual, metadata={_LEFT_OUT: True})


class Codec(Generic[T]):
    """Messages that begin with a `key`, whose word says of which class they are; what is read has `longest` bytes at
    the most, and passes `allowed`.

    >>> from dataclasses import dataclass
    >>> @dataclass(frozen=True)
    ... class Moved:
    ...     at: float
    ...     why: str | None = left_out(None)
    >>> codec = Codec("is", {"moved": Moved})
    >>> codec.encode(Moved(1.5)), codec.decode(b'{"is": "moved", "at": 2, "why": "asked"}')
    (b'{"is": "moved", "at": 1.5}', Moved(at=2.0, why='asked'))
    """

    def __init__(
        self, key: str, classes: Mapping[str, type[T]], longest: int = 1 << 16,
        allowed: Callable[[T], bool] = lambda _: True,
    ) -> None:  # fmt: skip
        self._key, self._classes, self._longest, self._allowed = key, dict(classes), longest, allowed
        self._words: dict[type, str] = {of: word for word, of in classes.items()}

    def encode(self, message: T) -> bytes:
        """A message as it is sent."""
        return encoded({self._key: self._words[type(message)], **as_json(message)})

    def decode(self, datagram: bytes) -> T:
        """What was sent. Raises Malformed."""
        if len(datagram) > self._longest:
            raise Malformed("too long")
        told = json_object(datagram)
        word = told.pop(self._key, None)
        of = self._classes.get(word) if isinstance(word, str) else None
        if of is None:
            raise Malformed(f"no known {self._key!r}")
        message = read_as(of, told)
        if not self._allowed(message):
            raise Malformed(f"{word}: more than is allowed")
        return message


def json_object(line: bytes) -> dict[str, Any]:
    """A JSON object with each key once, and numbers that are some. Raises Malformed."""
    try:
        told = _DECODER.decode(line.decode("utf-8"))
    except (ValueError, RecursionError):
        raise Malformed("not JSON") from None
    if not isinstance(told, dict):
        raise Malformed("no object")
    return told


def encoded(told: Mapping[str, Any], ascii_only: bool = True) -> bytes:
    """An object as JSON."""
    return (_ENCODER if ascii_only else _UTF_8).encode(told).encode()


def as_json(message: Any) -> dict[str, Any]:
    """A dataclass as an object, its fields in order (`from_` is `from`); what is as usual and may be left out is."""
    told = {}
    for name, usual in _shape(type(message)).names:
        value = getattr(message, name)
        if usual is MISSING or value != usual:
            told[name.rstrip("_")] = value
    return told


def read_as(of: type[T], told: Any) -> T:
    """An object as one of a class: all keys that it must have, no others, each of its type. Raises Malformed."""
    shape = _shape(of)
    if not isinstance(told, dict) or not shape.needed <= told.keys() <= shape.readers.keys():
        raise Malformed(f"{of.__name__}: other keys")
    return of(**{name: shape.readers[name](value) for name, value in told.items()})


# -- how a class is read and written -----------------------------------------------------------------------------


class _Shape(NamedTuple):
    names: tuple[tuple[str, Any], ...]
    readers: Mapping[str, Reader]
    needed: frozenset[str]


_SHAPES: dict[type, _Shape] = {}


def _shape(of: type) -> _Shape:
    if of in _SHAPES:
        return _SHAPES[of]
    hints = get_type_hints(of)
    names = [(each.name, each.default if each.metadata.get(_LEFT_OUT) else MISSING) for each in fields(of)]
    readers = {name: _reader(hints[name]) for name, _ in names}
    needed = frozenset(name for name, usual in names if usual is MISSING)
    return _SHAPES.setdefault(of, _Shape(tuple(names), readers, needed))


def _reader(hint: Any) -> Reader:
    """What reads a value of a type."""
    if hint in _PLAIN:
        return _PLAIN[hint]
    origin, inner = get_origin(hint), get_args(hint)
    if origin is types.UnionType:  # something, or None
        (of,) = [one for one in inner if one is not type(None)]
        some = _reader(of)
        return lambda value: None if value is None else some(value)
    if origin in (tuple, frozenset):
        item = _reader(inner[0])
        return lambda value: origin(item(one) for one in _list(value))
    if origin is not None and issubclass(origin, Mapping):
        item = _reader(inner[1])
        return lambda value: {name: item(one) for name, one in _dict(value).items()}
    if is_dataclass(hint):
        return lambda value: read_as(cast("type[Any]", hint), value)
    return _row_reader(hint)


def _row_reader(of: Any) -> Reader:
    """A named tuple, which is a list in JSON."""
    readers = [_reader(hint) for hint in get_type_hints(of).values()]

    def read(value: Any) -> Any:
        if len(_list(value)) != len(readers):
            raise Malformed(f"{of.__name__}: another length")
        return of(*(item(one) for item, one in zip(readers, value, strict=True)))

    return read


def _number(value: Any) -> float:
    if not isinstance(value, (int, float)) or isinstance(value, bool) or not abs(value) < _NUMBER_BELOW:
        raise Malformed("no number")
    return float(value)


def _whole(value: Any) -> int:
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < _WHOLE_BELOW:
        raise Malformed("no whole number")
    return value


def _exactly(kind: type) -> Reader:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise Malformed(f"no {kind.__name__}")
        return value

    return read


_list, _dict = _exactly(list), _exactly(dict)
_PLAIN: dict[Any, Reader] = {
    float: _number, int: _whole, str: _exactly(str), bool: _exactly(bool), Any: lambda value: value,
}  # fmt: skip


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    told = dict(pairs)
    if len(told) != len(pairs):
        raise Malformed("a key twice")
    return told


def _not_a_number(text: str) -> float:
    raise Malformed(text)


def _as_json(value: Any) -> Any:
    """What JSON does not know by itself."""
    return sorted(value) if isinstance(value, frozenset) else as_json(value)


_DECODER = json.JSONDecoder(object_pairs_hook=_once, parse_constant=_not_a_number)
_ENCODER = json.JSONEncoder(default=_as_json)
_UTF_8 = json.JSONEncoder(default=_as_json, ensure_ascii=False)
