"""Frozen values, declared by their fields alone, and their JSON, read and written by the types of the fields. Pure.

A number is below 1e15, a whole number from 0; a tuple or a frozenset is a list, a named tuple one of its length; a
Coded is its word under `why`, with its fields beside it; `from_` is `from`. Keys that are not known are refused
(`exact`: between the daemon and its keeper), or passed over: `beyond` has them.
"""

from __future__ import annotations

import json
import types
import typing
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from functools import cache
from typing import Annotated, Any, ClassVar, Generic, NamedTuple, TypeVar, Union, dataclass_transform

Reader = Callable[[Any], Any]
_LEFT_OUT, _LACKING, _BESIDE = "left out", "lacking", "beside"
_WHOLE_BELOW = 1 << 53
_NUMBER_BELOW = 1e15


class Malformed(ValueError):
    """What is read is not what should be there: its place, and what is wrong (`since: number: no whole number`)."""


# -- how a value is declared -------------------------------------------------------------------------------------


def left_out(usual: Any) -> Any:
    """A field that is left out of the JSON where it has its usual value, and may be missing in what is read."""
    return field(default=usual, metadata={_LEFT_OUT: True, _LACKING: usual})


def later(usual: Any) -> Any:
    """A field that is always written, and that an older version does not have."""
    return field(default=usual, metadata={_LACKING: usual})


def may_lack(usual: Any, **how: Any) -> Any:
    """The same of a field that has no default, or another."""
    return field(**how, metadata={_LACKING: usual})


def beside() -> Any:
    """A value whose fields lie beside the others, not under its name."""
    return field(metadata={_BESIDE: True})


@dataclass_transform(frozen_default=True, field_specifiers=(field, may_lack, beside))
class _Declared(type):
    """Makes a frozen dataclass with slots of each class: its `word` is its name in small words, or what is said."""

    def __new__(
        cls, name: str, bases: tuple[type, ...], body: dict[str, Any], word: str | None = None, kw_only: bool = False,
    ) -> Any:  # fmt: skip
        plain = super().__new__(cls, name, bases, body)
        if "__slots__" in body:  # the dataclass itself, which has no word yet
            return plain
        made: Any = dataclass(frozen=True, slots=True, kw_only=kw_only, eq=False, repr=False)(plain)
        made.word = word or "".join(f" {one.lower()}" if one.isupper() else one for one in name).strip()
        return made


class Value(metaclass=_Declared):
    """A frozen dataclass.

    >>> class BurstMoved(Value):
    ...     at: float
    ...     why: str | None = left_out(None)
    >>> BurstMoved.word, BurstMoved(1.5)
    ('burst moved', BurstMoved(at=1.5, why=None))
    """

    word: ClassVar[str]
    """Its name in JSON."""
    sparse: ClassVar[bool] = False
    """Whether every field that has a default is left out where it says that."""
    __slots__: ClassVar[tuple[str, ...]]

    # Once for all: made anew for each class they took a third of the time in which a command starts.
    def __eq__(self, other: object) -> bool:
        return type(other) is type(self) and all(getattr(self, one) == getattr(other, one) for one in self.__slots__)

    def __hash__(self) -> int:
        return hash((type(self), *[getattr(self, one) for one in self.__slots__]))

    def __repr__(self) -> str:
        return f"{type(self).__name__}({', '.join(f'{one}={getattr(self, one)!r}' for one in self.__slots__)})"


class Coded(Value):
    """What happened, or stands in the way, as a code with fields. Text in its place is a later version's, or English
    from before there were codes: that is told as it stands."""


class Only(NamedTuple):
    """What more is asked of a type that is `Annotated` with it, and the words for what is not so."""

    words: str
    holds: Callable[[Any], bool]


def by_word(kinds: Iterable[Any]) -> dict[str, Any]:
    """Classes by their words."""
    return {kind.word: kind for kind in kinds}


# -- objects -----------------------------------------------------------------------------------------------------

T = TypeVar("T", bound=Value)


