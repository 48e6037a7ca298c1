"""A file's bytes to a checked value: all faults at once, each with its line, its place and what was found."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import islice
from typing import Any, Generic, Literal, TypeVar, overload

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from timerd.sheet.profile.bathchecks import bath_faults
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchchecks import bench_faults
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.profile.faults import FileFault, Place, ProfileError, near, printable, shown, written_place
from timerd.sheet.profile.feetchecks import feet_faults
from timerd.sheet.profile.feetfile import Feet
from timerd.sheet.profile.given import Found, WrittenLines
from timerd.sheet.profile.paperchecks import paper_faults
from timerd.sheet.profile.paperfile import Paper
from timerd.sheet.profile.printchecks import print_faults
from timerd.sheet.profile.printfile import STEP_KEYS, STEPS, Print
from timerd.sheet.profile.shape import loosely, part_at
from timerd.sheet.profile.text import MOST_FAULTS, Source, read_text
from timerd.sheet.profile.wording import worded

MODELS: Mapping[str, type[BaseModel]] = {"print": Print, "bench": Bench, "paper": Paper, "bath": BathLine, "feet": Feet}
"""Each kind of file, by the key that names it."""

_CHECKS: Mapping[str, Callable[[Any, WrittenLines], Found]] = {
    "print": print_faults,
    "bench": bench_faults,
    "paper": paper_faults,
    "bath": bath_faults,
    "feet": feet_faults,
}

Model = TypeVar("Model", bound=BaseModel, covariant=True)


@dataclass(frozen=True)
class Profile(Generic[Model]):
    """A file that was read: its value, and the line of each part of it."""

    value: Model
    kind: str
    file: str
    lines: Mapping[Place, int]

    def line_of(self, place: Place) -> int:
        """The line of a place, or of the nearest one around it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)

    def fault(self, place: Place, message: str) -> FileFault:
        """A fault at a place of this file."""
        return FileFault(self.file, self.line_of(place), written_place(place), printable(message))


@overload
def read(raw: bytes, file: str, kind: Literal["print"]) -> Profile[Print]: ...
@overload
def read(raw: bytes, file: str, kind: Literal["bench"]) -> Profile[Bench]: ...
@overload
def read(raw: bytes, file: str, kind: Literal["paper"]) -> Profile[Paper]: ...
@overload
def read(raw: bytes, file: str, kind: Literal["bath"]) -> Profile[BathLine]: ...
@overload
def read(raw: bytes, file: str, kind: Literal["feet"]) -> Profile[Feet]: ...
@overload
def read(raw: bytes, file: str, kind: str | None = None) -> Profile[Any]: ...
def read(raw: bytes, file: str, kind: str | None = None) -> Profile[Any]:
    """The profile in a file's bytes, of the kind wanted or of the kind that its keys tell.

    Raises ProfileError with all that is wrong with it, and what could be used of it. What only two files together can
    tell the plan finds.
    """
    source = read_text(raw, file)
    if source.whole and isinstance(source.data, dict):
        found = _kind(source, source.data, kind)
        if found is not None:
            profile = Profile(_value(source, source.data, found), found, source.file, source.lines)
            if not source.faults:
                return profile
            raise ProfileError(_told(source), usable=profile)
    raise ProfileError(_told(source))


def _kind(source: Source, data: dict[str, Any], wanted: str | None) -> str | None:
    """What a file is: the kind that knows most of its keys, among equals the one whose own key is there."""
    if wanted in data:
        return wanted
    known = {kind: len(data.keys() & model.model_fields.keys()) for kind, model in MODELS.items()}
    best = max(known, key=lambda kind: (known[kind], kind in data))
    if wanted is not None:
        if best in data and known[best] > known[wanted]:
            source.fault((), f"is a {best} file; a {wanted} file is wanted here", source.line_of((best,)))
            return None
        return wanted
    if best in data or known[best] > 1:
        return best
    for key in islice(data, MOST_FAULTS):
        if (close := near(key, MODELS)) is not None:
            source.fault((), f"unknown key {shown(key)}: did you mean '{close}'?", source.line_of((key,)))
            return None
    source.fault((), f"cannot tell what this file is: one of the keys {', '.join(MODELS)} must be in it")
    return None


