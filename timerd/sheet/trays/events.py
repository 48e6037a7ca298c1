"""What goes into the trays' machine and what comes out of it. Times are the keeper's monotonic seconds."""

from __future__ import annotations

from typing import Any, NamedTuple

from timerd.sheet.facts import Filling
from timerd.sheet.record import Record
from timerd.sheet.refusal import Refusal
from timerd.wire.codec import as_json

# -- events --------------------------------------------------------------------------------------------------------


class ToTrays(NamedTuple):
    """A sheet's record `to trays`: it leaves the enlarger for the baths, or for its box until all go in together."""

    record: Record


class Press(NamedTuple):
    """A pedal or button at the trays went down: `go` or `end`."""

    pedal: str
    at: float


class Exposing(NamedTuple):
    """An exposure begins (from its lead-in) or is over: cues give way to it, as the bath line says."""

    burns: bool
    at: float


class Temperature(NamedTuple):
    """A bath's temperature, as somebody read it."""

    bath: str
    celsius: float
    at: float


class NewBatch(NamedTuple):
    """A bath was mixed anew: with what it is filled; or, with `came_from`, another bath took its place."""

    bath: str
    filling: Filling | None
    at: float
    came_from: str | None = None


class Start(NamedTuple):
    """The sheets in their box go into the first bath, by command."""

    at: float


class TakeOut(NamedTuple):
    """A sheet is taken out of the baths, by command."""

    sheet: int
    at: float


class Fixed(NamedTuple):
    """White light spoils a sheet no more."""

    sheet: int
    at: float


class TrayWake(NamedTuple):
    """The time asked for by `wake_at` has come."""

    at: float


Event = ToTrays | Press | Exposing | Temperature | NewBatch | Start | TakeOut | Fixed | TrayWake

# -- what comes out ------------------------------------------------------------------------------------------------


class TrayCue(NamedTuple):
    """Something to be heard and seen at the trays.

    `what`: `into` (put it into the first bath), `agitate`, `rest` (the rocking is over), `soon`, `drain`, `move` (into
    `to`, or out), `late`, `together` (of `sheets`, two at once), `emerged`, `early` (a press long before the time:
    again to move it all the same), `nothing` (a press for which there is nothing), `again` (say what is due), `near`,
    `over` and `old` (a bath's batch), `safe` (white light is), `safelight near`, `safelight over` and `safelight none`,
    `caution` (once an evening). `seconds` are those of `soon`, `late`, `emerged` and `early`; `soft` where a light
    burns; `why` that of `nothing`.
    """

    what: str
    at: float
    sheets: tuple[int, ...] = ()
    bath: str = ""
    to: str = ""
    seconds: float = 0.0
    soft: bool = False
    why: Refusal | None = None

    def as_json(self) -> dict[str, Any]:
        """The cue as it is exported, without what it does not have."""
        told = {"to": self.to, "seconds": round(self.seconds, 6), "soft": self.soft}
        return {
            "t": round(self.at, 6), "what": self.what, "sheets": list(self.sheets), "bath": self.bath,
            **{key: value for key, value in told.items() if value},
            **({} if self.why is None else as_json(self.why)),
        }  # fmt: skip


Action = Record | TrayCue
