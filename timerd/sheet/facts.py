"""What a record may say: one class a kind, and the one codec to and from the book's JSON. Doses are seconds of full
light, times the keeper's monotonic seconds. A field that has a default is written only where it says something else.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, asdict, dataclass
from typing import Any, ClassVar, NamedTuple, dataclass_transform

from timerd.sheet.codes import facts_of
from timerd.sheet.fields import Unfit, a_check, coded, fields_of, taken
from timerd.sheet.reason import BenchFault, fault_of
from timerd.sheet.refusal import Refusal, refusal_of


@dataclass_transform(frozen_default=True)
class Fact:
    """What one record says beside its time, sheet, step and burst."""

    kind: ClassVar[str]
    """Its name in the book."""

    def __init_subclass__(cls, kind: str = "", kw_only: bool = False) -> None:
        cls.kind = kind
        dataclass(frozen=True, kw_only=kw_only)(cls)
        _OF_KIND[kind] = cls

    def written(self) -> dict[str, Any]:
        """It as JSON has it, in the order of its fields."""
        found = {}
        for name, default in fields_of(type(self)):
            value = getattr(self, name)
            if default is MISSING or value != default:
                found[name] = asdict(value) if isinstance(value, Filling) else value
        return found

    @classmethod
    def read(cls, told: dict[str, Any]) -> Fact:
        """The fact that is written there, its own keys taken out. Raises Unfit."""
        return cls(**taken(cls, told))


_OF_KIND: dict[str, type[Fact]] = {}


def fact_of(kind: str, told: Mapping[str, Any]) -> tuple[Fact, Mapping[str, Any]]:
    """What is written of a kind, and what a later version has beside it. Raises Unfit.

    >>> fact_of("so far", {"seconds": 3.5, "lamps": 2})
    (BurstSoFar(seconds=3.5), {'lamps': 2})
    >>> fact_of("weather", {"rain": True})
    (Unknown(name='weather', told={'rain': True}), {})
    """
    cls = _OF_KIND.get(kind, Unknown)
    more = dict(told)
    return (Unknown(kind, more), {}) if cls is Unknown else (cls.read(more), more)


# -- what is told of more than once -------------------------------------------------------------------------------


class Planned(NamedTuple):
    """A step as it is armed: `dose` is None where none is planned (free), 0 of a step without light."""

    n: int
    kind: str
    dose: float | None
    light: bool


@dataclass(frozen=True, slots=True)
class Filling:
    """What is in a tray: how many 8x10 in a litre takes by the paper's base, how long it keeps, and what follows it."""

    per_litre: Mapping[str, float]
    litres: float
    keeps_h: float | None
    followed_by: str | None
    cycles: int


# -- at the bench -------------------------------------------------------------------------------------------------


class Unknown(Fact, kind="?"):
    """A kind that this version does not know, of that name."""

    name: str
    told: Mapping[str, Any]

    def written(self) -> dict[str, Any]:
        """As it came."""
        return dict(self.told)


class DaemonStarted(Fact, kind="started"):
    version: str | None = None
    wall: str | None = None
    wall_s: float | None = None
    bench: str | None = None
    simulated: bool | None = None
    scheduling: str | None = None
    lines: str | None = None


class DaemonStopped(Fact, kind="stopped"):
    """In good order."""


class PrintLoaded(Fact, kind="loaded"):
    print: str
    sheets: int


class SheetArmed(Fact, kind="armed", kw_only=True):
    """A sheet is begun; the book has its plan. `wall` is the wall clock, `scheduling` the keeper's."""

    print: str = ""
    steps: tuple[Planned, ...]
    wall: str | None = None
    scheduling: str | None = None


class SheetOut(Fact, kind="sheet out"):
    """It lies under the safelight. `boxed_s` is how long it was in its box; not `asked` where the bench was not set up
    for it at the same time."""

    boxed_s: float | None = None
    asked: bool = True


class BenchSetUp(Fact, kind="set up"):
    """The bench stands as the step at hand wants it."""


class PromptPassed(Fact, kind="passed"):
    pass


class StepReady(Fact, kind="ready"):
    """A light may be lit by the next press; `owed` is what it is to give."""

    owed: float | None


class ToBeShown(Fact, kind="show"):
    """A paper-safe light is to be shown; from now on its filter may be `swung` in by hand."""

    light: str
    swung: bool = False


class LightShown(Fact, kind="viewing"):
    lit: bool
    light: str | None = None


class BurstLit(Fact, kind="lit"):
    """Asked for `seconds`, which gives `most`. `since_flash_s` is how long ago the sheet was flashed, if nothing was
    exposed since."""

    light: str
    lit: float
    seconds: float
    most: float
    since_flash_s: float | None = None


class BurstSoFar(Fact, kind="so far"):
    """It burns still, and has for so many seconds at the least."""

    seconds: float


class BurstDark(Fact, kind="dark"):
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


class BurstRecovered(Fact, kind="recovered"):
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


class BurstCalledOff(Fact, kind="called off"):
    """Before its light; `why` is None where nobody knows."""

    why: str | None


class LineLow(Fact, kind="line low"):
    """A light that was not verified dark now is: it may have given so much `more`."""

    more: float


