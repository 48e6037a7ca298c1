"""What was done to each sheet: facts, appended and never changed. Where a sheet stands is a fold over them.

The engine keeps no other account of progress than this fold, so what it owes a sheet and what the records say is
owed cannot drift apart. Doses are seconds of full light; times are the keeper's monotonic seconds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple, TypeVar, get_args, get_type_hints

from timerd.sheet import facts as fa
from timerd.sheet.damaged import Damaged
from timerd.sheet.progress import SET_UPS, Burning, SheetProgress, StepProgress
from timerd.sheet.reason import BenchFault


class Record(NamedTuple):
    """One fact. `sheet`, `step` and `burst` are 0 where the fact is not about one.

    `more` is what a later version wrote beside it. It is `approximate` where it was written in another boot of the
    machine, and has been placed on this one's clock by the wall clock.
    """

    fact: fa.Fact
    at: float
    sheet: int = 0
    step: int = 0
    burst: int = 0
    more: Mapping[str, Any] = {}
    approximate: bool = False

    @classmethod
    def read(
        cls, kind: str, at: float, sheet: int = 0, step: int = 0, burst: int = 0, facts: Mapping[str, Any] = {},
    ) -> Record:  # fmt: skip
        """The record that is written so. Raises Malformed where it is none of its kind.

        >>> Record.read("so far", 12.5, 3, 2, 7, {"seconds": 3.5}).fact
        BurstSoFar(seconds=3.5)
        """
        fact, more = fa.fact_of(kind, facts)
        return cls(fact, at, sheet, step, burst, more)

    @property
    def kind(self) -> str:
        """The name of its kind in the book."""
        return self.fact.name if isinstance(self.fact, fa.Unknown) else self.fact.word

    @property
    def facts(self) -> dict[str, Any]:
        """What it says, as it is written."""
        return {**self.fact.written(), **self.more}

    def as_json(self) -> dict[str, Any]:
        """The record as it is exported: its own facts beside the common ones."""
        return {
            "kind": self.kind, "at": round(self.at, 6), "sheet": self.sheet or None, "step": self.step or None,
            "burst": self.burst or None,
            **{key: round(fact, 9) if isinstance(fact, float) else fact for key, fact in self.facts.items()},
        }  # fmt: skip


_T = TypeVar("_T")


def fold_of(account: type[_T]) -> dict[type[fa.Fact], Callable[[_T, Record, Any], None]]:
    """What each kind of fact does to an account: its methods that take a `fact`, by the kinds that they take. A kind
    that none takes does nothing to it."""
    acts: dict[type[fa.Fact], Callable[[_T, Record, Any], None]] = {}
    for act in (one for one in vars(account).values() if "fact" in getattr(one, "__annotations__", ())):
        kind = get_type_hints(act)["fact"]
        for one in get_args(kind) or (kind,):
            assert acts.setdefault(one, act) is act, f"{one.__name__} does two things"
    return acts


class Progress:
    """All sheets of a book, or of a rehearsal, as their records tell."""

    def __init__(self, records: Iterable[Record] = ()) -> None:
        self.sheets: dict[int, SheetProgress] = {}
        self.current = 0
        """The sheet that was last armed or taken up."""
        self.aside: dict[int, str] = {}
        """The sheets that are set aside, the longest first, each with the reason."""
        self.damaged = Damaged()
        self.last_sheet = self.last_burst = 0
        """The highest numbers that were ever given."""
        self.fault: BenchFault | str | None = None
        self.clock: float | None = 0.0
        """What is added to a time of this boot to compare it with one of another; None where nobody knows."""
        for record in records:
            self.apply(record)

    def apply(self, record: Record) -> None:
        """Take in one more fact. A kind that this version does not know changes nothing."""
        if record.burst > self.last_burst:
            self.last_burst = record.burst
        act = None if self.damaged.take(record.sheet, record.fact) else _FOLD.get(type(record.fact))
        if act is not None:
            act(self, record, record.fact)

    def leave_out(self, sheet: int, words: str, may_be_out: bool) -> None:
        """A sheet is damaged, as `words` say: it is not offered, and nothing is made of its records any more."""
        self.sheets.pop(sheet, None)
        self.aside.pop(sheet, None)
        self.last_sheet = max(self.last_sheet, sheet)
        self.damaged.add(sheet, words, may_be_out)

    @property
    def unfinished(self) -> SheetProgress | None:
        """The sheet that was last at hand, if it is to be taken up before any other."""
        last = self.sheets.get(self.current)
        return last if last is not None and last.resumable else None

    @property
    def sheets_out(self) -> list[int]:
        """The sheets that lie open and are not developed yet."""
        return [sheet.sheet for sheet in self.sheets.values() if sheet.out]

    @property
    def sensitive(self) -> list[int]:
        """The sheets that white light would spoil."""
        return [sheet.sheet for sheet in self.sheets.values() if sheet.sensitive]

    def _on_the_clock(self, at: float) -> float | None:
        return None if self.clock is None else at + self.clock

    def since(self, then: float | None, at: float) -> float | None:
        """The seconds from an instant on the clock of all boots to one of this boot; None where nobody knows."""
        now = self._on_the_clock(at)
        return None if then is None or now is None else now - then

    @property
    def sheets_in_hand(self) -> list[int]:
        """The sheets that are out, or will be again: set aside, or boxed until all are developed."""
        return [n for n, sheet in self.sheets.items() if sheet.out or sheet.boxed is not None or sheet.at_trays]

    # -- one method a kind of record ------------------------------------------------------------------------------

    def _armed(self, record: Record, fact: fa.SheetArmed) -> None:
        steps = [StepProgress(n, kind, dose, light) for n, kind, dose, light in fact.steps]
        self.sheets[record.sheet] = SheetProgress(record.sheet, {step.n: step for step in steps}, sensitive=True)
        self.current = record.sheet
        self.last_sheet = max(self.last_sheet, record.sheet)

    def _sheet_out(self, record: Record, fact: fa.SheetOut) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out, sheet.sensitive, sheet.boxed = True, True, None
        self._stands_for(sheet, record.step if fact.asked else -1)

    def _set_up(self, record: Record, fact: fa.BenchSetUp) -> None:
        self._stands_for(self.sheets[record.sheet], record.step)

    def _stands_for(self, sheet: SheetProgress, step: int) -> None:
        """The bench stands as a step wants it; one that was begun may go on at the next press."""
        sheet.set_for, sheet.swung = step, None
        self._begun_before(sheet)

    def _begun_before(self, sheet: SheetProgress) -> None:
        step = sheet.steps.get(sheet.at_hand)
        sheet.may_light = step is not None and step.light and step.most > 0 and sheet.out

    def _passed(self, record: Record, fact: fa.PromptPassed) -> None:
        sheet = self.sheets[record.sheet]
        sheet.swung = None
        if sheet.steps[record.step].kind in SET_UPS or sheet.set_for == 0:
            sheet.set_for = record.step
        self._over(record, "printer")
        self._begun_before(sheet)

    def _show(self, record: Record, fact: fa.ToBeShown) -> None:
        if fact.swung:
            self.sheets[record.sheet].swung = fact.light

    def _over(self, record: Record, by: str) -> None:
        sheet = self.sheets[record.sheet]
        sheet.steps[record.step].ended_by = by
        sheet.furthest = max(sheet.furthest, record.step)
        sheet.at_hand = sheet.next_after(record.step)

    def _went(self, record: Record, fact: fa.StepGoneTo) -> None:
        self._goes_to(record)

    def _goes_to(self, record: Record) -> None:
        sheet = self.sheets[record.sheet]
        sheet.furthest = max(sheet.furthest, sheet.at_hand, record.step)
        sheet.at_hand = record.step
        self._begun_before(sheet)

    def _owed_again(self, record: Record, fact: fa.StepOwedAgain) -> None:
        sheet = self.sheets[record.sheet]
        sheet.steps[record.step].ended_by = None
        if sheet.outcome == "complete":
            sheet.outcome = "unfinished"
            self.current = record.sheet
        self._goes_to(record)

    def _lit(self, record: Record, fact: fa.BurstLit) -> None:
        if record.sheet:
            sheet = self.sheets[record.sheet]
            if sheet.steps[record.step].kind != "flash":
                sheet.flashed_at = None
            sheet.steps[record.step].under_way = fact.most
            sheet.burning = Burning(record.burst, record.step, fact.lit, fact.seconds, 0.0)

    def _so_far(self, record: Record, fact: fa.BurstSoFar) -> None:
        burning = self.sheets[record.sheet].burning
        if burning is not None and burning.burst == record.burst:
            self.sheets[record.sheet].burning = burning._replace(so_far=fact.seconds)

    def _ready(self, record: Record, fact: fa.StepReady) -> None:
        sheet = self.sheets[record.sheet]
        sheet.may_light = True
        sheet.set_for = record.step
        sheet.furthest = max(sheet.furthest, record.step)

    def _started(self, record: Record, fact: fa.DaemonStarted) -> None:
        self.clock = None if fact.wall_s is None else fact.wall_s - record.at
        self._stands_still()

    def _daemon_stopped(self, record: Record, fact: fa.DaemonStopped) -> None:
        self._stands_still()

    def _stands_still(self) -> None:
        """The daemon was stopped in good order, or has just begun and taken in what was left: nothing is unwritten."""
        for sheet in self.sheets.values():
            sheet.may_light = False

    def _dark(self, record: Record, fact: fa.BurstDark) -> None:
        sheet = self.sheets[record.sheet]
        step = sheet.steps[record.step]
        sheet.burning = None
        step.bursts.append((fact.lit, fact.dark))
        step.under_way = 0.0
        step.given += fact.given
        step.given_lo += fact.least
        if step.kind == "flash":
            sheet.flashed_at = self._on_the_clock(fact.dark)

    def _recovered(self, record: Record, fact: fa.BurstRecovered) -> None:
        """How a burst ended, or may have been, that nobody wrote down at the time."""
        sheet = self.sheets[record.sheet]
        sheet.burning = None
        step = sheet.steps[record.step]
        if fact.lit is not None and fact.dark is not None:
            step.bursts.append((fact.lit, fact.dark))
        step.under_way = 0.0
        step.given += fact.given
        step.given_lo += fact.given_lo
        if step.kind != "flash":
            sheet.flashed_at = None if fact.given > 0 else sheet.flashed_at
        elif fact.dark is not None:
            sheet.flashed_at = self._on_the_clock(fact.dark)

    def _line_low(self, record: Record, fact: fa.LineLow) -> None:
        """A light that was not verified dark now is: it may have burned until here."""
        step = self.sheets[record.sheet].steps[record.step]
        step.bursts[-1] = (step.bursts[-1][0], record.at)
        step.given += fact.more

    def _ended(self, record: Record, fact: fa.StepEnded) -> None:
        self._over(record, fact.by)
        self.sheets[record.sheet].may_light = False

    def _done(self, record: Record, fact: fa.SheetDone) -> None:
        self.sheets[record.sheet].outcome = "complete"

    def _to_trays(self, record: Record, fact: fa.SentToTrays) -> None:
        sheet = self.sheets[record.sheet]
        sheet.at_trays = True
        sheet.out = sheet.sensitive = not fact.boxed
        self._developed(sheet)

    def _out_of_the_box(self, record: Record, fact: fa.OutOfTheBox) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out = sheet.sensitive = True

    def _in_bath(self, record: Record, fact: fa.InBath) -> None:
        if (sheet := self.sheets.get(record.sheet)) is not None:
            sheet.bath, sheet.confirmed = fact.bath, fact.confirmed

    def _stop_bath(self, record: Record, fact: fa.InStopBath) -> None:
        """The development has ended. Until `in the fixer` was written, a press at done without named baths wrote this,
        and nothing came after it: such a sheet has long been fixed."""
        sheet = self.sheets[record.sheet]
        sheet.out = False
        sheet.sensitive = sheet.sensitive and sheet.at_trays
        self._developed(sheet)

    def _in_the_fixer(self, record: Record, fact: fa.InTheFixer) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out, sheet.in_fixer = False, True
        self._developed(sheet)

    def _safe_in_white_light(self, record: Record, fact: fa.SafeInWhiteLight) -> None:
        self.sheets[record.sheet].sensitive = False

    def _developed(self, sheet: SheetProgress) -> None:
        if (last := sheet.steps.get(sheet.at_hand)) is not None and last.kind == "develop":
            last.ended_by = "printer"

    def _out_of_the_baths(self, record: Record, fact: fa.OutOfTheBaths) -> None:
        if (sheet := self.sheets.get(record.sheet)) is not None:
            sheet.out = sheet.sensitive = False

    def _stopped(self, record: Record, fact: fa.Abandoned | fa.FaultCame) -> None:
        if isinstance(fact, fa.FaultCame):
            self.fault = fact.why
        sheet = self.sheets.get(record.sheet)
        if sheet is None or sheet.outcome == "complete":
            return
        sheet.outcome = record.kind
        sheet.may_light = False
        step = sheet.steps.get(sheet.at_hand)
        if step is not None and step.light and step.ended_by is None:
            step.ended_by = record.kind

    def _cleared(self, record: Record, fact: fa.FaultCleared) -> None:
        self.fault = None
        if (sheet := self.sheets.get(record.sheet)) is not None and sheet.outcome == "fault":
            sheet.outcome = "unfinished"
            step = sheet.steps.get(sheet.at_hand)
            if step is not None and step.ended_by == "fault":
                step.ended_by = None

    def _set_aside(self, record: Record, fact: fa.SetAside) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out, sheet.sensitive, sheet.may_light, sheet.outcome = False, False, False, "set aside"
        if sheet.boxed is None:  # else it has never left its box
            sheet.boxed, sheet.boxed_at = fact.why, self._on_the_clock(record.at)
        step = sheet.steps.get(sheet.at_hand)
        if step is not None and step.ended_by in ("abandoned", "fault"):
            step.ended_by = None
        self.aside.pop(record.sheet, None)
        self.aside[record.sheet] = sheet.boxed or fact.why

    def _taken_up(self, record: Record, fact: fa.TakenUp) -> None:
        sheet = self.sheets[record.sheet]
        sheet.outcome, sheet.sensitive = "unfinished", True
        self.current = record.sheet
        self.aside.pop(record.sheet, None)
        step = sheet.steps.get(sheet.at_hand)
        if step is not None:
            sheet.may_light = step.light and sheet.boxed is None
            if step.ended_by in ("abandoned", "fault"):
                step.ended_by = None

    def _given_up(self, record: Record, fact: fa.GivenUp) -> None:
        sheet = self.sheets[record.sheet]
        sheet.out, sheet.sensitive, sheet.given_up, sheet.outcome = False, False, True, "abandoned"
        self.aside.pop(record.sheet, None)
        sheet.may_light = False
        step = sheet.steps.get(sheet.at_hand)
        if step is not None and step.light and step.ended_by is None:
            step.ended_by = "abandoned"


_FOLD = fold_of(Progress)