class Codec(Generic[T]):
    """Messages that begin with a `key`, whose word says of which class they are; what is read has `longest` bytes at
    the most, and passes `allowed`.

    >>> class Moved(Value):
    ...     at: float
    ...     why: str | None = left_out(None)
    >>> codec = Codec("is", [Moved])
    >>> codec.encode(Moved(1.5)), codec.decode(b'{"is": "moved", "at": 2.5, "why": "asked"}')
    (b'{"is": "moved", "at": 1.5}', Moved(at=2.5, why='asked'))
    """

    def __init__(
        self, key: str, kinds: Iterable[type[T]], longest: int = 1 << 16, allowed: Callable[[T], bool] = lambda _: True
    ) -> None:
        self._key, self._kinds, self._longest, self._allowed = key, by_word(kinds), longest, allowed

    def encode(self, message: T) -> bytes:
        """A message as it is sent."""
        return encoded({self._key: type(message).word, **as_json(message)})

    def decode(self, datagram: bytes) -> T:
        """What was sent. Raises Malformed."""
        if len(datagram) > self._longest:
            raise Malformed("too long")
        told = json_object(datagram)
        word = told.pop(self._key, None)
        of = self._kinds.get(word) if isinstance(word, str) else None
        if of is None:
            raise Malformed(f"no known {self._key!r}")
        message: T = read_as(of, told)
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


def as_json(value: Value) -> dict[str, Any]:
    """A value as an object, its fields in order; what is as usual and may be left out is."""
    shape = _shape(type(value))
    told: dict[str, Any] = dict(shape.head)
    for name, key, usual, inner, beside in shape.written:
        one = getattr(value, name)
        if usual is MISSING or one != usual:
            if beside and isinstance(one, Value):
                told |= as_json(one)
            else:
                told[key] = _plain(one) if inner else one
    return told


def read_as(of: type[T], told: Any, exact: bool = True) -> T:
    """An object as one of a class: all keys that it must have, each of its type. Raises Malformed.

    >>> class Seen(Value):
    ...     at: float
    >>> read_as(Seen, {"at": "noon"})
    Traceback (most recent call last):
    timerd.wire.codec.Malformed: at: no number
    """
    value: T = _reader(of, exact)(told)
    return value


def read_code(codes: Mapping[str, Any], told: Mapping[str, Any]) -> Any:
    """One of these classes, by the word under `why`; one that is not known, or lacks a field, as the text it is."""
    word = told.get("why", MISSING)
    if word is MISSING or type(word) is not str:
        raise Malformed("'why' is missing in it" if word is MISSING else "why: neither code nor text")
    kind = codes.get(word)
    return word if kind is None or not _shape(kind).needed <= told.keys() else _reader(kind, False)(told)


def beyond(value: Value, told: Mapping[str, Any]) -> dict[str, Any]:
    """What stands there beside what was read as a value: a later version's."""
    shape = _shape(type(value))
    if told.keys() <= shape.keys:
        return {}
    inner = [getattr(value, name) for name, _, _, _, beside in shape.written if beside]
    known = shape.keys.union(*[as_json(one) for one in inner if isinstance(one, Value)])
    return {key: one for key, one in told.items() if key not in known}


# -- how a class is read and written -----------------------------------------------------------------------------


class _Shape(NamedTuple):
    """`head` comes first. `written`: name, key, the usual value that is left out, whether values are in it, and whether
    it lies beside. `read`: key, what reads it, what stands for it where it is not there, whether the whole is read."""

    head: Mapping[str, str]
    written: tuple[tuple[str, str, Any, bool, bool], ...]
    read: tuple[tuple[str, Reader, Any, bool], ...]
    keys: frozenset[str]
    needed: frozenset[str]


@cache
def _shape(of: Any, exact: bool = False) -> _Shape:
    hints = typing.get_type_hints(of, include_extras=True)
    written, read = [], []
    for one in fields(of):
        hint, key = hints[one.name], one.name.rstrip("_")
        kinds = _leaves(hint)
        beside = _BESIDE in one.metadata or (key == "why" and any(_is_a(kind, Coded) for kind in kinds))
        usual = one.default if of.sparse or _LEFT_OUT in one.metadata else MISSING
        inner = any(kind is frozenset or _is_a(kind, Value) for kind in kinds)
        written.append((one.name, key, usual, inner, beside))
        if _BESIDE in one.metadata:
            key = fields(hint)[0].name
        read.append((key, _reader(hint, exact and not beside), one.metadata.get(_LACKING, usual), beside))
    head = {"why": of.word} if issubclass(of, Coded) else {}
    needed = frozenset(key for key, _, lacking, _ in read if lacking is MISSING)
    return _Shape(head, tuple(written), tuple(read), frozenset([*head, *[key for key, *_ in read]]), needed)


def _leaves(hint: Any) -> tuple[Any, ...]:
    """The classes that a type is made of."""
    return (typing.get_origin(hint) or hint, *(kind for each in typing.get_args(hint) for kind in _leaves(each)))


def _is_a(kind: Any, of: type) -> bool:
    return isinstance(kind, type) and issubclass(kind, of)


