"""What the keeper holds: a burst, a light that is not verified dark yet, and what is to be done to the lines."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from timerd.bench.message import Expose


@dataclass
class Burst:
    """A burst that was taken: on which lamp's line, and when it was lit, by both clocks."""

    asked: Expose
    line: str
    lit: float | None = None
    lit_second: float | None = None

    @property
    def deadline(self) -> float | None:
        """When it is to go out; None before it is lit."""
        return None if self.lit is None else self.lit + self.asked.seconds


@dataclass(slots=True)
class Check:
    """A light that was switched off and has not been read low yet; `burst` 0 when none was burning.

    `lo` is the first time at which it may have been dark, where that is not known.
    """

    burst: int
    dark: float
    why: str
    lo: float | None = None


@dataclass(slots=True)
class Out:
    """What the owner of the lines must do now: write these levels in this order, then pass these reports on."""

    writes: list[tuple[str, bool]] = field(default_factory=list)
    reports: list[dict[str, Any]] = field(default_factory=list)
