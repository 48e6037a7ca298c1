"""The course of an acceptance: what is asked of feet and eyes, in order, and what comes of it.

Nothing is lit but by a fresh press of `go`, for a few seconds, and any pedal puts it out. Questions are answered with
the feet as well: `go` is yes, `end` is no; where there is no `end`, `go` held for a second is no.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Literal, NamedTuple

from timerd.daemon.acceptance.kept import LEAD_S, STOPPED_S, Burn, Kept, PressMade
from timerd.sheet.engine.feet import HOLD_S, TRAYS, contacts

LIGHT_S = 2.0
CUT_WITHIN_S = 5.0
"""For so long a light waits for the pedal that is to put it out."""
FOOT_S = 60.0
"""For so long a pedal is waited for."""
EYES_S = 300.0
"""And an answer."""
DARK_WITHIN_S = 0.005
"""From a pedal's edge to dark, at the most; a line switched off must read low within as much."""
LAST_OFF_S = 1.0
"""A slow board's last off; what it took is on the sheet."""
TRIES = 3

Result = Literal["passed", "failed", "left out"]


class Item(NamedTuple):
    """One thing tried: what, what came of it, and what was seen and measured."""

    what: str
    result: Result
    found: str


class NobodyThere(Exception):
    """Nobody pressed or answered in time: the rest is not tried."""


