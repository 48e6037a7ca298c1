"""What the keeper holds: a burst, a light that is not verified dark yet, and what is to be done to the lines. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from timerd.wire.keeper import Expose, Report


@dataclass(slots=True)
class Taken:
    """A burst that was taken: on which lamp's line, from when the safelight is dark (None: it stays as it is), and
    when it was lit, by both clocks."""

    asked: Expose
    line: str
    safelight_from: float | None = field(init=False)
    lit: float | None = None
    lit_second: float | None = None

    def __post_init__(self) -> None:
        self.safelight_from = None if self.asked.safelight is None else self.asked.safelight.dark

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
    reports: list[Report] = field(default_factory=list)