def _plain(value: Any) -> Any:
    """A value, or what there are values in, as JSON has it."""
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, frozenset):
        return sorted(value)
    return as_json(value) if isinstance(value, Value) else value


@cache
def _reader(hint: Any, exact: bool) -> Reader:
    """What reads a value of a type."""
    if hint in _PLAIN:
        return _PLAIN[hint]
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if origin is Annotated:
        return _only(_reader(inner[0], exact), inner[1])
    if origin in (types.UnionType, Union):
        return _either(inner, exact)
    if origin in (tuple, frozenset):
        item = _reader(inner[0], exact)
        return lambda value: origin([item(one) for one in _list(value)])
    if origin is not None and issubclass(origin, Mapping):
        item = _reader(inner[1], exact)
        return lambda value: {name: item(one) for name, one in _dict(value).items()}
    return _object(hint, exact) if _is_a(hint, Value) else _row(hint, exact)


def _only(read: Reader, only: Only) -> Reader:
    def checked(value: Any) -> Any:
        try:
            found = read(value)
        except Malformed:
            raise Malformed(only.words) from None
        if not only.holds(found):
            raise Malformed(only.words)
        return found

    return checked


def _either(kinds: tuple[Any, ...], exact: bool) -> Reader:
    """None, a coded class (or text in its place), or what there is one of beside these."""
    codes = by_word(kind for kind in kinds if _is_a(kind, Coded))
    others = [_reader(kind, exact) for kind in kinds if kind is not types.NoneType and not _is_a(kind, Coded)]
    optional = types.NoneType in kinds
    if not codes:
        (some,) = others
        return lambda value: None if value is None else some(value)

    def read(value: Any) -> Any:
        if isinstance(value, dict):
            return read_code(codes, value)
        if (value is None and optional) or type(value) is str:
            return value
        raise Malformed("neither code nor text")

    return read


def _object(of: Any, exact: bool) -> Reader:
    """A value, which is an object in JSON."""
    shape = _shape(of, exact)
    names = [one.name for one in fields(of)] if fields(of) and fields(of)[0].kw_only else None

    def read(told: Any) -> Any:
        found = []
        if type(told) is not dict:
            raise Malformed("no table")
        key, beside = "", True
        try:
            for key, reader, lacking, beside in shape.read:
                beside = beside and told.get(key) is not None
                if key in told:
                    found.append(reader(told if beside else told[key]))
                elif lacking is not MISSING:
                    found.append(lacking)
                else:
                    beside = True
                    raise Malformed(f"'{key}' is missing in it")
        except Malformed as wrong:
            raise wrong if beside else Malformed(f"{key}: {wrong}") from None
        value = of(*found) if names is None else of(**dict(zip(names, found, strict=True)))
        if exact and (more := beyond(value, told)):
            raise Malformed(f"{next(iter(more))!r} is not known in it")
        return value

    return read


def _row(of: Any, exact: bool) -> Reader:
    """A named tuple, which is a list in JSON."""
    readers = [_reader(hint, exact) for hint in typing.get_type_hints(of).values()]

    def read(value: Any) -> Any:
        if len(_list(value)) != len(readers):
            raise Malformed(f"no list of {len(readers)}")
        return of(*[item(one) for item, one in zip(readers, value, strict=True)])

    return read


def _list(value: Any) -> Any:
    if not isinstance(value, list | tuple):
        raise Malformed("no list")
    return value


def _number(value: Any) -> Any:
    if (type(value) is not float and type(value) is not int) or not -_NUMBER_BELOW < value < _NUMBER_BELOW:
        raise Malformed("no number")
    return value


def _whole(value: Any) -> int:
    if type(value) is not int or not 0 <= value < _WHOLE_BELOW:
        raise Malformed("no whole number")
    return value


def _exactly(kind: type, what: str) -> Reader:
    def read(value: Any) -> Any:
        if type(value) is not kind:
            raise Malformed(f"no {what}")
        return value

    return read


_dict = _exactly(dict, "table")
_PLAIN: dict[Any, Reader] = {
    float: _number, int: _whole, str: _exactly(str, "text"), bool: _exactly(bool, "yes or no"),
    Any: lambda value: value,
}  # fmt: skip


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    told = dict(pairs)
    if len(told) != len(pairs):
        raise Malformed("a key twice")
    return told


def _not_a_number(text: str) -> float:
    raise Malformed(text)


_DECODER = json.JSONDecoder(object_pairs_hook=_once, parse_constant=_not_a_number)
_ENCODER = json.JSONEncoder()
_UTF_8 = json.JSONEncoder(ensure_ascii=False)
