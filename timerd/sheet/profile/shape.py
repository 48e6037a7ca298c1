"""What a file's models make of its values, and what can be used of values that do not fit them.

The checks look at a whole file even where a part of it is wrong, so that the printer hears of all at once.
"""

from __future__ import annotations

import typing
from functools import cache
from types import UnionType
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, TypeAdapter, ValidationError

from timerd.sheet.profile.faults import Place
from timerd.sheet.profile.printfile import STEPS, kinds_of


def loosely(model: type[BaseModel], data: dict[str, Any]) -> Any:
    """A model's value with None wherever something does not fit; unknown keys are passed over."""
    try:
        return model.model_validate(data)
    except ValidationError:
        pass
    values: dict[str, Any] = {}
    for name, field in model.model_fields.items():
        if name in data:
            values[name] = _field(model, name, data[name])
        elif field.is_required():
            values[name] = None
    return model.model_construct(**values)


def part_at(model: type[BaseModel], place: Place, data: Any) -> type[BaseModel] | None:
    """The model of the mapping at a place, to know which keys it takes."""
    here: Any = model
    for part in place:
        if isinstance(part, int):
            here = _inside(here)
        elif isinstance(here, type) and issubclass(here, BaseModel):
            here = here.model_fields[part].annotation if part in here.model_fields else None
        else:
            here = _inside(here)
        data = _item(data, part)
        here = _chosen(here, data)
    return here if isinstance(here, type) and issubclass(here, BaseModel) else None


def _item(data: Any, part: Any) -> Any:
    return data[part] if isinstance(data, dict | list) else None


def _field(model: type[BaseModel], name: str, raw: Any) -> Any:
    try:
        return _adapter(model, name).validate_python(raw)
    except ValidationError:
        pass
    annotation = _chosen(model.model_fields[name].annotation, raw)
    if isinstance(raw, list) and typing.get_origin(annotation) is list:
        return [_part(_inside(annotation), item) for item in raw]
    if isinstance(raw, dict) and typing.get_origin(annotation) is dict:
        return {key: _part(_inside(annotation), item) for key, item in raw.items()}
    return _part(annotation, raw)


def _part(annotation: Any, raw: Any) -> Any:
    part = _chosen(annotation, raw)
    if isinstance(raw, dict) and isinstance(part, type) and issubclass(part, BaseModel):
        return loosely(part, raw)
    return None


@cache
def _adapter(model: type[BaseModel], name: str) -> TypeAdapter[Any]:
    field = model.model_fields[name]
    kind = field.annotation
    if isinstance(kind, type) and issubclass(kind, BaseModel):
        return TypeAdapter(kind)
    # The star is written as a tuple because Annotated[x, *y] is one too.
    wanted: Any = Annotated[(kind, *field.metadata)] if field.metadata else kind
    return TypeAdapter(wanted, config=ConfigDict(strict=True, allow_inf_nan=False))


def _chosen(annotation: Any, data: Any) -> Any:
    """The member of a union that the data mean: a step's is told by its key."""
    while typing.get_origin(annotation) is Annotated:
        annotation = typing.get_args(annotation)[0]
    if typing.get_origin(annotation) in (typing.Union, UnionType):
        members = [_chosen(member, data) for member in typing.get_args(annotation)]
        if set(members) & set(STEPS.values()):
            kinds = kinds_of(data)
            return STEPS[kinds[0]] if len(kinds) == 1 else None
        return next((member for member in members if member is not type(None)), None)
    return annotation


def _inside(annotation: Any) -> Any:
    """What a list or a dict holds."""
    return (typing.get_args(annotation) or (None,))[-1]