def _value(source: Source, data: dict[str, Any], kind: str) -> BaseModel:
    """The value, with all faults told; what does not fit is None in it, and the rest is checked."""
    model = MODELS[kind]
    given = WrittenLines(source.lines, set(source.odd), set(source.broken))
    try:
        value: Any = model.model_validate(data)
    except ValidationError as error:
        _Shape(source, model, data, given).tell(error.errors(include_url=False))
        value = loosely(model, data)
    checks = _CHECKS[kind](value, given) if kind in _CHECKS else ()
    for place, message in islice(checks, MOST_FAULTS):
        source.fault(place, message)
    checked: BaseModel = value
    return checked


def _told(source: Source) -> list[FileFault]:
    faults = sorted(set(source.faults))
    if source.more or len(faults) > MOST_FAULTS:
        faults = faults[:MOST_FAULTS]
        faults.append(FileFault(source.file, faults[-1].line + 1, "", "and there is more: mend these first"))
    return faults


# What pydantic puts into a place to tell which member of a union it tried.
_TAGS = frozenset(f"<{name}>" for name in (*STEPS, "one", "mix"))


def _place(loc: tuple[int | str, ...]) -> Place:
    return tuple(
        part for i, part in enumerate(loc)
        if not (part in _TAGS and i > 0 and (loc[i - 1] == "light" or isinstance(loc[i - 1], int)))
    )  # fmt: skip


class _Shape:
    """Tells pydantic's errors as faults: one for each thing that is wrong."""

    def __init__(self, source: Source, model: type[BaseModel], data: dict[str, Any], given: WrittenLines) -> None:
        self.source = source
        self.model = model
        self.data = data
        self.given = given
        self.meant: set[Place] = set()  # keys that are there, misspelt

    def tell(self, errors: list[ErrorDetails]) -> None:
        """Unknown keys come first: one that was meant for a missing key is told once."""
        in_order = sorted(errors, key=lambda error: self.source.line_of(_place(error["loc"])))
        unknown = [error for error in in_order if error["type"] == "extra_forbidden"]
        others = [error for error in in_order if error["type"] != "extra_forbidden"]
        self.source.more = self.source.more or max(len(unknown), len(others)) > MOST_FAULTS
        for error in unknown[:MOST_FAULTS] + others[:MOST_FAULTS]:
            place = _place(error["loc"])
            if error["type"] == "extra_forbidden":
                self._unknown(place[:-1] if place[-1:] == error["loc"][-1:] else place, str(error["loc"][-1]))
            elif self._known_already(place, error["type"]):
                continue
            elif error["type"] == "missing":
                self.given.bad.add(place)
                if place not in self.meant and place[:-1] not in self.source.odd:
                    self.source.fault(place[:-1], f"'{place[-1]}' is missing")
            elif place[-1:] == ("[key]",):
                self._wrong_key(place[:-1], error)
            else:
                self.given.bad.add(place)
                self.source.fault(place, worded(error))

    def _unknown(self, place: Place, key: str) -> None:
        self.given.odd.add(place)
        told = (*place, key) in self.source.broken
        part = part_at(self.model, place, self.data)
        known = list(part.model_fields) if part is not None else []
        there = self.given.written(place, *known)
        hint = ""
        # A key that was told of already may be one with its value stuck to it: `light:green`.
        sought = key.split(":")[0] if told else key
        if (close := near(sought, (name for name in known if name not in there))) is not None:
            self.meant.add((*place, close))
            hint = f": did you mean '{close}'?"
        if not told:
            self.source.fault(place, f"unknown key {shown(key)}{hint}", self.source.line_of((*place, key)))

    def _known_already(self, place: Place, what: str) -> bool:
        """Whether a fault was told of this value, of something around it, or of what it is made of."""
        broken = self.source.broken
        if any(place[:n] in broken for n in range(len(place) + 1)):
            return True
        if what == "step_kind":
            return any(other[:-1] == place and other[-1] not in STEP_KEYS for other in broken)
        return what == "value_error" and any(other[: len(place)] == place for other in broken)

    def _wrong_key(self, place: Place, error: ErrorDetails) -> None:
        self.given.odd.add(place[:-1])
        self.source.fault(place[:-1], f"a key {worded(error)}", self.source.line_of(place))
