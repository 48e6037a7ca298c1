"""An error in one line."""

from __future__ import annotations

from timerd.sheet.profile.faults import ProfileError
from timerd.sheet.safe import safe


def one_line(error: BaseException) -> str:
    """An error's own words; ProfileError has a line for each fault, any other has one."""
    if isinstance(error, ProfileError):
        return str(error)
    if isinstance(error, OSError) and error.strerror and error.filename is not None:
        return safe(f"{error.filename}: {error.strerror}")
    if isinstance(error, OSError) and error.strerror:
        return safe(error.strerror)
    text = error.args[0] if error.args else type(error).__name__
    return safe(str(text))
