"""What a record may say: one class a kind. Doses are seconds of full light, times the keeper's monotonic seconds. A
field that has a default is written only where it says something else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, NamedTuple

from timerd.sheet.reason import BenchFault
from timerd.sheet.refusal import Refusal
from timerd.wire.codec import Value, as_json, beside, beyond, by_word, may_lack, read_as


class Fact(Value):
    """What one record says beside its time, sheet, step and burst. Its word is its kind in the book."""

    sparse: ClassVar[bool] = True

    def written(self) -> dict[str, Any]:
        """It as JSON has it, in the order of its fields."""
        return as_json(self)


def fact_of(kind: str, told: Mapping[str, Any]) -> tuple[Fact, Mapping[str, Any]]:
    """What is written of a kind, and what a later version has beside it. Raises Malformed.

    >>> fact_of("so far", {"seconds": 3.5, "lamps": 2})
    (BurstSoFar(seconds=3.5), {'lamps': 2})
    >>> fact_of("weather", {"rain": True})
    (Unknown(name='weather', told={'rain': True}), {})
    """
    of = _OF_KIND.get(kind)
    if of is None:
        return Unknown(kind, dict(told)), {}
    fact: Fact = read_as(of, told, exact=False)
    return fact, beyond(fact, told)


# -- what is told of more than once -------------------------------------------------------------------------------


class Planned(NamedTuple):
    """A step as it is armed: `dose` is None where none is planned (free), 0 of a step without light."""

    n: int
    kind: str
    dose: float | None
    light: bool


class Filling(Value):
    """What is in a tray: how many 8x10 in a litre takes by the paper's base, how long it keeps, and what follows it."""

    per_litre: Mapping[str, float]
    litres: float
    keeps_h: float | None
    followed_by: str | None
    cycles: int


# -- at the bench -------------------------------------------------------------------------------------------------


class Unknown(Fact, word="?"):
    """A kind that this version does not know, of that name."""

    name: str
    told: Mapping[str, Any]

    def written(self) -> dict[str, Any]:
        """As it came."""
        return dict(self.told)


class DaemonStarted(Fact, word="started"):
    version: str | None = None
    wall: str | None = None
    wall_s: float | None = None
    bench: str | None = None
    simulated: bool | None = None
    scheduling: str | None = None
    lines: str | None = None


class DaemonStopped(Fact, word="stopped"):
    """In good order."""


class PrintLoaded(Fact, word="loaded"):
    print: str
    sheets: int


class SheetArmed(Fact, word="armed", kw_only=True):
    """A sheet is begun; the book has its plan. `wall` is the wall clock, `scheduling` the keeper's."""

    print: str = ""
    steps: tuple[Planned, ...]
    wall: str | None = None
    scheduling: str | None = None


class SheetOut(Fact, word="sheet out"):
    """It lies under the safelight. `boxed_s` is how long it was in its box; not `asked` where the bench was not set up
    for it at the same time."""

    boxed_s: float | None = None
    asked: bool = True


class BenchSetUp(Fact, word="set up"):
    """The bench stands as the step at hand wants it."""


class PromptPassed(Fact, word="passed"):
    """A prompt was passed."""


class StepReady(Fact, word="ready"):
    """A light may be lit by the next press; `owed` is what it is to give."""

    owed: float | None


class ToBeShown(Fact, word="show"):
    """A paper-safe light is to be shown; from now on its filter may be `swung` in by hand."""

    light: str
    swung: bool = False


class LightShown(Fact, word="viewing"):
    lit: bool
    light: str | None = None


class BurstLit(Fact, word="lit"):
    """Asked for `seconds`, which gives `most`. `since_flash_s` is how long ago the sheet was flashed, if nothing was
    exposed since."""

    light: str
    lit: float
    seconds: float
    most: float
    since_flash_s: float | None = None


class BurstSoFar(Fact, word="so far"):
    """It burns still, and has for so many seconds at the least."""

    seconds: float


class BurstDark(Fact, word="dark"):
    """`given` is what it gave, `given_lo` the least of it where nobody saw when it went dark."""

    lit: float
    dark: float
    why: str
    given: float
    given_lo: float | None = None

    @property
    def least(self) -> float:
        """The least that it gave."""
        return self.given if self.given_lo is None else self.given_lo


class BurstRecovered(Fact, word="recovered"):
    """How a burst ended, or may have, that nobody wrote down at the time: between `given_lo` and `given`."""

    lit: float | None
    dark: float | None
    given: float
    given_lo: float
    why: str

    @property
    def least(self) -> float:
        """The least that it gave."""
        return self.given_lo


