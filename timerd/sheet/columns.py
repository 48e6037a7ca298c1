"""Rows of text in columns, wherever something is told as a table."""

from __future__ import annotations

from collections.abc import Sequence


def columns(rows: Sequence[Sequence[str]], sides: str = "<>") -> list[str]:
    """A line a row, each column as wide as it needs to be and set to its side; the last of `sides` holds for all that
    follow.

    >>> print(*columns([["step", "given"], ["base", "8.0 s"], ["flash, all", "12.5 s"]]), sep="\\n")
    step         given
    base         8.0 s
    flash, all  12.5 s
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    sides = sides.ljust(len(widths), sides[-1])
    set_to = {"<": str.ljust, ">": str.rjust}
    return [
        "  ".join(set_to[side](cell, width) for cell, side, width in zip(row, sides, widths, strict=True)).rstrip()
        for row in rows
    ]
