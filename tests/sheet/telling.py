"""What a file is told to have wrong, as it is printed."""

from __future__ import annotations

from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.profile.reading import read


def told(text: str) -> list[str]:
    """All that is wrong with a file."""
    try:
        read(text.encode(), "p.yaml")
    except ProfileError as error:
        return [str(fault) for fault in error.faults]
    return []
