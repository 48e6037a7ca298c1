"""Text that came from anywhere, fit to be shown."""

from __future__ import annotations


def safe(text: str) -> str:
    r"""Without anything that a terminal would obey, or that changes the direction of what stands beside it.

    >>> print(safe("Tides"), safe("\x1b[31m"), safe("a\nb"), safe("\u202e"))
    Tides \x1b[31m a\nb \u202e
    """
    return text if text.isprintable() else "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)
