"""What happened, or stands in the way, as a code with fields: one class a code, which is its name in small words.

In a record, and on the socket, it is its code under `why` with its fields beside it. Text in a code's place is a
keeper's, a later version's, or English from before there were codes: that is told as it stands.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import fields
from typing import Any


def codes_of(kinds: Iterable[Any]) -> dict[str, Any]:
    """Classes by their codes.

    >>> class TooSoonAfterLight: ...
    >>> list(codes_of([TooSoonAfterLight]))
    ['too soon after light']
    """
    return {code_of(kind): kind for kind in kinds}


def code_of(kind: type) -> str:
    """A class's code: its name, or where it has one its `CODE`."""
    return getattr(kind, "CODE", None) or re.sub(r"(?<!^)(?=[A-Z])", " ", kind.__name__).lower()


def facts_of(coded: Any) -> dict[str, Any]:
    """What is written of a code, or of text in its place.

    >>> facts_of("go was pressed since")
    {'why': 'go was pressed since'}
    """
    if isinstance(coded, str):
        return {"why": coded}
    return {"why": code_of(type(coded)), **{field.name: getattr(coded, field.name) for field in fields(coded)}}


def coded_of(facts: Mapping[str, Any], codes: Mapping[str, Any]) -> Any:
    """What is written there; text that is none of these codes, or lacks a field, as it is."""
    text = str(facts["why"])
    kind = codes.get(text)
    if kind is None or any(field.name not in facts for field in fields(kind)):
        return text
    return kind(**{field.name: facts[field.name] for field in fields(kind)})
