"""Where a bench stands: its sheets, the state it is in, the burst under way; and how that is told to others."""

from __future__ import annotations

from timerd.sheet.engine import rows
from timerd.sheet.engine.events import Action, Cut, Entered, Say
from timerd.sheet.engine.feet import AllContacts, Contact, tray_pedals
from timerd.sheet.facts import Fact, PressRefused
from timerd.sheet.fixing import is_fixing
from timerd.sheet.plan.boxes import from_box
from timerd.sheet.plan.value import Plan, Step
from timerd.sheet.profile.bathfile import BathLine
from timerd.sheet.profile.benchfile import Bench
from timerd.sheet.progress import SheetProgress, StepProgress
from timerd.sheet.reason import PedalsOut, Reason
from timerd.sheet.record import Progress, Record
from timerd.sheet.refusal import NotSafe, OtherDown, Refusal

BOX = "box"
"""Why a sheet is set aside by its plan, to make room for the next one."""
BOTH_WARNED_S = 1.0
"""Both pedals held are warned of so long before they act."""
_MAY_BE_DARK = rows.DARKENING | {rows.PAUSED, rows.PAUSED_TO_SHOW, rows.FAULT}
"""Rows in which the safelight may stay dark; entering any other puts it on."""


class Standing:
    """One bench's standing. `progress` is the account of its sheets, `plans` their plans as they were when armed.

    `row` is the row of the table, `visit` counts the rows entered, `out` gathers what is to be done for the event at
    hand. Only the machine and its moves change any of it.
    """

    def __init__(
        self, bench: Bench, progress: Progress | None = None, plans: dict[int, Plan] | None = None,
        batch: tuple[Plan, int] | None = None,
    ) -> None:  # fmt: skip
        self.bench = bench
        self.progress = progress or Progress()
        self.plans = dict(plans or {})
        self.unconfirmed = {
            number
            for number in self.progress.sensitive
            if (sheet := self.progress.sheets[number]).at_trays and not is_fixing(self.plans.get(number), sheet)
        }
        """The sheets that were in their baths, short of the fixer, when nobody was there to tell what is due:
        where they are since then a press must say, or a command."""
        self.feet = AllContacts(bench)
        self.loaded: Plan | None = None
        self.sheets_left = 0
        if batch is not None and batch[0].bench == bench.bench:
            self.loaded, self.sheets_left = from_box(batch[0], None), batch[1]
        self.sheet: SheetProgress | None = None
        self.asking: tuple[str, ...] = ()
        """What the prompt at hand asks for."""
        self.back_to: str | None = None
        """The row to go back to when the paper-safe light has been shown."""
        self.shown: str | None = None
        """The light that is shown, or is about to be, with a sheet in hand or none: no dose comes of it."""
        self.refusal: Refusal | str | None = None
        """Why the last press or command was refused; None once one was taken."""
        self._why: Reason | str | None = None
        self.burst: int | None = None
        self.lit_at: float | None = None
        self.deadline: float | None = None
        self.visit = 0
        self.last_burst = self.progress.last_burst
        self.seconds = 0.0
        self.starter: Contact | None = None
        self.seen = 0
        self.by_itself_until = float("-inf")
        self.unverified: tuple[int, int, float, float] | None = None
        self.clear_asked = False
        self.tapped = False
        self.both_warned: float | None = None
        self.warn_at: float | None = None
        self.safelight_lit = True
        self.unplugged: dict[str, str] = {}
        self.worn: str | None = None
        """The contact that was last told to be worn."""
        self.stays = any(lamp.stay_pin is not None for lamp in bench.lamps.values())
        self.lamps_on: dict[str, float] = {}
        self.warm_told_at: float | None = None
        self.out: list[Action] = []
        self.now = 0.0
        self.row = self.idle_row()
        if self.progress.fault is not None:
            self.row, self.reason = rows.FAULT, self.progress.fault

    # -- what others may ask -------------------------------------------------------------------------------------

    @property
    def reason(self) -> Reason | str | None:
        """Why the bench stands as it does, or why it did not do what it was asked to. A fault's stays, whatever is
        refused in it."""
        if self.refusal is not None and self.row != rows.FAULT:
            return self.refusal
        return None if isinstance(self._why, PedalsOut) and not self.unplugged else self._why

    @reason.setter
    def reason(self, why: Reason | str | None) -> None:
        self._why, self.refusal = why, None

    @property
    def state(self) -> str:
        """One of the nine states."""
        return rows.STATE_OF[self.row]

    @property
    def wake_at(self) -> float | None:
        """When a `Wake` is due, if nothing happens before: both pedals held, a warning, a lamp that is warm."""
        both_at, warn_at = self.feet.both_at, self.warn_at
        if self.warm_told_at is not None:
            warn_at = self.warm_told_at if warn_at is None else min(warn_at, self.warm_told_at)
        if both_at is not None:
            both_at -= 0.0 if self.both_warned == both_at else BOTH_WARNED_S
            return both_at if warn_at is None else min(both_at, warn_at)
        return warn_at

    @property
    def step(self) -> Step | None:
        """The step at hand of the sheet on the bench."""
        if self.sheet is None:
            return None
        steps = self.plans[self.sheet.sheet].steps
        n = self.sheet.at_hand
        return steps[n - 1] if n <= len(steps) else None

    def warming(self, now: float) -> tuple[str, float] | None:
        """The lamp that is warming up, and until when; of several the last to be warm."""
        warm = [(since + self.bench.lamps[name].warm_up_s, name) for name, since in self.lamps_on.items()]
        until, name = max(warm, default=(now, ""))
        return (name, until) if until > now else None

    @property
    def offer(self) -> SheetProgress | None:
        """The sheet that a held `go` takes up in idle: one that is unfinished; one that was set aside for the moment;
        or, when no new sheet is left to begin, the one that lies in the box for longest."""
        if (unfinished := self.progress.unfinished) is not None:
            return unfinished
        here = self.bench.bench
        aside = {n: why for n, why in self.progress.aside.items() if n in self.plans and self.plans[n].bench == here}
        for_now = [number for number, why in aside.items() if why != BOX]
        waiting = for_now[-1:] or ([] if self.loaded is not None and self.sheets_left else list(aside)[:1])
        return self.progress.sheets[waiting[0]] if waiting else None

    @property
    def white_light_spoils(self) -> NotSafe | None:
        """Which sheet white light would spoil, and where that is; None where it is safe."""
        if unknown := self.progress.damaged.out:
            return NotSafe(max(unknown), None)
        sensitive = self.progress.sensitive
        return NotSafe(sensitive[-1], self._where(sensitive[-1])) if sensitive else None

    def _line(self, number: int) -> BathLine | None:
        plan = self.plans.get(number)
        return plan.baths if plan is not None else None

    def _where(self, number: int) -> str:
        sheet, line = self.progress.sheets[number], self._line(number)
        if sheet.in_fixer:
            return "in the fixer"
        if sheet.at_trays and line is not None:
            if number in self.unconfirmed:
                return "not confirmed"
            return next((f"in the {bath.kind}" for bath in line.baths if bath.name == sheet.bath), "at the trays")
        return "is out" if sheet.out else "is armed" if sheet.boxed is None else "is taken up"

    @property
    def goes_to(self) -> dict[int, str]:
        """The sheets of which a press of `go` says, at done or in idle, that they are at the `trays` or in the `fixer`.

        In idle those too that were in their baths when nobody was there, on a bench without a pedal at the trays.
        """
        found = {}
        asked = self.state == rows.IDLE and "go" not in tray_pedals(self.bench).values()
        for number, sheet in self.progress.sheets.items():
            if sheet.out and sheet.outcome == "complete" and not sheet.at_trays:
                found[number] = "fixer" if self._line(number) is None else "trays"
            elif asked and number in self.unconfirmed and sheet.sensitive and not sheet.in_fixer:
                found[number] = "fixer"
        return found

    # -- small things --------------------------------------------------------------------------------------------

    def write(self, fact: Fact, at: float, step: int = 0, burst: int = 0) -> None:
        record = Record(fact, at, self.sheet.sheet if self.sheet is not None else 0, step, burst)
        self.progress.apply(record)
        self.out.append(record)

    def refuse(self, why: Refusal | str, contact: Contact | None = None) -> None:
        """Nothing happens, and the printer is told why. A press that was refused is used up."""
        self.refusal = why
        if contact is not None:
            contact.deaf = True
        step = self.sheet.at_hand if self.sheet is not None else 0
        at = self.now if contact is None or not contact.down else contact.at
        self.write(PressRefused(contact.name if contact is not None else None, why), at, step)

    def other_is_down(self, contact: Contact | None) -> bool:
        """Nothing starts while another pedal is down; the refusal names it."""
        other = self.feet.other_down(contact.name if contact is not None else None)
        if other is not None:
            self.refuse(OtherDown(other.name), contact)
        return other is not None

    def enter(self, row: str, at: float, stay_dark: bool = False) -> None:
        said = rows.STATE_OF[row] != rows.IDLE or rows.STATE_OF[self.row] != rows.IDLE
        self.row = row
        self.visit += 1
        if said:
            self.out.append(Entered(rows.STATE_OF[row], at))
        if not (self.safelight_lit or stay_dark or row in _MAY_BE_DARK):
            self.out.append(Cut())

    def say(self, what: str, at: float) -> None:
        self.out.append(Say(what, at))

    def idle_row(self) -> str:
        if self.progress.unfinished is not None:
            return rows.UNFINISHED
        return rows.IDLE if self.offer is None else rows.ASIDE

    def ask(self, asks: tuple[str, ...], at: float) -> None:
        """The printer is asked for this, and waited for."""
        self.asking = asks
        self.enter(rows.PROMPT, at)

    def to_idle(self, at: float) -> None:
        self.sheet = None
        self.enter(self.idle_row(), at)

    def hands(self) -> tuple[SheetProgress, Step, StepProgress]:
        """The sheet, the step at hand and its progress; only asked for where a sheet is under way."""
        sheet = self.sheet
        assert sheet is not None
        n = sheet.at_hand
        return sheet, self.plans[sheet.sheet].steps[n - 1], sheet.steps[n]