class StepEnded(Fact, kind="ended"):
    """`by` its dose, the printer, or skipped."""

    by: str


class StepGoneTo(Fact, kind="went"):
    come_from: int


class StepOwedAgain(Fact, kind="owed again"):
    come_from: int


class SheetDone(Fact, kind="done"):
    """Exposed, all of it."""


class Abandoned(Fact, kind="abandoned"):
    pass


class SetAside(Fact, kind="set aside"):
    """Into its box; `why` is asked, box or negative."""

    why: str


class TakenUp(Fact, kind="taken up"):
    pass


class GivenUp(Fact, kind="given up"):
    pass


class PressRefused(Fact, kind="refused"):
    """A press, or an order (no `pedal`), was not taken."""

    pedal: str | None
    why: Refusal | str

    def written(self) -> dict[str, Any]:
        """The reason's own fields lie beside the pedal."""
        return {"pedal": self.pedal, **facts_of(self.why)}

    @classmethod
    def read(cls, told: dict[str, Any]) -> Fact:
        return cls(told.pop("pedal", None), coded(told, refusal_of))


class FaultCame(Fact, kind="fault"):
    why: BenchFault | str

    def written(self) -> dict[str, Any]:
        return facts_of(self.why)

    @classmethod
    def read(cls, told: dict[str, Any]) -> Fact:
        return cls(coded(told, fault_of))


class FaultCleared(Fact, kind="cleared"):
    pass


class SafelightTurned(Fact, kind="safelight"):
    lit: bool


class LampStaysOn(Fact, kind="lamp"):
    """A lamp that stays on behind its shutter was turned on, or off."""

    lamp: str
    on: bool


class PedalUnplugged(Fact, kind="unplugged"):
    pedal: str
    why: str


class PedalPluggedIn(Fact, kind="plugged in"):
    pedal: str


class PedalWorn(Fact, kind="worn"):
    pedal: str


# -- at the trays -------------------------------------------------------------------------------------------------


class SentToTrays(Fact, kind="to trays"):
    """In the printer's hands; `boxed` until all are developed together."""

    boxed: bool


class OutOfTheBox(Fact, kind="out of the box"):
    """`stack` are the sheets that go into the baths together."""

    stack: tuple[int, ...]


class InBath(Fact, kind="in bath"):
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


class BathTime(Fact, kind="bath time"):
    """Its time in the bath it is in is another: for a temperature, or since its image showed after `emerged_s`."""

    planned_s: float
    celsius: float
    emerged_s: float | None = None


class Draining(Fact, kind="draining"):
    pass


class OutOfBath(Fact, kind="out of bath"):
    """`by` a press, the clock or a command; `approximate` where the machine was restarted meanwhile."""

    bath: str
    batch: int
    celsius: float
    planned_s: float
    actual_s: float
    late_s: float
    by: str
    approximate: bool = False


class InStopBath(Fact, kind="stop bath"):
    """The development has ended. Until `in the fixer` was written, a press at done without named baths wrote this,
    and nothing came after it: such a sheet has long been fixed."""


class InTheFixer(Fact, kind="in the fixer"):
    pass


class SafeInWhiteLight(Fact, kind="safe in white light"):
    pass


class OutOfTheBaths(Fact, kind="out of the baths"):
    by: str = ""


class SafelightSum(Fact, kind="under safelight"):
    """A sheet's seconds under the safelight against those that it may see: `margin` is '', near, over or none."""

    seconds: float
    safe_s: float | None
    allowed_s: float | None
    margin: str | None
    at_most: bool
    approximate: bool = False


class TemperatureRead(Fact, kind="temperature"):
    bath: str
    celsius: float


class BathMixed(Fact, kind="batch", kw_only=True):
    """A bath was mixed anew; or took the place of the one that `came_from` says, whose batch `was` that, with its
    age."""

    bath: str
    batch: int
    was: int | None = None
    moves: int
    filling: Filling
    came_from: str | None = None
    age_s: float = 0.0

    def written(self) -> dict[str, Any]:
        """What is in it lies beside its name."""
        told = Fact.written(self).items()
        return {name: one for key, value in told for name, one in (value if key == "filling" else {key: value}).items()}

    @classmethod
    def read(cls, told: dict[str, Any]) -> Fact:
        """What is in it is taken together first."""
        told["filling"] = {name: told.pop(name) for name, _ in fields_of(Filling) if name in told}
        return super().read(told)


# -- afterwards ---------------------------------------------------------------------------------------------------


class NoteWritten(Fact, kind="note"):
    text: str
    wall: str | None = None


class SheetRated(Fact, kind="rated"):
    """From 1 to 5."""

    rating: int
    wall: str | None = None


@a_check("tuple[Planned, ...]")
def _planned(name: str, value: Any) -> tuple[Planned, ...]:
    try:
        return tuple(Planned(*step) for step in value)
    except TypeError:
        raise Unfit(f"'{name}' in it is no list of steps") from None


@a_check("Filling")
def _filling(name: str, value: Any) -> Filling:
    if not isinstance(value, Mapping):
        raise Unfit(f"'{name}' in it is no filling")
    return Filling(**taken(Filling, dict(value)))
