"""The keeper's rules: a message, a pedal's edge or the time comes in; levels, reports and the next wake-up go out.

Nothing here waits, reads a clock or touches a pin, and nothing of timerd is imported but the messages: whoever
owns the lines (real or simulated) calls in with the time and does what comes out, in order. Levels are spoken of as
light: `True` is lit, for the lamps and for the safelight alike, whatever level the relay needs for it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from timerd.bench.burst import Check, Out, Taken
from timerd.bench.contacts import Contacts
from timerd.bench.cueing import CUE, Cueing
from timerd.bench.limits import WhyNot, why_not
from timerd.bench.sensing import LIGHT_NOT_SEEN, LIGHT_SEEN, Sensing
from timerd.bench.staying import Staying
from timerd.wire import keeper as wire
from timerd.wire.codec import Malformed
from timerd.wire.keeper import TO_KEEPER, Expose, Report, Setup

LEASE_S = 0.5
"""A burst goes on only while the daemon renews it at least this often."""
LOW_WITHIN_S = 0.005
"""A line switched off must read low within this time."""
LATE_OFF_S = 0.25
"""A light that goes out so long after its end was kept by nobody meanwhile: that is told as a fault."""
LOOK_AGAIN_S = 0.1
"""How often a line that would not go low is read again."""
SAFELIGHT = "safelight"

LINE_NOT_LOW = "line not low"
TWO_LIGHTS = "two lights"
BAD_MESSAGE = "bad message"
OVER_LIMIT = "over the limit by a second clock"
WENT_OUT_LATE = "the light went out late"
UNPLUGGED = "unplugged"
FAULTS = frozenset({LINE_NOT_LOW, TWO_LIGHTS, BAD_MESSAGE, OVER_LIMIT, WENT_OUT_LATE, LIGHT_NOT_SEEN, LIGHT_SEEN})
"""Reasons for going dark after which nothing is lit until the printer has cleared the fault."""


class Keeper:
    """One bench's keeper. Call an input, then `take()`; if `wants_reading`, read every lamp line and call `read()`."""

    def __init__(
        self, setup: Setup, now: float, found_down: Iterable[str] = (), unplugged: Mapping[str, str] | None = None
    ) -> None:
        self._setup = setup
        self._staying = Staying(setup.stay)
        self._lines = tuple(sorted({*setup.lights.values(), *self._staying.lines}))
        self._contacts = Contacts(setup.pedals, self._accepted)
        self._cueing = Cueing(setup.cues)
        self._sensing = Sensing(setup.senses, now)
        self._burst: Taken | None = None
        self._check: Check | None = Check(0, now, "start")
        self._lease = now + LEASE_S
        self._safelight_lit = True
        self._last_burst = 0
        self._fault: str | None = None
        self._look_at: float | None = None
        self._closed = False
        self._rest_asked = False
        self._clear_asked = False
        self.wants_reading = True
        self._out = Out()
        for name in found_down:
            self._contacts.found_down(name)
            self._report(wire.FoundDown(name, now))
        for name, why in (unplugged or {}).items():
            self.unplugged(name, why, now)

    # -- what goes out -------------------------------------------------------------------------------------------

    def take(self) -> Out:
        """What came out of the inputs since the last call."""
        out, self._out = self._out, Out()
        return out

    @property
    def beating(self) -> bool:
        """Whether the heartbeat must toggle: from the acceptance of `expose` until dark."""
        return self._burst is not None

    @property
    def asked(self) -> Expose | None:
        """The burst under way, from its acceptance until dark."""
        return self._burst.asked if self._burst is not None else None

    @property
    def is_closed(self) -> bool:
        """Whether the pipe has closed and every line was seen low, or was given up as stuck."""
        return self._closed and self._check is None

    @property
    def leased(self) -> bool:
        """Whether something would change if the daemon stopped renewing: a burst, or the safelight held dark."""
        return self._burst is not None or not self._safelight_lit

    @property
    def busy(self) -> bool:
        """Whether something is under way that ends of itself: a burst, its verification, a lock-out, a cue."""
        under_way = self._burst is not None or self._check is not None or self._unlike_at is not None
        return under_way or self._contacts.settling or self._cueing.busy

    @property
    def fault(self) -> str | None:
        """Why nothing is lit until cleared, or None."""
        return self._fault

    def to_read(self, now: float) -> list[str]:
        """The contacts whose lock-out is over and whose level was not read since, and sense inputs that seem to differ:
        tell it by `level()`, then wake."""
        unlike = self._unlike_at
        senses = self._sensing.names if unlike is not None and now >= unlike else ()
        return [*self._contacts.to_read(now), *senses]

    @property
    def next_wake(self) -> float | None:
        """When `wake()` must be called at the latest, if nothing else happens before."""
        burst = self._burst
        if burst is not None:
            edge = burst.asked.at if burst.lit is None else burst.lit + burst.asked.seconds
            waits = burst.lit is None and self._contacts.stands_open(burst.asked.while_down)
            times = [self._lease] if waits else [self._lease, edge]
            if burst.safelight_from is not None and self._safelight_lit:
                times.append(burst.safelight_from)
        else:
            edge = None
            times = [] if self._safelight_lit else [self._lease]
            if (off_at := self._staying.off_at) is not None:
                times.append(off_at)
        if self._look_at is not None:
            times.append(self._look_at)
        if (unlike := self._unlike_at) is not None:
            times.append(unlike)
        if (contact := self._contacts.next_wake) is not None:
            times.append(contact)
        if self._cueing.busy and (cue := self._cueing.due(edge)) is not None:
            times.append(cue)
        return min(times) if times else None

    @property
    def _unlike_at(self) -> float | None:
        """When a sense input will have told otherwise than its lamp is asked for long enough to be a fault."""
        return self._sensing.due if self._fault is None else None

    @property
    def lamp_edge(self) -> float | None:
        """When a lamp's line is due to change, as far as that is known."""
        burst = self._burst
        if burst is None:
            return None
        return burst.asked.at if burst.deadline is None else burst.deadline

    def _report(self, report: Report) -> None:
        self._out.reports.append(report)

    def _write(self, line: str, lit: bool) -> None:
        self._out.writes.append((line, lit))

    # -- what comes in -------------------------------------------------------------------------------------------

    def receive(self, datagram: bytes, now: float) -> None:
        """One message from the daemon; one that is not understood darkens everything and is a fault."""
        self.wake(now)
        if self._closed:
            return
        try:
            message = TO_KEEPER.decode(datagram)
        except Malformed:
            self._everything_off(BAD_MESSAGE, now)
            return
        if isinstance(message, Expose):
            self._expose(message, now)
        elif isinstance(message, wire.Renew):
            self._lease = now + LEASE_S if message.until is None else min(now + LEASE_S, message.until)
        elif isinstance(message, wire.StayOn):
            self._stay(message.on, now)
        else:
            self._cut(now, isinstance(message, wire.ClearLines))

    def edge(self, pedal: str, down: bool, at: float, now: float) -> None:
        """A raw edge of a pedal's contact or of a sense input, with the time at which it happened. That a contact was
        still since is seen by the next `wake`, when all that came late was told: a train stays one, heard late or not.
        """
        burst = self._burst
        if burst is not None and burst.deadline is not None and burst.deadline <= at:
            self.wake(now)  # the light was due to go out before this edge
        if pedal in self._sensing.names:
            self._sensing.sensed(pedal, down, at)
        else:
            self._contacts.edge(pedal, down, at, now)
        self._go_on(now, None)

    def came_on(self, at: float) -> None:
        """The lamp's line was on at that time, a moment after that was decided: the light's end counts from there."""
        if (burst := self._burst) is not None and burst.lit is not None:
            burst.lit = max(burst.lit, at)

    def level(self, pedal: str, down: bool, now: float) -> None:
        """What a contact reads now: whoever owns the pins tells it at the end of a lock-out, so that an edge that is
        late in coming makes no second press. A sense input's comes before it is believed to differ."""
        if pedal in self._sensing.names:
            self._sensing.sensed(pedal, down, now)
        else:
            self._contacts.level(pedal, down, now)

    def unplugged(self, pedal: str, why: str, now: float) -> None:
        """A pedal is there no more: it counts as up, and a light that it holds goes out; so does one that no pedal is
        left to put out."""
        self.wake(now)
        burst = self._burst
        held = burst is not None and burst.asked.while_down == pedal
        self._report(wire.Unplugged(pedal, why, now))
        if held:
            self._off(UNPLUGGED, now)
        self._contacts.unplug(pedal, now)
        if not self._contacts.plugged_in(self._setup.darkens):
            self._off(UNPLUGGED, now)

    def plugged_in(self, pedal: str, down: bool, now: float) -> None:
        """A pedal is there again. If a foot is on it already, it starts nothing until it has been let up."""
        self.wake(now)
        if self._contacts.plug_in(pedal, down):
            self._report(wire.PluggedIn(pedal, now))
            if down:
                self._report(wire.FoundDown(pedal, now))

    def closed(self, now: float, why: str = "pipe closed") -> None:
        """The pipe to the daemon is closed, or the keeper is told to stop: everything off, nothing more is taken."""
        if not self._closed:
            self._everything_off(why, now)
            self._closed = True

    def wake(self, now: float, second: float | None = None) -> None:
        """Time has passed. `second` is the same instant on another clock, in seconds, to check the first."""
        self._contacts.wake(now)
        self._go_on(now, second)

    def _go_on(self, now: float, second: float | None) -> None:
        burst = self._burst
        if burst is not None:
            dark_from = burst.safelight_from
            if dark_from is not None and self._safelight_lit and now >= dark_from:
                self._set_safelight(False, now)
            if burst.deadline is None:
                if burst.asked.at <= now < self._lease and not self._contacts.stands_open(burst.asked.while_down):
                    self._light(burst, now)
            elif now >= burst.deadline + LATE_OFF_S:
                self._everything_off(WENT_OUT_LATE, now)
            elif now >= burst.deadline:
                self._off("deadline", now)
            elif second is not None and burst.lit is not None:
                if burst.lit_second is None:
                    burst.lit_second = second - (now - burst.lit)
                elif second - burst.lit_second > burst.asked.seconds * 1.02 + 0.05:
                    self._everything_off(OVER_LIMIT, now)
        if now >= self._lease:
            if self._burst is not None:
                self._off("lease", now)
            elif not self._safelight_lit:
                self._set_safelight(True, now)
        if self._look_at is not None and now >= self._look_at:
            self.wants_reading = True
        if self._burst is None and (off_at := self._staying.off_at) is not None and now >= off_at:
            self._stay((), now)
        if self._fault is None and (wrong := self._sensing.wrong(now)) is not None:
            self._everything_off(wrong, now)
        if self._cueing.busy and (level := self._cueing.wake(now, self.lamp_edge)) is not None:
            self._write(CUE, level)  # last, so that it comes after every lamp's edge

    def read(self, lit: Mapping[str, bool], now: float) -> None:
        """What every lamp line reads, after the writes were done."""
        self.wants_reading = False
        self._look_at = None
        burning = self._burst.line if self._burst is not None and self._burst.lit is not None else None
        staying = self._staying.on
        high = [line for line in self._lines if lit[line] and line != burning and line not in staying]
        check = self._check
        if check is not None:
            if not high:
                self._check = None
                if check.burst:
                    self._report(wire.Dark(check.burst, check.dark, check.why, check.lo))
            elif now < check.dark + LOW_WITHIN_S:
                self._look_at = min(now + 0.001, check.dark + LOW_WITHIN_S)
            else:
                self._check = None
                self._stuck(check.burst, check.dark, high, now)
        elif self._fault == LINE_NOT_LOW:
            if high:
                self._look_at = now + LOOK_AGAIN_S
            else:
                self._report(wire.Low(now))
        elif high:
            self._stuck(0, now, high, now)
        if self._rest_asked and self._check is None:
            self._rest_asked = False
            low = not high and not self._sensing.lit(now)
            if low and self._clear_asked:
                self._fault = None
                self._sensing.again(now)
            self._report(wire.Rest(now, low))

    # -- rules ---------------------------------------------------------------------------------------------------

    def _accepted(self, name: str, down: bool, at: float, now: float) -> None:
        """An edge that counts. A press cuts the burst here and now; what it meant is for the engine to say."""
        self._staying.used(now)
        self._report(wire.Edge(name, down, at, self._contacts.number))
        burst = self._burst
        if burst is not None and (
            (down and name in burst.asked.cut_on) or (not down and name == burst.asked.while_down)
        ):
            self._off("pedal", now)

    def _expose(self, asked: Expose, now: float) -> None:
        named = asked.cut_on if asked.while_down is None else (*asked.cut_on, asked.while_down)
        if not set(named) <= self._contacts.names:
            self._everything_off(BAD_MESSAGE, now)
            return
        if self._burst is not None:
            self._everything_off(TWO_LIGHTS, now)
            self._report(wire.Refused(asked.burst, TWO_LIGHTS, now))
            return
        if (no := self._why_not(asked, now)) is not None:
            self._report(wire.Refused(asked.burst, no.why, now, no.what))
            if not self._safelight_lit:
                self._set_safelight(True, now)
            return
        self._last_burst = asked.burst
        self._lease = now + LEASE_S
        self._burst = Taken(asked, self._setup.lights[asked.light])
        self._cueing.begin(asked.cues, asked.at)
        self.wants_reading = True  # no other line may be high when this one is lit
        self.wake(now)

    def _why_not(self, asked: Expose, now: float) -> WhyNot | None:
        """Why this burst is not taken; None if it is."""
        if self._fault is not None:
            return WhyNot("not cleared", self._fault)
        if self._check is not None:
            return WhyNot("not verified dark")
        if (why := why_not(self._setup, asked, now)) is not None:
            return why
        if asked.burst <= self._last_burst:
            return WhyNot("asked before")
        if (newer := self._contacts.pressed_since(asked.cut_on, asked.seen)) is not None:
            return WhyNot("pressed since", newer)
        if not self._contacts.plugged_in(self._setup.darkens):
            return WhyNot("no pedal left")
        if asked.while_down is not None and not self._contacts.down(asked.while_down):
            return WhyNot("let up", asked.while_down)
        if self._staying.dark_behind(self._setup.lights[asked.light]):
            return WhyNot("lamp off")
        return None

    def _light(self, burst: Taken, now: float) -> None:
        burst.lit = now
        self._write(burst.line, True)
        self._cueing.lit(now)
        self._sensing.asked(burst.line, now)
        self._report(wire.Lit(burst.asked.burst, now))

    def _off(self, why: str, now: float) -> None:
        """End the burst at hand: line low, to be read back; then the safelight, unless it stays dark for this why."""
        burst = self._burst
        if burst is None:
            return
        self._burst = None
        self._staying.used(now)
        self._cueing.over(now, told=burst.lit is not None)
        if burst.lit is None:
            self._report(wire.Dark(burst.asked.burst, now, why))
        else:
            self._write(burst.line, False)
            lo = max(burst.lit, self._sensing.last_seen(burst.line)) if why == LIGHT_NOT_SEEN else None
            self._sensing.asked(None, now)
            self._check = Check(burst.asked.burst, now, why, lo)
            self.wants_reading = True
        if not self._safelight_lit and (burst.asked.safelight is None or why not in burst.asked.safelight.stays):
            self._set_safelight(True, now)

    def _everything_off(self, why: str, now: float) -> None:
        if why in FAULTS and self._fault is None:
            self._fault = why
            self._report(wire.Fault(why, now))
        self._off(why, now)
        self._all_low(now)
        if self._check is None:
            self._check = Check(0, now, why)
        self.wants_reading = True
        if not self._safelight_lit:
            self._set_safelight(True, now)

    def _stuck(self, burst: int, dark: float, high: list[str], now: float) -> None:
        self._fault = LINE_NOT_LOW
        self._report(wire.Fault(LINE_NOT_LOW, now, tuple(high)))
        if burst:
            self._report(wire.Dark(burst, dark, LINE_NOT_LOW))
        self._off(LINE_NOT_LOW, now)
        self._all_low(now)
        if not self._safelight_lit:
            self._set_safelight(True, now)
        self._look_at = now + LOOK_AGAIN_S

    def _cut(self, now: float, clear: bool) -> None:
        """To rest: lights out, safelight on. With nothing burning, `clear` clears a fault once all lines read low."""
        if self._burst is not None:
            self._off("asked", now)
            return
        if not self._safelight_lit:
            self._set_safelight(True, now)
        staying = self._staying.on
        for line in self._lines:
            if line not in staying:
                self._write(line, False)
        self._rest_asked = self.wants_reading = True
        self._clear_asked = clear

    def _all_low(self, now: float) -> None:
        """Every lamp's line low, those of lamps that stay on too: behind a shutter that may be stuck, that is dark."""
        for line in self._lines:
            self._write(line, False)
        for line, _ in self._staying.turn((), now):
            self._report(wire.LampTurned(line, False, now))

    def _stay(self, on: Iterable[str], now: float) -> None:
        """Have these lamps on behind their shutters, and no others. In a fault none comes on."""
        if not set(on) <= self._staying.lines:
            self._everything_off(BAD_MESSAGE, now)
            return
        if self._fault is not None:
            return
        for line, lit in self._staying.turn(on, now):
            self._write(line, lit)
            self._report(wire.LampTurned(line, lit, now))
            self.wants_reading = True

    def _set_safelight(self, lit: bool, now: float) -> None:
        self._safelight_lit = lit
        if self._setup.safelight:
            self._write(SAFELIGHT, lit)
            self._report(wire.SafelightEdge(lit, now))