class BurstCalledOff(Fact, word="called off"):
    """Before its light; `why` is None where nobody knows."""

    why: str | None


class LineLow(Fact, word="line low"):
    """A light that was not verified dark now is: it may have given so much `more`."""

    more: float


class StepEnded(Fact, word="ended"):
    """`by` its dose, the printer, or skipped."""

    by: str


class StepGoneTo(Fact, word="went"):
    come_from: int


class StepOwedAgain(Fact, word="owed again"):
    come_from: int


class SheetDone(Fact, word="done"):
    """Exposed, all of it."""


class Abandoned(Fact, word="abandoned"):
    """By the printer."""


class SetAside(Fact, word="set aside"):
    """Into its box; `why` is asked, box or negative."""

    why: str


class TakenUp(Fact, word="taken up"):
    """A sheet is at hand again."""


class GivenUp(Fact, word="given up"):
    """For good."""


class PressRefused(Fact, word="refused"):
    """A press, or an order (no `pedal`), was not taken."""

    pedal: str | None = may_lack(None)
    why: Refusal | str


class FaultCame(Fact, word="fault"):
    why: BenchFault | str


class FaultCleared(Fact, word="cleared"):
    """The bench is at rest again."""


class SafelightTurned(Fact, word="safelight"):
    lit: bool


class LampStaysOn(Fact, word="lamp"):
    """A lamp that stays on behind its shutter was turned on, or off."""

    lamp: str
    on: bool


class PedalUnplugged(Fact, word="unplugged"):
    pedal: str
    why: str


class PedalPluggedIn(Fact, word="plugged in"):
    pedal: str


class PedalWorn(Fact, word="worn"):
    pedal: str


# -- at the trays -------------------------------------------------------------------------------------------------


class SentToTrays(Fact, word="to trays"):
    """In the printer's hands; `boxed` until all are developed together."""

    boxed: bool


class OutOfTheBox(Fact, word="out of the box"):
    """`stack` are the sheets that go into the baths together."""

    stack: tuple[int, ...]


class InBath(Fact, word="in bath"):
    """`eights` are the sheets of 8x10 in that it counts as; `untold` is what the bath's file says where no batch of it
    was told yet. Not `confirmed` where only the clock said so, after nobody was there to tell."""

    bath: str
    batch: int
    celsius: float
    planned_s: float
    stack: tuple[int, ...]
    base: str | None
    eights: float
    untold: Filling | None
    confirmed: bool = True


class BathTime(Fact, word="bath time"):
    """Its time in the bath it is in is another: for a temperature, or since its image showed after `emerged_s`."""

    planned_s: float
    celsius: float
    emerged_s: float | None = None


class Draining(Fact, word="draining"):
    """It hangs over its bath."""


class OutOfBath(Fact, word="out of bath"):
    """`by` a press, the clock or a command; `approximate` where the machine was restarted meanwhile."""

    bath: str
    batch: int
    celsius: float
    planned_s: float
    actual_s: float
    late_s: float
    by: str
    approximate: bool = False


class InStopBath(Fact, word="stop bath"):
    """The development has ended. Until `in the fixer` was written, a press at done without named baths wrote this,
    and nothing came after it: such a sheet has long been fixed."""


class InTheFixer(Fact, word="in the fixer"):
    """It lies in it."""


class SafeInWhiteLight(Fact, word="safe in white light"):
    """White light spoils it no more."""


class OutOfTheBaths(Fact, word="out of the baths"):
    by: str = ""


class SafelightSum(Fact, word="under safelight"):
    """A sheet's seconds under the safelight against those that it may see: `margin` is '', near, over or none."""

    seconds: float
    safe_s: float | None
    allowed_s: float | None
    margin: str | None
    at_most: bool
    approximate: bool = False


class TemperatureRead(Fact, word="temperature"):
    bath: str
    celsius: float


class BathMixed(Fact, word="batch", kw_only=True):
    """A bath was mixed anew; or took the place of the one that `came_from` says, whose batch `was` that, with its
    age."""

    bath: str
    batch: int
    was: int | None = None
    moves: int
    filling: Filling = beside()
    came_from: str | None = None
    age_s: float = 0.0


# -- afterwards ---------------------------------------------------------------------------------------------------


class NoteWritten(Fact, word="note"):
    text: str
    wall: str | None = None


class SheetRated(Fact, word="rated"):
    """From 1 to 5."""

    rating: int
    wall: str | None = None


_OF_KIND: Mapping[str, type[Fact]] = by_word(
    kind
    for kind in globals().values()
    if isinstance(kind, type) and issubclass(kind, Fact) and kind not in (Fact, Unknown)
)