class Course:
    """One bench's acceptance. `say` gets each line for the printer."""

    def __init__(self, kept: Kept, say: Callable[[str], None]) -> None:
        self._kept, self._say = kept, say
        self._bench = kept.bench
        self._feet = {foot.name: foot for foot in contacts(self._bench)}
        self._has_end = any(foot.pedal == "end" for foot in self._feet.values())

    def items(self) -> Iterator[Item]:
        """Each item as it is done. GivenUp where nobody answers any more."""
        for name in self._feet:
            yield self._pedal(name)
        yield self._at_rest()
        for light in self._bench.lights:
            yield self._light(light)
        first = next(iter(self._bench.lights))
        for foot in self._feet.values():
            if foot.station != TRAYS:
                yield self._darkens(foot.name, first)
        if self._bench.safelight.switchable:
            yield self._safelight(first)
        yield self._killed(first)
        yield self._cut_off(first)

    # -- one thing each ------------------------------------------------------------------------------------------

    def _pedal(self, name: str) -> Item:
        what = f"pedal {name}"
        others: list[str] = []
        for _ in range(TRIES):
            since = self._tell(f"{what}: press {name}, and let it up")
            press = self._kept.press(since, FOOT_S)
            if press is None:
                break
            if press.contact == name and press.seconds is not None:
                also = f"; before it came {', '.join(others)}" if others else ""
                return Item(what, _result(not others), f"down for {press.seconds:.2f} s{also}")
            others.append(press.contact if press.contact != name else f"{name} without a let-up")
            self._tell(f"  that was {others[-1]}")
        return Item(what, "failed", f"not seen; seen was {', '.join(others)}" if others else "not seen")

    def _at_rest(self) -> Item:
        safelight = " and the safelight is lit" if self._bench.safelight.switchable else ""
        seen = self._answer(f"at rest: look at every lamp. Is all dark{safelight}?")
        return Item("at rest", _result(seen), f"all dark{safelight}, by eye" if seen else "not so, by eye")

    def _light(self, name: str) -> Item:
        light = self._bench.lights[name]
        what = f"light {name} (lamp {light.lamp}, GPIO{self._bench.lamps[light.lamp].pin})"
        for _ in range(TRIES):
            burn = self._burn(f"{what}: press go, and it is lit for {LIGHT_S:g} s", name, LIGHT_S)
            if burn is None:
                return Item(what, "left out", "not tried")
            if burn.why == "deadline" and burn.lit is not None:
                seen = self._answer(f"  was {light.lamp} lit, and no other?")
                length = f"lit for {burn.dark - burn.lit:.3f} s of {LIGHT_S:g} s by the clock"
                return Item(what, _result(seen), f"{length}; that lamp and no other, by eye: {_word(seen)}")
            self._tell(f"  it is dark already ({burn.why}{f' {burn.by}' if burn.by else ''}): once more")
        return Item(what, "failed", "it never came to its end")

    def _darkens(self, name: str, light: str) -> Item:
        what = f"pedal {name} darkens"
        burn = self._burn(f"{what}: press go, then {name} while {light} is lit", light, CUT_WITHIN_S)
        if burn is None:
            return Item(what, "left out", "not tried")
        if burn.why != "pedal" or burn.by != name or burn.by_at is None or burn.lit is None:
            return Item(what, "failed", f"it went out otherwise: {burn.why}{f' {burn.by}' if burn.by else ''}")
        late = burn.dark - burn.by_at
        return Item(what, _result(late <= DARK_WITHIN_S), f"line off {late * 1e3:.2f} ms after its edge")

    def _safelight(self, light: str) -> Item:
        what = "safelight"
        burn = self._burn(f"{what}: press go, and it is dark while {light} is lit", light, LIGHT_S, safelight=True)
        if burn is None:
            return Item(what, "left out", "not tried")
        seen = self._answer("  did it go out with the light, and come back?")
        if burn.safelight != (False, True):
            return Item(what, "failed", f"its line did not go dark and lit again; by eye: {_word(seen)}")
        return Item(what, _result(seen), f"dark and lit again by its line; by eye: {_word(seen)}")

    def _killed(self, light: str) -> Item:
        what = "the keeper is killed"
        if (missed := self._lit(what, f"press go; its keeper is killed while {light} is lit", light)) is not None:
            return missed
        seconds, high = self._kept.kill()
        seen = self._answer("  is it dark?")
        found = f"the last off had every line low after {seconds:.3f} s"
        if high:
            found += f", but {', '.join(high)} reads high"
        passed = seen and seconds <= LAST_OFF_S and not high
        return Item(what, _result(passed), f"{found}; dark, by eye: {_word(seen)}")

    def _cut_off(self, light: str) -> Item:
        what = "cut-off"
        if self._bench.heartbeat is None:
            return Item(what, "left out", "NO HEARTBEAT: nothing cuts the lamps off when the computer stands still")
        words = f"press go; then all stands still for {STOPPED_S:g} s with the line of {light} high"
        if (missed := self._lit(what, words, light)) is not None:
            return missed
        high = self._kept.stop()
        seen = self._answer("  did the lamp go out at once, long before you could have counted to one?")
        found = f"keeper stopped for {STOPPED_S:g} s, its line high; dark at once, by eye: {_word(seen)}"
        return Item(what, _result(seen and not high), found)

    def _lit(self, what: str, words: str, light: str) -> Item | None:
        """A light that stays on long enough to do something to it; where it does not come on, the item that says so."""
        press = self._go(f"{what}: {words}")
        if press is None:
            return Item(what, "left out", "not tried")
        self._kept.ask(light, press, min(CUT_WITHIN_S, self._bench.lamp_of(light).longest_s))
        return None if self._kept.lit() is not None else Item(what, "failed", f"{light} did not come on")

    # -- feet and eyes -------------------------------------------------------------------------------------------

    def _burn(self, words: str, light: str, seconds: float, safelight: bool = False) -> Burn | None:
        press = self._go(words)
        if press is None:
            return None
        seconds = min(seconds, self._bench.lamp_of(light).longest_s)
        self._kept.ask(light, press, seconds, safelight)
        lit = self._kept.lit()
        if lit is not None:
            self._tell(f"  {light} is lit")
        return self._kept.dark(lit, LEAD_S + seconds + 2.0)

    def _go(self, words: str) -> PressMade | None:
        """Wait for a fresh press of go; None for one of end, which leaves this out. A tray's pedal starts nothing."""
        since = self._tell(f"{words}{'; end leaves it out' if self._has_end else ''}")
        while (press := self._kept.start(since, EYES_S)) is not None:
            foot = self._feet[press.contact]
            if foot.station != TRAYS:
                return press if foot.pedal == "go" else None
        raise NobodyThere(f"nobody pressed for {EYES_S:g} s")

    def _answer(self, question: str) -> bool:
        """A question to the eyes, answered by a foot."""
        no = "end: no" if self._has_end else f"go held for {HOLD_S:g} s: no"
        since = self._tell(f"{question}  (go: yes, {no})")
        press = self._kept.press(since, EYES_S)
        if press is None:
            raise NobodyThere(f"nobody answered for {EYES_S:g} s")
        held = press.seconds is None or press.seconds >= HOLD_S
        return self._feet[press.contact].pedal == "go" and not held

    def _tell(self, words: str) -> float:
        """Say it; a press from then on is one that was meant."""
        since = time.monotonic()
        self._say(words)
        return since


def _result(passed: bool) -> Result:
    return "passed" if passed else "failed"


def _word(seen: bool) -> str:
    return "yes" if seen else "no"
