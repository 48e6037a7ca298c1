"""A burst as the keeper knows it, and a light that is not verified dark yet."""

from __future__ import annotations

from dataclasses import dataclass

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
